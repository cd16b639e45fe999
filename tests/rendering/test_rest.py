"""Bodies whose rests are known lie so."""

import numpy as np
import pytest

from tests.rendering.fittings import Fitting, Hexagon, OtherEnd, fitting_mesh
from tests.rendering.rest import place, settle
from tests.rendering.threads import ThreadEnds, ThreadSize

SIZE = ThreadSize("60", 15.9, 14.9, 1.5, 0.2)


def _fitting(hexagon_mm: float, length_mm: float, stub_mm: float) -> Fitting:
    ends = ThreadEnds(length_mm, 6.5, 1.0, length_mm - 1.5, 0.6, SIZE.minor_mm / 2)
    hexagon = Hexagon(hexagon_mm, 1.14, 12.0, 0.2, "both")
    return Fitting(SIZE, ends, 0.0, hexagon, OtherEnd("stub", stub_mm, 14.0), 0.0)


def test_a_balanced_fitting_lies_on_a_flat_with_its_axis_half_the_flats_up() -> None:
    rest = settle(fitting_mesh(_fitting(24.0, 12.0, 7.0)), np.random.default_rng(1))
    assert rest.plane_from_thread[2, 3] == pytest.approx(12.0, abs=1e-3)
    assert rest.plane_from_thread[2, 2] == pytest.approx(0, abs=1e-6)


def test_a_long_thread_tips_onto_its_crest_and_the_hexagons_edge() -> None:
    fitting = _fitting(24.0, 40.0, 4.0)
    mesh = fitting_mesh(fitting)
    rest = settle(mesh, np.random.default_rng(2))
    z = rest.contacts_thread_mm[:, 2]
    assert z.min() < 3
    assert 40.0 <= z.max() < 41.0
    lowest = mesh.vertices_mm @ rest.plane_from_thread[2, :3] + rest.plane_from_thread[2, 3]
    assert lowest.min() == pytest.approx(0, abs=1e-9)


def test_placing_turns_and_moves_but_keeps_the_heights() -> None:
    rest = settle(fitting_mesh(_fitting(24.0, 12.0, 7.0)), np.random.default_rng(3))
    pose = place(rest, 1.1, 7.0, -4.0)
    assert pose[2] == pytest.approx(rest.plane_from_thread[2])
    assert pose[:2, 3] == pytest.approx([7.0, -4.0], abs=1e-9)
    assert pose[:3, :3] @ pose[:3, :3].T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(pose[:3, :3]) == pytest.approx(1)
