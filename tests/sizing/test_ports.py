"""What is known of the two ports, and the adapters that follow."""

from typing import Any

import pytest

from photomeasure.sizing.checks import Check
from photomeasure.sizing.ports import designation_of, join, port_checks
from photomeasure.sizing.shelf import read_shelf
from tests.sizing.jobs import Entries, entries, plain, q

KNOWN: Entries = {
    "designation": "M18x1.5",
    "thread_by": "pitch gauge and caliper, F.",
    "sex": "female",
    "seat": "metric O-ring port",
    "seat_by": "F., with a torch",
    "old_union": {"holds": "nothing", "by": "F."},
}
IDENTIFIED: Entries = {
    "kind": "fitting",
    "verdict": "identified",
    "hand": "right",
    "candidates": [{"designation": "M18x1.5", "probability": 0.98}],
}


SETTLE = "pitch gauge: 1.5 or 18"
TWO = [
    {"designation": "M16x1.5", "probability": 0.6},
    {"designation": "5/8-18 UNF", "probability": 0.4},
]


def job(**changes: Any) -> Any:
    document = plain()
    first, second = document["ends"]
    document["ends"] = [{**first, **KNOWN, **changes}, {**second, **KNOWN}]
    return entries(document)


def check(name: str, **changes: Any) -> Check:
    return next(found for found in port_checks(job(**changes)) if found.name == name)


@pytest.mark.parametrize(
    ("change", "ok", "word"),
    [
        ({}, True, "pitch gauge"),
        ({"thread_by": None}, None, "who identified M18x1.5"),
        ({"designation": None}, None, "thread of port A"),
        ({"designation": None, "thread": IDENTIFIED}, True, "98.0 % sure"),
        ({"thread": IDENTIFIED}, True, "measured"),
        ({"designation": "5/8-18 UNF", "thread": IDENTIFIED}, False, "Entered 5/8-18 UNF"),
        ({"thread": {**IDENTIFIED, "hand": "left"}}, False, "fuel gas"),
        ({"thread": {"verdict": "no match"}}, None, "measure again"),
        (
            {
                "thread": {
                    **IDENTIFIED,
                    "verdict": "ambiguous",
                    "settle_by": "pitch gauge: 1.5 or 18",
                }
            },
            None,
            SETTLE,
        ),
    ],
)
def test_threads(change: Entries, ok: bool | None, word: str) -> None:
    found = check("thread A identified", **change)
    assert found.ok is ok
    assert word in found.detail


@pytest.mark.parametrize(
    ("change", "ok", "word"),
    [
        ({}, True, "O-ring port"),
        ({"seat": None}, None, "no photo"),
        ({"seat_by": None}, None, "who looked"),
        ({"seat": "shiny"}, False, "no seat that is known"),
    ],
)
def test_seats(change: Entries, ok: bool | None, word: str) -> None:
    found = check("seat A looked at", **change)
    assert found.ok is ok
    assert word in found.detail


@pytest.mark.parametrize(
    ("union", "ok"),
    [
        (None, None),
        ({"holds": "nothing", "by": "F."}, True),
        ({"holds": "flow control spring", "by": "F."}, False),
        ({"holds": "flow control spring", "by": "F.", "kept": True}, True),
    ],
)
def test_the_old_union_may_hold_the_pumps_flow_control(union: Any, ok: bool | None) -> None:
    assert check("old union A looked into", old_union=union).ok is ok


def test_a_job_without_ends_leaves_both_open() -> None:
    found = port_checks(entries({"job": 1}))
    assert len(found) == 6
    assert {one.ok for one in found} == {None}


@pytest.mark.parametrize("typed", ["M18x1.5", "m18 x 1,5", "M18 x 1.5"])
def test_a_designation_is_spelled_as_in_the_tables(typed: str) -> None:
    assert designation_of(job(designation=typed).ends[0]) == "M18x1.5"


def test_an_unlisted_designation_stays_as_typed() -> None:
    assert designation_of(job(designation="M17x1.3").ends[0]) == "M17x1.3"


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"seat": None}, "seat of port A"),
        ({"seat_by": None}, "seat of port A"),
        ({"sex": None}, "female or male"),
        ({"designation": None}, "thread of port A"),
        ({"thread": {**IDENTIFIED, "verdict": "ambiguous"}}, "one thread"),
    ],
)
def test_no_parts_while_a_port_is_not_settled(change: Entries, word: str) -> None:
    joined, checks = join(job(**change))
    assert joined.connection is None
    assert joined.check.ok is None
    assert word in joined.check.detail
    assert checks == ()


def test_no_chain_is_a_failed_check_with_the_way_out() -> None:
    joined, _ = join(job(seat="45° flare"))
    assert joined.check.ok is False
    assert "flared tube" in joined.check.detail


def test_a_row_from_memory_waits_for_the_part_in_hand() -> None:
    joined, _ = join(job(designation="11/16-18 UNS", seat="inverted flare"))
    assert joined.connection is not None
    assert joined.check.ok is None
    assert "memory" in joined.check.detail


def test_an_external_taper_reading_means_an_internal_taper_port() -> None:
    # The fitting that came out reads R1/4; its port is Rc1/4 (ISO 7-1).
    joined, checks = join(job(designation="R1/4", seat="taper thread"))
    assert joined.connection is not None
    assert joined.connection.chains[0].port.thread == "Rc1/4"
    assert checks[0].ok is True


HEADER = "name,a_seat,a_thread,a_sex,b_seat,b_thread,b_sex,form,stud_length_mm,source,checked\n"


@pytest.mark.parametrize(
    ("stud_mm", "depth", "ok"),
    [
        # By hand: 1 mm and one pitch of 1.5 mm are needed in hand, 2.5 mm.
        ("11", q(14.2, 0.3), True),  # 14.2 - 0.6 - 11 = 2.6
        ("11", q(14, 0.3), False),  # 14 - 0.6 - 11 = 2.4
        ("14", q(14, 0.3), False),
        ("", q(14, 0.3), None),
        ("11", None, None),
    ],
)
def test_the_stud_must_seal_before_it_bottoms(stud_mm: str, depth: Any, ok: bool | None) -> None:
    row = f"own,O-ring port,M18x1.5,male,37° flare,3/4-16 UNF,male,straight,{stud_mm},drawer,read\n"
    _, checks = join(job(port_depth=depth), read_shelf(HEADER + row))
    assert checks[0].ok is ok


def test_a_stud_that_hardly_holds_is_the_wrong_part() -> None:
    # M18x1.5: the shortest studs of the port standards have 0.46 diameters, so 6 mm are too few.
    short = "own,O-ring port,M18x1.5,male,37° flare,3/4-16 UNF,male,straight,6,drawer,read\n"
    _, checks = join(job(port_depth=q(14.5, 0.3)), read_shelf(HEADER + short))
    assert checks[0].ok is False
    assert "6 mm of thread hold, 7 mm are the least" in checks[0].detail


def test_an_elbow_that_is_wanted_is_found_or_missed_by_name() -> None:
    joined, _ = join(job(adapter_form="90"))
    assert joined.connection is not None
    first, second = joined.connection.chains
    assert [part.form for part in first.adapters] == ["90"]
    assert [part.form for part in second.adapters] == ["straight"]
    joined, _ = join(job(adapter_form="45"))
    assert joined.check.ok is False
    assert "by a 45° adapter" in joined.check.detail


def test_a_stub_needs_no_adapter_of_whatever_straight_shape() -> None:
    stub = {"designation": "3/4-16 UNF", "sex": "male", "seat": "37° flare"}
    joined, _ = join(job(**stub, adapter_form="straight"))
    assert joined.connection is not None
    assert joined.connection.chains[0].adapters == ()


def test_a_height_that_differs_from_the_parts_own_is_a_contradiction() -> None:
    header = HEADER.replace("stud_length_mm", "stud_length_mm,stand_off_mm")
    row = "own,O-ring port,M18x1.5,male,37° flare,3/4-16 UNF,male,straight,11,23,drawer,read\n"
    shelf = read_shelf(header + row)
    joined, _ = join(job(datum="port face", stand_off=q(40, 0.5)), shelf)
    assert joined.check.ok is None
    assert "40 mm off, or 23 mm as its row says" in joined.check.detail
    joined, _ = join(job(datum="port face", stand_off=q(24, 0.5)), shelf)
    assert joined.check.ok is True


def test_an_elbow_moves_the_datum() -> None:
    row = "own elbow,O-ring port,M18x1.5,male,37° flare,3/4-16 UNF,male,90,,drawer,read\n"
    other = "own,O-ring port,G9,male,37° flare,3/4-16 UNF,male,90,,drawer,read\n"
    whole = job(datum="port face", stand_off=q(30, 1))
    joined, _ = join(whole, read_shelf(HEADER + other))
    assert joined.check.ok is True  # a straight generic adapter is cheaper than an elbow
    joined, _ = join(whole, read_shelf(HEADER + row))
    assert joined.check.ok is False
    assert "Elbow at A" in joined.check.detail
