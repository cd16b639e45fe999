"""A job as one zip: whole on the way out, wary on the way in."""

import io
import json
import struct
import zipfile
from pathlib import Path

import pytest

from photomeasure.errors import BadJobError
from photomeasure.job import add_answer, add_photo, create_job, open_job
from photomeasure.job.bundle import job_zip, unpack_job
from tests.job.test_folder import FITTING, JPEG

GOOD = {"job.json": json.dumps({"job": 1, "name": "x", "ends": [{}, {}]}).encode()}


def zipped(files: dict[str, bytes]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in files.items():
            out.writestr(name, content)
    return held.getvalue()


def test_a_job_goes_out_and_comes_in_whole(tmp_path: Path) -> None:
    job = create_job(tmp_path / "one", "Narrow tractor")
    job = add_photo(job, "IMG 1.jpg", JPEG)
    job = add_answer(job, "fitting", FITTING, JPEG, end=0)
    (tmp_path / "one" / "stray.txt").write_text("not the job's", "utf-8")
    create_job(tmp_path / "two", "Taken in")
    unpack_job(job_zip(job), tmp_path / "two")
    again = open_job(tmp_path / "two")
    assert again.document == job.document
    assert again.entries.ends[0].thread is not None
    names = {path.name for path in (tmp_path / "two").rglob("*") if path.is_file()}
    assert names >= {"01.jpg", "01-fitting.json", "01-fitting.jpg"}
    assert "stray.txt" not in names


def _bomb() -> bytes:
    return zipped({**GOOD, "photos/01.jpg": b"\0" * 60_000_000})


def _lying_bomb() -> bytes:
    """Say a small size for what unpacks to much."""
    data = bytearray(_bomb())
    at = data.rfind(b"PK\x01\x02")
    struct.pack_into("<L", data, at + 24, 1000)
    return bytes(data)


HOSTILE = {
    "no zip": b"hello",
    "empty": b"",
    "cut off": zipped(GOOD)[:40],
    "no job": zipped({"photos/01.jpg": JPEG}),
    "up and out": zipped({**GOOD, "../evil.txt": b"x"}),
    "absolute": zipped({**GOOD, "/etc/evil": b"x"}),
    "up in the middle": zipped({**GOOD, "photos/../../evil": b"x"}),
    "backslashes": zipped({**GOOD, "photos\\..\\evil": b"x"}),
    "script": zipped({**GOOD, "photos/run me.sh": b"x"}),
    "hidden": zipped({**GOOD, "photos/.bashrc": b"x"}),
    "stray": zipped({**GOOD, "setup.py": b"x"}),
    "bomb": _bomb(),
    "lying bomb": _lying_bomb(),
    "many": zipped({**GOOD, **{f"photos/{n}.jpg": b"" for n in range(500)}}),
    "no JSON": zipped({"job.json": b"{"}),
    "other JSON": zipped({"job.json": b"[1]"}),
    "newer": zipped({"job.json": b'{"job": 2}'}),
    "not a number": zipped({"job.json": b'{"job": 1, "slack": NaN}'}),
    "reaching out": zipped({"job.json": b'{"job": 1, "route": {"answer": "../../x.json"}}'}),
    "deep": zipped({"job.json": b"[" * 100_000}),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_zip_is_refused_and_the_job_stays(tmp_path: Path, name: str) -> None:
    create_job(tmp_path / "j" / "k", "mine")
    with pytest.raises(BadJobError) as refused:
        unpack_job(HOSTILE[name], tmp_path / "j" / "k")
    assert refused.value.remedy
    assert open_job(tmp_path / "j" / "k").name == "mine"
    assert not list(tmp_path.rglob("evil*"))
    assert not [path for path in tmp_path.iterdir() if path.name != "j"]
