"""A print as a PNG of the whole page: every pixel takes light by the share of it that is inked."""

from pathlib import Path

import cv2
import numpy as np
import reportlab
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from photomeasure.references.artwork import Marker, Polygon, Rectangles, Ring, Shape, Text
from photomeasure.references.board import marker_ink
from photomeasure.references.draw_pdf import FONT_FILES
from photomeasure.references.prints import Print

__all__ = ["raster", "write_png"]

_Page = NDArray[np.uint8]
_MM_PER_INCH = 25.4
_FINE = 16  # sub-pixels a side where coverage has no closed form


def _share(low: float, high: float, first: int, count: int) -> NDArray[np.float64]:
    """How much of each of `count` pixels from `first` on lies between low and high [px]."""
    edges = np.arange(first, first + count + 1)
    return np.asarray(np.diff(np.clip(edges, low, high)), dtype=np.float64)


def _darken(
    page: _Page,
    left: int,
    top: int,
    share: NDArray[np.float64],
    absorbs: tuple[float, float, float] = (1.0, 1.0, 1.0),
) -> None:
    """Ink a window of the page; what falls off the page is lost."""
    height, width = page.shape[:2]
    rows = slice(max(top, 0), min(top + share.shape[0], height))
    columns = slice(max(left, 0), min(left + share.shape[1], width))
    part = share[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    window = page[rows, columns]
    taken = np.round(255 * part[..., None] * np.asarray(absorbs))
    window[:] = np.clip(window - taken, 0, 255).astype(np.uint8)


def _draw_rectangles(page: _Page, shape: Rectangles, scale: float) -> None:
    for left, top, right, bottom in shape.boxes_mm * scale:
        x, y = int(np.floor(left)), int(np.floor(top))
        across = _share(left, right, x, int(np.ceil(right)) - x)
        down = _share(top, bottom, y, int(np.ceil(bottom)) - y)
        _darken(page, x, y, shape.ink * down[:, None] * across[None, :], shape.absorbs)


def _draw_polygon(page: _Page, shape: Polygon, scale: float) -> None:
    points = shape.points_mm * scale
    x, y = np.floor(points.min(axis=0)).astype(int)
    width, height = (np.ceil(points.max(axis=0)).astype(int) - (x, y)).clip(min=1)
    fine = np.zeros((height * _FINE, width * _FINE), dtype=np.uint8)
    # fillPoly counts from the middle of the first (sub-)pixel and also fills the outline
    sub = ((points - (x, y)) * _FINE - 0.5) * 2**8
    cv2.fillPoly(fine, [np.round(sub).astype(np.int32)], 255, shift=8)
    covered = cv2.resize(fine, (int(width), int(height)), interpolation=cv2.INTER_AREA)
    _darken(page, int(x), int(y), shape.ink * np.asarray(covered, dtype=np.float64) / 255)


def _draw_ring(page: _Page, shape: Ring, scale: float) -> None:
    centre, radius = np.asarray(shape.centre_mm) * scale, shape.diameter_mm / 2 * scale
    half = shape.line_mm / 2 * scale
    x, y = np.floor(centre - radius - half - 1).astype(int)
    side = int(np.ceil(2 * (radius + half) + 3))
    offset = np.arange(side) + 0.5
    distance = np.hypot(offset[:, None] + y - centre[1], offset[None, :] + x - centre[0])
    share = np.clip(np.minimum(half - abs(distance - radius) + 0.5, 2 * half), 0, 1)
    _darken(page, int(x), int(y), shape.ink * share)


def _draw_text(page: _Page, shape: Text, scale: float) -> None:
    file = Path(reportlab.__file__).parent / "fonts" / FONT_FILES[shape.is_bold]
    font = ImageFont.truetype(str(file), shape.size_mm * scale)
    left, top, right, bottom = (int(v) for v in font.getbbox(shape.text, anchor="ls"))
    image = Image.new("L", (right - left + 4, bottom - top + 4))
    ImageDraw.Draw(image).text((2 - left, 2 - top), shape.text, fill=255, font=font, anchor="ls")
    shift = {"left": 0.0, "middle": -right / 2, "right": -float(right)}[shape.anchor]
    share = np.asarray(image, dtype=np.float64) / 255
    x, y = left - 2 + round(shift), top - 2
    if shape.turn_deg:  # corners of the turned window, from those of the upright one
        height, width = share.shape
        share = np.rot90(share, -shape.turn_deg // 90)
        x, y = (-y - height, x) if shape.turn_deg == 90 else (y, -x - width)
    at = np.round(np.asarray(shape.at_mm) * scale).astype(int)
    _darken(page, int(at[0]) + x, int(at[1]) + y, shape.ink * share)


def _draw(page: _Page, shape: Shape, scale: float) -> None:
    match shape:
        case Rectangles():
            _draw_rectangles(page, shape, scale)
        case Marker():
            _draw_rectangles(page, marker_ink(shape), scale)
        case Polygon():
            _draw_polygon(page, shape, scale)
        case Ring():
            _draw_ring(page, shape, scale)
        case Text():
            _draw_text(page, shape, scale)


def raster(print_: Print, dpi: float) -> _Page:
    """Draw the page.

    Parameters
    ----------
    print_ : Print
    dpi : float
        Pixels an inch.

    Returns
    -------
    (height, width, 3) uint8
        Red, green, blue; pixel (i, j) covers the paper from i to i + 1 (j to j + 1) times
        25.4 / dpi mm.
    """
    scale = dpi / _MM_PER_INCH
    width, height = (round(side * scale) for side in print_.page_mm)
    page = np.full((height, width, 3), 255, dtype=np.uint8)
    for shape in print_.artwork:
        _draw(page, shape, scale)
    return page


def write_png(print_: Print, path: Path, dpi: float) -> None:
    """Write the page with its resolution in the file, without colour where it has none."""
    page = raster(print_, dpi)
    is_grey = all(np.array_equal(page[..., 0], page[..., channel]) for channel in (1, 2))
    Image.fromarray(page[..., 0] if is_grey else page).save(path, dpi=(dpi, dpi))
