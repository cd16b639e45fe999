"""Which of a part's threads is meant, and followed."""

import numpy as np
import pytest

from photomeasure.thread.aim import _is_apart, is_meant, is_nearer
from photomeasure.thread.axis import Axis
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.turns import Turn, Turns, follow
from photomeasure.thread.waves import aimed_wave

LONG, SHORT = (-20.0, -2.0, 1.0), (10.0, 18.0, 1.5)  # from, to, pitch [mm]
PIXEL_MM = 0.06


def _side(sign: int, shallow: float) -> Side:
    """A part with a long fine thread and a short coarse one, seen less clearly."""
    along = np.arange(-22.0, 20.0, PIXEL_MM)
    off = np.full(len(along), 9.0)
    for (first, last, pitch), depth in ((LONG, 0.25), (SHORT, 0.25 * shallow)):
        here = (along > first) & (along < last)
        off[here] = 8 + depth * pitch * np.cos(2 * np.pi * along[here] / pitch)
    off += np.random.default_rng(sign + 1).normal(0, 0.02, len(off))
    return Side(along, off, sign)


def _outline(aim_mm: float, shallow: float = 1.0) -> Outline:
    sides = (_side(1, shallow), _side(-1, shallow))
    return Outline(Axis(0.0, 0.0, 8.0, 0.0), *sides, PIXEL_MM, 0.05, aim_mm)


@pytest.mark.parametrize(("aim_mm", "pitch_mm"), [(-12.0, 1.0), (13.0, 1.5), (22.0, 1.5)])
def test_the_thread_at_which_the_photo_was_aimed_is_found(aim_mm: float, pitch_mm: float) -> None:
    wave = aimed_wave(_outline(aim_mm, 0.6))
    assert wave is not None
    assert wave.pitch_mm == pytest.approx(pitch_mm, rel=0.04)


def test_turns_of_the_other_thread_are_not_joined() -> None:
    sides = follow(_outline(13.0))
    assert sides is not None
    for side in sides:
        assert min(turn.along_mm for turn in side.turns) > SHORT[0] - 1


def _turns(first_mm: float, last_mm: float) -> Turns:
    turns = tuple(
        Turn(n, float(at), 8.0, 0.01, 1) for n, at in enumerate(np.arange(first_mm, last_mm, 1.0))
    )
    return Turns(turns, 1.0, np.zeros(40), 0.01, (), has_likeness=False)


def test_a_part_with_one_thread_needs_no_aim() -> None:
    assert is_meant(_outline(30.0), _turns(-20, -2), [])


@pytest.mark.parametrize(
    ("aim_mm", "meant", "nearer"), [(-5.0, True, False), (4.0, False, False), (9.0, False, True)]
)
def test_of_two_threads_the_one_clearly_nearer_is_meant(
    aim_mm: float, meant: bool, nearer: bool
) -> None:
    others = [(10.0, 18.0)]
    assert is_meant(_outline(aim_mm), _turns(-20, -2), others) is meant
    assert is_nearer(_outline(aim_mm), _turns(-20, -2), others) is nearer


@pytest.mark.parametrize(
    ("other", "hexagon", "is_apart"),
    [
        ((10.0, 18.0), [(1.0, 7.0)], True),
        ((-38.0, -30.0), [(1.0, 7.0)], False),  # on the same side of the hexagon
        ((10.0, 18.0), [], True),
        ((-1.0, 7.0), [], False),  # no room for a hexagon
    ],
)
def test_what_goes_on_beside_a_thread_is_its_own_end(
    other: tuple[float, float], hexagon: list[tuple[float, float]], is_apart: bool
) -> None:
    assert _is_apart(other, (-20.0, -2.0), hexagon) is is_apart
