"""The bands of a flat route against scatter over drawn scenes, edge points and ends; no pictures.

The scenes' covariance is exact by construction (`known_scene`), so this tests what the route makes
of it: the extrapolation of pose and lens, the print's scale, the noise of edges and ends.
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.quantities import components
from photomeasure.route.arcfit import ArcFit, fit_arcs
from photomeasure.route.arcs import Arcs
from photomeasure.route.budget import BRIGHT_BIAS_PX, Budget, FlatLine
from photomeasure.route.curve import curve_values, dense_points, layout
from photomeasure.route.reading import FlatOptions, Side
from photomeasure.route.track import End
from tests.route.scenes import DrawnRoute, FlatScene, draw_route, known_scene

SCENES = 120
EDGE_MM = 0.06  # scatter of the middle over 8 mm, as found in drawn pictures
END_U_MM = 0.1
OPTIONS = FlatOptions(hose_od_mm=16.0)


def _on(scene: FlatScene, true: FlatScene, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where an estimated scene believes that points of the true floor lie."""
    return scene.sheet_mm(true.px(np.column_stack((points, np.zeros(len(points))))))


def _measured(route: DrawnRoute, scene: FlatScene, rng: np.random.Generator) -> Budget:
    at = np.arange(2.0, route.length_mm - 2.0, 8.0)
    heading = route.arcs.headings(at)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    noise = rng.normal(0, EDGE_MM, len(at))[:, None] * normal
    points = _on(scene, route.scene, route.arcs.points(at) + noise)
    fit = fit_arcs(points, np.ones(len(points)), wobble_mm=0.1)
    bias_mm = rng.normal(0, BRIGHT_BIAS_PX) * _pixel_mm(route)
    ends = np.array([-bias_mm[0], route.length_mm + bias_mm[1]]) + rng.normal(0, END_U_MM, 2)
    ends_mm = _on(scene, route.scene, route.arcs.points(ends))
    key = f"drawn {rng.integers(1 << 60)}"
    return Budget(_line(fit, scene, ends_mm), scene, (key, key), OPTIONS)


def _pixel_mm(route: DrawnRoute) -> NDArray[np.float64]:
    ends = route.arcs.points(np.array([0.0, 1.0, route.length_mm - 1.0, route.length_mm]))
    px = route.scene.px(np.column_stack((ends, np.zeros(4))))
    return np.asarray(1.0 / np.hypot(*(px[[1, 3]] - px[[0, 2]]).T))


def _line(fit: ArcFit, scene: FlatScene, ends_mm: NDArray[np.float64]) -> FlatLine:
    start, stop = fit.arcs.nearest(ends_mm)
    points, at_mm = dense_points(fit.arcs, float(start), float(stop))
    px = scene.px(np.column_stack((points, np.zeros(len(points)))))
    ends = (End(0.0, END_U_MM, True), End(0.0, END_U_MM, True))
    return FlatLine(fit, at_mm, px, 0.0, 0.0, 0.1, ends, ends_mm, 25.0, 0.1, True)


@pytest.fixture(scope="module")
def budgets() -> list[tuple[DrawnRoute, Budget]]:
    rng = np.random.default_rng(20)
    drawn = []
    for _ in range(SCENES):
        route = draw_route(rng, sheets=int(rng.integers(1, 3)))
        scene = known_scene(route.scene, route.sheets, rng, corner_u_px=0.08)
        drawn.append((route, _measured(route, scene, rng)))
    return drawn


def _normalised(budgets: list[tuple[DrawnRoute, Budget]], index: int) -> NDArray[np.float64]:
    found = []
    for route, budget in budgets:
        points, at = dense_points(route.arcs, 0.0, route.length_mm)
        true = curve_values(points, layout(route.arcs, at, OPTIONS.hose_od_mm))
        value = (true.length_mm, true.turning_deg, true.tightest_mm)[index]
        u = np.sqrt(sum(part**2 for part in budget.parts[index].values()))
        if value is not None:
            found.append((budget.value[index] - value) / u)
    return np.array(found)


def test_length_bands_hold_the_truth_as_often_as_they_claim(
    budgets: list[tuple[DrawnRoute, Budget]],
) -> None:
    """Central 99.9 % binomial range of 0.95 over 120, and 99 % of chi-square (scipy.stats)."""
    z = _normalised(budgets, 0)
    assert 105 / 120 <= np.mean(np.abs(z) < 1.96) <= 120 / 120
    assert 0.75 < np.mean(z**2) < 1.35


def test_radius_bands_are_not_too_narrow(budgets: list[tuple[DrawnRoute, Budget]]) -> None:
    z = _normalised(budgets, 2)
    assert np.mean(np.abs(z) < 1.96) >= 0.88


def test_a_lone_sheet_makes_wider_bands_than_two() -> None:
    rng = np.random.default_rng(5)
    route = draw_route(rng, sheets=2)
    widths = []
    for sheets in (route.sheets[:1], route.sheets):
        scene = known_scene(route.scene, sheets, np.random.default_rng(1), corner_u_px=0.08)
        budget = _measured(route, scene, np.random.default_rng(2))
        widths.append(np.sqrt(sum(part**2 for part in budget.parts[0].values())))
    assert widths[0] > widths[1]


def test_hose_length_by_the_side_at_each_bend() -> None:
    """Outside of a surface's bend adds angle times half the diameter, inside takes it off."""
    arcs = Arcs(
        np.array([-200.0, 0.0]),
        0.0,
        np.cumsum([0.0, 200.0, 100 * np.pi / 2, 200.0]),
        np.array([0.0, 0.01, 0.0]),
    )
    rng = np.random.default_rng(3)
    route = replace(draw_route(rng), arcs=arcs)
    scene = replace(route.scene, shift_mm=np.array([0.0, 0.0, 1500.0]))
    points, _ = dense_points(arcs, 0.0, route.length_mm)
    fit = fit_arcs(points[::4], np.ones(len(points[::4])), wobble_mm=0.1)
    line = _line(fit, scene, arcs.points(np.array([0.0, route.length_mm])))

    def length(side: Side) -> float:
        options = FlatOptions(hose_od_mm=17.0, sides=((1, side),))
        hose = Budget(line, scene, ("key", "key"), options)._hose_length()
        assert hose is not None
        return hose.value

    # bars: two 90 degree bends on a 17 mm hose are 27 mm; one is 17/2 * pi/2
    assert length("outer") - length("in-plane") == pytest.approx(8.5 * np.pi / 2, abs=0.05)
    assert length("inner") - length("in-plane") == pytest.approx(-8.5 * np.pi / 2, abs=0.05)


def test_components_square_up_to_the_uncertainty(
    budgets: list[tuple[DrawnRoute, Budget]],
) -> None:
    number = budgets[0][1]._number(0)
    parts = components(number)
    assert sum(p**2 for p in parts.values()) == pytest.approx(number.std_dev**2, rel=0.01)
    assert {"print scale x", "print scale y"} <= {source.id for source in parts}


def test_a_print_above_the_floor_scales_the_length_by_the_camera_s_height() -> None:
    """Planes that are parallel are seen larger by the ratio of their distances (intercept)."""
    rng = np.random.default_rng(21)
    route = draw_route(rng, sheets=2)
    budget = _measured(route, route.scene, rng)
    (number,) = [budget._number(0)]
    parts = {source.id: part for source, part in components(number).items()}
    height_mm = float(route.scene.centre_mm[2])
    expected = number.nominal_value * budget.line.above_u_mm / height_mm
    assert parts["print above the floor"] == pytest.approx(expected, rel=0.01)
