"""A turn's shape slid onto all turns at once, on an outline whose turns are known."""

import numpy as np
import pytest

from photomeasure.thread.grouped import quantile, quantiles
from photomeasure.thread.outline import Side
from photomeasure.thread.slide import BINS, slid_onto

PITCH_MM, RADIUS_MM, PIXEL_MM, TURNS = 1.5, 8.0, 0.06, 7
LINE = np.array([0.01, RADIUS_MM])
SHAPE = -0.4 * (1 - np.cos(2 * np.pi * (np.arange(BINS) - BINS / 2) / BINS))


def _side(
    shifts: np.ndarray, heights: np.ndarray, noise_mm: float = 0.0, stray_mm: float = 0.5
) -> Side:
    """Turns moved along and up, with one point astray in each."""
    along, off = [], []
    for number in range(TURNS):
        place = np.arange(-PITCH_MM / 2, PITCH_MM / 2, PIXEL_MM)
        here = number * PITCH_MM + place
        shape = -0.4 * (1 - np.cos(2 * np.pi * (place - shifts[number]) / PITCH_MM))
        off.append(np.polyval(LINE, here) + shape + heights[number])
        off[-1][3] += stray_mm
        along.append(here)
    wander = noise_mm * np.random.default_rng(0).standard_normal(TURNS * len(along[0]))
    return Side(np.concatenate(along), np.concatenate(off) + wander, 1)


def test_every_turn_is_found_where_it_lies() -> None:
    rng = np.random.default_rng(1)
    shifts, heights = rng.uniform(-0.1, 0.1, TURNS), rng.uniform(-0.05, 0.05, TURNS)
    slid = slid_onto(_side(shifts, heights), (PITCH_MM, 0.0), SHAPE, LINE)
    inner = slice(1, -1)  # the outermost turns lose some of their points to their neighbours
    np.testing.assert_array_equal(slid.numbers, np.arange(TURNS))
    np.testing.assert_allclose(
        slid.along_mm[inner], (np.arange(TURNS) * PITCH_MM + shifts)[inner], atol=0.01
    )
    np.testing.assert_allclose(slid.above_mm[inner], heights[inner], atol=0.01)
    assert (slid.likeness[inner] > 0.8).all()


def test_the_doubt_of_a_height_is_that_of_its_points() -> None:
    still = np.zeros(TURNS)
    slid = slid_onto(_side(still, still, noise_mm=0.02, stray_mm=0.0), (PITCH_MM, 0.0), SHAPE, LINE)
    expected = 0.02 * np.sqrt(2 * PIXEL_MM / PITCH_MM)  # of a mean; neighbours counted as one
    assert np.median(slid.u_mm) == pytest.approx(expected, rel=0.5)
    assert np.abs(slid.above_mm).max() < 4 * slid.u_mm.max()


def test_a_turn_of_another_shape_is_not_like() -> None:
    side = _side(np.zeros(TURNS), np.zeros(TURNS))
    flat = Side(side.along_mm, np.where(side.along_mm > 3.7, RADIUS_MM, side.off_mm), 1)
    likeness = slid_onto(flat, (PITCH_MM, 0.0), SHAPE, LINE).likeness
    assert (likeness[:2] > 0.8).all()
    assert (likeness[3:] < 0.5).all()


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.92, 1.0])
def test_quantiles_of_groups_are_numpys(share: float) -> None:
    rng = np.random.default_rng(2)
    values, groups = rng.standard_normal(60), rng.integers(-3, 4, 60)
    names, found, count = quantiles(values, groups, share)
    own = [values[groups == name] for name in names]
    np.testing.assert_array_equal(count, [len(each) for each in own])
    np.testing.assert_allclose(found, [np.quantile(each, share) for each in own], rtol=1e-12)
    np.testing.assert_allclose(quantile(values, share), np.quantile(values, share), rtol=1e-12)
