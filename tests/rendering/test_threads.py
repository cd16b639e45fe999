"""Crest diameter, pitch, taper and hand on the mesh itself, against closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.standards import threads
from tests.rendering.fittings import (
    Fitting,
    Hexagon,
    OtherEnd,
    fitting_mesh,
    outline_sections,
)
from tests.rendering.meshes import Mesh, volume_mm3
from tests.rendering.scenes import Conditions, draw_fitting_scene
from tests.rendering.thread_list import draw_size, draw_unlisted, listed, zone
from tests.rendering.threads import ThreadEnds, ThreadSize, profile

NAMES = ["M16x1.5", "9/16-18 UNF", "G1/2", "R1/4", "3/8-18 NPT"]


def _thread(name: str, is_left: bool = False) -> ThreadSize:
    row = next(t for t in listed() if t.designation == name)
    return draw_size(row, is_left, np.random.default_rng(4)).size


def _fitting(size: ThreadSize) -> Fitting:
    start = size.minor_mm / 2 - 0.2
    ends = ThreadEnds(14.0, start, 1.0, 12.0, 0.5, size.minor_mm / 2)
    hexagon = Hexagon(size.major_mm + 6, 1.13, 9.0, 0.3, "both")
    return Fitting(size, ends, 0.0, hexagon, OtherEnd("stub", 5.0, 12.0), 4.0)


def _crest_z(mesh: Mesh, theta: float, size: ThreadSize) -> np.ndarray:
    """Middles of the crests along one generator line, from vertices alone."""
    wanted = mesh.theta_rad[np.argmin(np.abs(mesh.theta_rad - theta))]
    on = (np.abs(mesh.theta_rad - wanted) < 1e-9) & (mesh.z_mm > 2.5) & (mesh.z_mm < 11.5)
    z, r = mesh.z_mm[on], mesh.r_mm[on]
    top = np.sort(np.unique(np.round(z[r - size.taper * z > size.major_mm / 2 - 1e-6], 6)))
    groups = np.split(top, np.flatnonzero(np.diff(top) > size.pitch_mm / 2) + 1)
    return np.array([(g[0] + g[-1]) / 2 for g in groups])


@pytest.mark.parametrize("name", NAMES)
def test_the_mesh_has_the_crest_diameter_and_pitch_it_was_asked_for(name: str) -> None:
    size = _thread(name)
    mesh = fitting_mesh(_fitting(size))
    body = (mesh.z_mm > 2.5) & (mesh.z_mm < 11.5)
    crest = (mesh.r_mm - size.taper * mesh.z_mm)[body].max()
    assert 2 * crest == pytest.approx(size.major_mm, abs=1e-6)
    crests = _crest_z(mesh, 0.0, size)
    steps = np.diff(crests)[1:-1]
    assert steps == pytest.approx(np.full(len(steps), size.pitch_mm), abs=1e-4)
    half_turn = _crest_z(mesh, np.pi, size)
    ahead = np.mod(half_turn[2] - crests[2], size.pitch_mm)
    assert ahead == pytest.approx(size.pitch_mm / 2, abs=1e-4)


def test_chords_between_columns_cost_less_than_two_micrometres_of_crest() -> None:
    size = _thread("M42x2")
    mesh = fitting_mesh(_fitting(size))
    steps = np.diff(np.unique(np.round(mesh.theta_rad, 6)))
    assert size.major_mm / 2 * (1 - np.cos(steps.max() / 2)) < 0.002


@pytest.mark.parametrize(("is_left", "sign"), [(False, 1), (True, -1)])
def test_a_right_hand_crest_advances_with_a_right_hand_turn(is_left: bool, sign: int) -> None:
    size = _thread("M16x1.5", is_left)
    mesh = fitting_mesh(_fitting(size))
    moved = _crest_z(mesh, np.pi / 4, size)[3] - _crest_z(mesh, 0.0, size)[3]
    wrapped = np.mod(moved + size.pitch_mm / 2, size.pitch_mm) - size.pitch_mm / 2
    assert wrapped == pytest.approx(sign * size.pitch_mm / 8, abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_groove_and_ridge_are_equally_wide_at_the_pitch_diameter(name: str) -> None:
    # the pitch diameter's definition, ISO 5408
    size = _thread(name)
    axial, radial = profile(size)
    fine = np.linspace(0, size.pitch_mm, 200_001)
    ridge = np.interp(fine, axial, radial) > size.pitch_diameter_mm / 2
    assert ridge.mean() == pytest.approx(0.5, abs=1e-3)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("M16x1.5", 15.732, 15.968),  # ISO 965-2:1998, 6g: from memory; ISO 965-1's formulae
        ("M24x1.5", 23.732, 23.968),  # for es and Td, rounded as there, give the same limits
        ("3/4-16 UNF", 18.773, 19.012),  # ASME B1.1 class 2A, 0.7391 to 0.7485 in: from memory
        ("G1/4", 12.907, 13.157),  # ISO 228-1, table 1: from memory
    ],
)
def test_zones_are_the_published_ones(name: str, low: float, high: float) -> None:
    row = next(t for t in listed() if t.designation == name)
    assert zone(row).major_mm == pytest.approx((low, high), abs=0.004)


def test_drawn_sizes_stay_inside_their_zone_and_unlisted_ones_out_of_the_list() -> None:
    rng = np.random.default_rng(8)
    for row in listed():
        size = draw_size(row, False, rng).size
        low, high = zone(row).major_mm
        assert low - 1e-9 <= size.major_mm <= high + 1e-9
        assert size.minor_mm < size.pitch_diameter_mm < size.major_mm
    for _ in range(20):
        drawn = draw_unlisted(rng)
        assert drawn.designation is None
        for thread in threads():
            limits, apart = thread.external, drawn.size.pitch_mm / thread.pitch_mm - 1
            if limits is not None and abs(apart) < 0.06:
                middle = (limits.major_min_mm + limits.major_max_mm) / 2
                assert abs(drawn.size.major_mm - middle) > 0.45


def test_a_fitting_is_closed_and_its_volume_is_near_that_of_its_cylinders() -> None:
    size = _thread("M16x1.5")
    fitting = _fitting(size)
    mesh = fitting_mesh(fitting)
    corners = mesh.vertices_mm[mesh.faces]
    areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert areas.sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-6)
    bore = np.pi * 4 * outline_sections(fitting).end_mm
    hexagon = np.sqrt(3) / 2 * fitting.hexagon.across_flats_mm**2 * 9
    rough = np.pi / 4 * size.pitch_diameter_mm**2 * 14 + hexagon + np.pi * 25 * 12 - bore
    assert volume_mm3(mesh) == pytest.approx(rough, rel=0.03)
    facing = np.sum(areas * mesh.normals[mesh.faces[:, 0]], axis=1)
    assert (facing > 0).mean() > 0.999


@pytest.mark.parametrize("seed", [3, 5, 9])
def test_a_wanted_hand_changes_nothing_else_of_a_scene(seed: int) -> None:
    drawn, left, right = (
        draw_fitting_scene(
            seed, Conditions((210, 297), (105, 130), (90, 70), (190, 260), (0, 20), hand=hand)
        )
        for hand in ("draw", "left", "right")
    )
    assert left.fitting.size.is_left
    assert not right.fitting.size.is_left
    assert replace(left.fitting.size, is_left=False) == right.fitting.size
    assert left.camera.focal_px == right.camera.focal_px == drawn.camera.focal_px
    assert left.development == drawn.development
