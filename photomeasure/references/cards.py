"""The cards: stiff, with many corners, laid along or beside a route; one at each end says which."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from photomeasure.references.artwork import Shape, Text
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

__all__ = ["CARDS_SHOOT", "cards"]

CARDS_SHOOT = Shoot(distance_mm=(400.0, 1500.0), tilt_deg=(0.0, 45.0))

_SQUARE_MM = 11.0
_COLUMNS, _ROWS = 7, 5
_MARGIN_MM = 1.0
_GAP_MM = (8.0, 0.0)  # cards of one column share their cutting lines
_ACROSS, _DOWN = 2, 4
_WHITE_PARITY = 1  # so that the middle square is white, for the card's name
_MARKERS_A_CARD = 8

_LINES = (
    "Cut the cards out, glue each on something stiff and flat. START beside the first port, END "
    "beside the last, the others along the route.",
    f"{PRINT_FULL_SIZE} Every photo shows three cards or more. Lay a plain line, unlike the floor.",
)


@dataclass(frozen=True, slots=True)
class _Card:
    name: str
    label: str
    role: Literal["start", "end"] | None = None


_CARDS = (
    _Card("start", "START", "start"),
    _Card("end", "END", "end"),
    *(_Card(f"card {number}", str(number)) for number in range(1, _ACROSS * _DOWN - 1)),
)


def _has_marker() -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Every other white square, leaving out the middle one."""
    rows, columns = np.indices((_ROWS, _COLUMNS))
    chosen = (rows + columns) % 4 == 1
    chosen[_ROWS // 2, _COLUMNS // 2] = False
    return np.asarray(chosen)


def _card(
    number: int, card: _Card, corner_mm: tuple[float, float], first_id: int
) -> tuple[Piece, tuple[Shape, ...]]:
    size = (_COLUMNS * _SQUARE_MM + 2 * _MARGIN_MM, _ROWS * _SQUARE_MM + 2 * _MARGIN_MM)
    origin = (corner_mm[0] + _MARGIN_MM, corner_mm[1] + _MARGIN_MM)
    board = Board(
        origin,
        _SQUARE_MM,
        np.ones((_ROWS, _COLUMNS), dtype=np.bool_),
        _WHITE_PARITY,
        first_id + number * _MARKERS_A_CARD,
        has_marker=_has_marker(),
    )
    outline = box_outline(*corner_mm, *size)
    piece = replace(board_piece(card.name, outline, board), role=card.role)
    middle = (corner_mm[0] + size[0] / 2, corner_mm[1] + size[1] / 2 + 0.7)
    label = Text(middle, card.label, 2.0, anchor="middle", is_bold=True)
    return piece, (*board.shapes(), cut_lines(outline), label)


def cards(paper: Paper) -> Print:
    """Build the page of cards as data.

    Parameters
    ----------
    paper : {"A4", "Letter"}

    Returns
    -------
    Print
    """
    left, top, _, _ = body_mm(paper)
    step_x = _COLUMNS * _SQUARE_MM + 2 * _MARGIN_MM + _GAP_MM[0]
    step_y = _ROWS * _SQUARE_MM + 2 * _MARGIN_MM + _GAP_MM[1]
    made = [
        _card(
            number,
            card,
            (left + number % _ACROSS * step_x, top + number // _ACROSS * step_y),
            FIRST_ID["markers", paper],
        )
        for number, card in enumerate(_CARDS)
    ]
    bar_x, bar_y = bars(paper, left, 100.0)
    return Print(
        name=f"markers {paper} version {VERSION}",
        kind="markers",
        version=VERSION,
        paper=paper,
        page_mm=PAGE_MM[paper],
        pieces=tuple(piece for piece, _ in made),
        bar_x=bar_x,
        bar_y=bar_y,
        bed=None,
        shoot=CARDS_SHOOT,
        artwork=(
            *heading(paper, "route cards", _LINES),
            *(shape for _, shapes in made for shape in shapes),
            *bar_shapes(bar_x, bar_y),
        ),
    )
