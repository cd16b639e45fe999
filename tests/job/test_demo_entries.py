"""The demonstration's entries: invented, said to be so, and short of one check on purpose."""

from pathlib import Path

import pytest

from photomeasure.job import add_answer, create_job, open_job, plan_cut
from photomeasure.job.demo_entries import enter_demo
from tests.job.test_folder import FITTING, ROUTE
from tests.sizing.jobs import Entries, q

BENDS = [
    {"at": q(240, 1), "radius": q(100, 3), "angle": q(60, 1, "deg")},
    {"at": q(480, 1), "radius": q(110, 3), "angle": q(50, 1, "deg")},
]
MEASURED: Entries = {
    "bends": BENDS,
    "tightest_radius": q(95, 3),
    "turning": q(114, 1, "deg"),
    "points": [[0.0, 0.0, 0.0], [728.0, 0.0, 0.0]],
}


def _fitting(designation: str) -> Entries:
    return {**FITTING, "candidates": [{"designation": designation, "probability": 0.98}]}


@pytest.mark.parametrize("pump", ["M18x1.5", "M14x1.5", "M22x1.5"])
@pytest.mark.parametrize("steering", ["3/4-16 UNF", "9/16-18 UNF", "7/8-14 UNF"])
def test_only_the_walk_round_the_machine_is_open(tmp_path: Path, pump: str, steering: str) -> None:
    job = create_job(tmp_path, "x")
    job = add_answer(job, "fitting", _fitting(pump), end=0)
    job = add_answer(job, "fitting", _fitting(steering), end=1)
    job = add_answer(job, "route", {**ROUTE, **MEASURED})
    enter_demo(job)
    found = plan_cut(open_job(tmp_path))
    names = [check.name for check in found.checks if check.ok is not True]
    assert names == ["clearance through full movement"]
    assert found.headline == "NOT READY TO BUILD: 1 open"
    # By hand, from the invented entries: 728.12 + 6 + 8 + 10 - 54 - 2 x 0.5 x 4 - 2 x 1 = 692.12.
    assert found.as_json()["cut_length"]["value"] == pytest.approx(692.12, abs=0.01)


def test_the_entries_say_that_they_are_invented(tmp_path: Path) -> None:
    entries = enter_demo(create_job(tmp_path, "x")).entries
    assert entries.invented is not None
    assert "invented" in entries.invented
    for end in entries.ends:
        assert "invented" in (end.seat_by or "")
    assert "invented" in (entries.line.relief_by or "")
    assert "invented" in (entries.hose.kind or "")
