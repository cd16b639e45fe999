"""The command line and its JSON as others rely on them: names, shapes, exit codes."""

import contextlib
import io
import json
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any, cast

import pytest

from photomeasure.cli import COMMANDS, run
from photomeasure.job.demonstration import Sample, samples

ROOT = Path(__file__).parent.parent
SIZE = r"(\d+ )?\d+(/\d+)?"
THREAD = re.compile(
    rf"M\d+(\.\d+)?x\d+(\.\d+)?|(G|R|Rc){SIZE}|{SIZE}-\d+(\.\d+)? (UN|UNF|UNC|UNS|UNEF|NPT)"
)
QUANTITY_KEYS = {"value", "u", "low", "high", "unit"}


def ask(*arguments: object) -> tuple[int, Any, str]:
    """Run one command line with --json; give exit code, the one object on stdout, and stderr."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run([*map(str, arguments), "--json"])
    assert out.getvalue().count("\n") == 1, "one object on one line and nothing else"
    return code, json.loads(out.getvalue()), err.getvalue()


@cache
def fitting_answer(sample: Sample) -> dict[str, Any]:
    """Give a sample's answer, measured once for all tests."""
    code, data, _ = ask("fitting", *with_bars(sample))
    assert code == 0
    return cast("dict[str, Any]", data)


def check_quantity(entry: dict[str, Any] | None, unit: str = "mm") -> None:
    if entry is None:
        return
    assert set(entry) == QUANTITY_KEYS
    assert entry["unit"] == unit
    assert entry["low"] < entry["value"] < entry["high"]
    assert 0 < entry["u"] < float("inf")


def check_parts(data: dict[str, Any], names: list[str]) -> None:
    """Components make up each u, and every source is listed with its scope and key."""
    for name in names:
        if data[name] is None:
            continue
        parts = data["components"][name]
        assert sum(part**2 for part in parts.values()) == pytest.approx(
            data[name]["u"] ** 2, rel=0.02
        )
        for source in parts:
            assert set(data["sources"][source]) == {"label", "scope", "key"}
    assert sum(line["share"] for line in data["budget"]) == pytest.approx(1)
    assert all(set(line) == {"source", "share"} for line in data["budget"])


def with_bars(sample: Sample) -> list[str]:
    return [
        str(sample.photo),
        "--bar-x",
        f"{sample.bars.x_mm}mm",
        "--bar-y",
        f"{sample.bars.y_mm}mm",
    ]


def test_every_command_of_the_contract_exists() -> None:
    assert set(COMMANDS) == {
        *("print", "fitting", "port", "route", "caliper", "threads", "camera", "cut"),
        *("jobsheet", "demo", "app"),
    }
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in COMMANDS:
        assert f"`photomeasure {name}" in readme
        assert run([name, "--help"]) == 0


@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("print", ["--paper", "--out", "--dpi", "--hole", "--layout"]),
        ("fitting", ["--json", "--out", "--bar-x", "--bar-y", "--camera", "--spanner", "--lies"]),
        ("port", ["--json", "--out", "--bar-x", "--bar-y", "--camera", "--piece"]),
        (
            "route",
            [
                *("--json", "--out", "--bar-x", "--bar-y", "--camera", "--laid", "--hose-od"),
                *("--line-od", "--line", "--side", "--points"),
            ],
        ),
        (
            "caliper",
            [
                *("--major", "--minor", "--bore", "--pitch", "--span", "--threads"),
                *("--jaw-flat", "--resolution", "--photo", "--json"),
            ],
        ),
        ("threads", ["--json"]),
        ("camera", ["--out", "--json"]),
        ("cut", ["--json"]),
        ("jobsheet", ["--out"]),
        ("demo", ["--out"]),
    ],
)
def test_every_option_of_the_contract_exists(
    capsys: pytest.CaptureFixture[str], command: str, options: list[str]
) -> None:
    assert run([command, "--help"]) == 0
    words = capsys.readouterr().out
    for option in options:
        assert re.search(rf"{option}\b", words), option


FITTING_QUANTITIES = {
    **dict.fromkeys(
        ["major_diameter", "minor_diameter", "pitch", "thread_length", "across_flats"], "mm"
    ),
    **dict.fromkeys(["taper_half_angle", "nose_half_angle", "thread_angle"], "deg"),
    "diameter_at_small_end": "mm",
}


@pytest.mark.parametrize("sample", samples("fitting"), ids=lambda sample: sample.photo.stem)
def test_a_sample_fitting_is_answered_as_the_contract_says(tmp_path: Path, sample: Sample) -> None:
    code, data, _ = ask("fitting", *with_bars(sample), "--out", tmp_path)
    assert code == 0
    assert data["kind"] == "fitting"
    assert data["verdict"] in {"identified", "ambiguous", "no match"}
    for name, unit in FITTING_QUANTITIES.items():
        check_quantity(data[name], unit)
    assert data["taper_half_angle"] is not None
    assert data["hand"] in {"right", "left", "unknown"}
    assert all(set(one) == {"size", "probability"} for one in data["spanner"])
    assert isinstance(data["warnings"], list)
    check_parts(data, [name for name in FITTING_QUANTITIES if data[name]])
    check_candidates(data)
    pictures = list(tmp_path.glob("*.jpg"))
    assert [path.read_bytes()[:3] for path in pictures] == 2 * [b"\xff\xd8\xff"]  # and the drawing


def check_candidates(data: dict[str, Any]) -> None:
    candidates = data["candidates"]
    chances = [one["probability"] for one in candidates]
    assert chances == sorted(chances, reverse=True)
    assert sum(chances) == pytest.approx(1)
    assert [one["family"] for one in candidates if one["designation"] == "none of these"] == [None]
    for one in candidates:
        assert set(one) == {"designation", "family", "probability", "seats"}
        if one["family"] is not None:
            assert THREAD.fullmatch(one["designation"]), one["designation"]
            assert one["family"] in {"metric", "unified", "G", "R", "Rc", "NPT"}
    if data["verdict"] == "identified":
        assert chances[0] >= 0.95


def test_the_sample_fittings_are_never_named_wrongly() -> None:
    named = []
    for sample in samples("fitting"):
        truth = json.loads(sample.photo.with_suffix(".json").read_text(encoding="utf-8"))["truth"]
        data = fitting_answer(sample)
        if data["verdict"] == "identified":
            named.append(data["candidates"][0]["designation"] == truth["designation"])
        assert data["major_diameter"]["value"] == pytest.approx(
            truth["major_diameter"], abs=4 * data["major_diameter"]["u"]
        )
    assert named
    assert all(named)


def test_the_sample_route_is_answered_as_the_contract_says(tmp_path: Path) -> None:
    sample = samples("route")[0]
    truth = json.loads(sample.photo.with_suffix(".json").read_text(encoding="utf-8"))["truth"]
    code, data, _ = ask("route", *with_bars(sample), "--line", sample.line, "--out", tmp_path)
    assert code == 0
    assert (data["kind"], data["laid"], data["clocking"]) == ("route", "flat", None)
    for name, unit in {"length": "mm", "tightest_radius": "mm", "turning": "deg"}.items():
        check_quantity(data[name], unit)
    assert data["hose_length"] is None
    for bend in data["bends"]:
        assert set(bend) == {"at", "radius", "angle"}
        check_quantity(bend["at"])
        check_quantity(bend["angle"], "deg")
    assert all(len(point) == 3 for point in data["points"])
    check_parts(data, ["length", "tightest_radius", "turning"])
    assert data["length"]["value"] == pytest.approx(
        truth["length"], abs=0.005 * truth["length"] + 1
    )  # the bar of a flat route: 0.5 % + 1 mm
    assert len(list(tmp_path.glob("*.jpg"))) == 1


def test_threads_have_the_contract_s_rows() -> None:
    code, data, _ = ask("threads", "M18x1.5", "9/16-18 UNF", "R1/4", "Rc1/4", "1/4-18 NPT")
    assert code == 0
    keys = {
        *("designation", "family", "pitch_mm", "tpi", "thread_angle_deg", "taper", "external"),
        *("internal", "seats", "source"),
    }
    for row in data["threads"]:
        extra = {"gauge_length_mm", "gauge_tolerance_mm"} if row["taper"] else set()
        assert set(row) == keys | extra
        assert row["taper"] in {0, 0.0625}
    assert [row["family"] for row in data["threads"]] == ["metric", "unified", "R", "Rc", "NPT"]
    assert data["threads"][2]["internal"] is None
    assert data["threads"][3]["external"] is None


def test_caliper_has_the_contract_s_shape(tmp_path: Path) -> None:
    sample = samples("fitting")[-1]
    answer = fitting_answer(sample)
    saved = tmp_path / "answer.json"
    saved.write_text(json.dumps(answer), encoding="utf-8")
    diameter, pitch = answer["major_diameter"]["value"], answer["pitch"]["value"]
    code, data, _ = ask(
        *("caliper", "--major", f"{diameter:.2f}mm", "--pitch", f"{pitch:.3f}mm"),
        *("--span", f"{5 * pitch:.2f}mm", "--threads", 5, "--photo", saved),
    )
    assert code == 0
    assert data["kind"] == "caliper"
    assert data["agree"] is True
    assert [one["name"] for one in data["readings"]] == ["major 1", "pitch 1", "span 1"]
    for one in data["readings"]:
        assert set(one) == {"name", "reading", "expected", "score"}
        check_quantity(one["reading"])
        check_quantity(one["expected"])
        assert abs(one["score"]) <= 1
    check_candidates(data)
    assert isinstance(data["suspects"], list)
    check_quantity(data["combined"]["major_diameter"])


def test_a_wrong_reading_is_suspected() -> None:
    code, data, _ = ask("caliper", "--major", "17.9mm", "--pitch", "1.5mm", "--major", "0.705mm")
    assert code == 0
    assert data["agree"] is False
    assert data["suspects"]
    assert all(0 <= one["probability"] <= 1 for one in data["suspects"])


def test_print_and_layout_agree_with_the_contract(tmp_path: Path) -> None:
    layout = tmp_path / "layout.json"
    code, _, _ = ask(
        "print", "sheet", "--paper", "Letter", "--out", tmp_path / "s.pdf",
        "--layout", layout,
    )  # fmt: skip
    assert code == 0
    data = json.loads(layout.read_text(encoding="utf-8"))
    assert set(data) == {"kind", "page_mm", "pieces", "bars", "bed", "shoot"}
    assert data["page_mm"] == pytest.approx([215.9, 279.4])  # ANSI A: 8.5 in by 11 in
    assert [set(piece) for piece in data["pieces"]] == [
        {"name", "outline_mm", "hole", "direction", "order", "role"}
    ]
    assert data["bars"]["x"]["length_mm"] <= 150  # what a caliper opens
    assert set(data["shoot"]) == {"distance_mm", "tilt_deg"}


def test_the_demo_runs_the_whole_job(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    stale = folder / "answers" / "99-fitting.json"
    stale.parent.mkdir(parents=True)
    stale.write_text("{}", encoding="utf-8")
    (folder / "job.json").write_text('{"job": 1, "demonstration": true}', encoding="utf-8")
    code, data, _ = ask("demo", "--out", folder)
    assert code == 0
    assert not stale.exists()  # an older demonstration is replaced
    assert len(data["fittings"]) == 2
    check_cut(data["cut"])
    code, again, _ = ask("cut", folder)
    assert code == 0
    check_cut(again)
    assert again["cut_at"] == data["cut"]["cut_at"]
    sheet = tmp_path / "sheet.pdf"
    assert ask("jobsheet", folder, "--out", sheet)[0] == 0
    assert sheet.read_bytes().startswith(b"%PDF")
    assert (folder / "jobsheet.pdf").read_bytes().startswith(b"%PDF")


def check_cut(data: dict[str, Any]) -> None:
    assert data["kind"] == "cut"
    assert {"cut_length", "cut_at", "steps", "checks", "parts", "budget"} <= set(data)
    assert {"assembly_length", "measured_from", "surplus"} <= set(data)
    assert all(set(check) == {"name", "ok", "detail"} for check in data["checks"])
    assert all(check["ok"] in {True, False, None} for check in data["checks"])
    for name in ("cut_length", "cut_at"):
        check_quantity(data[name])
    if data["cut_at"] is not None:
        assert data["cut_at"]["value"] > data["cut_length"]["value"]


def test_another_job_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "job.json").write_text('{"job": 1, "name": "mine"}', encoding="utf-8")
    code, data, _ = ask("demo", "--out", tmp_path)
    assert (code, data["error"]["code"]) == (3, "bad-job")
    assert json.loads((tmp_path / "job.json").read_text(encoding="utf-8"))["name"] == "mine"


def test_the_module_and_the_program_leave_with_the_exit_code() -> None:
    asked = [sys.executable, "-m", "photomeasure", "threads", "M99x9", "--json"]
    done = subprocess.run(asked, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 2
    assert json.loads(done.stdout)["error"]["code"] == "usage"
    assert done.stderr.strip()
