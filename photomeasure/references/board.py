"""Chessboards with markers in their white squares: the part that all references share."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.artwork import Marker, Rectangles, Shape
from photomeasure.references.prints import Piece

__all__ = [
    "DICTIONARY",
    "MARKER_MODULES",
    "Board",
    "board_piece",
    "marker_ink",
    "squares_of_boxes",
]

# 5x5 bits and 1000 ids, 7 modules with the black border. Read in a blurred and noisy rendering of
# the sheet (154 markers of 7 mm): at 2.5 px/mm 77 of 5x5, 11 of 6x6, 142 of 4x4, which alone also
# gave false ones; the board's geometry settles what fewer bits leave open.
DICTIONARY = cv2.aruco.DICT_5X5_1000
MARKER_MODULES = 7


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """A chessboard of any outline on a square grid.

    Attributes
    ----------
    origin_mm : tuple of float
        Top left corner of the grid on the page.
    square_mm : float
    is_cell : (rows, columns) bool
        Which squares of the grid exist; the rest is blank paper.
    white_parity : {0, 1}
        A square is white where (row + column) % 2 equals this.
    first_id : int
        Marker of the first white square that has one; the others count on, row by row.
    marker_share : float
        Side of a marker over the side of a square.
    has_marker : (rows, columns) bool, optional
        Which of the white squares carry a marker; all of them unless given.
    """

    origin_mm: tuple[float, float]
    square_mm: float
    is_cell: NDArray[np.bool_]
    white_parity: int
    first_id: int
    marker_share: float = 0.7
    has_marker: NDArray[np.bool_] | None = None

    def _parity(self) -> NDArray[np.int64]:
        rows, columns = np.indices(self.is_cell.shape)
        return np.asarray((rows + columns) % 2, dtype=np.int64)

    def _boxes(self, chosen: NDArray[np.bool_]) -> NDArray[np.float64]:
        rows, columns = np.nonzero(chosen)
        corner = np.column_stack((columns, rows)) * self.square_mm + np.asarray(self.origin_mm)
        return np.hstack((corner, corner + self.square_mm))

    @property
    def black_boxes_mm(self) -> NDArray[np.float64]:
        """(N, 4) left, top, right, bottom of the black squares [mm]."""
        return self._boxes(self.is_cell & (self._parity() != self.white_parity))

    @property
    def marker_boxes_mm(self) -> NDArray[np.float64]:
        """(M, 4) left, top, right, bottom of the markers [mm]."""
        chosen = self.is_cell & (self._parity() == self.white_parity)
        if self.has_marker is not None:
            chosen &= self.has_marker
        margin = self.square_mm * (1 - self.marker_share) / 2
        return np.asarray(self._boxes(chosen) + np.array([1, 1, -1, -1]) * margin)

    @property
    def marker_ids(self) -> NDArray[np.int64]:
        """(M,) in rising order."""
        return self.first_id + np.arange(len(self.marker_boxes_mm), dtype=np.int64)

    @property
    def corners_mm(self) -> NDArray[np.float64]:
        """(K, 2) where black meets black across white: the true chessboard corners [mm].

        Blank paper counts as white, so the corner of a cut-out is one where its squares fit.
        """
        black = np.pad(self.is_cell & (self._parity() != self.white_parity), 1)
        a, b, c, d = black[:-1, :-1], black[:-1, 1:], black[1:, :-1], black[1:, 1:]
        rows, columns = np.nonzero((a == d) & (b == c) & (a != b))
        points = np.column_stack((columns, rows)) * self.square_mm
        return np.asarray(points + np.asarray(self.origin_mm), dtype=np.float64)

    def shapes(self) -> tuple[Shape, ...]:
        """Squares and markers as marks on the page."""
        markers = zip(self.marker_ids, self.marker_boxes_mm, strict=True)
        return (
            Rectangles(self.black_boxes_mm),
            *(Marker(int(i), box) for i, box in markers),
        )


@cache
def _black_runs(marker_id: int) -> tuple[tuple[int, int, int, int], ...]:
    """List the runs of black modules, row by row: left, top, right, bottom in modules."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    modules = dictionary.generateImageMarker(marker_id, MARKER_MODULES)
    runs = []
    for row, line in enumerate(modules < 128):
        steps = np.flatnonzero(np.diff(np.concatenate(([False], line, [False])).astype(np.int8)))
        runs += [(int(a), row, int(b), row + 1) for a, b in steps.reshape(-1, 2)]
    return tuple(runs)


def marker_ink(marker: Marker) -> Rectangles:
    """Black parts of a marker, as rectangles that meet but do not overlap."""
    runs = np.asarray(_black_runs(marker.marker_id), dtype=np.float64)
    start, size = marker.box_mm[:2], marker.box_mm[2:] - marker.box_mm[:2]
    return Rectangles(np.tile(start, 2) + runs / MARKER_MODULES * np.tile(size, 2), marker.ink)


def squares_of_boxes(boxes_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of boxes, clockwise as printed from the top left.

    Parameters
    ----------
    boxes_mm : (N, 4) [mm]

    Returns
    -------
    (N, 4, 2) [mm]
    """
    return np.asarray(boxes_mm[:, [[0, 1], [2, 1], [2, 3], [0, 3]]])


def board_piece(name: str, outline_page_mm: NDArray[np.float64], board: Board) -> Piece:
    """Describe a piece that carries a board; what else it has is for `dataclasses.replace`.

    Parameters
    ----------
    name : str
    outline_page_mm : (N, 2) [mm]
    board : Board

    Returns
    -------
    Piece
    """
    return Piece(
        name=name,
        outline_page_mm=outline_page_mm,
        marker_ids=board.marker_ids,
        marker_corners_page_mm=squares_of_boxes(board.marker_boxes_mm),
        corners_page_mm=board.corners_mm,
        squares_page_mm=squares_of_boxes(board.black_boxes_mm),
    )
