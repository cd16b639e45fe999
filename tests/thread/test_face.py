"""Turns on a face: the line of the crests' tops, and the pitch of its stripes."""

import numpy as np
import pytest

from photomeasure.thread.face import _lined_up, _whole
from photomeasure.thread.waves import PITCHES_MM

PLACES = np.arange(8) * 1.8
SLOPE, AT_ZERO_MM = 0.03, 12.0


def _tops(*low: tuple[int, float]) -> np.ndarray:
    tops = AT_ZERO_MM + SLOPE * PLACES + np.tile([0.004, -0.004], 4)
    for index, depth in low:
        tops[index] -= depth
    return tops


def test_a_chamfer_does_not_turn_the_line_of_the_crests() -> None:
    line, on = _lined_up(PLACES, _tops((0, 0.35), (1, 0.12)))
    assert line == pytest.approx([SLOPE, AT_ZERO_MM], abs=0.01)
    assert list(on) == [False, False] + [True] * 6


def test_tops_lost_in_shade_lie_below_and_are_left_out() -> None:
    line, on = _lined_up(PLACES, _tops((2, 0.2), (3, 0.3), (4, 0.25), (6, 0.1)))
    assert line == pytest.approx([SLOPE, AT_ZERO_MM], abs=0.01)
    assert on.sum() == 4


def test_of_two_places_no_line_is_told() -> None:
    assert _lined_up(PLACES[:2], _tops()[:2])[1].sum() == 0


@pytest.mark.parametrize("true", [20, 30])
def test_a_doubled_pitch_is_halved(true: int) -> None:
    double = int(np.argmin(np.abs(PITCHES_MM - 2 * PITCHES_MM[true])))
    shares = np.zeros(len(PITCHES_MM))
    shares[true], shares[double] = 0.36, 0.37
    assert _whole(PITCHES_MM, shares) == (PITCHES_MM[true], 0.36)
    shares[true] = 0.15
    assert _whole(PITCHES_MM, shares) == (PITCHES_MM[double], 0.37)
