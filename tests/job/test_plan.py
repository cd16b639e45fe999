"""Whole jobs worked by hand, the contract's `cut` object, and the hold points."""

import json
import time
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from photomeasure.errors import BadJobError, NoPlanError
from photomeasure.job import CutPlan, Job, create_job, plan_cut
from tests.sizing.jobs import Entries, plain, q
from tests.sizing.test_hose import FITS, HOSE, LINE
from tests.sizing.test_path import ROUTE, SEEN
from tests.sizing.test_ports import IDENTIFIED, KNOWN

HEADER = (
    "name,a_seat,a_thread,a_sex,b_seat,b_thread,b_sex,form,stud_length_mm,price,source,checked\n"
)
OWN = "own,O-ring port,M18x1.5,male,37° flare,3/4-16 UNF,male,straight,11,3.5,drawer,read\n"


def whole(**changes: Any) -> Entries:
    """Give a job in which every check is true."""
    document = plain(
        route=deepcopy(ROUTE),
        hose={**HOSE, "bend_radius_mm": 90, "dash": 8},
        line=LINE,
        clearance=SEEN,
        mounts="one part",
        surplus=q(60, 2),
        build_date="2025-06",
    )
    known = {
        **KNOWN,
        "fits_hose": FITS,
        "adapter_pressure_mpa": 25.0,
        "seal_material": "nitrile",
        "port_material": "cast iron",
        "adapter_material": "steel",
        "seal_max_c": 100,
        "port_depth": q(14.5, 0.3),
        "torque": {"newton_metres": 45.0, "by": "adapter's own table"},
    }
    document["ends"] = [{**end, **known} for end in document["ends"]]
    return {**document, **changes}


def with_end(document: Entries, index: int, **changes: Any) -> Entries:
    ends = [dict(one) for one in document["ends"]]
    ends[index] |= changes
    return {**document, "ends": ends}


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    create_job(tmp_path, "x")
    (tmp_path / "shelf.csv").write_text(HEADER + OWN, "utf-8")
    return tmp_path


def plan(document: Entries, folder: Path | None = None) -> CutPlan:
    return plan_cut(Job.from_document(document, folder))


def test_a_job_with_everything_known_may_be_built(shelf: Path) -> None:
    # By hand: route 1000, bent; 1000 + 20 - 30 - 30 = 960, u = sqrt(4 + 0.16 + 0.16) = 2.078;
    # mark 960 + 1.96 x 2.078 = 964.07; assembly 1024.07; longest 1000 + 60 - 60 = 1000.
    found = plan(whole(), shelf)
    assert [check.name for check in found.checks if check.ok is not True] == []
    assert found.headline == f"All {len(found.checks)} checks passed"
    assert found.marks == ()
    answer = found.as_json()
    assert answer["cut_length"]["value"] == pytest.approx(960)
    assert answer["cut_at"]["value"] == pytest.approx(964.07, abs=0.005)
    assert answer["assembly_length"]["value"] == pytest.approx(1024.07, abs=0.005)
    assert answer["longest_usable"]["value"] == pytest.approx(1000)
    assert [part["name"] for part in answer["parts"]] == [
        "own",
        "new O-ring for M18x1.5",
        "own",
        "new O-ring for M18x1.5",
        "-8 hose end, straight, female 3/4-16 UNF, 37° flare",
        "-8 hose end, straight, female 3/4-16 UNF, 37° flare",
        "two braids, invented, -8, 965 mm",
        "lined clip for 18 mm outside",
    ]


def test_a_typed_length_of_a_forklift_return_line() -> None:
    # By hand: 640 ± 3 mm (rectangular: u = 1.732) seat to seat, bent, 15 mm slack, cut-offs
    # 24.0 and 26.5 exactly: 640 + 15 - 50.5 = 604.5. The mark: 604.5 + 0.95 x 3 = 607.35.
    # The return line's bore 12.7 mm is above the pressure line's 9.5 mm.
    document = plain(
        route={"length": "640mm ± 3mm", "near_straight": False},
        slack="15mm",
        line={**LINE, "kind": "return", "pressure_line_bore_mm": 9.5},
        hose={**HOSE, "inside_diameter_mm": 12.7},
    )
    document = with_end(document, 0, cut_off={"value": 24.0, "u": 0})
    document = with_end(document, 1, cut_off={"value": 26.5, "u": 0})
    answer = plan(document).as_json()
    assert answer["cut_length"]["value"] == pytest.approx(604.5)
    assert answer["cut_at"]["value"] == pytest.approx(607.35, abs=0.03)
    assert next(c for c in answer["checks"] if c["name"] == "line kind")["ok"] is True


def test_an_inch_job_from_port_face_to_band_edge() -> None:
    # By hand: tape 30 in = 762 mm from port face A (adapter stands 7/8 in = 22.225 mm off it)
    # to a band edge 1/4 in = 6.35 mm short of seat B: 762 - 22.225 + 6.35 = 746.125.
    # Slack 1/2 in = 12.7; cut-offs 1 1/4 in = 31.75 each: 746.125 + 12.7 - 63.5 = 695.325.
    document = plain(route={"length": "30in ± 1/16in", "near_straight": False}, slack="1/2in")
    document = with_end(
        document, 0, datum="port face", stand_off="7/8in ± 10thou", cut_off="1 1/4in ± 20thou"
    )
    document = with_end(
        document, 1, datum="band edge", datum_offset="1/4in ± 10thou", cut_off="1 1/4in ± 20thou"
    )
    assert plan(document).as_json()["cut_length"]["value"] == pytest.approx(695.325, abs=1e-9)


def test_a_straight_cylinder_line_under_its_shock_valves() -> None:
    # By hand: cylinder line, shock valves 15 MPa over relief 10; hose 20 MPa shortens -2 to +4 %
    # at full rating (the usual range), at 15/20 of it -1.5 to +3 %, middle 0.75 %.
    # 800 + 10 - 28 - 28 = 754 with 2 x 22 in the sockets: 710 free / 0.9925 + 44 = 759.365.
    document = plain(
        route={"length": q(800, 1.5), "turning": q(3, 1, "deg"), "bends": []},
        slack="10mm",
        line={**LINE, "kind": "cylinder", "relief_pressure_mpa": 10, "shock_pressure_mpa": 15},
        hose=HOSE,
    )
    for index in range(2):
        document = with_end(document, index, cut_off=q(28, 0.3), socket_depth=q(22, 0.3))
    answer = plan(document).as_json()
    assert answer["cut_length"]["value"] == pytest.approx(710 / 0.9925 + 44, abs=1e-9)
    assert answer["cut_length"]["value"] == pytest.approx(759.365, abs=5e-4)
    # The mark is at most the cut at the far end of the range: 710 / 0.97 + 44 = 775.96, + 1.96 u.
    assert 759.365 < answer["cut_at"]["value"] < 775.96 + 1.96 * 1.6


def test_two_elbows_with_clocking() -> None:
    # By hand: crossing to crossing 520, cut-offs to the crossings 44 and 47, no slack:
    # 520 - 91 = 429. Clocking -85° reads 275° on the clock face.
    route = {"length": q(520, 1), "near_straight": False, "clocking": q(-85, 1, "deg")}
    document = plain(route=route, slack={"value": 0, "u": 0})
    for index, cut_off in enumerate((44, 47)):
        document = with_end(
            document,
            index,
            end="90",
            datum="axes cross",
            cut_off=q(cut_off, 0.4),
            cut_off_to="axes cross",
        )
    found = plan(document)
    answer = found.as_json()
    assert answer["cut_length"]["value"] == pytest.approx(429)
    assert answer["clocking"].startswith("275°")
    assert all("axis" in words for words in answer["measured_from"])
    document["route"] = {**route, "clocking": None}
    lacking = next(c for c in plan(document).checks if c.name == "clocking")
    assert lacking.ok is None


KEYS = {
    "kind",
    "cut_length",
    "cut_at",
    "assembly_length",
    "longest_usable",
    "surplus",
    "measured_from",
    "steps",
    "checks",
    "parts",
    "budget",
    "components",
    "sources",
    "warnings",
    "headline",
}


@pytest.mark.parametrize("document", [{"job": 1}, plain(), whole()], ids=["empty", "part", "all"])
def test_the_contracts_cut_object(document: Entries) -> None:
    answer = json.loads(json.dumps(plan(document).as_json(), allow_nan=False))
    assert answer["kind"] == "cut"
    assert set(answer) >= KEYS
    for check in answer["checks"]:
        assert set(check) == {"name", "ok", "detail"}
        assert check["ok"] in (True, False, None)
        assert check["detail"]
    names = [check["name"] for check in answer["checks"]]
    assert len(names) == len(set(names))
    for name, parts in answer["components"].items():
        total = sum(part**2 for part in parts.values())
        assert total == pytest.approx(answer[name]["u"] ** 2, rel=0.01)
        assert set(parts) <= set(answer["sources"])
    if answer["budget"]:
        assert sum(line["share"] for line in answer["budget"]) == pytest.approx(1)


REQUIRED = (
    "thread A identified",
    "thread B identified",
    "seat A looked at",
    "seat B looked at",
    "relief pressure",
    "end A made for this hose",
    "end B made for this hose",
    "line rating",
    "temperature",
    "fluid",
    "bend radius",
    "movement",
    "clearance through full movement",
)


@pytest.mark.parametrize("document", [{"job": 1}, whole()], ids=["empty", "whole"])
def test_every_required_check_is_there(document: Entries) -> None:
    assert {check.name for check in plan(document).checks} >= set(REQUIRED)


def test_an_empty_job_is_not_ready_and_stamped() -> None:
    found = plan({"job": 1})
    assert found.headline == f"NOT READY TO BUILD: {len(found.checks)} open"
    assert found.marks == ("DO NOT BUILD", "DO NOT START")
    assert found.as_json()["cut_at"] is None
    assert found.parts == ()


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"clearance": None}, "clearance through full movement"),
        ({"mounts": None}, "movement"),
        ({"line": {**LINE, "relief_pressure_mpa": None}}, "relief pressure"),
        ({"hose": {**HOSE, "bend_radius_mm": None, "dash": 8}}, "bend radius"),
        ({"surplus": None}, "not too long"),
    ],
)
def test_whatever_is_missing_holds_the_build(shelf: Path, changes: Entries, name: str) -> None:
    found = plan(whole(**changes), shelf)
    assert name in {check.name for check in found.checks if check.ok is None}
    assert found.headline.startswith("NOT READY TO BUILD")
    assert "DO NOT BUILD" in found.marks


def test_an_unknown_relief_pressure_stops_the_start() -> None:
    found = plan(whole(line={**LINE, "relief_pressure_mpa": None}))
    assert "DO NOT START" in found.marks
    assert any("14 MPa" in words for words in found.warnings)


def test_no_parts_list_while_a_seat_is_unseen() -> None:
    assert plan(with_end(whole(), 1, seat=None)).parts == ()
    ambiguous = {**IDENTIFIED, "verdict": "ambiguous"}
    assert plan(with_end(whole(), 1, thread=ambiguous)).parts == ()


def test_no_adapter_tells_the_other_ways() -> None:
    words = " ".join(plan(with_end(whole(), 0, seat="45° flare")).no_adapter)
    for needed in (
        "flare the tube",
        "poison gas",
        "competent person",
        "never weld on".capitalize(),
    ):
        assert needed in words
    assert plan(whole()).no_adapter == ()


def test_brakes_are_refused() -> None:
    with pytest.raises(NoPlanError):
        plan(whole(line={**LINE, "system": "brakes"}))


def test_a_stored_answer_that_contradicts_itself_is_refused() -> None:
    route = {**ROUTE, "components": {"length": {"a": 1.0}}, "sources": {"a": {"key": "k"}}}
    with pytest.raises(BadJobError):
        plan(whole(route=route))


STYLES = [
    {"style": style, "cut_off": q(40, 0.4), "socket_depth": q(25, 0.3), "drop": q(20, 0.3)}
    for style in ("straight", "45", "90")
]
SPACE = {"seat_b_mm": [500, 300, 40], "axis_a": [1, 0, 0], "axis_b": [0, -1, 0]}


@pytest.mark.parametrize("changed", [{}, {"space": SPACE, "end_styles": STYLES}])
def test_a_changed_entry_replans_all_in_less_than_a_tenth_of_a_second(changed: Entries) -> None:
    route = {**ROUTE, "length": {**q(1000, 2), "high": 1005}}
    job = Job.from_document(whole(route=route, **changed))
    plan_cut(job)
    took = []
    for number in range(3):
        start = time.process_time()  # its own work: the machine may have other
        again = plan_cut(job.changed(slack=q(10 + number, 0)))
        took.append(time.process_time() - start)
        assert again.lengths.cut_length is not None
    assert min(took) < 0.1


def test_changing_one_entry_moves_the_cut_by_as_much() -> None:
    job = Job.from_document(whole())
    before = plan_cut(job).lengths.cut_length
    after = plan_cut(job.changed(slack=q(25, 0))).lengths.cut_length
    assert before is not None
    assert after is not None
    assert after.value - before.value == pytest.approx(5.0)  # by hand: 25 - 20
