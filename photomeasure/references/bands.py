"""The bands: coded strips wrapped round a hose or rod, in order, their arrows along the route."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.references.artwork import Polygon, Shape, Text
from photomeasure.references.board import Board, board_piece
from photomeasure.references.page import (
    FIRST_ID,
    PAGE_MM,
    PRINT_FULL_SIZE,
    VERSION,
    bar_shapes,
    bars,
    body_mm,
    box_outline,
    cut_lines,
    heading,
)
from photomeasure.references.prints import Paper, Piece, Print, Shoot

__all__ = ["BANDS_SHOOT", "bands"]

BANDS_SHOOT = Shoot(distance_mm=(300.0, 800.0), tilt_deg=(0.0, 60.0))

_SQUARE_MM = 10.0
_COLUMNS, _ROWS = 8, 2  # round the hose, along it: 85 mm goes round 26 mm of hose
_MARGIN_MM = (2.5, 0.5)  # round, along
_ACROSS = 2
_DOWN: dict[Paper, int] = {"A4": 11, "Letter": 10}
_ARROW_COLUMNS = (1, 5)  # of the upper row; two of them, so that one is in sight
_MARKERS_A_BAND = 6

_LINES = (
    "Wrap them square round the hose, from band 1 on, arrows from start to end: before, in and "
    "after each bend, there at most 50 mm apart,",
    f"150 mm on straights. Photos from {BANDS_SHOOT.distance_mm[0]:.0f}–"
    f"{BANDS_SHOOT.distance_mm[1]:.0f} mm away, every band in two. {PRINT_FULL_SIZE}",
)


def _arrow(left: float, top: float) -> Polygon:
    """Arrow down the page in the square whose corner is given."""
    shape = np.array(
        [[1.1, 1.6], [2.5, 1.6], [2.5, 5.4], [3.4, 5.4], [1.8, 8.4], [0.2, 5.4], [1.1, 5.4]]
    )
    return Polygon(shape + np.array([left + 1.6, top]))


def _has_marker() -> NDArray[np.bool_]:
    chosen = np.ones((_ROWS, _COLUMNS), dtype=np.bool_)
    chosen[0, list(_ARROW_COLUMNS)] = False
    return chosen


def _band(
    order: int, corner_mm: tuple[float, float], first_id: int
) -> tuple[Piece, tuple[Shape, ...]]:
    origin = (corner_mm[0] + _MARGIN_MM[0], corner_mm[1] + _MARGIN_MM[1])
    board = Board(
        origin,
        _SQUARE_MM,
        np.ones((_ROWS, _COLUMNS), dtype=np.bool_),
        1,
        first_id + (order - 1) * _MARKERS_A_BAND,
        has_marker=_has_marker(),
    )
    size = (_COLUMNS * _SQUARE_MM + 2 * _MARGIN_MM[0], _ROWS * _SQUARE_MM + 2 * _MARGIN_MM[1])
    outline = box_outline(*corner_mm, *size)
    piece = replace(board_piece(f"band {order}", outline, board), direction=(0.0, 1.0), order=order)
    marks: list[Shape] = []
    for column in _ARROW_COLUMNS:
        left = origin[0] + column * _SQUARE_MM
        number = Text((left + 7.2, origin[1] + 5.6), str(order), 2.4, anchor="middle", is_bold=True)
        marks += [_arrow(left, origin[1]), number]
    return piece, (*board.shapes(), cut_lines(outline), *marks)


def bands(paper: Paper) -> Print:
    """Build the page of bands as data.

    Parameters
    ----------
    paper : {"A4", "Letter"}

    Returns
    -------
    Print
    """
    left, top, right, _ = body_mm(paper)
    step = ((right - left) / _ACROSS, _ROWS * _SQUARE_MM + 2 * _MARGIN_MM[1] + 1.5)
    made = []
    for number in range(_ACROSS * _DOWN[paper]):
        corner = (left + number % _ACROSS * step[0], top + number // _ACROSS * step[1])
        made.append(_band(number + 1, corner, FIRST_ID["bands", paper]))
    bar_x, bar_y = bars(paper, left, 100.0)
    return Print(
        name=f"bands {paper} version {VERSION}",
        kind="bands",
        version=VERSION,
        paper=paper,
        page_mm=PAGE_MM[paper],
        pieces=tuple(piece for piece, _ in made),
        bar_x=bar_x,
        bar_y=bar_y,
        bed=None,
        shoot=BANDS_SHOOT,
        artwork=(
            *heading(paper, "hose bands", _LINES),
            *(shape for _, shapes in made for shape in shapes),
            *bar_shapes(bar_x, bar_y),
        ),
    )
