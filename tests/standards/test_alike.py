import math

import pytest

from photomeasure.standards import lookalikes, thread, threads
from photomeasure.standards.alike import neighbours, turns_until_jammed


def turns_either_way(one: str, other: str) -> float:
    first, second = thread(one), thread(other)
    return max(turns_until_jammed(first, second), turns_until_jammed(second, first))


@pytest.mark.parametrize(
    "pair", lookalikes(), ids=lambda pair: f"{pair.designation}, {pair.lookalike}"
)
def test_every_listed_pair_starts_by_the_geometry_of_the_limits(pair) -> None:  # type: ignore[no-untyped-def]
    """What the trade calls dangerous follows from the tables: the flanks let half a turn in."""
    assert turns_either_way(pair.designation, pair.lookalike) >= 0.5


@pytest.mark.parametrize(
    ("one", "other"),
    [("M16x1.5", "M22x1.5"), ("M18x1.5", "M14x1.5"), ("G1/4", "G3/8"), ("M12x1.5", "3/4-16 UNF")],
)
def test_other_sizes_do_not_start(one: str, other: str) -> None:
    assert turns_either_way(one, other) == 0


def test_own_parts_run_to_the_seal() -> None:
    for one in threads():
        if one.external and one.internal and not one.is_tapered:
            assert turns_until_jammed(one, one) == math.inf
    # Tapered parts jam on purpose: 1/4 NPT is L1 = 0.2278 in of hand-tight engagement, 4.1 turns
    # (ASME B1.20.1); loosest parts go up to one turn each further, and the flank clearance more
    assert 4.1 < turns_until_jammed(thread("1/4-18 NPT"), thread("1/4-18 NPT")) < 12


def test_a_coarser_difference_of_pitch_jams_sooner() -> None:
    port = thread("5/8-18 UNF")
    assert turns_until_jammed(thread("M16x1"), port) < turns_until_jammed(thread("M16x1.5"), port)


# The pairs of the trade: nearest of all, with what tells them apart
@pytest.mark.parametrize(
    ("one", "other", "crest_mm", "pitch_mm"),
    [
        ("M16x1.5", "5/8-18 UNF", 5 / 8 * 25.4 - 16, 25.4 / 18 - 1.5),
        ("M27x2", "1 1/16-12 UN", 17 / 16 * 25.4 - 27, 25.4 / 12 - 2),
        ("7/8-14 UNF", "G5/8", 22.911 - 7 / 8 * 25.4, 0.0),  # ISO 228-1: G5/8 is 22.911 mm
    ],
)
def test_neighbours_say_by_how_much(one: str, other: str, crest_mm: float, pitch_mm: float) -> None:
    found = {each.designation: each for each in neighbours(one)}[other]
    assert found.crest_mm == pytest.approx(crest_mm, abs=0.0005)
    assert found.pitch_mm == pytest.approx(pitch_mm, abs=1e-6)
    assert found.danger


@pytest.mark.parametrize("designation", [one.designation for one in threads()])
def test_neighbours_are_mutual_where_they_are_dangerous(designation: str) -> None:
    for each in neighbours(designation):
        back = {other.designation for other in neighbours(each.designation) if other.danger}
        assert (designation in back) == bool(each.danger)
