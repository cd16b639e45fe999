"""Plain chessboards without markers: any board of squares as a reference, found whole."""

import cv2
import numpy as np

from photomeasure.errors import NoReferenceError
from photomeasure.photo import Photo
from photomeasure.references.board import squares_of_boxes
from photomeasure.references.corners import Guess, refine_corners
from photomeasure.references.page import box_outline
from photomeasure.references.prints import Bar, FoundPiece, Piece, Print, Shoot

__all__ = ["chessboard_print", "find_chessboard"]


def chessboard_print(columns: int, rows: int, square_mm: float) -> Print:
    """Describe a board by its inner corners.

    Parameters
    ----------
    columns, rows : int
        Inner corners across and down; one more square each way.
    square_mm : float [mm]

    Returns
    -------
    Print
        The page is the board; its top left square is black, and its edges serve as check bars.
    """
    width, height = (columns + 1) * square_mm, (rows + 1) * square_mm
    y, x = np.mgrid[1 : rows + 1, 1 : columns + 1] * square_mm
    r, c = np.indices((rows + 1, columns + 1))
    is_black = (r + c) % 2 == 0
    top_left = np.column_stack((c[is_black], r[is_black])) * square_mm
    piece = Piece(
        name="chessboard",
        outline_page_mm=box_outline(0.0, 0.0, width, height),
        marker_ids=np.empty(0, dtype=np.int64),
        marker_corners_page_mm=np.empty((0, 4, 2)),
        corners_page_mm=np.column_stack((x.ravel(), y.ravel())).astype(np.float64),
        squares_page_mm=squares_of_boxes(np.hstack((top_left, top_left + square_mm))),
    )
    return Print(
        name=f"chessboard of {columns} x {rows} corners, {square_mm:g} mm",
        kind="sheet",
        version=0,
        paper="A4",
        page_mm=(width, height),
        pieces=(piece,),
        bar_x=Bar((0.0, 0.0), (width, 0.0), width),
        bar_y=Bar((0.0, 0.0), (0.0, height), height),
        bed=None,
        shoot=Shoot((100.0, 3000.0), (0.0, 60.0)),
    )


def find_chessboard(photo: Photo, board: Print) -> FoundPiece:
    """Find a plain board, all of whose corners are in the picture.

    Parameters
    ----------
    photo : Photo
    board : Print
        From `chessboard_print`.

    Returns
    -------
    FoundPiece

    Raises
    ------
    NoReferenceError
        The board is not seen whole.
    """
    piece = board.pieces[0]
    page = piece.corners_page_mm
    columns = len(np.unique(page[:, 0]))
    size = columns, len(page) // columns
    is_seen, seen = cv2.findChessboardCornersSB(
        photo.grey, size, flags=cv2.CALIB_CB_NORMALIZE_IMAGE
    )
    if is_seen:
        start = np.asarray(seen, dtype=np.float64).reshape(-1, 2)
        for px in (start, start[::-1]):  # the finder may begin at either end
            map_, _ = cv2.findHomography(page, px, 0)
            corners = refine_corners(photo.grey, Guess(piece, np.asarray(map_), px))
            if corners is not None:
                return FoundPiece(
                    print_=board,
                    piece=piece,
                    corner_ids=corners.ids.astype(np.int64),
                    corners_px=corners.px,
                    noise_px=corners.noise_px,
                    blur_px=corners.blur_px,
                    is_mirrored=bool(np.linalg.det(map_[:2, :2]) < 0),
                )
    raise NoReferenceError(
        f"{photo.name} does not show the whole chessboard of {size[0]} x {size[1]} corners.",
        "Get the whole board into the picture, flat and well lit.",
    )
