"""Chessboard corners of a piece to sub-pixel, each with a check that it is one and its noise."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.consensus import MarkedPiece, apply_map
from photomeasure.references.patches import fit_patches
from photomeasure.references.prints import Piece
from photomeasure.references.quality import blur_px, corner_noise_px, grain, sample
from photomeasure.references.trend import bent_trend, straight_trend

__all__ = ["Corners", "Guess", "guess_from_markers", "refine_corners"]

Points2 = NDArray[np.float64]  # (N, 2)
Grey = NDArray[np.uint8]

_WINDOW_SHARE = 0.12  # half window over a square's side: clear of the markers, which begin at 0.15
_LEAST_WINDOW_PX, _MOST_WINDOW_PX = 2, 16
_STOP = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 25, 0.002)
_LEAST_CONTRAST = 15.0  # grey levels
_MOST_UNEQUAL = 0.35  # two squares of one colour may differ by this share of the contrast
_SHADE_PX = 2.0  # error of a corner in glare or a shadow's edge, over that share (projected boards)
_MOST_UNEVEN = 0.25  # and the inside of one square by this
_QUADRANT_DEG = np.array([25.0, 45.0, 65.0])
_RADII = np.array([0.65, 1.0])  # in half windows
_LEAST_NEIGHBOURS = 8
_LEAST_OFF_PX = 0.35
_OFF_MEDIANS = 7.0  # a board that is uneven all over is not a board of false corners
_BLACK_SHARE = 0.4  # of a square, both ways from the corner: well inside a black square
_BLANK_SHARE = 0.075  # and in the middle of the white round a marker
_ROOM_FOR_BLANKS_PX, _ROOM_FOR_BLOCKS_PX, _BLOCK_PX = 80.0, 24.0, 3
_SMALL_SQUARE_PX = 40.0  # below it what lies between a corner and the markers is too little
_ALIKE = 0.9  # correlation of photo and print round a corner; 0.99 where nothing lies over it
_PATCH_NOISE_PX = 0.003  # of such a corner beside noise: what the drawing does not know
_OFF_SHARE = 0.01  # a corner may stand off from its neighbours' trend by this share of a square


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """Corners of a piece.

    Attributes
    ----------
    ids : (K,)
        Rows of the piece's corners.
    px : (K, 2)
    noise_px : (K,)
    blur_px : float
    """

    ids: NDArray[np.int64]
    px: Points2
    noise_px: NDArray[np.float64]
    blur_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Guess:
    """Where a piece's corners should be.

    Attributes
    ----------
    piece : Piece
    px_from_page : (3, 3)
        Homography that roughly fits the whole piece.
    px : (K, 2)
        Every corner of the piece, to a few pixels.
    """

    piece: Piece
    px_from_page: NDArray[np.float64]
    px: Points2


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where corners should be and how the page lies there."""

    px: Points2  # (K, 2)
    jacobian: NDArray[np.float64]  # (K, 2, 2) px per mm
    square_px: NDArray[np.float64]  # (K,) the shorter side of a square there


def _jacobians(map_: NDArray[np.float64], page: Points2) -> NDArray[np.float64]:
    """(N, 2, 2) px per mm of a homography at page points."""
    weight = page @ map_[2, :2] + map_[2, 2]
    mapped = apply_map(map_, page)
    linear = map_[None, :2, :2] - mapped[:, :, None] * map_[2, :2]
    return np.asarray(linear / weight[:, None, None])


def _shorter(jacobian: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N,) px per mm along the direction that is foreshortened most."""
    return np.asarray(np.linalg.svd(jacobian, compute_uv=False)[:, -1], dtype=np.float64)


def _longer(jacobian: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.linalg.svd(jacobian, compute_uv=False)[:, 0], dtype=np.float64)


def guess_from_markers(marked: MarkedPiece) -> Guess:
    """Predict every corner from the homography and the markers' departures from it.

    Parameters
    ----------
    marked : MarkedPiece

    Returns
    -------
    Guess
    """
    page = marked.piece.corners_page_mm
    markers = marked.piece.marker_corners_page_mm[marked.rows]
    departures = (marked.corners_px - apply_map(marked.px_from_page, markers)).mean(axis=1)
    trend = straight_trend(page, markers.mean(axis=1), departures)
    return Guess(marked.piece, marked.px_from_page, apply_map(marked.px_from_page, page) + trend)


def _places(guess: Guess, square_mm: float) -> _Places:
    jacobian = _jacobians(guess.px_from_page, guess.piece.corners_page_mm)
    return _Places(guess.px, jacobian, square_mm * _shorter(jacobian))


def _windows(square_px: NDArray[np.float64]) -> NDArray[np.int64]:
    windows = np.floor(_WINDOW_SHARE * square_px).astype(np.int64)
    return np.clip(windows, _LEAST_WINDOW_PX, _MOST_WINDOW_PX)


def _refine(grey: Grey, places: Points2, windows: NDArray[np.int64]) -> Points2:
    """Move corners to the saddle point; (nan, nan) where it leaves its window or the picture."""
    height, width = grey.shape
    refined = np.full_like(places, np.nan)
    margin = windows + 3
    inside = np.all((places >= margin[:, None]), axis=1)
    inside &= (places[:, 0] <= width - 1 - margin) & (places[:, 1] <= height - 1 - margin)
    for window in np.unique(windows[inside]):
        chosen = np.flatnonzero(inside & (windows == window))
        start = places[chosen].astype(np.float32).reshape(-1, 1, 2)
        half = int(window), int(window)
        moved = cv2.cornerSubPix(grey, start.copy(), half, (-1, -1), _STOP)
        refined[chosen] = moved.reshape(-1, 2)
    return refined


def _black_is_right_down(guess: Guess) -> NDArray[np.bool_]:
    """(K,) whether the square right of and below each corner is black."""
    page, squares = guess.piece.corners_page_mm, guess.piece.squares_page_mm
    top_left = {tuple(np.round(square[0], 3)) for square in squares}
    return np.array([tuple(np.round(corner, 3)) in top_left for corner in page], dtype=np.bool_)


@dataclass(frozen=True, slots=True, eq=False)
class _Quadrants:
    """Brightness of the four squares round each corner."""

    contrast: NDArray[np.float64]  # (K,) white less black
    unequal: NDArray[np.float64]  # (K,) difference of two squares of one colour
    is_saddle: NDArray[np.bool_]  # (K,)


def _look(
    grey: Grey, px: Points2, places: _Places, windows: NDArray[np.int64], black: NDArray[np.bool_]
) -> _Quadrants:
    """Sample two arcs in each of the four squares; quadrants are right-down, left-down, ..."""
    angle = np.deg2rad(_QUADRANT_DEG + 90 * np.arange(4)[:, None])
    unit = np.stack((np.cos(angle), np.sin(angle)), axis=2)[:, None] * _RADII[:, None, None]
    shape = places.jacobian / _shorter(places.jacobian)[:, None, None]
    steps = np.einsum("kij,qrsj->kqrsi", shape, unit) * windows[:, None, None, None, None]
    values = sample(grey, px[:, None, None, None, :] + steps)
    values = values.reshape(len(px), 4, -1)
    mean, uneven = values.mean(axis=2), values.std(axis=2).max(axis=1)
    pair_a, pair_b = mean[:, 0::2], mean[:, 1::2]  # opposite squares have one colour
    contrast = np.where(black, 1, -1) * (pair_b.mean(axis=1) - pair_a.mean(axis=1))
    unequal = np.maximum(np.ptp(pair_a, axis=1), np.ptp(pair_b, axis=1))
    is_saddle = (
        (contrast >= _LEAST_CONTRAST)
        & (unequal <= _MOST_UNEQUAL * contrast)
        & (uneven <= _MOST_UNEVEN * contrast)
    )
    return _Quadrants(contrast, unequal, is_saddle)


def _agreeing(
    px: Points2, is_good: NDArray[np.bool_], guess: Guess, square_px: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Drop corners that stand off from the trend of their neighbours, the worst first."""
    page = guess.piece.corners_page_mm
    residual = px - apply_map(guess.px_from_page, page)
    is_good = is_good.copy()
    for slack in (4.0, 2.0, 1.0):
        ids = np.flatnonzero(is_good)
        if len(ids) <= _LEAST_NEIGHBOURS:
            return is_good
        trend = bent_trend(page[ids], residual[ids])
        off = np.linalg.norm(residual[ids] - trend, axis=1)
        least = max(_LEAST_OFF_PX, _OFF_MEDIANS * float(np.median(off)))
        limit = slack * np.maximum(_OFF_SHARE * square_px[ids], least)
        is_good[ids[off > limit]] = False
    return is_good


@dataclass(frozen=True, slots=True, eq=False)
class _Try:
    px: Points2
    looked: _Quadrants
    is_good: NDArray[np.bool_]


def _try(grey: Grey, places: _Places, guess: Guess, black: NDArray[np.bool_]) -> _Try:
    windows = _windows(places.square_px)
    px = _refine(grey, places.px, windows)
    off = np.linalg.norm(px - places.px, axis=1)
    is_good = off <= np.maximum(1.5, windows)  # a comparison with nan is false
    looked = _look(grey, np.nan_to_num(px), places, windows, black)
    is_good = _agreeing(px, is_good & looked.is_saddle, guess, places.square_px)
    return _Try(px, looked, is_good)


def _better_places(guess: Guess, places: _Places, tried: _Try) -> _Places:
    """Predict again, now from the corners already found."""
    page, ids = guess.piece.corners_page_mm, np.flatnonzero(tried.is_good)
    plain = apply_map(guess.px_from_page, page)
    px = plain + straight_trend(page, page[ids], tried.px[ids] - plain[ids])
    return _Places(px, places.jacobian, places.square_px)


def refine_corners(grey: Grey, guess: Guess) -> Corners | None:
    """Find every corner of a piece that can be seen.

    Parameters
    ----------
    grey : (height, width) uint8
    guess : Guess

    Returns
    -------
    Corners or None
        None where no corner is good.
    """
    square_mm = float(np.ptp(guess.piece.squares_page_mm[0, :, 0]))
    places = _places(guess, square_mm)
    if np.median(places.square_px) < _SMALL_SQUARE_PX:
        return _small_corners(grey, guess, places)
    return _large_corners(grey, guess, places, square_mm)


def _small_corners(grey: Grey, guess: Guess, places: _Places) -> Corners | None:
    """Fit the print's picture round each corner."""
    square_px = float(np.median(places.square_px))
    found = fit_patches(grey, guess.piece, guess.px_from_page, places.px, square_px)
    is_good = (found.alike >= _ALIKE) & (found.contrast >= _LEAST_CONTRAST)
    is_good = _agreeing(found.px, is_good, guess, places.square_px)
    ids = np.flatnonzero(is_good)
    if not len(ids):
        return None
    noise = np.hypot(_PATCH_NOISE_PX, found.noise_px[ids])
    return Corners(ids, found.px[ids], noise, found.blur_px)


def _large_corners(grey: Grey, guess: Guess, places: _Places, square_mm: float) -> Corners | None:
    black = _black_is_right_down(guess)
    tried = _try(grey, places, guess, black)
    if 0 < tried.is_good.sum() < len(black):
        tried = _try(grey, _better_places(guess, places, tried), guess, black)
    ids = np.flatnonzero(tried.is_good)
    if not len(ids):
        return None
    px, windows = tried.px[ids], _windows(places.square_px[ids])
    blur = blur_px(grey, px, places.jacobian[ids], square_mm)
    level = _grain(grey, px, places.jacobian[ids] * square_mm, black[ids])
    slant = _longer(places.jacobian[ids]) / _shorter(places.jacobian[ids])
    contrast = tried.looked.contrast[ids]
    noise = corner_noise_px(level, contrast, blur, windows, slant)
    unequal = tried.looked.unequal[ids] / contrast
    shade = _SHADE_PX * np.clip(unequal - 3 * np.median(unequal), 0, None)
    return Corners(ids, px, np.hypot(noise, shade), blur)


def _grain(grey: Grey, px: Points2, square: NDArray[np.float64], black: NDArray[np.bool_]) -> float:
    """Noise of the picture in black squares and, where there is room, white ones."""
    turn = np.where(black, 1.0, -1.0)[:, None]
    black_middle = px + _BLACK_SHARE * (square[:, :, 0] * turn + square[:, :, 1])
    fine = grain(grey, black_middle)
    side = float(np.median(_shorter(square)))
    smoothing = grain(grey, black_middle, _BLOCK_PX) / fine if side > _ROOM_FOR_BLOCKS_PX else 1.0
    level = fine
    if side > _ROOM_FOR_BLANKS_PX:
        blank = px + _BLANK_SHARE * (square[:, :, 1] - square[:, :, 0] * turn)
        level = float(np.hypot(fine, grain(grey, blank)) / np.sqrt(2))
    return level * max(smoothing, 1.0)
