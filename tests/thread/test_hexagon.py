"""Snapping a hexagon to spanner sizes."""

import numpy as np
import pytest

from photomeasure.standards.spanners import flats_tolerance, spanners
from photomeasure.thread.axis import Axis
from photomeasure.thread.corners import corner_reach
from photomeasure.thread.hexagon import hexagon, hexagon_edges
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.turns import Turn, Turns


def test_tolerances_are_the_published_grades() -> None:
    # ISO 286-1, table 1, from memory: IT13 and IT14 of 18 to 30 mm, IT14 of 30 to 50 mm
    assert flats_tolerance(24.0).it13_mm == 0.33
    assert flats_tolerance(24.0).it14_mm == 0.52
    assert flats_tolerance(41.0).it14_mm == 0.62


def test_sizes_are_metric_and_inch_and_each_stands_once() -> None:
    names = [one.designation for one in spanners()]
    assert len(set(names)) == len(names)
    sizes = {one.designation: one.size_mm for one in spanners()}
    assert sizes["24mm"] == 24.0
    assert sizes["15/16in"] == pytest.approx(23.8125)
    assert sizes["1 1/16in"] == pytest.approx(26.9875)


@pytest.mark.parametrize("ratio", [1.115, 1.13, 1.15])
@pytest.mark.parametrize(
    ("flats_mm", "size"), [(16.9, "17mm"), (21.9, "22mm"), (26.8, "27mm"), (40.7, "41mm")]
)
def test_the_right_spanner_is_kept_whatever_the_corners(
    flats_mm: float, size: str, ratio: float
) -> None:
    one = hexagon(ratio * flats_mm * 1.001, 0.001)
    found = {spanner.size: spanner.probability for spanner in one.spanners}
    assert found[size] > 0.1
    assert sum(found.values()) <= 1 + 1e-9
    assert one.low_mm < flats_mm < one.high_mm


def test_a_metric_size_and_its_inch_neighbour_both_stay() -> None:
    found = {spanner.size for spanner in hexagon(1.135 * 23.7, 0.001).spanners}
    assert {"24mm", "15/16in"} <= found


@pytest.mark.parametrize("ratio", [1.115, 1.15])
def test_a_given_spanner_bounds_the_width_from_below_and_above(ratio: float) -> None:
    one = hexagon(ratio * 26.8, 0.001, 27.0)
    assert [spanner.size for spanner in one.spanners] == ["27mm"]
    assert 27.0 - 0.84 <= one.low_mm < one.high_mm <= 27.0
    assert one.u_mm < 0.25


def test_a_spanner_that_cannot_fit_is_left_out_and_said() -> None:
    one = hexagon(1.13 * 26.8, 0.001, 19.0)
    assert one.is_contradicted
    assert "19mm" not in {spanner.size for spanner in one.spanners}


def test_a_doubtful_scale_keeps_more_sizes_and_a_wider_band() -> None:
    sure, doubtful = hexagon(30.4, 0.001), hexagon(30.4, 0.03)
    assert doubtful.u_mm > sure.u_mm
    assert len(doubtful.spanners) > len(sure.spanners)


def test_bands_hold_over_drawn_hexagons() -> None:
    rng = np.random.default_rng(8)
    usual = [one.size_mm for one in spanners() if one.use == "fitting" and one.size_mm < 56]
    held = []
    wide = []
    for aside in np.radians(np.tile([0.0, 12.0, 20.0, 27.0], 50)):
        size = rng.choice(usual)
        flats = size - rng.uniform(0, flats_tolerance(size).it13_mm)
        seen = corner_reach(rng.uniform(1.11, 1.155), aside) / corner_reach(1.1325, aside)
        width = 1.1325 * seen * flats * rng.normal(1.001, 0.004)
        one = hexagon(width, 0.001, aside_rad=aside)
        held.append(one.low_mm <= flats <= one.high_mm)
        wide.append(one.u_mm / flats)
    assert np.mean(held) > 0.93
    assert np.mean(wide[3::4]) < 0.8 * np.mean(wide[::4])  # aslant the cut tells less


def test_a_few_points_of_a_shade_beyond_the_corner_are_no_edge() -> None:
    along = np.arange(0.0, 24.0, 0.1)
    off = np.where(along < 14.0, 8.0, 12.0)
    shaded = np.where((along > 14.0) & (along < 15.5), 13.4, off)
    sides = Side(along, shaded, 1), Side(along, off, -1)
    drawn = Outline(Axis(0, 0, 8.0, 0, 0), *sides, 0.1, 0.05, 7.0)
    turn = Turn(0, 7.0, 8.0, 0.01, 1)
    left, right = hexagon_edges(drawn, Turns((turn,), 1.5, np.zeros(40), 0.01, (), False))
    assert np.all(off[left] == shaded[left])
    assert len(left) > 80
    assert len(right) == 100
