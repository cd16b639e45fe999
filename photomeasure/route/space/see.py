"""What one photo shows of cards and bands."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import USUAL_FOCAL_MM, LensPrior, lens_prior
from photomeasure.photo import Photo
from photomeasure.references.catalogue import all_prints
from photomeasure.references.consensus import pieces_seen
from photomeasure.references.corners import guess_from_markers, refine_corners
from photomeasure.references.markers import SeenMarkers, propose_bent, propose_quads, read_markers
from photomeasure.references.prints import FoundPiece, Piece, Print
from photomeasure.route.space.curled import read_curled

__all__ = ["BandMark", "Shot", "see"]

USUAL_DISTANCE_MM = 600.0
LEAST_CORNERS = 6  # of a card


@dataclass(frozen=True, slots=True, eq=False)
class BandMark:
    """One marker of a band, read.

    Attributes
    ----------
    print_, piece
        Whose it is.
    row : int
        Of the piece's markers.
    corners_px : (4, 2)
        Good to some pixels.
    """

    print_: Print
    piece: Piece
    row: int
    corners_px: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """One photo without its pixels.

    Attributes
    ----------
    name, key, lens_key : str
    size_px : (width, height)
    lens : LensPrior
        For something 600 mm away.
    focal_mm : float [mm]
    cards : tuple of FoundPiece
    marks : tuple of BandMark
    blur_px : float
    warnings : tuple of str
    """

    name: str
    key: str
    lens_key: str
    size_px: tuple[int, int]
    lens: LensPrior
    focal_mm: float
    cards: tuple[FoundPiece, ...]
    marks: tuple[BandMark, ...]
    blur_px: float
    warnings: tuple[str, ...]


def see(photo: Photo) -> Shot:
    """Find the cards, and read the markers of the bands.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    Shot
    """
    quads = propose_quads(photo.grey)
    seen = read_markers(photo.grey, quads)
    cards = _cards(photo, seen)
    quads = np.concatenate([quads, propose_bent(photo.grey)])
    hint = photo.focal_hint
    blurs = [card.blur_px for card in cards]
    return Shot(
        name=photo.name,
        key=photo.key,
        lens_key=photo.lens_key,
        size_px=photo.size_px,
        lens=lens_prior(photo, USUAL_DISTANCE_MM),
        focal_mm=(hint.focal_mm if hint else None) or USUAL_FOCAL_MM,
        cards=cards,
        marks=(*_marks(seen), *_marks(read_curled(photo.grey, quads, seen))),
        blur_px=float(np.median(blurs)) if blurs else 1.0,
        warnings=photo.warnings,
    )


def _cards(photo: Photo, seen: SeenMarkers) -> tuple[FoundPiece, ...]:
    prints = [p for p in all_prints() if p.kind in ("markers", "sheet")]
    own = [(print_, piece) for print_ in prints for piece in print_.pieces]
    found = []
    for marked in pieces_seen(seen, tuple(piece for _, piece in own)):
        corners = refine_corners(photo.grey, guess_from_markers(marked))
        print_ = next(p for p, piece in own if piece.marker_ids is marked.piece.marker_ids)
        if corners is None or len(corners.ids) < LEAST_CORNERS or _is_copy(marked.piece):
            continue
        ids = corners.ids.astype(np.int64)
        found.append(
            FoundPiece(
                print_, marked.piece, ids, corners.px, corners.noise_px, corners.blur_px, False
            )
        )
    return tuple(found)


def _is_copy(piece: Piece) -> bool:
    """Two copies of one card cannot be told apart from photo to photo."""
    return "(copy" in piece.name


def _marks(seen: SeenMarkers) -> tuple[BandMark, ...]:
    marks = []
    for print_ in all_prints():
        if print_.kind != "bands":
            continue
        for piece in print_.pieces:
            for k in np.flatnonzero(np.isin(seen.ids, piece.marker_ids)):
                row = int(np.searchsorted(piece.marker_ids, seen.ids[k]))
                marks.append(BandMark(print_, piece, row, seen.corners_px[k]))
    return tuple(marks)
