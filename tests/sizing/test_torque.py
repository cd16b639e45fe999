"""How tight, from tables that are named; and the wall of a welded tube."""

from dataclasses import replace
from typing import Any

import pytest

from photomeasure.sizing.connection import Joint, connect
from photomeasure.sizing.entries import EndEntry
from photomeasure.sizing.shelf import Face, seat_named
from photomeasure.sizing.torque import tightening_of, torque_check, torque_words
from photomeasure.sizing.tube import hoop_pressure_mpa, tube_checks
from tests.sizing.jobs import entries, plain, q

SIZES = {
    4: "7/16-20 UNF",
    5: "1/2-20 UNF",
    6: "9/16-18 UNF",
    8: "3/4-16 UNF",
    10: "7/8-14 UNF",
    12: "1 1/16-12 UN",
    16: "1 5/16-12 UN",
}
# Torque: TM 55-1520-240-23-1, 1-13, column E, printed in lbf in; x 0.112985 by hand.
# Flats: TM 9-2320-364-20-4, table 2-67, flared hose and fitting, 37 degrees.
TIGHTENING: list[tuple[int, Any, tuple[float, float]]] = [  # dash, torque [N m], flats
    (4, (11.3, 13.6), (1.5, 1.75)),  # 100 to 120
    (5, None, (1.0, 1.5)),  # no torque printed for -5
    (6, (23.7, 28.2), (1.0, 1.5)),  # 210 to 250
    (8, (38.4, 47.5), (1.25, 1.75)),  # 340 to 420
    (10, (45.2, 54.2), (1.25, 1.75)),  # 400 to 480
    (12, (81.9, 96.0), (1.0, 1.5)),  # 725 to 850
    (16, (101.7, 129.9), (0.75, 1.0)),  # 900 to 1150
]


def hose_joint(thread: str) -> Any:
    port = Face("37° flare", thread, "male")
    chain = connect((port, port)).chains[0]
    seat = chain.joints[-1].seat
    return Joint("adapter", "hose end", thread, seat)


@pytest.mark.parametrize(("dash", "torque_nm", "flats"), TIGHTENING)
def test_the_published_tables(dash: int, torque_nm: Any, flats: tuple[float, float]) -> None:
    row = tightening_of(hose_joint(SIZES[dash]))
    assert row is not None
    assert row.flats == flats
    assert row.source
    if torque_nm is None:
        assert row.torque_nm is None
    else:
        assert row.torque_nm == pytest.approx(torque_nm, abs=0.05)


def test_a_stud_has_no_figure_but_its_own_tables() -> None:
    port = Face("O-ring port", "M18x1.5", "female")
    joint = connect((port, port)).chains[0].joints[0]
    assert torque_words(joint, EndEntry()) is None
    told = EndEntry.model_validate({"torque": {"newton_metres": 45, "by": "maker's table"}})
    assert torque_words(joint, told) == "45 N·m (maker's table)"


def test_a_hose_end_that_no_table_names_takes_its_makers_figure() -> None:
    # No row for the O-ring face seal: the end maker's own figure, and only for its own joint.
    joint = Joint("adapter", "hose end -8", "13/16-16 UN", seat_named("O-ring face seal"))
    assert torque_words(joint, EndEntry()) is None
    told = EndEntry.model_validate({"torque_hose_end": {"newton_metres": 60.0, "by": "end maker"}})
    assert torque_words(joint, told) == "60 N·m (end maker)"
    assert torque_words(replace(joint, lower="own"), told) is None


@pytest.mark.parametrize(("newton_metres", "ok"), [(45.0, True), (450.0, None), (4.5, None)])
def test_a_torque_out_of_all_proportion_is_asked_again(newton_metres: float, ok: Any) -> None:
    # Published tables give an M18x1.5 stud some 45 to 70 N m.
    port = Face("O-ring port", "M18x1.5", "female")
    document = plain()
    for one in document["ends"]:
        one["torque"] = {"newton_metres": newton_metres, "by": "sheet"}
    (found,) = torque_check(entries(document), connect((port, port)))
    assert found.ok is ok
    assert ok or "which is true" in found.detail


def test_a_missing_torque_is_named() -> None:
    port = Face("O-ring port", "M18x1.5", "female")
    found = torque_check(entries(plain()), connect((port, port)))
    assert found[0].ok is None
    assert "M18x1.5" in found[0].detail
    assert torque_check(entries(plain()), None) == ()


@pytest.mark.parametrize(
    ("outside_mm", "wall_mm", "allowable_mpa", "pressure_mpa"),
    [
        # Barlow, by hand: 2 x 100 x 1.5 / 12 and 2 x 117 x 1 / 10.
        (12.0, 1.5, 100.0, 25.0),
        (10.0, 1.0, 117.0, 23.4),
    ],
)
def test_barlow(
    outside_mm: float, wall_mm: float, allowable_mpa: float, pressure_mpa: float
) -> None:
    assert hoop_pressure_mpa(outside_mm, wall_mm, allowable_mpa) == pytest.approx(pressure_mpa)


@pytest.mark.parametrize(
    ("wall", "relief_mpa", "ok"),
    [
        (q(1.5, 0.05), 14.0, True),  # thinnest 1.4: 2 x 100 x 1.4 / 12 = 23.3
        (q(0.9, 0.05), 14.0, False),  # thinnest 0.8: 13.3
        (q(1.5, 0.05), None, None),
        (q(6.0, 0.05), 14.0, None),  # no tube of 12 mm has a wall of 6
    ],
)
def test_a_welded_tube_carries_the_relief_pressure(wall: Any, relief_mpa: Any, ok: Any) -> None:
    document = plain(line={"relief_pressure_mpa": relief_mpa})
    tube = {
        "outside_diameter": q(12, 0.05),
        "wall": wall,
        "allowable_mpa": 100,
        "by": "tube's standard",
    }
    document["ends"][0]["tube"] = tube
    found = tube_checks(entries(document))
    assert [check.ok for check in found] == [ok]


def test_no_tube_no_check() -> None:
    assert tube_checks(entries(plain())) == ()
