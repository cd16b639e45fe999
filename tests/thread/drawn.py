"""The sheet as a pinhole camera sees it, with a flat dark shape on its bed."""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import FocalHint, Photo
from photomeasure.references.catalogue import print_of
from photomeasure.references.draw_png import raster
from tests.references.projected import View

DPI = 300.0
SIZE_PX = (2016, 1512)
FOCAL_PX = 1500.0


def bed_view() -> View:
    """Near and a little aslant over the bed's middle."""
    bed = print_of("sheet", "A4").bed
    assert bed is not None
    return View(SIZE_PX, FOCAL_PX, 225.0, tilt_deg=6.0, turn_deg=90.0, look_at_mm=bed.centre_mm)


@cache
def _page() -> NDArray[np.uint8]:
    return raster(print_of("sheet", "A4"), DPI)


def bed_photo(
    outline_mm: NDArray[np.float64] | None = None,
    *,
    shade: float = 1.0,
    is_grey: bool = False,
    has_dots: bool = True,
) -> Photo:
    """Draw a photo of the sheet.

    `outline_mm` is a polygon in page millimetres that lies on the paper in dark grey; `shade` is
    the light left on the right half of the bed.
    """
    view = bed_view()
    page = _page().copy()
    if not has_dots:
        page[...] = page[..., :1]
    scale = DPI / 25.4
    pixel = np.array([[1 / scale, 0, 0.5 / scale], [0, 1 / scale, 0.5 / scale], [0, 0, 1]])
    homography = view.intrinsics @ view.camera_from_page[:, [0, 1, 3]] @ pixel
    picture = cv2.warpPerspective(page, homography, SIZE_PX, flags=cv2.INTER_AREA).astype(float)
    picture = 20 + 0.8 * picture
    picture[:, SIZE_PX[0] // 2 :] *= shade
    if outline_mm is not None:
        corners = np.rint(view.project(outline_mm) * 16).astype(np.int32)
        cv2.fillPoly(picture, [corners], (60.0, 60.0, 60.0), shift=4)
    noise = np.random.default_rng(5).normal(0, 1.5, picture.shape)
    colour = np.clip(cv2.GaussianBlur(picture, (0, 0), 0.8) + noise, 0, 255).astype(np.uint8)
    grey = cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY)
    bgr = cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR) if is_grey else colour[..., ::-1].copy()
    hint = FocalHint(FOCAL_PX, 0.02, None)
    return Photo("drawn.png", np.asarray(grey, np.uint8), np.asarray(bgr, np.uint8), "k", hint, "l")


def bar_outline(half_mm: tuple[float, float]) -> NDArray[np.float64]:
    """A rectangle round the bed's middle, page millimetres."""
    bed = print_of("sheet", "A4").bed
    assert bed is not None
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.float64)
    return np.asarray(corners * half_mm + np.array(bed.centre_mm))
