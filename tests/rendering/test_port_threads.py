"""Crest diameter, pitch, taper and hand on the port's mesh itself, against closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.standards import thread, threads
from tests.rendering.meshes import Mesh
from tests.rendering.port_bodies import (
    Mouth,
    Port,
    bore_mesh,
    contour_radius,
    first_crest_mm,
)
from tests.rendering.port_list import (
    draw_port,
    draw_unlisted_port,
    internal_zone,
    listed_ports,
)
from tests.rendering.port_threads import InternalThread, TappedDepth, internal_profile

NAMES = ["M16x1.5", "9/16-18 UNF", "G1/2", "Rc1/4", "3/8-18 NPT"]


def _size(name: str, is_left: bool = False) -> InternalThread:
    row = next(port for port in listed_ports() if port.designation == name)
    return draw_port(row, is_left, np.random.default_rng(4)).size


def _port(size: InternalThread) -> Port:
    mouth = Mouth("chamfer", size.root_mm + 0.5, 45.0, 0.0, 0.0, 0.0)
    depth = TappedDepth(14.0, 2.0)
    return Port(size, depth, mouth, 18.0, 6.0, 40.0, (0.0, 0.0), (0.0, 0.0))


def _line(mesh: Mesh, theta: float) -> tuple[np.ndarray, np.ndarray]:
    """Depths and radii of the vertices on one generator line inside the full thread."""
    wanted = mesh.theta_rad[np.argmin(np.abs(mesh.theta_rad - theta))]
    on = (np.abs(mesh.theta_rad - wanted) < 1e-9) & (mesh.z_mm > 3.0) & (mesh.z_mm < 13.0)
    return mesh.z_mm[on], mesh.r_mm[on]


def _crests(mesh: Mesh, theta: float, size: InternalThread) -> np.ndarray:
    """Middles of the crests along one generator line, from vertices alone."""
    z, r = _line(mesh, theta)
    z = np.sort(np.unique(np.round(z[r + size.taper * z < size.minor_mm / 2 + 1e-6], 6)))
    groups = np.split(z, np.flatnonzero(np.diff(z) > size.pitch_mm / 2) + 1)
    return np.array([(group[0] + group[-1]) / 2 for group in groups])


@pytest.mark.parametrize("name", NAMES)
def test_the_bore_has_the_crest_diameter_and_pitch_it_was_asked_for(name: str) -> None:
    size = _size(name)
    mesh = bore_mesh(_port(size))
    body = (mesh.z_mm > 3.0) & (mesh.z_mm < 13.0)
    level = (mesh.r_mm + size.taper * mesh.z_mm)[body]
    assert 2 * level.min() == pytest.approx(size.minor_mm, abs=1e-6)
    assert 2 * level.max() == pytest.approx(size.root_mm, abs=1e-6)
    crests = _crests(mesh, 0.0, size)
    steps = np.diff(crests)[1:-1]
    assert len(steps) >= 3
    assert steps == pytest.approx(np.full(len(steps), size.pitch_mm), abs=1e-4)
    ahead = np.mod(_crests(mesh, np.pi, size)[2] - crests[2], size.pitch_mm)
    assert ahead == pytest.approx(size.pitch_mm / 2, abs=1e-4)


@pytest.mark.parametrize(("is_left", "sign"), [(False, 1), (True, -1)])
def test_a_right_hand_crest_goes_in_with_a_right_hand_turn(is_left: bool, sign: int) -> None:
    # the bore's frame has z into the port, so a right-hand turn about it drives a screw in
    size = _size("M16x1.5", is_left)
    mesh = bore_mesh(_port(size))
    moved = _crests(mesh, np.pi / 4, size)[2] - _crests(mesh, 0.0, size)[2]
    wrapped = np.mod(moved + size.pitch_mm / 2, size.pitch_mm) - size.pitch_mm / 2
    assert wrapped == pytest.approx(sign * size.pitch_mm / 8, abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_groove_and_ridge_are_equally_wide_at_the_pitch_diameter(name: str) -> None:
    # the pitch diameter's definition, ISO 5408
    size = _size(name)
    axial, radial = internal_profile(size)
    fine = np.linspace(0, size.pitch_mm, 200_001)
    groove = np.interp(fine, axial, radial) > size.pitch_diameter_mm / 2
    assert groove.mean() == pytest.approx(0.5, abs=1e-3)


def test_the_basic_profile_is_that_of_iso_68_1() -> None:
    # ISO 68-1:1998 (memory): crest P/4 wide, root P/8, 5/8 H apart, H = sqrt(3)/2 P
    pitch, major = 2.0, 27.0
    size = InternalThread("60", major - 1.082532 * pitch, major - 0.649519 * pitch, pitch, major)
    axial, radial = internal_profile(size)
    fine = np.linspace(0, pitch, 400_001)
    shape = np.interp(fine, axial, radial)
    assert (shape < size.minor_mm / 2 + 1e-6).mean() == pytest.approx(1 / 4, abs=1e-4)
    assert (shape > major / 2 - 1e-6).mean() == pytest.approx(1 / 8, abs=1e-4)
    assert np.ptp(radial) == pytest.approx(5 / 8 * np.sqrt(3) / 2 * pitch, abs=1e-5)


def test_the_basic_pipe_profile_is_that_of_iso_228_1() -> None:
    # ISO 228-1:2000, 4 (memory): h = 0.640327 P, r = 0.137329 P, crest and root alike
    pitch, major = 25.4 / 14, 20.955
    middle = major - 0.640327 * pitch
    size = InternalThread("whitworth", middle - 0.640327 * pitch, middle, pitch, major)
    axial, radial = internal_profile(size)
    assert 2 * radial.max() == pytest.approx(major, abs=1e-4)
    assert 2 * radial.min() == pytest.approx(size.minor_mm, abs=1e-4)
    fine = np.arange(4000) * pitch / 4000
    shape = np.interp(fine, axial, radial) - middle / 2
    assert shape == pytest.approx(-np.roll(shape, 2000), abs=2e-3)  # chords of the roundings


@pytest.mark.parametrize("name", NAMES)
def test_normals_face_the_air_and_faces_turn_the_same_way(name: str) -> None:
    mesh = bore_mesh(_port(_size(name)))
    corners = mesh.vertices_mm[mesh.faces]
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facing = np.sum(area * mesh.normals[mesh.faces[:, 0]], axis=1)
    assert (facing >= 0).mean() > 0.9995
    middle = corners.mean(axis=1)
    wall = (middle[:, 2] > 3) & (middle[:, 2] < 13)
    assert np.all(np.sum(area[wall, :2] * middle[wall, :2], axis=1) < 1e-12)


def test_the_bore_begins_where_the_mouth_has_narrowed_to_the_crests() -> None:
    size = _size("M22x1.5")
    port = _port(size)
    depth = first_crest_mm(port)
    # 45 degrees: as deep as the mouth is wider than the bore, on the radius
    expected = (port.mouth.diameter_mm - size.minor_mm) / 2
    assert depth == pytest.approx(expected, abs=2e-3)
    cone = Mouth("O-ring cone", 23.8, 15.0, 2.4, 34.0, 1.0)
    inner = 11.9 - 2.4 * np.tan(np.radians(15))
    assert contour_radius(cone, np.array([0, 2.4, 3.4])) == pytest.approx([11.9, inner, inner - 1])


def test_a_thread_off_the_mouths_axis_keeps_its_diameter() -> None:
    size = _size("M16x1.5")
    port = replace(_port(size), off_mm=(0.04, -0.03), lean_rad=(0.003, 0.002))
    mesh = bore_mesh(port)
    on = (mesh.z_mm > 6) & (mesh.z_mm < 12)
    axis = np.array(port.off_mm) + mesh.z_mm[on, None] * np.array(port.lean_rad)
    away = np.hypot(*(mesh.vertices_mm[on, :2] - axis).T)
    assert 2 * away.min() == pytest.approx(size.minor_mm, abs=1.5e-3)
    assert 2 * away.max() == pytest.approx(size.root_mm, abs=1.5e-3)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("M16x1.5", 14.376, 14.676),  # ISO 965-2:1998, 6H: from memory
        ("M27x2", 24.835, 25.210),  # ISO 965-2:1998, 6H: from memory
        ("3/4-16 UNF", 17.323, 17.678),  # ASME B1.1 class 2B, 0.682 to 0.696 in: from memory
        ("G1/4", 11.445, 11.890),  # ISO 228-1, table 1: from memory
    ],
)
def test_zones_are_the_published_ones(name: str, low: float, high: float) -> None:
    row = next(port for port in listed_ports() if port.designation == name)
    # the 2B limits are printed to 0.001 in
    assert internal_zone(row).minor_mm == pytest.approx((low, high), abs=0.02)


def test_every_drawn_bore_lies_inside_the_programs_table_too() -> None:
    rng = np.random.default_rng(8)
    for row in listed_ports():
        limits = thread(row.designation).internal
        assert limits is not None
        for _ in range(20):
            size = draw_port(row, False, rng).size
            assert limits.minor_min_mm - 0.02 < size.minor_mm < limits.minor_max_mm + 0.02
            assert size.minor_mm < size.pitch_diameter_mm < size.root_mm


def test_an_unlisted_thread_is_like_none_of_the_table() -> None:
    rng = np.random.default_rng(3)
    for _ in range(50):
        drawn = draw_unlisted_port(False, rng)
        assert drawn.designation is None
        near = [
            one
            for one in threads()
            if one.internal is not None
            and abs(drawn.size.pitch_mm / one.pitch_mm - 1) < 0.055
            and one.internal.minor_min_mm < drawn.size.minor_mm < one.internal.minor_max_mm
        ]
        assert near == []
