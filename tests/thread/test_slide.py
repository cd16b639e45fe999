"""Crests drawn on a straight line whose turns grow deeper and narrower, as in perspective."""

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.thread.axis import Axis
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.slide import slid_onto
from photomeasure.thread.turns import Followed, follow

PITCH_MM, RADIUS_MM, TURNS, PIXEL_MM = 1.5, 8.0, 9, 0.07


def _side(sign: int, slope: float, change: float, seed: int) -> Side:
    along = np.arange(0.0, TURNS * PITCH_MM, PIXEL_MM)
    share = along / along[-1] - 0.5
    phase = 2 * np.pi * along / PITCH_MM + (np.pi if sign < 0 else 0.0)
    fall = (1 - np.cos(phase)) / 2
    depth = 0.5 * (1 + change * share)
    grooves = depth * fall ** (1 - 0.5 * change * share)
    noise = np.random.default_rng(seed).normal(0, 0.005, len(along))
    return Side(along, RADIUS_MM + slope * (along - along.mean()) - grooves + noise, sign)


def _slopes(sides: tuple[Followed, Followed]) -> NDArray[np.float64]:
    return np.array(
        [
            np.polyfit([t.along_mm for t in s.turns], [t.off_mm for t in s.turns], 1)[0]
            for s in sides
        ]
    )


@pytest.mark.parametrize("slope", [0.0, np.tan(np.radians(1.79))])
@pytest.mark.parametrize("change", [-0.6, 0.6])
def test_turns_that_change_along_the_thread_fake_no_taper(slope: float, change: float) -> None:
    left, right = (_side(sign, slope, change, 5 + sign) for sign in (1, -1))
    drawn = Outline(Axis(0, 0, 8.0, 0, 0), left, right, PIXEL_MM, 0.05, TURNS * PITCH_MM / 2)
    sides = follow(drawn)
    assert sides is not None
    assert np.degrees(np.abs(_slopes(sides) - slope)).max() < 0.2


def test_a_crest_keeps_its_height_where_its_groove_fills() -> None:
    along = np.arange(0.0, TURNS * PITCH_MM, PIXEL_MM)
    phase = 2 * np.pi * along / PITCH_MM
    shape = -0.5 * (1 - np.cos(2 * np.pi * (np.arange(40) / 40 - 0.5))) / 2
    filled = np.maximum(-0.5 * (1 - np.cos(phase)) / 2, -0.25)
    whole = Side(along, RADIUS_MM - 0.5 * (1 - np.cos(phase)) / 2, 1)
    line = np.array([0.0, RADIUS_MM])
    high = slid_onto(Side(along, RADIUS_MM + filled, 1), (PITCH_MM, 0.0), shape, line)
    assert high.above_mm == pytest.approx(0, abs=0.01)
    assert slid_onto(whole, (PITCH_MM, 0.0), shape, line).above_mm == pytest.approx(0, abs=0.01)
