"""Which of the seen markers belong together as one piece of a print."""

from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.markers import SeenMarkers
from photomeasure.references.prints import Piece

__all__ = ["MarkedPiece", "apply_map", "pieces_seen"]

_MOST_SEEDS = 16
_NEAR_SIDES = 0.6  # a true marker lies this near its place, in its own sides, on a bent sheet too
_HORIZON = 1e-9
_MANY = 30
_SEVERAL, _TIGHT_SIDES = 6, 0.2
_MOST_COPIES = 4  # the same page printed several times and laid along a route

_Map = NDArray[np.float64]  # (3, 3)


@dataclass(frozen=True, slots=True, eq=False)
class MarkedPiece:
    """One piece and those of its markers that agree on where it lies.

    Attributes
    ----------
    piece : Piece
    rows : (M,)
        Rows of the piece's markers.
    corners_px : (M, 4, 2)
    px_from_page : (3, 3)
        Homography that fits all of them: good to some pixels, it knows neither lens nor bend.
    """

    piece: Piece
    rows: NDArray[np.int64]
    corners_px: NDArray[np.float64]
    px_from_page: _Map


def apply_map(map_: _Map, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Map points by a homography; those on its horizon go very far.

    Parameters
    ----------
    map_ : (3, 3)
    points : (..., 2)

    Returns
    -------
    (..., 2)
    """
    homogeneous = points @ map_[:, :2].T + map_[:, 2]
    weight = homogeneous[..., 2:]
    return np.asarray(homogeneous[..., :2] / np.where(np.abs(weight) < _HORIZON, _HORIZON, weight))


def _fit(page: NDArray[np.float64], px: NDArray[np.float64]) -> _Map | None:
    map_, _ = cv2.findHomography(page.reshape(-1, 2), px.reshape(-1, 2), 0)
    return None if map_ is None else np.asarray(map_, dtype=np.float64)


def _inliers(
    map_: _Map, page: NDArray[np.float64], px: NDArray[np.float64], slack: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Markers all of whose corners are near their places, within `slack` [px] more for far ones."""
    off = np.linalg.norm(apply_map(map_, page) - px, axis=2).max(axis=1)
    return np.asarray(off < _NEAR_SIDES * _sides(px) + slack)


def _sides(px: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.norm(px - np.roll(px, 1, axis=1), axis=2).mean(axis=1))


def _is_tight(map_: _Map, page: NDArray[np.float64], px: NDArray[np.float64]) -> bool:
    """Tell whether few markers agree closely: three places anywhere fit some map roughly."""
    off = np.linalg.norm(apply_map(map_, page) - px, axis=2).max(axis=1)
    return len(px) >= _SEVERAL or bool(np.all(off < _TIGHT_SIDES * _sides(px)))


def _grow(
    seed: int, page: NDArray[np.float64], px: NDArray[np.float64]
) -> tuple[_Map, NDArray[np.bool_]] | None:
    """From one marker to all that agree with it, nearest first."""
    map_ = _fit(page[seed], px[seed])
    chosen = np.zeros(len(page), dtype=np.bool_)
    distance = np.linalg.norm(px.mean(axis=1) - px[seed].mean(axis=0), axis=1)
    for share in (0.08, 0.04, 0.02, 0.0):
        if map_ is None:
            return None
        # one marker's corners, a pixel off each, miss far ones by a share of the distance
        chosen = _inliers(map_, page, px, share * distance)
        if not chosen[seed]:
            return None
        map_ = _fit(page[chosen], px[chosen])
    return None if map_ is None else (map_, chosen)


def _best(
    page: NDArray[np.float64], px: NDArray[np.float64]
) -> tuple[_Map, NDArray[np.bool_]] | None:
    best: tuple[_Map, NDArray[np.bool_]] | None = None
    step = max(1, len(page) // _MOST_SEEDS)
    for seed in range(0, len(page), step):
        grown = _grow(seed, page, px)
        if grown and (best is None or grown[1].sum() > best[1].sum()):
            best = grown
        if best is not None and best[1].sum() > 0.9 * len(page):
            break
    return best


def _is_enough(piece: Piece, agreeing: int, *, is_sure: bool, is_first: bool) -> bool:
    """Tell whether so many markers prove a piece: a band shows few of its own, a sheet many."""
    if piece.order is not None:
        return agreeing >= 2 or is_sure
    if len(piece.marker_ids) < _MANY:
        return agreeing >= 2
    return agreeing >= (3 if is_first else _SEVERAL)


def _copies(piece: Piece, own: SeenMarkers) -> list[MarkedPiece]:
    """Every copy of one piece, the one with the most markers first."""
    found: list[MarkedPiece] = []
    rows = np.searchsorted(piece.marker_ids, own.ids).astype(np.int64)
    left = np.ones(len(rows), dtype=np.bool_)
    for _ in range(_MOST_COPIES):
        ids = np.flatnonzero(left)
        best = _best(piece.marker_corners_page_mm[rows[ids]], own.corners_px[ids])
        if best is None:
            break
        map_, chosen = best[0], ids[best[1]]
        left[chosen] = False
        page, px = piece.marker_corners_page_mm[rows[chosen]], own.corners_px[chosen]
        is_sure = bool(own.is_sure[chosen].all())
        if not _is_enough(piece, len(chosen), is_sure=is_sure, is_first=not found):
            break
        if _is_tight(map_, page, px):
            found.append(MarkedPiece(_copy(piece, len(found)), rows[chosen], px, map_))
    return found


@cache
def _copy(piece: Piece, number: int) -> Piece:
    """Name the second and further copies of a piece, which lie elsewhere."""
    return replace(piece, name=f"{piece.name} (copy {number + 1})") if number else piece


def pieces_seen(seen: SeenMarkers, pieces: tuple[Piece, ...]) -> list[MarkedPiece]:
    """Group markers into pieces; markers that agree with no others are dropped.

    Parameters
    ----------
    seen : SeenMarkers
    pieces : tuple of Piece
        Those that may be in the picture.

    Returns
    -------
    list of MarkedPiece
    """
    found: list[MarkedPiece] = []
    for piece in pieces:
        is_own = np.isin(seen.ids, piece.marker_ids)
        if is_own.any():
            own = SeenMarkers(seen.ids[is_own], seen.corners_px[is_own], seen.is_sure[is_own])
            found += _copies(piece, own)
    return found
