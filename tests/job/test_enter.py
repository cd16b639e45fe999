"""Entries one by one: saved at once, by several windows, with nothing lost."""

import json
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import BadJobError, UsageError
from photomeasure.job import create_job, open_job
from photomeasure.job.enter import HISTORY_FILE, enter, entered, unfinished, update_job
from photomeasure.job.model import Job
from photomeasure.job.spoken import UNITS_OF, read_entry, say_entry

BLANK = {"job": 1, "name": "x", "ends": [{}, {}]}


def blank(**more: Any) -> Job:
    return Job.from_document({**BLANK, **more})


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("name", "Narrow tractor"),
        ("line.fluid", "mineral oil"),
        ("hose.dash", 6),
        ("ends.1.seat", "O-ring port"),
        ("slack", {"value": 10.0, "u": 0.0}),
        ("route.length", {"value": 900.0, "u": 2.0}),
        ("bars.sheet.x", 99.8),
    ],
)
def test_an_entry_is_set_and_taken_away(path: str, value: Any) -> None:
    job = enter(blank(), path, value)
    assert entered(job, path) == value
    assert entered(enter(job, path, None), path) is None
    assert job.document["job"] == 1


def test_other_entries_stay() -> None:
    job = blank(line={"fluid": "mineral oil", "own key": 7}, own={"kept": True})
    changed = enter(job, "line.fluid_by", "cap")
    assert changed.document["line"] == {"fluid": "mineral oil", "own key": 7, "fluid_by": "cap"}
    assert changed.document["own"] == {"kept": True}


def test_what_belongs_together_waits_and_is_then_put_in_place() -> None:
    job = enter(blank(), "ends.0.fits_hose.pressure_mpa", 14.0)
    job = enter(job, "ends.0.fits_hose.statement", "fits")
    assert job.entries.ends[0].fits_hose is None
    assert unfinished(job, "ends.0.fits_hose")
    job = enter(job, "ends.0.fits_hose.by", "sheet")
    fits = job.entries.ends[0].fits_hose
    assert fits is not None
    assert (fits.statement, fits.by, fits.pressure_mpa) == ("fits", "sheet", 14.0)
    assert not unfinished(job, "ends.0.fits_hose")
    job = enter(job, "ends.0.fits_hose.by", None)  # and back
    assert job.entries.ends[0].fits_hose is None
    assert entered(job, "ends.0.fits_hose.statement") == "fits"


def test_styles_of_ends_are_told_by_their_name() -> None:
    job = blank()
    for style in ("straight", "45", "90"):
        for name in ("cut_off", "socket_depth", "drop"):
            job = enter(job, f"end_styles.{style}.{name}", {"value": 20.0, "u": 0.3})
    assert [one.style for one in job.entries.end_styles] == ["straight", "45", "90"]
    job = enter(job, "end_styles.45.cut_off", {"value": 41.0, "u": 0.3})
    found = {one.style: one.cut_off.value for one in job.entries.end_styles}
    assert found == {"straight": 20.0, "45": 41.0, "90": 20.0}
    for name in ("cut_off", "socket_depth", "drop"):
        job = enter(job, f"end_styles.90.{name}", None)
    assert len(job.entries.end_styles) == 2
    assert not unfinished(job, "end_styles.90")


def test_nonsense_is_refused_and_nothing_saved(tmp_path: Path) -> None:
    create_job(tmp_path / "j", "x")
    before = (tmp_path / "j" / "job.json").read_bytes()
    with pytest.raises(BadJobError):
        update_job(tmp_path / "j", lambda job: enter(job, "hose.dash", -6))
    assert (tmp_path / "j" / "job.json").read_bytes() == before


def test_many_windows_at_once_lose_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "j"
    create_job(folder, "x")

    def typed(path: str, value: int) -> Callable[[Job], Job]:
        return lambda job: enter(job, path, value)

    def window(number: int) -> None:
        for step in range(5):
            update_job(folder, typed(f"own{number}.entry{step}", number * 10 + step))

    windows = [threading.Thread(target=window, args=(number,)) for number in range(6)]
    for one in windows:
        one.start()
    for one in windows:
        one.join()
    document = open_job(folder).document
    assert all(
        document[f"own{number}"][f"entry{step}"] == number * 10 + step
        for number in range(6)
        for step in range(5)
    )


def test_the_history_keeps_what_was_typed_over(tmp_path: Path) -> None:
    folder = tmp_path / "j"
    create_job(folder, "x")
    for words in ("cap", "manual"):
        update_job(folder, lambda job, words=words: enter(job, "line.fluid_by", words))  # type: ignore[misc]
    lines = (folder / HISTORY_FILE).read_text("utf-8").splitlines()
    told = [json.loads(line) for line in lines]
    assert [(one["old"], one["new"]) for one in told] == [(None, "cap"), ("cap", "manual")]


@pytest.mark.parametrize(
    ("kind", "text", "units", "value"),
    [
        ("pressure", "90", "mm", 9.0),  # 1 bar is 0.1 MPa by definition
        ("pressure", "1300", "in", 1300 * 0.006894757),  # psi: NIST SP 811, appendix B
        ("pressure", "9 MPa", "in", 9.0),
        ("celsius", "212", "in", 100.0),  # boiling water, both scales
        ("celsius", "95", "mm", 95.0),
        ("flow", "12", "mm", 12.0),
        ("flow", "3", "in", 3 * 3.785412),  # US gallon: NIST SP 811, appendix B
        ("torque", "33", "in", 33 * 1.355818),  # lbf ft: NIST SP 811, appendix B
        ("mm", "5/8", "in", 15.875),
        ("mm", "15,9", "mm", 15.9),
        ("viscosity", "32 cSt", "mm", 32.0),  # 1 cSt is 1 mm²/s by definition
        ("count", "-6", "mm", 6),
        ("month", "3/2025", "mm", "2025-03"),
        ("share", "-2", "mm", -0.02),
        ("words", "mineral oil, glycol", "mm", ["mineral oil", "glycol"]),
        ("place", "400; 0; 120", "mm", [400.0, 0.0, 120.0]),
        ("direction", "0, 0, 1", "in", [0.0, 0.0, 1.0]),
        ("yesno", "no", "mm", False),
        ("text", "  cap ", "mm", "cap"),
        ("text", "  ", "mm", None),
    ],
)
def test_entries_are_read_as_people_say_them(kind: str, text: str, units: Any, value: Any) -> None:
    found = read_entry(kind, text, units)
    assert found == (pytest.approx(value, rel=1e-6) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("text", "units", "value", "half"),
    [
        ("27 ± 0.5", "mm", 27.0, 0.5),
        ("27,5 +- 0,2", "mm", 27.5, 0.2),
        ("27±0.5 mm", "in", 27.0, 0.5),
        ("27", "mm", 27.0, 1.0),  # by one of the last figure written
        ("27.30", "mm", 27.3, 0.01),
        ("1 1/16", "in", 26.9875, 25.4 / 32),  # by half of the part that was written
        ("0", "mm", 0.0, 0.0),
        ("-3 ± 1", "mm", -3.0, 1.0),
    ],
)
def test_lengths_say_how_sure_they_are(text: str, units: Any, value: float, half: float) -> None:
    found = read_entry("length", text, units)
    assert found["value"] == pytest.approx(value)
    assert found["u"] * 3**0.5 == pytest.approx(half)


@pytest.mark.parametrize(
    ("text", "units", "bends"),
    [
        ("200, 90, 45; 560, 120, 90", "mm", [(200, 90, 45), (560, 120, 90)]),
        ("8 3,5 45°", "in", [(203.2, 88.9, 45)]),
        ("none", "mm", []),
    ],
)
def test_bends_by_hand(text: str, units: Any, bends: list[tuple[float, float, float]]) -> None:
    job = enter(blank(), "route.length", {"value": 900.0, "u": 2.0})
    job = enter(job, "route.bends", read_entry("bends", text, units))
    assert job.entries.route is not None
    found = job.entries.route.bends or []
    read = [(bend.at.value, bend.radius.value, bend.angle.value) for bend in found]
    assert read == [pytest.approx(bend) for bend in bends]
    again = read_entry("bends", say_entry("bends", entered(job, "route.bends"), units), units)
    assert [bend["at"]["value"] for bend in again] == pytest.approx([bend[0] for bend in bends])


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("bends", "200, 90"),
        ("bends", "200, a, 45"),
        ("length", "27 ± x"),
        ("length", "27 ± -1"),
        ("pressure", "a lot"),
        ("pressure", "9 kg"),
        ("month", "2025-13"),
        ("month", "spring"),
        ("count", "6.5"),
        ("place", "1 2"),
        ("mm", "1e999"),
    ],
)
def test_what_is_no_figure_is_refused_with_what_to_write(kind: str, text: str) -> None:
    with pytest.raises(UsageError) as refused:
        read_entry(kind, text, "mm")
    assert refused.value.remedy


@given(
    kind=st.sampled_from([kind for kind in UNITS_OF if kind not in ("length", "exactly")]),
    value=st.floats(0.5, 5000),
    units=st.sampled_from(["mm", "in"]),
)
@settings(max_examples=60)
def test_what_is_said_is_read_again(kind: str, value: float, units: Any) -> None:
    said = say_entry(kind, value, units)
    zero_off = 0.003 if kind == "celsius" else 0.0  # four figures of degrees Fahrenheit, from 32
    read = read_entry(kind, said, units)
    assert read == pytest.approx(value, rel=2e-3, abs=zero_off)  # four figures are said
