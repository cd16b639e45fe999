"""The print as a real sheet of paper: a printer's scale, a little curl, bars as a person reads."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["PAPER", "Artwork", "Sheet", "load_artwork", "page_from_sheet", "sheet_from_page"]

Floats = NDArray[np.float64]

INK, PAPER = 0.045, 0.80  # reflectance of toner and of office paper; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
class Artwork:
    """A page's picture and its layout.

    Attributes
    ----------
    reflectance : (rows, columns, 3) uint16
        Linear, 65535 for 1; red, green, blue.
    px_per_mm : float
    page_mm : (width, height)
    layout : dict
        The layout file as read.
    """

    reflectance: NDArray[np.uint16]
    px_per_mm: float
    page_mm: tuple[float, float]
    layout: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One printed page lying on a bench.

    Attributes
    ----------
    page_mm : (width, height)
        As designed.
    scale_x, scale_y : float
        Printed length over designed length.
    lifts_mm : (4,)
        Of the page's corners (left top, right top, right bottom, left bottom).
    flat_at_mm : (x, y)
        Where the part presses the paper flat, sheet frame.
    flat_within_mm, rises_over_mm : float
        Flat up to this radius; the full curl beyond radius + rise.
    paper_mm : (width, height) or None
        Of the sheet of paper, if it is not as large as the page was designed.
    paper_at_mm : (x, y)
        The paper's middle, sheet frame: a printer does not feed it quite straight.
    """

    page_mm: tuple[float, float]
    scale_x: float
    scale_y: float
    lifts_mm: tuple[float, float, float, float]
    flat_at_mm: tuple[float, float]
    flat_within_mm: float
    rises_over_mm: float
    paper_mm: tuple[float, float] | None = None
    paper_at_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def half_mm(self) -> tuple[float, float]:
        """Half of the paper's width and height."""
        width, height = self.paper_mm or self.page_mm
        return width / 2, height / 2

    def inside_mm(self, x_mm: Floats, y_mm: Floats) -> Floats:
        """Distance within the paper's edge, (...) [mm]; negative beyond it."""
        half_x, half_y = self.half_mm
        across, along = x_mm - self.paper_at_mm[0], y_mm - self.paper_at_mm[1]
        return np.asarray(np.minimum(half_x - np.abs(across), half_y - np.abs(along)))

    def height_mm(self, x_mm: Floats, y_mm: Floats) -> Floats:
        """Height of the paper above the bench's plane, (...) [mm]."""
        half_x, half_y = self.half_mm
        height = np.zeros_like(x_mm)
        signs = ((-1, 1), (1, 1), (1, -1), (-1, -1))
        for lift, (sign_x, sign_y) in zip(self.lifts_mm, signs, strict=True):
            along = (sign_x * x_mm / half_x + sign_y * y_mm / half_y) / 2
            height = height + lift * np.maximum(along, 0) ** 2.5
        radius = np.hypot(x_mm - self.flat_at_mm[0], y_mm - self.flat_at_mm[1])
        s = np.clip((radius - self.flat_within_mm) / self.rises_over_mm, 0, 1)
        return np.asarray(height * s**3 * (10 + s * (6 * s - 15)))


def load_artwork(png: Path, layout: Path) -> Artwork:
    """Read a page as printed by `photomeasure print` with `--layout`."""
    facts = json.loads(layout.read_text("utf-8"))
    stored = cv2.imread(str(png), cv2.IMREAD_COLOR_RGB)
    if stored is None:
        raise ValueError(f"{png} is not a picture")
    value = np.arange(256) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    table = np.round(65535 * (INK + (PAPER - INK) * linear)).astype(np.uint16)
    width, height = facts["page_mm"]
    px_per_mm = round(stored.shape[0] / height * 25.4) / 25.4
    return Artwork(table[stored], px_per_mm, (float(width), float(height)), facts)


def sheet_from_page(sheet: Sheet, points_page_mm: Floats) -> Floats:
    """Where points of the page really are.

    Parameters
    ----------
    sheet : Sheet
    points_page_mm : (N, 2) [mm]
        As in the layout file: from the top left corner, y down.

    Returns
    -------
    (N, 3) [mm]
        In the sheet's frame: true millimetres from the page's centre, y up.
    """
    x = (points_page_mm[:, 0] - sheet.page_mm[0] / 2) * sheet.scale_x
    y = (sheet.page_mm[1] / 2 - points_page_mm[:, 1]) * sheet.scale_y
    return np.column_stack([x, y, sheet.height_mm(x, y)])


def page_from_sheet(sheet: Sheet, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
    """Page coordinates of points on the paper."""
    x_page = x_mm / sheet.scale_x + sheet.page_mm[0] / 2
    return x_page, sheet.page_mm[1] / 2 - y_mm / sheet.scale_y
