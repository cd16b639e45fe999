"""A collar part of which something covers, and paper that stands off the face."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.port import port
from photomeasure.photo import Photo
from photomeasure.port.gap import dark_under_edge_mm, mouth_depth_mm
from photomeasure.port.mouth import Circle
from photomeasure.port.view import PortView
from photomeasure.references.find import find_pieces
from photomeasure.scene import BarReading, solve_scenes
from tests.port.drawn import DrawnPort, draw_port

BARS = {"": BarReading(100.0, 100.0)}
DRAWN = DrawnPort()
MOUTH = Circle(*DRAWN.off_centre_mm, DRAWN.mouth_mm / 2, 1.0)

Grid = NDArray[np.float64]
Cover = Callable[[Grid, Grid, Grid], Grid]  # of light, radius [mm] and angle from the far side


@cache
def _plain() -> PortView:
    return _view(draw_port(DRAWN))


def _view(photo: Photo) -> PortView:
    (piece,) = find_pieces(photo)
    (scene,) = solve_scenes([photo], [[piece]], BARS)
    return PortView.of(photo, scene, piece)


def _covered(cover: Cover, key: str) -> Photo:
    """The photo with light changed by where its pixels lie on the collar."""
    view = _plain()
    rows, columns = np.mgrid[: view.photo.grey.shape[0], : view.photo.grey.shape[1]]
    at_px = np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64)
    x, y = view.scene.sheet_mm(at_px, 0.0).T.reshape(2, *view.photo.grey.shape)
    away = np.angle(np.exp(1j * (np.arctan2(y, x) - view.far_rad)))
    light = (view.photo.grey / 255.0) ** 2.2
    stored = 255 * np.clip(cover(light, np.hypot(x, y), away), 0, 1) ** (1 / 2.2)
    grey = np.round(stored).astype(np.uint8)
    return replace(view.photo, grey=grey, colour=np.dstack([grey] * 3), key=key)


def test_a_port_is_read_with_a_third_of_its_collar_hidden() -> None:
    hole_mm = _plain().hole_radius_mm

    def spanner(light: Grid, radius: Grid, away: Grid) -> Grid:
        hidden = (radius > hole_mm + 0.3) & (np.abs(away - 1.0) < np.radians(60))
        return np.where(hidden, 0.1 + 0.05 * np.cos(radius), light)

    photo = _covered(spanner, "hidden")
    (piece,) = find_pieces(photo)
    assert len(piece.corners_px) < 0.75 * len(_plain().found.corners_px)
    answer = port([photo], PhotoOptions(BARS))
    assert answer.bore_diameter is not None
    assert answer.pitch is not None
    assert abs(answer.bore_diameter.value - DRAWN.bore_mm) < 3 * answer.bore_diameter.u
    assert answer.bore_diameter.u < 0.02 * DRAWN.bore_mm
    assert answer.pitch.value == pytest.approx(DRAWN.pitch_mm, rel=0.02)
    assert (answer.candidates[0].designation, answer.hand) == ("M18x1.5", "right")


def test_paper_that_stands_off_is_told_by_the_dark_under_its_far_edge() -> None:
    hole_mm, wide_mm = _plain().hole_radius_mm, 0.8

    def shade(light: Grid, radius: Grid, away: Grid) -> Grid:
        under = (radius < hole_mm) & (radius > hole_mm - wide_mm) & (np.abs(away) < 1.6)
        return np.where(under, 0.2 * light, light)

    flat = dark_under_edge_mm(_plain(), MOUTH, None)
    view = _view(_covered(shade, "shade"))
    dark = dark_under_edge_mm(view, MOUTH, None)
    assert flat is not None
    assert dark is not None
    assert flat < 0.15
    assert dark == pytest.approx(0.8 * wide_mm, abs=0.15)
    deeper = mouth_depth_mm(view, MOUTH, None)[0] - mouth_depth_mm(_plain(), MOUTH, None)[0]
    assert 0.4 * wide_mm < deeper < wide_mm
