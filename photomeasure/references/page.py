"""What every printed page carries: its name, how to use it, and two bars to check it by."""

from collections.abc import Sequence

import numpy as np

from photomeasure.references.artwork import Rectangles, Shape, Text
from photomeasure.references.prints import Bar, Paper

__all__ = [
    "BAR_LENGTH_MM",
    "INK_MARGIN_MM",
    "PAGE_MM",
    "VERSION",
    "bar_shapes",
    "bars",
    "heading",
    "page_outline",
]

VERSION = 1
PAGE_MM: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
INK_MARGIN_MM = (
    12.0  # inside every printer's reach, so that no driver is tempted to shrink the page
)
BAR_LENGTH_MM = 100.0  # a 150 mm caliper opens further than this
_BAR_WIDTH_MM = 4.0
_LINE_MM = 3.7


def page_outline(paper: Paper) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """(4, 2) corners of the page, clockwise from the top left [mm]."""
    width, height = PAGE_MM[paper]
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)


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
        Text((x1 + 2, foot - 0.2), "X bar: 100 mm. Measure X and Y from end to end", 2.6),
        Text((x1 + 2, foot + 3.0), "with a caliper and enter both.", 2.6),
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
