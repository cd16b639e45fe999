"""Laying a clear side's turns on a faint one: the shade is drawn, so the answer is known."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure.thread.axis import Axis
from photomeasure.thread.folded import folded_way
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import BINS, Followed, Turn

PITCH_MM, RADIUS_MM, PIXEL_MM, TURNS = 1.5, 8.0, 0.08, 9
DEEP_MM = 0.54 * PITCH_MM
BLUR_PX, NOISE = 1.0, 0.01


def _shape() -> np.ndarray:
    """A flat crest of an eighth of a pitch with flanks of 60 degrees (ISO 68-1)."""
    turn = (np.arange(BINS) + 0.5) / BINS - 0.5
    flank = np.maximum(np.abs(turn) * PITCH_MM - PITCH_MM / 16, 0) * np.tan(np.radians(60))
    return -np.minimum(flank, DEEP_MM)


def _clear() -> Followed:
    turns = tuple(Turn(n, n * PITCH_MM, RADIUS_MM, 0.01, 1) for n in range(TURNS))
    return Followed(turns, PITCH_MM, _shape(), np.array([0.0, RADIUS_MM]), 0.01, ())


def _strip(shift_mm: float, lean: float, metal: float) -> Strip:
    """A faint lower side in a shade that grows darker towards the part."""
    along = np.arange(-4.0, (TURNS + 2) * PITCH_MM, PIXEL_MM)
    off = np.arange(-12.0, 12.0, PIXEL_MM)
    middle = (TURNS - 1) * PITCH_MM / 2
    place, row = np.meshgrid(along, off)
    turn = (place / PITCH_MM) % 1  # half a pitch from the clear side's
    shape = np.interp(turn, (np.arange(BINS) + 0.5) / BINS, _shape(), period=1)
    rim = RADIUS_MM + shift_mm + lean * (place - middle) + shape
    beyond = -row - rim
    paper = 0.35 + 0.05 * np.tanh(np.maximum(beyond, 0))
    face = metal * (1 + 0.3 * np.sin(2 * np.pi * place / PITCH_MM))
    light = cv2.GaussianBlur(np.where(beyond > 0, paper, face), (0, 0), BLUR_PX)
    light = light + np.random.default_rng(1).normal(0, NOISE, light.shape)
    return Strip(
        Axis(0.0, 0.0, RADIUS_MM, 0.0),
        along,
        off,
        np.repeat(light[..., None], 2, axis=2).astype(np.float32),
        np.zeros(light.shape, np.float32),
        PIXEL_MM,
        middle,
    )


@pytest.mark.parametrize("metal", [0.25, 0.31, 0.4, 0.55], ids=["dim", "near", "like", "bright"])
@pytest.mark.parametrize("shift_mm", [-0.3, 0.0, 0.25])
def test_crests_are_laid_where_paper_ends(metal: float, shift_mm: float) -> None:
    way = folded_way(_strip(shift_mm, 0.0, metal), _clear(), -1, 0.0)
    assert way.shift_mm == pytest.approx(shift_mm, abs=2 * PIXEL_MM)
    assert abs(way.phase_mm) == pytest.approx(PITCH_MM / 2, abs=0.1 * PITCH_MM)


@pytest.mark.parametrize("lean", [-0.04, 0.0, 0.03])
def test_turns_are_most_alike_at_the_right_lean(lean: float) -> None:
    way = folded_way(_strip(0.1, lean, 0.25), _clear(), -1, 0.0)
    assert way.lean == pytest.approx(lean, abs=0.01)


def test_a_straight_edge_fits_better_than_turns() -> None:
    strip = _strip(0.0, 0.0, 0.25)
    straight = np.where(-strip.off_mm[:, None, None] > RADIUS_MM, 0.35, 0.25)
    light = np.broadcast_to(straight, strip.light.shape).astype(np.float32)
    bar = replace(strip, light=cv2.GaussianBlur(light, (0, 0), BLUR_PX))
    turns, edge = (folded_way(one, _clear(), -1, 0.0).gain for one in (strip, bar))
    assert turns > 0 > edge
