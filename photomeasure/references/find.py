"""Find printed references in a photo."""

from weakref import WeakKeyDictionary

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import BlurredError, NoReferenceError
from photomeasure.photo import Photo
from photomeasure.references.catalogue import all_prints
from photomeasure.references.consensus import MarkedPiece, pieces_seen
from photomeasure.references.corners import Corners, guess_from_markers, refine_corners
from photomeasure.references.markers import SeenMarkers, read_markers
from photomeasure.references.prints import FoundPiece, Piece, Print
from photomeasure.references.quality import sharpest_edge_px

__all__ = ["find_pieces"]

_LEAST_CORNERS = 4  # fix a plane's pose; of a band round a hose fewer may be in sight
_BLURRED_SHARE = 0.001  # of the picture's longer side: 4 px of 12 million; a sharp photo has 1
_BLURRED_PX = 3.0

# a photo is looked at first, then measured, then drawn on: its prints are found once
_found_in: WeakKeyDictionary[Photo, tuple[FoundPiece, ...]] = WeakKeyDictionary()


def _pieces() -> tuple[tuple[Print, Piece], ...]:
    return tuple((print_, piece) for print_ in all_prints() for piece in print_.pieces)


def _marked(seen: SeenMarkers) -> list[MarkedPiece]:
    return pieces_seen(seen, tuple(piece for _, piece in _pieces()))


def _print_with(piece: Piece) -> Print:
    """Whose piece it is; a copy has its markers."""
    return next(print_ for print_, own in _pieces() if own.marker_ids is piece.marker_ids)


def _found(marked: MarkedPiece, corners: Corners, width: int, *, is_mirrored: bool) -> FoundPiece:
    px = corners.px
    if is_mirrored:  # back from the flipped picture
        px = np.column_stack((width - 1 - px[:, 0], px[:, 1]))
    return FoundPiece(
        print_=_print_with(marked.piece),
        piece=marked.piece,
        corner_ids=corners.ids.astype(np.int64),
        corners_px=px,
        noise_px=corners.noise_px,
        blur_px=corners.blur_px,
        is_mirrored=is_mirrored,
    )


def _least(piece: Piece) -> int:
    return _LEAST_CORNERS if piece.order is None else 1


def _search(grey: NDArray[np.uint8], *, is_mirrored: bool) -> tuple[tuple[FoundPiece, ...], int]:
    """Find pieces in a picture as it is; also how many markers were read."""
    if is_mirrored:
        grey = np.asarray(cv2.flip(grey, 1), dtype=np.uint8)
    seen = read_markers(grey)
    found = []
    for marked in _marked(seen):
        corners = refine_corners(grey, guess_from_markers(marked))
        if corners is not None and len(corners.ids) >= _least(marked.piece):
            found.append(_found(marked, corners, grey.shape[1], is_mirrored=is_mirrored))
    found.sort(key=lambda piece: -len(piece.corner_ids))
    return tuple(found), len(seen.ids)


def find_pieces(photo: Photo) -> tuple[FoundPiece, ...]:
    """Find every piece of every print, the one with the most corners first.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    tuple of FoundPiece
        At least one. A print seen in a mirror is found too, and says so.

    Raises
    ------
    BlurredError
        No print is readable and the picture has no sharp edge anywhere.
    NoReferenceError
        No print is seen.
    """
    if photo not in _found_in:
        _found_in[photo] = _all_found(photo)
    return _found_in[photo]


def _all_found(photo: Photo) -> tuple[FoundPiece, ...]:
    found, markers = _search(photo.grey, is_mirrored=False)
    if found:
        return found
    mirrored, _ = _search(photo.grey, is_mirrored=True)
    if mirrored:
        return mirrored
    blur = sharpest_edge_px(photo.grey)
    if blur > max(_BLURRED_PX, max(photo.size_px) * _BLURRED_SHARE):
        raise BlurredError(
            f"{photo.name} is out of focus or shaken: its sharpest edges are {blur:.0f} pixels "
            "wide, and no marker of the print can be read.",
            "Rest your elbows, tap on the print to focus on it, and take it again.",
        )
    raise NoReferenceError(
        f"{photo.name} shows no printed reference: {markers} of its markers were read, and at "
        "least 3 that belong together are needed.",
        "Get the print's chessboard into the picture, flat and well lit, and take it again.",
    )
