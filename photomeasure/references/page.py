"""What every printed page carries: its name, how to use it, and two bars to check it by."""

from collections.abc import Sequence

import numpy as np

from photomeasure.references.artwork import Rectangles, Shape, Text
from photomeasure.references.prints import Bar, Kind, Paper

__all__ = [
    "BAR_LENGTH_MM",
    "FIRST_ID",
    "INK_MARGIN_MM",
    "PAGE_MM",
    "PRINT_FULL_SIZE",
    "VERSION",
    "bar_shapes",
    "bars",
    "body_mm",
    "box_outline",
    "cut_lines",
    "heading",
    "page_outline",
]

VERSION = 1
PAGE_MM: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
INK_MARGIN_MM = (
    12.0  # inside every printer's reach, so that no driver is tempted to shrink the page
)
# Markers of each page begin here: no two pages share one, so that a photo tells what it shows.
FIRST_ID: dict[tuple[Kind, Paper], int] = {
    ("sheet", "A4"): 0,
    ("sheet", "Letter"): 160,
    ("collar", "A4"): 300,
    ("collar", "Letter"): 440,
    ("markers", "A4"): 580,
    ("markers", "Letter"): 650,
    ("bands", "A4"): 720,
    ("bands", "Letter"): 860,
}
PRINT_FULL_SIZE = "Print at 100 % (actual size), then measure both bars."
BAR_LENGTH_MM = 100.0  # a 150 mm caliper opens further than this
_BAR_WIDTH_MM = 4.0
_LINE_MM = 3.7


def page_outline(paper: Paper) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Corners of the page.

    Parameters
    ----------
    paper : {"A4", "Letter"}

    Returns
    -------
    (4, 2) [mm]
        Clockwise from the top left.
    """
    return box_outline(0.0, 0.0, *PAGE_MM[paper])


def body_mm(paper: Paper) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of what is free between heading and bars [mm]."""
    width, height = PAGE_MM[paper]
    return 18.8, 25.0, width - INK_MARGIN_MM, height - INK_MARGIN_MM - 8.0


def box_outline(
    left: float, top: float, width: float, height: float
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Corners of a box.

    Parameters
    ----------
    left, top, width, height : float [mm]

    Returns
    -------
    (4, 2) [mm]
        Clockwise from the top left.
    """
    right, bottom = left + width, top + height
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def cut_lines(
    outline: np.ndarray[tuple[int, int], np.dtype[np.float64]], line_mm: float = 0.15
) -> Rectangles:
    """Thin grey lines on an upright box, to cut along.

    Parameters
    ----------
    outline : (4, 2) [mm]
    line_mm : float [mm]

    Returns
    -------
    Rectangles
    """
    (left, top), (right, bottom), half = outline[0], outline[2], line_mm / 2
    across = (left - half, right + half)
    boxes = [[across[0], y - half, across[1], y + half] for y in (top, bottom)]
    boxes += [[x - half, top + half, x + half, bottom - half] for x in (left, right)]
    return Rectangles(np.array(boxes), ink=0.5)


def bars(paper: Paper, x_start_mm: float, y_start_mm: float) -> tuple[Bar, Bar]:
    """Place the bar across at the page's foot and the bar down at its left side."""
    foot = PAGE_MM[paper][1] - INK_MARGIN_MM - 1.0 - _BAR_WIDTH_MM / 2
    side = INK_MARGIN_MM + 0.5 + _BAR_WIDTH_MM / 2
    across = Bar((x_start_mm, foot), (x_start_mm + BAR_LENGTH_MM, foot), BAR_LENGTH_MM)
    down = Bar((side, y_start_mm), (side, y_start_mm + BAR_LENGTH_MM), BAR_LENGTH_MM)
    return across, down


def bar_shapes(bar_x: Bar, bar_y: Bar) -> tuple[Shape, ...]:
    """Both bars with their names: solid, so that a caliper's jaws can be set on their ends."""
    half = _BAR_WIDTH_MM / 2
    (x0, foot), (x1, _) = bar_x.from_mm, bar_x.to_mm
    (side, y0), (_, y1) = bar_y.from_mm, bar_y.to_mm
    boxes = np.array([[x0, foot - half, x1, foot + half], [side - half, y0, side + half, y1]])
    return (
        Rectangles(boxes),
        Text((x1 + 2, foot - 0.9), "X bar: 100 mm. Measure X and Y from end to end", 2.6),
        Text((x1 + 2, foot + 2.2), "with a caliper and enter both.", 2.6),
        Text((side + 1, y0 - 2), "Y bar: 100 mm", 2.6, turn_deg=270),
    )


def heading(paper: Paper, title: str, lines: Sequence[str]) -> tuple[Shape, ...]:
    """Name, version and paper, then how to use the print."""
    name = f"photomeasure {title} · version {VERSION} · {paper}"
    texts = [Text((INK_MARGIN_MM, INK_MARGIN_MM + 3.2), name, 3.4, is_bold=True)]
    for number, line in enumerate(lines, start=1):
        at = (INK_MARGIN_MM, INK_MARGIN_MM + 3.2 + number * _LINE_MM)
        texts.append(Text(at, line, 2.6))
    return tuple(texts)
