"""Bends, turning and tightest radius by their definitions, on curves with closed forms."""

import numpy as np
import pytest

from photomeasure.route.arcs import Arcs
from photomeasure.route.curve import CurveValues, curve_values, dense_points, layout

LEGS = (200.0, 150.0, 180.0)


def _two_bends(radii: tuple[float, float], angles_deg: tuple[float, float]) -> Arcs:
    lengths = [LEGS[0], radii[0] * np.deg2rad(angles_deg[0]), LEGS[1]]
    lengths += [radii[1] * np.deg2rad(angles_deg[1]), LEGS[2]]
    curvature = np.array([0.0, 1 / radii[0], 0.0, -1 / radii[1], 0.0])
    return Arcs(np.zeros(2), 0.7, np.concatenate(([0.0], np.cumsum(lengths))), curvature)


def _values(arcs: Arcs, od_mm: float | None) -> CurveValues:
    points, at = dense_points(arcs, 0.0, float(arcs.knots_mm[-1]))
    return curve_values(points, layout(arcs, at, od_mm))


def test_two_bends_are_found_with_place_radius_and_angle() -> None:
    values = _values(_two_bends((90.0, 60.0), (80.0, 50.0)), 16.0)
    arc = 90 * np.deg2rad(80)
    assert values.length_mm == pytest.approx(530 + arc + 60 * np.deg2rad(50), abs=0.01)
    assert values.turning_deg == pytest.approx(130.0, abs=0.1)
    assert [b.radius_mm for b in values.bends] == pytest.approx([90.0, 60.0], rel=1e-3)
    assert [b.angle_deg for b in values.bends] == pytest.approx([80.0, 50.0], abs=0.1)
    second = 350 + arc + 30 * np.deg2rad(50)
    assert [b.at_mm for b in values.bends] == pytest.approx([200 + arc / 2, second], abs=0.6)


def test_tightest_radius_is_the_least() -> None:
    assert _values(_two_bends((90.0, 60.0), (80.0, 50.0)), 16.0).tightest_mm == pytest.approx(60.0)


@pytest.mark.parametrize(("angle_deg", "bends"), [(14.0, 1), (16.0, 2)])
def test_a_stretch_below_15_degrees_is_no_bend(angle_deg: float, bends: int) -> None:
    assert len(_values(_two_bends((90.0, 60.0), (80.0, angle_deg)), 16.0).bends) == bends


@pytest.mark.parametrize(("radius", "bends"), [(310.0, 2), (330.0, 1)])
def test_flatter_than_twenty_diameters_is_no_bend(radius: float, bends: int) -> None:
    assert len(_values(_two_bends((90.0, radius), (80.0, 40.0)), 16.0).bends) == bends


def test_nearly_straight_has_no_tightest_radius() -> None:
    arcs = _two_bends((500.0, 500.0), (5.0, 4.0))
    assert _values(arcs, 16.0).tightest_mm is None
    assert _values(arcs, 16.0).turning_deg == pytest.approx(9.0, abs=0.05)


def test_a_fold_is_judged_over_one_outside_diameter() -> None:
    """A 90 degree fold of radius 5 over 40 mm: legs of 16.1 mm each side of an arc of 7.9 mm."""
    arcs = _two_bends((5.0, 100.0), (90.0, 30.0))
    wide = _values(arcs, 40.0).tightest_mm
    narrow = _values(arcs, 20.0).tightest_mm
    assert wide is not None
    assert narrow is not None
    assert 5.0 < narrow < wide < 30.0


def test_scaling_the_curve_scales_lengths_and_keeps_angles() -> None:
    arcs = _two_bends((90.0, 60.0), (80.0, 50.0))
    points, at = dense_points(arcs, 0.0, float(arcs.knots_mm[-1]))
    where = layout(arcs, at, 16.0)
    once, twice = curve_values(points, where), curve_values(1.01 * points, where)
    assert twice.length_mm == pytest.approx(1.01 * once.length_mm)
    assert twice.tightest_mm == pytest.approx(1.01 * (once.tightest_mm or 0.0))
    assert [b.angle_deg for b in twice.bends] == pytest.approx([b.angle_deg for b in once.bends])
