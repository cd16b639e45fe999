"""A port's rim as a person marked it on the photo."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.port.mouth import circle_points_px, find_mouth
from photomeasure.port.view import PortView
from photomeasure.references.find import find_pieces
from photomeasure.scene import solve_scenes
from tests.port.drawn import PAPER_MM, DrawnPort, draw_port

PORT = DrawnPort()
TURNS = np.radians(np.arange(10.0, 360.0, 72.0))
TAPS_MM = np.array([0.2, -0.25, 0.15, -0.1, 0.2])  # how far off a finger was


@pytest.fixture(scope="module")
def view() -> PortView:
    photo = draw_port(PORT)
    pieces = find_pieces(photo)
    (collar,) = (one for one in pieces if one.piece.name == PORT.collar)
    (scene,) = solve_scenes([photo], [[collar]], {})
    return PortView.of(photo, scene, collar)


def marked(view: PortView, radii_mm: NDArray[np.float64]) -> PortView:
    x, y = PORT.off_centre_mm
    ring = [x + radii_mm * np.cos(TURNS), y + radii_mm * np.sin(TURNS), np.full(5, -PAPER_MM)]
    px = view.scene.px(np.column_stack(ring))
    marks = tuple((float(across), float(down)) for across, down in px)
    return replace(view, photo=replace(view.photo, marked_px=marks))


def test_the_rim_is_where_it_is_marked(view: PortView) -> None:
    wider = PORT.mouth_mm / 2 + 1.2
    assert find_mouth(marked(view, np.full(5, wider)), (0.4, -0.3, 8.2), 1.5).radius_mm == (
        pytest.approx(wider, abs=0.05)
    )
    rough = find_mouth(marked(view, PORT.mouth_mm / 2 + TAPS_MM), (0.4, -0.3, 8.2), 1.5)
    assert rough.radius_mm == pytest.approx(PORT.mouth_mm / 2, abs=0.25)
    fine, _, _ = circle_points_px(view, rough)  # the edge itself settles what taps leave open
    assert fine.radius_mm == pytest.approx(PORT.mouth_mm / 2, abs=0.08)


def test_marks_on_a_line_are_no_rim(view: PortView) -> None:
    straight = tuple((100.0 + 300.0 * k, 700.0) for k in range(4))
    aside = replace(view, photo=replace(view.photo, marked_px=straight))
    bore = (0.4, -0.3, 8.2)
    assert find_mouth(aside, bore, 1.5) == find_mouth(view, bore, 1.5)
