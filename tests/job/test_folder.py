"""The job folder: nothing typed is lost, nothing is half written, nothing broken passes."""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import BadJobError, TableError
from photomeasure.job import add_answer, add_photo, create_job, open_job, plan_cut, save_job
from photomeasure.job import store as store_room
from photomeasure.job.folder import SHELF_FILE, shelf_of
from photomeasure.job.model import JOB_FILE, Job, JobFile
from photomeasure.job.store import write_atomically
from photomeasure.quantities import Source, components
from tests.sizing.jobs import Entries, plain, q

JPEG = b"\xff\xd8\xff\xe0 not a whole picture, but it begins like one"
FITTING: Entries = {
    "kind": "fitting",
    "verdict": "identified",
    "hand": "right",
    "candidates": [
        {"designation": "M18x1.5", "family": "metric", "probability": 0.98, "seats": []},
        {"designation": "none of these", "family": None, "probability": 0.02, "seats": []},
    ],
    "settle_by": None,
    "major_diameter": q(17.88, 0.03),
    "pitch": q(1.499, 0.003),
    "warnings": [],
}
SCALE = {"label": "print scale", "scope": "print", "key": "sheet 1"}
ROUTE: Entries = {
    "kind": "route",
    "laid": "flat",
    "length": q(728.123456789012345, 1.2),
    "hose_length": None,
    "turning": q(80, 1, "deg"),
    "bends": [],
    "tightest_radius": None,
    "clocking": None,
    "points": [[0.0, 0.0, 0.0], [100.0, 0.0, 0.0]],
    "components": {"length": {"scale": 1.0, "place": 0.6633249580710799}},
    "sources": {"scale": SCALE, "place": {**SCALE, "label": "placement", "scope": "photo"}},
    "warnings": [],
}


def test_a_new_job_is_a_readable_text_file(tmp_path: Path) -> None:
    job = create_job(tmp_path / "tractor", "Tractor, steering")
    text = (tmp_path / "tractor" / JOB_FILE).read_text("utf-8")
    assert '"name": "Tractor, steering"' in text
    assert open_job(tmp_path / "tractor").document == job.document
    assert open_job(tmp_path / "tractor" / JOB_FILE).name == "Tractor, steering"


def test_a_job_is_not_made_over_another(tmp_path: Path) -> None:
    create_job(tmp_path, "first")
    with pytest.raises(BadJobError, match="already"):
        create_job(tmp_path, "second")
    assert open_job(tmp_path).name == "first"


def test_two_jobs_have_sources_of_their_own(tmp_path: Path) -> None:
    one, two = create_job(tmp_path / "a", "x"), create_job(tmp_path / "b", "x")
    assert one.entries.id != two.entries.id


def test_answers_come_back_as_they_were(tmp_path: Path) -> None:
    job = create_job(tmp_path, "x")
    job = add_answer(job, "fitting", FITTING, JPEG, end=0)
    job = add_answer(job, "route", ROUTE)
    again = open_job(tmp_path)
    assert json.loads((tmp_path / "answers/01-fitting.json").read_text("utf-8")) == FITTING
    assert json.loads((tmp_path / "answers/02-route.json").read_text("utf-8")) == ROUTE
    assert (tmp_path / "pictures/01-fitting.jpg").read_bytes() == JPEG
    assert again.document["route"] == {"answer": "answers/02-route.json"}
    assert again.entries.route is not None
    assert again.entries.route.length.value == ROUTE["length"]["value"]
    assert again.entries.ends[0].thread is not None
    assert again.entries.ends[0].thread.verdict == "identified"


def test_correlation_survives_the_folder(tmp_path: Path) -> None:
    job = add_answer(create_job(tmp_path, "x"), "route", ROUTE)
    ends = [{**end, "datum": "seat"} for end in plain()["ends"]]
    save_job(job.changed(ends=ends, slack="0.1mm"))
    cut = plan_cut(open_job(tmp_path)).lengths.cut_length
    assert cut is not None
    scale = Source("scale", "print scale", "print", "sheet 1")
    assert components(cut.number)[scale] == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize(
    "name",
    [
        "../../evil.jpg",
        "/etc/passwd",
        "a\\b.jpg",
        "job.json",
        "x" * 5000,
        "\x00",
        "…ß.heic",
        "\udc80",
    ],
)
def test_an_uploads_name_is_words_and_never_a_path(tmp_path: Path, name: str) -> None:
    job = add_photo(create_job(tmp_path / "job", "x"), name, JPEG, rendered=True)
    stored = job.entries.photos[0]
    assert stored.file == "photos/01.jpg"
    assert stored.taken_as == name[:200]
    assert stored.rendered
    found = {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file()}
    assert found == {"job/job.json", "job/photos/01.jpg"}
    assert open_job(tmp_path / "job").entries.photos[0].taken_as == name[:200]


def test_nothing_is_written_over(tmp_path: Path) -> None:
    job = create_job(tmp_path, "x")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos/07 mine.jpg").write_bytes(b"mine")
    job = add_photo(add_photo(job, "a", JPEG), "b", b"\x89PNG\r\n\x1a\n")
    assert [photo.file for photo in job.entries.photos] == ["photos/08.jpg", "photos/09.png"]
    assert (tmp_path / "photos/07 mine.jpg").read_bytes() == b"mine"


def test_a_broken_answer_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    job = create_job(tmp_path, "x")
    before = (tmp_path / JOB_FILE).read_bytes()
    for kind, answer in (
        ("route", {**ROUTE, "length": None}),
        ("route", FITTING),
        ("fitting", {**FITTING, "verdict": "surely"}),
        ("poem", {}),
    ):
        with pytest.raises(BadJobError):
            add_answer(job, kind, answer, JPEG, end=0)
    assert (tmp_path / JOB_FILE).read_bytes() == before
    assert not (tmp_path / "answers").exists()


keys = st.text(min_size=1, max_size=12).filter(lambda key: key not in JobFile.model_fields)
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.text(max_size=20)
    | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=6,
)


@given(
    extra=st.dictionaries(keys, values, max_size=4),
    of_end=st.dictionaries(keys.map(lambda key: f"x {key}"), values, max_size=3),
    name=st.text(max_size=50),
)
@settings(max_examples=60, deadline=None)
def test_unknown_keys_are_kept_on_the_round_trip(
    extra: Entries, of_end: Entries, name: str
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        job = create_job(folder, name)
        document = {**job.document, **extra, "ends": [of_end, {}]}
        save_job(Job.from_document(document, Path(folder)))
        again = open_job(folder)
        assert again.document == document
        save_job(again.changed(slack="5mm"))
        assert open_job(folder).document == {**document, "slack": "5mm"}


@given(
    value=st.floats(-1e6, 1e6, allow_subnormal=False),
    u=st.floats(1e-6, 1e3),
)
@settings(max_examples=60, deadline=None)
def test_figures_come_back_to_the_last_bit(value: float, u: float) -> None:
    with tempfile.TemporaryDirectory() as folder:
        save_job(create_job(folder, "x").changed(mock_up=q(value, u)))
        mock_up = open_job(folder).entries.mock_up
        assert mock_up is not None
        assert (mock_up.value, mock_up.u) == (value, u)


def test_changing_one_entry_leaves_the_others_and_the_old_job(tmp_path: Path) -> None:
    job = create_job(tmp_path, "x").changed_end(1, seat="37° flare", notes="greasy")
    changed = job.changed_end(1, seat="flat face")
    assert changed.entries.ends[1].seat == "flat face"
    assert changed.entries.ends[1].notes == "greasy"
    assert job.entries.ends[1].seat == "37° flare"


class Crash(BaseException):
    """Stands for whatever stops a program in mid-write."""


@pytest.mark.parametrize("step", ["mkstemp", "fdopen", "fsync", "replace"])
@pytest.mark.parametrize("reason", [Crash, OSError, KeyboardInterrupt])
def test_a_stop_in_mid_write_leaves_the_old_job(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    step: str,
    reason: type[BaseException],
) -> None:
    job = create_job(tmp_path, "old")
    module = store_room.tempfile if step == "mkstemp" else store_room.os

    def stop(*_: Any, **__: Any) -> Any:
        raise reason

    monkeypatch.setattr(module, step, stop)
    with pytest.raises(BadJobError if reason is OSError else reason):
        save_job(job.changed(name="new"))
    monkeypatch.undo()
    assert open_job(tmp_path).name == "old"
    assert [path.name for path in tmp_path.iterdir()] == [JOB_FILE]


KILLED = """
import os, sys
from photomeasure.job import open_job, save_job
job = open_job(sys.argv[1]).changed(name="new " * 50_000)
kept = os.{step}
def stop(*given):
    if {after}:
        kept(*given)
    os._exit(9)
os.{step} = stop
save_job(job)
"""


@pytest.mark.parametrize(
    ("step", "after", "name"),
    [("fsync", False, "old"), ("replace", False, "old"), ("replace", True, "new")],
)
def test_a_killed_program_leaves_the_old_job_or_the_new(
    tmp_path: Path, step: str, after: bool, name: str
) -> None:
    create_job(tmp_path, "old")
    code = KILLED.format(step=step, after=after)
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
    assert done.returncode == 9
    assert open_job(tmp_path).name.startswith(name)


def test_a_file_is_readable_by_others(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a", b"x")
    assert os.stat(tmp_path / "a").st_mode & 0o444 == 0o444


def _write(content: bytes) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        (folder / JOB_FILE).write_bytes(content)
        return folder

    return make


def _document(**changes: Any) -> Callable[[Path], Path]:
    return _write(json.dumps({**plain(), **changes}).encode())


@pytest.mark.parametrize(
    ("make", "word"),
    [
        (lambda folder: folder / "nowhere", "no file"),
        (lambda folder: folder, "holds no job.json"),
        (_write(b""), "no JSON"),
        (_write(b"{"), "no JSON"),
        (_write(b"\xff\xfe\x00"), "no JSON"),
        (_write(b"[" * 100_000), "no JSON"),
        (_write(b"[]"), "JSON object"),
        (_write(b'"job"'), "JSON object"),
        (_write(b"{}"), "version 1"),
        (_write(b'{"job": 2}'), "version 1"),
        (_write(b'{"job": true}'), "version 1"),
        (_write(b'{"job": 1, "slack": {"value": NaN, "u": 1}}'), "NaN"),
        (_write(b'{"job": 1, "slack": {"value": 1e999, "u": 1}}'), "slack"),
        (_document(ends="two"), "ends"),
        (_document(ends=[{}, {}, {}]), "ends"),
        (_document(ends=[{"cut_off": 30}, {}]), "ends → 1 → cut_off"),
        (_document(ends=[{"cut_off": "30mm"}, {}]), "how sure"),
        (_document(ends=[{"cut_off": "30 ± 1"}, {}]), "no unit"),
        (_document(ends=[{"cut_off": {"value": 30, "u": -1}}, {}]), "greater than or equal"),
        (_document(ends=[{"cut_off": {**q(30, 1), "unit": "in"}}, {}]), "give the length in mm"),
        (_document(ends=[{"cut_off": {**q(30, 1), "low": 31}}, {}]), "not in order"),
        (_document(ends=[{"end": "60"}, {}]), "ends → 1 → end"),
        (_document(route={"length": "long"}), "route → length"),
        (_document(route={"answer": "answers/gone.json"}), "no file"),
        (_document(route={"answer": "../../etc/passwd"}), "no file of this job"),
        (_document(route={"answer": "/etc/passwd"}), "no file of this job"),
        (_document(photos=[{"file": "../secret.jpg"}]), "no file of this job"),
        (
            _document(answers=[{"kind": "route", "file": "answers/1.json", "picture": "../x"}]),
            "no file of this job",
        ),
        (_document(hose={"working_pressure_mpa": -1}), "working_pressure_mpa"),
        (_document(line={"kind": "brake"}), "line → kind"),
    ],
)
def test_a_broken_job_is_refused_with_a_clear_word(
    tmp_path: Path, make: Callable[[Path], Path], word: str
) -> None:
    with pytest.raises(BadJobError) as caught:
        open_job(make(tmp_path))
    assert caught.value.code == "bad-job"
    assert word in caught.value.message
    assert caught.value.remedy


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    with pytest.raises(BadJobError, match="cannot be written"):
        create_job(tmp_path / "file", "x")


def test_a_job_without_a_folder_is_not_saved() -> None:
    with pytest.raises(BadJobError, match="no folder"):
        save_job(Job.from_document(plain()))
    with pytest.raises(BadJobError, match="no folder"):
        Job.from_document(plain(route={"answer": "answers/1.json"}))


def test_the_shelf_lies_beside_the_job(tmp_path: Path) -> None:
    job = create_job(tmp_path, "x")
    assert shelf_of(job) == ()
    (tmp_path / SHELF_FILE).write_text("name,a_seat\nx,magic\n", "utf-8")
    with pytest.raises(TableError, match="line 2"):
        plan_cut(job)
    (tmp_path / SHELF_FILE).write_bytes(b"\xff\xfe")
    with pytest.raises(BadJobError, match="cannot be read"):
        shelf_of(job)
