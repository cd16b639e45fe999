"""A shade's soft edge beside the part: the bar and its shade are drawn, so the rim is known."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure.photo import Photo
from photomeasure.references.find import find_pieces
from photomeasure.scene import solve_scenes
from photomeasure.thread.axis import Axis
from photomeasure.thread.locate import locate
from photomeasure.thread.outline import Outline, Side, outline
from photomeasure.thread.paper import open_paper
from photomeasure.thread.shade import Pictured, out_of_shade
from photomeasure.thread.strip import straightened
from photomeasure.thread.turns import BINS, Followed, Turn
from tests.thread.drawn import bar_outline, bed_photo, bed_view

HALF_MM, WIDE_MM, SHADE_LEFT = 8.0, 1.2, 0.4
TURNS_MM = np.arange(-12.0, 13.0, 1.5)  # from the bar's middle


def _shaded(soft_px: float) -> Photo:
    """A bar on the bed whose shade reaches 1.2 mm beyond its right side."""
    photo = bed_photo(bar_outline((HALF_MM, 25.0)))
    covered = np.zeros(photo.colour.shape[:2], np.float32)
    corners = bed_view().project(bar_outline((HALF_MM, 25.0)) + np.array([WIDE_MM, 0.0]))
    cv2.fillPoly(covered, [np.rint(corners * 16).astype(np.int32)], 1.0, shift=4)
    light = 1 - (1 - SHADE_LEFT) * cv2.GaussianBlur(covered, (0, 0), soft_px)
    return replace(photo, colour=(photo.colour * light[..., None]).astype(np.uint8))


def _followed(side: Side, middle_mm: float) -> Followed:
    """Even turns whose tops lie on the traced edge."""
    top = float(np.median(side.off_mm[np.abs(side.along_mm - middle_mm) < -TURNS_MM[0]]))
    turns = tuple(
        Turn(n, float(place), top, 0.01, side.sign) for n, place in enumerate(middle_mm + TURNS_MM)
    )
    line = np.array([0.0, top])
    return Followed(turns, 1.5, np.zeros(BINS), line, 0.01, ())


def _rims(photo: Photo) -> tuple[Outline, tuple[Followed, Followed], tuple[Followed, Followed]]:
    """What was seen, and both sides as traced and as mended."""
    pieces = find_pieces(photo)
    (scene,) = solve_scenes([photo], [list(pieces)], {})
    paper = open_paper(photo, scene, pieces[0])
    first, second = locate(photo, paper)
    found = first if abs(np.sin(first.axis.heading_rad)) > 0.9 else second
    flat = Axis(found.axis.x_mm, found.axis.y_mm, 0.0, found.axis.heading_rad)
    strip = straightened(photo, scene, paper, found, flat)
    seen = outline(strip, max(pieces[0].blur_px, 0.6))
    middle = (found.from_mm + found.to_mm) / 2
    traced = (_followed(seen.left, middle), _followed(seen.right, middle))
    _, mended = out_of_shade(Pictured(photo, scene, paper, strip), seen, traced)
    assert mended is not None
    return seen, traced, mended


def _width(sides: tuple[Followed, Followed]) -> float:
    return sum(float(np.median([turn.off_mm for turn in side.turns])) for side in sides)


def test_a_shades_soft_edge_is_left_for_where_the_dots_end() -> None:
    seen, traced, mended = _rims(_shaded(soft_px=3.0))
    assert _width(traced) > 2 * HALF_MM + 0.9  # the trap
    assert _width(mended) == pytest.approx(2 * HALF_MM, abs=2.5 * seen.pixel_mm)
    laid = [side.laid_u_px for side in mended]
    assert sorted(u is not None for u in laid) == [False, True]


def test_a_sharp_edge_on_open_paper_is_left_alone() -> None:
    _, traced, mended = _rims(bed_photo(bar_outline((HALF_MM, 25.0))))
    assert mended == traced
