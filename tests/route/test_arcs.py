"""The curve of arcs and lines: its geometry in closed form, and its fit to noisy points."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from photomeasure.route.arcfit import fit_arcs
from photomeasure.route.arcs import Arcs

Points2 = NDArray[np.float64]
QUARTER = Arcs(np.array([0.0, 0.0]), 0.0, np.array([0.0, 50 * np.pi]), np.array([0.01]))


def _bent(radius: float, angle: float, legs: tuple[float, float]) -> Arcs:
    knots = np.cumsum([0.0, legs[0], radius * angle, legs[1]])
    return Arcs(np.array([20.0, -30.0]), 0.4, knots, np.array([0.0, 1 / radius, 0.0]))


def _noisy(arcs: Arcs, noise_mm: float, seed: int, step_mm: float = 3.0) -> Points2:
    rng = np.random.default_rng(seed)
    at = np.arange(1.0, arcs.knots_mm[-1] - 1.0, step_mm)
    heading = arcs.headings(at)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    return np.asarray(arcs.points(at) + rng.normal(0, noise_mm, len(at))[:, None] * normal)


def test_quarter_circle_ends_where_geometry_says() -> None:
    # closed form: radius 100, from the origin heading along x, ends at (100, 100) heading along y
    end = QUARTER.points(np.array([50 * np.pi]))[0]
    assert end == pytest.approx((100.0, 100.0), abs=1e-3)
    assert QUARTER.headings(np.array([50 * np.pi]))[0] == pytest.approx(np.pi / 2)


def test_beyond_its_ends_the_curve_goes_on_straight() -> None:
    before, after = QUARTER.points(np.array([-10.0, 50 * np.pi + 10.0]))
    assert before == pytest.approx((-10.0, 0.0), abs=1e-3)
    assert after == pytest.approx((100.0, 110.0), abs=1e-3)


def test_nearest_point_far_beyond_an_end_is_on_the_straight_extension() -> None:
    quarter = Arcs(np.zeros(2), 0.0, np.array([0.0, 50.0 * np.pi]), np.array([0.01]))
    beyond = np.array([[-300.0, 7.0], [100.0 - 7.0, 100.0 + 300.0]])
    np.testing.assert_allclose(quarter.nearest(beyond), [-300.0, 50.0 * np.pi + 300.0], atol=1e-6)


def test_nearest_point_on_a_circle_is_on_the_line_from_its_middle() -> None:
    angle = np.deg2rad(30)
    off = np.array([[120 * np.sin(angle), 100 - 120 * np.cos(angle)]])
    assert QUARTER.nearest(off)[0] == pytest.approx(100 * angle, abs=1e-3)


@given(st.floats(60, 250), st.floats(0.8, 1.9), st.integers(0, 10_000))
@settings(max_examples=12, deadline=None)
def test_fit_gives_back_length_and_radius(radius: float, angle: float, seed: int) -> None:
    true = _bent(radius, angle, (150.0, 120.0))
    fit = fit_arcs(_noisy(true, 0.05, seed), np.ones(_count(true)), wobble_mm=0.1)
    ends = fit.arcs.nearest(true.points(true.knots_mm[[0, -1]]))
    assert ends[1] - ends[0] == pytest.approx(true.knots_mm[-1], abs=0.15)
    tightest = 1 / np.max(np.abs(fit.arcs.curvature_per_mm))
    assert tightest == pytest.approx(radius, rel=0.03)


def _count(arcs: Arcs) -> int:
    return len(np.arange(1.0, arcs.knots_mm[-1] - 1.0, 3.0))


def test_noise_across_the_line_does_not_lengthen_it() -> None:
    """A jagged path of this noise is 4 % too long; the fit is not."""
    true = _bent(90.0, 1.4, (300.0, 250.0))
    jagged, fitted = [], []
    for seed in range(6):
        points = _noisy(true, 0.6, seed)
        jagged.append(np.sum(np.hypot(*np.diff(points, axis=0).T)) / (true.knots_mm[-1] - 3.0))
        arcs = fit_arcs(points, np.ones(len(points)), wobble_mm=0.1).arcs
        ends = arcs.nearest(true.points(true.knots_mm[[0, -1]]))
        fitted.append((ends[1] - ends[0]) / true.knots_mm[-1])
    assert np.mean(jagged) > 1.02
    assert np.mean(fitted) == pytest.approx(1.0, abs=5e-4)


def test_no_more_pieces_than_the_line_has() -> None:
    true = _bent(90.0, 1.4, (300.0, 250.0))
    points = _noisy(true, 0.05, 1)
    fit = fit_arcs(points, np.ones(len(points)), wobble_mm=0.1)
    assert len(fit.arcs.curvature_per_mm) == 3


def test_claimed_noise_is_the_noise() -> None:
    true = _bent(120.0, 1.0, (400.0, 300.0))
    claimed = []
    for seed in range(5):
        points = _noisy(true, 0.2, seed)
        claimed.append(fit_arcs(points, np.ones(len(points)), wobble_mm=0.1).noise_mm)
    # likeness of neighbours can only widen it: up to a third by chance in 250 points
    assert 0.18 < np.median(claimed) < 0.28


def test_wild_points_are_held_back() -> None:
    true = _bent(120.0, 1.0, (400.0, 300.0))
    points = _noisy(true, 0.05, 3)
    points[100:103] += 3.0
    fit = fit_arcs(points, np.ones(len(points)), wobble_mm=0.1)
    ends = fit.arcs.nearest(true.points(true.knots_mm[[0, -1]]))
    assert ends[1] - ends[0] == pytest.approx(true.knots_mm[-1], abs=0.3)


def test_a_smooth_curve_that_is_no_arc_is_followed() -> None:
    """An ellipse's quarter, its length by the complete elliptic integral."""
    from scipy.special import ellipe  # noqa: PLC0415

    long, short = 400.0, 250.0
    angle = np.linspace(0, np.pi / 2, 200)
    points = np.column_stack((long * np.sin(angle), short * np.cos(angle)))
    fit = fit_arcs(points, np.ones(len(points)), wobble_mm=0.1)
    ends = fit.arcs.nearest(points[[0, -1]])
    expected = long * ellipe(1 - (short / long) ** 2)
    assert ends[1] - ends[0] == pytest.approx(expected, abs=0.2)
