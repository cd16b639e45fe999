"""The sheet: a chessboard with markers round a bed for a fitting.

The bed is white but for pale yellow dots. Red and green light do not see them, so that edges are
measured as on plain white; blue light tells by them where paper lies open, in any shade.
"""

import numpy as np

from photomeasure.references.artwork import Rectangles
from photomeasure.references.board import Board, board_piece
from photomeasure.references.page import (
    FIRST_ID,
    PAGE_MM,
    PRINT_FULL_SIZE,
    VERSION,
    bar_shapes,
    bars,
    heading,
    page_outline,
)
from photomeasure.references.prints import Bed, Paper, Print, Shoot
from photomeasure.references.speckle import YELLOW, speckle

__all__ = ["SHEET_SHOOT", "sheet"]

SHEET_SHOOT = Shoot(distance_mm=(190.0, 260.0), tilt_deg=(0.0, 20.0))

_SQUARE_MM = 10.0
_COLUMNS = 17
_ROWS: dict[Paper, int] = {"A4": 25, "Letter": 23}
_BED_SQUARES = (9, 13)  # across, down
_TOP_MM = 25.0


def _board(paper: Paper) -> tuple[Board, Bed]:
    rows, (bed_columns, bed_rows) = _ROWS[paper], _BED_SQUARES
    left, top = (_COLUMNS - bed_columns) // 2, (rows - bed_rows) // 2
    is_cell = np.ones((rows, _COLUMNS), dtype=np.bool_)
    is_cell[top : top + bed_rows, left : left + bed_columns] = False
    origin = (np.round((PAGE_MM[paper][0] - _COLUMNS * _SQUARE_MM) / 2, 1), _TOP_MM)
    # white squares point at the bed's corners, which makes those corners measurable too
    board = Board(origin, _SQUARE_MM, is_cell, (left + top) % 2, FIRST_ID["sheet", paper])
    centre = (origin[0] + _COLUMNS * _SQUARE_MM / 2, origin[1] + rows * _SQUARE_MM / 2)
    size = (bed_columns * _SQUARE_MM, bed_rows * _SQUARE_MM)
    return board, Bed(centre, size, speckle(centre, size))


def _how_to(shoot: Shoot) -> tuple[str, str]:
    near, far = shoot.distance_mm
    lean = shoot.tilt_deg[1]
    return (
        f"Lay the fitting on the dotted bed and aim at its thread from {near:.0f}–{far:.0f} mm; "
        f"lean up to {lean:.0f}° sideways across it, not along it. No flash.",
        f"Print in colour. {PRINT_FULL_SIZE} Fix the sheet's four corners to something flat.",
    )


def sheet(paper: Paper) -> Print:
    """Build the sheet as data.

    Parameters
    ----------
    paper : {"A4", "Letter"}

    Returns
    -------
    Print
    """
    board, bed = _board(paper)
    bar_x, bar_y = bars(paper, board.origin_mm[0], board.origin_mm[1] + 75.0)
    piece = board_piece("sheet", page_outline(paper), board)
    return Print(
        name=f"sheet {paper} version {VERSION}",
        kind="sheet",
        version=VERSION,
        paper=paper,
        page_mm=PAGE_MM[paper],
        pieces=(piece,),
        bar_x=bar_x,
        bar_y=bar_y,
        bed=bed,
        shoot=SHEET_SHOOT,
        artwork=(
            *heading(paper, "fitting sheet", _how_to(SHEET_SHOOT)),
            *board.shapes(),
            Rectangles(bed.dots_mm, absorbs=YELLOW),
            *bar_shapes(bar_x, bar_y),
        ),
    )
