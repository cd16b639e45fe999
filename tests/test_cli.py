"""The command line's manners: units, refusals in words, no traceback, nothing beside the JSON."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import cv2
import numpy as np
import pytest

from photomeasure.cli import run
from photomeasure.cli.params import BAR, LENGTH, POINT, SIDE
from photomeasure.errors import UsageError
from photomeasure.job.demonstration import samples


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, dict[str, Any]]:
    code = run([*map(str, arguments), "--json"])
    out, err = capsys.readouterr()
    error = json.loads(out)["error"]
    assert set(error) == {"code", "message", "remedy"}
    assert error["message"]
    assert error["remedy"]
    assert "Traceback" not in err
    assert err.strip()
    return code, error


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["dance"],
        ["print", "sheet"],
        ["print", "poster", "--out", "x.pdf"],
        ["print", "sheet", "--out", "x.gif"],
        ["print", "sheet", "--out", "/nowhere/at/all/x.pdf"],
        ["print", "sheet", "--out", "x.pdf", "--hole", "20mm"],
        ["fitting"],
        ["fitting", "photo.jpg", "--bar-x", "99.8"],
        ["fitting", "photo.jpg", "--bar-x", "=99.8mm"],
        ["fitting", "photo.jpg", "--spanner", "22"],
        ["fitting", "photo.jpg", "--lies", "sideways"],
        ["route", "photo.jpg", "--side", "0:outer"],
        ["route", "photo.jpg", "--points", "12"],
        ["threads", "M99x9"],
        ["caliper"],
        ["caliper", "--major", "15.9"],
        ["caliper", "--pitch", "1.5"],
        ["caliper", "--span", "15mm"],
        ["jobsheet", "job", "--out", "sheet.txt"],
        ["cut"],
    ],
    ids=" ".join,
)
def test_a_wrong_command_line_is_exit_2(
    capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    code, error = refused(capsys, *arguments)
    assert (code, error["code"]) == (2, "usage")


def _blank(path: Path) -> Path:
    cv2.imwrite(str(path), np.full((1500, 2000, 3), 180, np.uint8))
    return path


def test_bad_photos_each_get_their_own_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text, cut, tiny = (tmp_path / name for name in ("text.jpg", "cut.jpg", "tiny.png"))
    text.write_text("not a picture at all", encoding="utf-8")
    cut.write_bytes(samples("fitting")[0].photo.read_bytes()[:20_000])
    cv2.imwrite(str(tiny), np.zeros((1, 1, 3), np.uint8))
    wanted = {
        tmp_path / "missing.jpg": "no-file",
        tmp_path: "no-file",
        text: "not-a-picture",
        cut: "not-a-picture",
        tiny: "not-a-picture",
        _blank(tmp_path / "blank.png"): "no-reference",
    }
    sentences = set()
    for path, expected in wanted.items():
        for command in ("fitting", "route"):
            code, error = refused(capsys, command, path)
            assert (code, error["code"]) == (3, expected), path
        sentences.add(error["message"].replace(path.name, ""))
    assert len(sentences) >= 4


def test_too_few_photos_in_space(capsys: pytest.CaptureFixture[str]) -> None:
    photo = samples("route")[0].photo
    code, error = refused(capsys, "route", "--laid", "space", photo, photo)
    assert (code, error["code"]) == (3, "too-few-photos")


def test_an_answer_for_people_begins_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["caliper", "--major", "17.9mm", "--pitch", "1.5mm"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "M18x1.5, sure"
    assert " mm (" in lines[2]
    assert lines[2].endswith(" in)")


def test_threads_are_listed_for_people(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["threads", "1/4-18 NPT"]) == 0
    out = capsys.readouterr().out
    assert "taper 1:16" in out
    assert "gauge plane" in out


def test_a_refusal_for_people_is_one_sentence_on_stderr(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["fitting", "/no/such/photo.jpg"]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1


def test_a_mistake_of_the_program_is_logged_and_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import photomeasure.cli.tables  # noqa: PLC0415  # so that it can be broken below

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr(photomeasure.cli.tables, "threads", broken)
    code, error = refused(capsys, "threads")
    assert (code, error["code"]) == (4, "internal")
    log = tmp_path / "photomeasure" / "mistakes.log"
    assert str(log) in error["remedy"]
    assert "ZeroDivisionError: on purpose" in log.read_text(encoding="utf-8")


def test_bars_name_their_print_or_hold_for_all() -> None:
    assert (
        BAR.convert("sheet=99.8mm", None, None).kind,
        LENGTH.convert("5/8in", None, None).mm,
    ) == (
        "sheet",
        15.875,
    )
    assert BAR.convert("99.8mm", None, None).kind is None
    assert BAR.convert("99.8mm", None, None).mm == pytest.approx(99.8)
    assert POINT.convert("12.5, 7", None, None) == (12.5, 7.0)
    assert SIDE.convert("2:in-plane", None, None) == (2, "in-plane")
    with pytest.raises(UsageError):
        SIDE.convert("2:left", None, None)


def test_the_tables_are_asked_without_loading_what_reads_pictures() -> None:
    asked = (
        "import sys; from photomeasure.cli import run; run(['threads', 'M18x1.5']); "
        "print(sorted(m for m in ('cv2', 'skimage', 'streamlit', 'reportlab') if m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    out = capsys.readouterr().out
    assert "jobsheet" in out
    assert isinstance(LENGTH, click.ParamType)


def test_a_nul_character_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    code, error = refused(capsys, "caliper", "--photo=\0")
    assert code == 2
    assert error["code"] == "usage"
