"""The edge followed round the wall, on walls with a known one."""

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.port.path import SAMPLES, edge_path

SIDES, TURNS = 81, 5
Grid = NDArray[np.float64]


def _rises(places: NDArray[np.float64], strength: float | NDArray[np.float64] = 4.0) -> Grid:
    """Every turn with one edge at its place [samples], two samples wide, upon noise."""
    levels = np.arange(TURNS * SAMPLES)
    away = (levels - places[:, None] + SAMPLES / 2) % SAMPLES - SAMPLES / 2
    edge = np.exp(-0.5 * (away / 2) ** 2) * np.broadcast_to(strength, places.shape)[:, None]
    noise = np.abs(np.random.default_rng(3).normal(0, 0.2, edge.shape))
    return np.asarray(edge + noise)


def _followed(rises: Grid) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    path = edge_path(
        np.radians(2.0 * (np.arange(SIDES) - SIDES // 2)), rises, np.ones(rises.shape, bool)
    )
    return path.phase + path.offsets, path.parts


def test_a_curve_is_followed_farther_than_a_whole_pitch() -> None:
    sides = np.arange(SIDES)
    places = 5 + 0.3 * sides + 0.004 * sides**2
    found, parts = _followed(_rises(places))
    assert np.ptp(parts) == 0
    assert np.ptp(found) > SAMPLES
    assert found - found[SIDES // 2] == pytest.approx(places - places[SIDES // 2], abs=1.0)


def test_where_the_other_edge_is_the_sharper_the_path_jumps_and_says_so() -> None:
    places = np.where(np.arange(SIDES) < 55, 12.0, 24.0)
    found, parts = _followed(_rises(places))
    assert parts.tolist() == [0] * 55 + [1] * 26
    assert np.median(found[parts == 1]) - np.median(found[parts == 0]) == pytest.approx(12, abs=0.7)


def test_a_gap_without_an_edge_is_bridged() -> None:
    strength = np.where(np.abs(np.arange(SIDES) - 40) < 4, 0.0, 4.0)
    found, parts = _followed(_rises(np.full(SIDES, 20.0), strength))
    assert np.ptp(parts) == 0
    assert found == pytest.approx(np.full(SIDES, 20.0), abs=1.5)
