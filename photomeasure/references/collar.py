"""The collars: rings of chessboard stuck round a port's mouth."""

from dataclasses import replace
from functools import cache

import numpy as np

from photomeasure.errors import UsageError
from photomeasure.references.artwork import Ring, Shape, Text
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
from photomeasure.references.prints import Hole, Paper, Piece, Print, Shoot

__all__ = ["COLLAR_MOUTHS_MM", "COLLAR_SHOOT", "collar", "collars"]

COLLAR_SHOOT = Shoot(distance_mm=(180.0, 240.0), tilt_deg=(40.0, 50.0))
# Largest mouth that each ring clears; a ring for a smaller mouth has the same board, a smaller hole
COLLAR_MOUTHS_MM = (12.0, 16.0, 20.0, 24.0, 28.0, 34.0, 42.0, 52.0)

_ROWS_OF_MOUTHS = ((42.0, 28.0, 12.0), (34.0, 24.0, 20.0), (52.0, 16.0))
_CLEARANCE_MM = 2.0  # of the hole over the mouth
_SQUARE_MM = 5.0
_BORDER_MM = 13.0  # of board beside the hole, at least
_MARGIN_MM = 1.5
_CELL_GAP_MM = 0.7  # between the hole's edge and the nearest square
_CORNER_GAP_MM = 1.2  # and the nearest corner, so that the cut stays out of its window
_SMALLEST_MM = 3.0

_LINES = (
    "Cut out the ring that just clears the mouth, its hole too, and stick it flat on the port's "
    "face round the mouth. No flash.",
    f"{PRINT_FULL_SIZE} Camera {COLLAR_SHOOT.distance_mm[0]:.0f}–"
    f"{COLLAR_SHOOT.distance_mm[1]:.0f} mm away, leaning {COLLAR_SHOOT.tilt_deg[0]:.0f}–"
    f"{COLLAR_SHOOT.tilt_deg[1]:.0f}° from square on.",
)


def _squares_across(mouth_mm: float) -> int:
    return int(np.ceil((mouth_mm + _CLEARANCE_MM + 2 * _BORDER_MM) / _SQUARE_MM))


def _size_mm(mouth_mm: float) -> float:
    return _squares_across(mouth_mm) * _SQUARE_MM + 2 * _MARGIN_MM


def _board(mouth_mm: float, corner_mm: tuple[float, float], first_id: int) -> Board:
    """Squares that the ring's largest hole leaves whole; a marker in every third white one."""
    number = _squares_across(mouth_mm)
    edge = np.abs(np.arange(number + 1) - number / 2) * _SQUARE_MM
    nearest = np.minimum(edge[:-1], edge[1:])
    nearest[nearest < _SQUARE_MM / 2 + 0.1] = 0.0
    is_cell = np.hypot(nearest[:, None], nearest) > (mouth_mm + _CLEARANCE_MM) / 2 + _CELL_GAP_MM
    rows, columns = np.indices(is_cell.shape)
    has_marker = (rows + columns + (rows - columns) * 2) // 2 % 3 == 0
    origin = (corner_mm[0] + _MARGIN_MM, corner_mm[1] + _MARGIN_MM)
    return Board(origin, _SQUARE_MM, is_cell, 0, first_id, has_marker=has_marker)


@cache
def _first_ids(paper: Paper) -> dict[float, int]:
    """First marker of every ring."""
    first, ids = FIRST_ID["collar", paper], {}
    for mouth in COLLAR_MOUTHS_MM:
        ids[mouth] = first
        first += len(_board(mouth, (0.0, 0.0), 0).marker_ids)
    return ids


def _ring(
    paper: Paper, class_mm: float, hole_mm: float, corner_mm: tuple[float, float]
) -> tuple[Piece, tuple[Shape, ...]]:
    """One ring of a class with a hole of `hole_mm` diameter."""
    board = _board(class_mm, corner_mm, _first_ids(paper)[class_mm])
    size = _size_mm(class_mm)
    outline = box_outline(*corner_mm, size, size)
    middle = (corner_mm[0] + size / 2, corner_mm[1] + size / 2)
    piece = board_piece(f"collar {class_mm:.0f}", outline, board)
    away = np.linalg.norm(piece.corners_page_mm - middle, axis=1)
    is_clear = away > (class_mm + _CLEARANCE_MM) / 2 + _CORNER_GAP_MM
    piece = replace(
        piece,
        corners_page_mm=piece.corners_page_mm[is_clear],
        hole=Hole(middle, hole_mm),
    )
    words = (f"mouth to {hole_mm - _CLEARANCE_MM:g}", f"cut {hole_mm:g} mm")
    size_mm = min(2.2, hole_mm / 9)
    labels = (
        Text((middle[0], middle[1] - 0.3), words[0], size_mm, anchor="middle"),
        Text((middle[0], middle[1] + size_mm + 0.3), words[1], size_mm, anchor="middle"),
    )
    ring = Ring(middle, hole_mm, 0.15, ink=0.5)
    return piece, (*board.shapes(), cut_lines(outline), ring, *labels)


def _page(paper: Paper, rings: list[tuple[Piece, tuple[Shape, ...]]]) -> Print:
    bar_x, bar_y = bars(paper, body_mm(paper)[0], 100.0)
    return Print(
        name=f"collar {paper} version {VERSION}",
        kind="collar",
        version=VERSION,
        paper=paper,
        page_mm=PAGE_MM[paper],
        pieces=tuple(piece for piece, _ in rings),
        bar_x=bar_x,
        bar_y=bar_y,
        bed=None,
        shoot=COLLAR_SHOOT,
        artwork=(
            *heading(paper, "port collars", _LINES),
            *(shape for _, shapes in rings for shape in shapes),
            *bar_shapes(bar_x, bar_y),
        ),
    )


def collars(paper: Paper) -> Print:
    """Build the page with a ring for every usual mouth.

    Parameters
    ----------
    paper : {"A4", "Letter"}

    Returns
    -------
    Print
    """
    left, top, _, _ = body_mm(paper)
    rings = []
    for row in _ROWS_OF_MOUTHS:
        x = left
        for mouth in row:
            rings.append(_ring(paper, mouth, mouth + _CLEARANCE_MM, (x, top)))
            x += _size_mm(mouth)
        top += max(_size_mm(mouth) for mouth in row)
    return _page(paper, rings)


def collar(paper: Paper, mouth_mm: float) -> Print:
    """Build a page with the one ring that clears a mouth.

    Parameters
    ----------
    paper : {"A4", "Letter"}
    mouth_mm : float [mm]

    Returns
    -------
    Print

    Raises
    ------
    UsageError
        No ring clears that mouth.
    """
    if not _SMALLEST_MM <= mouth_mm <= COLLAR_MOUTHS_MM[-1]:
        raise UsageError(
            f"There is no collar for a mouth of {mouth_mm:g} mm; "
            f"mouths of {_SMALLEST_MM:g} to {COLLAR_MOUTHS_MM[-1]:g} mm have one.",
            "Measure the mouth again, outside its chamfer.",
        )
    class_mm = next(mouth for mouth in COLLAR_MOUTHS_MM if mouth >= mouth_mm)
    left, top, right, _ = body_mm(paper)
    corner = ((left + right - _size_mm(class_mm)) / 2, top + 40.0)
    return _page(paper, [_ring(paper, class_mm, mouth_mm + _CLEARANCE_MM, corner)])
