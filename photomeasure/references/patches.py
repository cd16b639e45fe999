"""Corners of small or blurred squares: the print's own picture slid over the photo round each.

Where a square is a few pixels wide, what is clear of its neighbours round a corner is too little to
find the corner by. But all that lies there is known: squares, markers, blank paper. Drawn with the
picture's blur and laid over it, it fits in one place only.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.artwork import Marker
from photomeasure.references.board import marker_ink
from photomeasure.references.consensus import apply_map
from photomeasure.references.prints import Piece

__all__ = ["Patches", "fit_patches"]

Points2 = NDArray[np.float64]  # (N, 2)
Stack = NDArray[np.float64]  # (K, n, n)
Grey = NDArray[np.uint8]

_TEXELS_PER_MM = 10
_FINE = 3  # samples a pixel, each way
_PIXEL_PX = 12**-0.5  # standard deviation of a pixel's own width
_MARGIN_PX = 6  # drawn beyond a patch, for the blur
_REACH_SHARE = 0.55  # of a square's side, from the corner to its patch's border
_REACH_PX = (5, 16)
_BLURS_PX = (0.5, 0.7, 0.95, 1.3, 1.8, 2.5)
_PATCHES_LOOKED_AT = 10  # to tell the blur
_INK, _PAPER = 0.05, 0.8  # reflectance; common practice, no source
_GAMMAS = (1 / 2.2, 0.7, 1.0)  # of what is stored: a phone's, with its contrast raised, or none
_ROUNDS = 4
_OFF = 4.0  # usual residuals, beyond which a pixel shows something else
_ROWS_AT_ONCE = 30000  # the library that samples pictures ends at 32 767


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """What was found round each corner.

    Attributes
    ----------
    px : (K, 2)
    noise_px : (K,)
    contrast : (K,)
        White less black [grey levels].
    alike : (K,)
        Correlation of photo and print.
    blur_px : float
        Standard deviation, a pixel's own width in it.
    """

    px: Points2
    noise_px: NDArray[np.float64]
    contrast: NDArray[np.float64]
    alike: NDArray[np.float64]
    blur_px: float


@cache
def _drawn(piece: Piece) -> tuple[NDArray[np.uint8], Points2]:
    """Draw a piece, 255 for paper and 0 for ink, and give its top left corner on the page."""
    low, high = piece.outline_page_mm.min(axis=0), piece.outline_page_mm.max(axis=0)
    size = np.ceil((high - low) * _TEXELS_PER_MM).astype(int)
    picture = np.full((size[1], size[0]), 255.0, np.float32)
    boxes = [np.hstack((piece.squares_page_mm[:, 0], piece.squares_page_mm[:, 2]))]
    for number, corners in zip(piece.marker_ids, piece.marker_corners_page_mm, strict=True):
        boxes.append(marker_ink(Marker(int(number), np.hstack((corners[0], corners[2])))).boxes_mm)
    for left, top, right, bottom in (np.vstack(boxes) - np.tile(low, 2)) * _TEXELS_PER_MM:
        x, across = _covered(left, right)
        y, down = _covered(top, bottom)
        picture[y, x] -= 255 * down[:, None] * across
    return np.clip(np.round(picture), 0, 255).astype(np.uint8), np.asarray(low)


def _covered(start: float, stop: float) -> tuple[slice, NDArray[np.float32]]:
    """Texels of a row that lie between two places, and how much of each does."""
    first, last = int(np.floor(start + 1e-6)), int(np.ceil(stop - 1e-6))
    at = np.arange(first, last)
    share = np.minimum(at + 1, stop) - np.maximum(at, start)
    return slice(first, last), share.astype(np.float32)


def _kernel(reach: int, blur_px: float) -> NDArray[np.float64]:
    """From fine samples to pixels: the pixel's own width and the blur, (n, m)."""
    fine = (np.arange((2 * (reach + _MARGIN_PX) + 1) * _FINE) + 0.5) / _FINE - 0.5
    away = fine[None] - _MARGIN_PX - np.arange(2 * reach + 1)[:, None]
    weight = np.exp(-0.5 * away**2 / (blur_px**2 + _PIXEL_PX**2))
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


class _Drawing:
    """The print as it should look round each corner, for any places of the corners."""

    def __init__(self, piece: Piece, px_from_page: NDArray[np.float64], reach: int) -> None:
        self.picture, low_mm = _drawn(piece)
        texel_from_page = np.diag([_TEXELS_PER_MM, _TEXELS_PER_MM, 1.0])
        texel_from_page[:2, 2] = -low_mm * _TEXELS_PER_MM - 0.5
        self.texel_from_px = texel_from_page @ np.linalg.inv(px_from_page)
        self.plain_px = apply_map(px_from_page, piece.corners_page_mm)
        side = (np.arange((2 * (reach + _MARGIN_PX) + 1) * _FINE) + 0.5) / _FINE - 0.5
        self.side = side - reach - _MARGIN_PX

    def fine(self, ids: NDArray[np.int64], off_px: Points2) -> NDArray[np.float32]:
        """Fine samples round pixels that lie `off_px` from the corners' places, (K, m, m)."""
        at = self.plain_px[ids] + off_px
        middle = (at @ self.texel_from_px[:, :2].T + self.texel_from_px[:, 2]).astype(np.float32)
        right, down = (
            (self.texel_from_px[:, k, None] * self.side).astype(np.float32) for k in (0, 1)
        )
        rows = middle[:, :, None] + down
        weight = rows[:, 2, :, None] + right[2]
        maps = ((rows[:, k, :, None] + right[k]) / weight for k in (0, 1))
        x, y = (one.reshape(-1, len(self.side)) for one in maps)
        parts = [
            cv2.remap(
                self.picture, x[rows], y[rows], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
            )
            for rows in np.array_split(np.arange(len(x)), len(x) // _ROWS_AT_ONCE + 1)
        ]
        size = (len(ids), len(self.side), len(self.side))
        return np.concatenate(parts).reshape(size).astype(np.float32)


@dataclass(frozen=True, slots=True)
class _Look:
    """How the picture was taken: standard deviation of its blur, and its tone curve's power."""

    blur_px: float
    gamma: float


def _toned(fine: NDArray[np.float32], reach: int, look: _Look) -> Stack:
    """Blur in light, then the tone curve, 0 for ink and 1 for paper."""
    narrow = _kernel(reach, look.blur_px).astype(np.float32)
    blurred = np.matmul(np.matmul(narrow, fine), narrow.T) / np.float32(255)
    ink, paper = _INK**look.gamma, _PAPER**look.gamma
    light = np.clip(_INK + (_PAPER - _INK) * blurred, 0, None)
    return np.asarray((light**look.gamma - ink) / (paper - ink), dtype=np.float64)


def _cut(grey: Grey, middle: NDArray[np.int64], reach: int) -> Stack:
    """Pixels round whole places, (K, n, n)."""
    steps = np.arange(-reach, reach + 1)
    rows = middle[:, 1, None, None] + steps[:, None]
    columns = middle[:, 0, None, None] + steps[None, :]
    return np.asarray(grey[rows, columns], dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """Least squares of photo = contrast * print + level + slopes, the print shifted."""

    shift_px: Points2  # (K, 2)
    contrast: NDArray[np.float64]  # (K,)
    alike: NDArray[np.float64]  # (K,)
    noise_px: NDArray[np.float64]  # (K,)
    misfit: NDArray[np.float64]  # (K,) mean square, over the contrast's square


def _fit(seen: Stack, drawn: Stack) -> _Fit:
    """Fit twice: the second time without what the drawing lacks, as writing or dirt."""
    number, size = len(seen), seen.shape[1]
    design, inside = _design(drawn)
    values = seen.reshape(number, -1)
    first = values - (design @ _solved(design, values, inside)[0])[..., 0]
    usual = 1.4826 * np.median(np.abs(first), axis=1, keepdims=True)
    weight = inside * (np.abs(first) < _OFF * usual + 1.0)
    answer, inverse = _solved(design, values, weight)
    contrast = answer[:, 0, 0]
    safe = np.where(np.abs(contrast) < 1.0, 1.0, contrast)
    rest = (values - (design @ answer)[..., 0]) * weight
    mean_square = np.sum(rest**2, axis=1) / np.maximum(weight.sum(axis=1) - 6, 1.0) / safe**2
    variance = np.trace(inverse[:, 1:3, 1:3], axis1=1, axis2=2) / 2 * mean_square
    variance *= _likeness(rest, design[..., 1] * weight, size)
    return _Fit(
        answer[:, 1:3, 0] / safe[:, None],
        contrast,
        _correlation(values, values - first, inside),
        np.sqrt(variance),
        mean_square,
    )


def _design(drawn: Stack) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What a patch is made of, (K, n * n, 6), and which pixels are in its circle, (n * n,)."""
    number, size = len(drawn), drawn.shape[1]
    along = np.linspace(-1, 1, size)
    x, y = np.broadcast_to(along, drawn.shape), np.broadcast_to(along[:, None], drawn.shape)
    down, right = np.gradient(drawn, axis=(1, 2))
    columns = [drawn, -right, -down, np.ones_like(drawn), x, y]
    design = np.stack([one.reshape(number, -1) for one in columns], axis=2)
    return design, (np.hypot(x[0], y[0]) <= 1.05).astype(np.float64).ravel()


def _solved(
    design: NDArray[np.float64], values: NDArray[np.float64], weight: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Weighted least squares of every patch: answers (K, 6, 1) and inverse normal matrices."""
    weighted = (design * weight[..., None]).transpose(0, 2, 1)
    normal = weighted @ design
    normal += 1e-9 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(6)
    inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    return inverse @ (weighted @ values[..., None]), inverse


def _correlation(
    one: NDArray[np.float64], other: NDArray[np.float64], weight: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Of photo and print over each patch, (K,)."""
    one, other = (
        (v - np.average(v, axis=1, weights=weight)[:, None]) * weight for v in (one, other)
    )
    size = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    return np.asarray(np.sum(one * other, axis=1) / np.maximum(size, 1e-9))


def _likeness(rest: NDArray[np.float64], slope: NDArray[np.float64], size: int) -> float:
    """By how much the variance of a shift grows because neighbouring pixels' noise is alike.

    Notes
    -----
    Of noise with power P(f) what lies along a slope with power S(f) counts: the sum of P S over
    frequencies, over what white noise of equal variance would give.
    """
    power, wanted = (
        np.mean(np.abs(np.fft.fft2(one.reshape(-1, size, size))) ** 2, axis=0)
        for one in (rest, slope)
    )
    return float(np.mean(power * wanted) / max(np.mean(power) * np.mean(wanted), 1e-12))


def fit_patches(
    grey: Grey, piece: Piece, px_from_page: NDArray[np.float64], px: Points2, square_px: float
) -> Patches:
    """Fit the print round every corner.

    Parameters
    ----------
    grey : (height, width) uint8
    piece : Piece
    px_from_page : (3, 3)
        Homography that roughly fits the whole piece.
    px : (K, 2)
        Every corner of the piece, to a pixel or two.
    square_px : float [px]
        A square's usual side.

    Returns
    -------
    Patches
        Not a number where a corner's patch is not wholly in the picture.
    """
    reach = int(np.clip(round(_REACH_SHARE * square_px), *_REACH_PX))
    height, width = grey.shape
    known = np.nan_to_num(px, nan=-1e6)
    ids = np.flatnonzero(
        np.all((known >= reach + 2) & (known < (width - reach - 3, height - reach - 3)), axis=1)
    )
    empty = np.full(len(px), np.nan)
    found = Patches(np.full_like(px, np.nan), empty, empty.copy(), empty.copy(), 1.0)
    if not len(ids):
        return found
    drawing = _Drawing(piece, px_from_page, reach)
    place, look = px[ids].copy(), _Look(1.6, _GAMMAS[0])
    for turn in range(_ROUNDS):
        middle = np.round(place).astype(np.int64)
        seen = _cut(grey, np.clip(middle, reach, (width - reach - 1, height - reach - 1)), reach)
        fine = drawing.fine(ids, middle - place)
        if turn in (1, _ROUNDS - 1):
            look = _look(seen, fine, reach)
        fit = _fit(seen, _toned(fine, reach, look))
        step = np.clip(fit.shift_px, -1.5, 1.5)
        place = np.where(
            np.hypot(*(place + step - px[ids]).T)[:, None] < 0.4 * square_px, place + step, place
        )
    found.px[ids], found.noise_px[ids] = place, fit.noise_px
    found.contrast[ids], found.alike[ids] = fit.contrast, fit.alike
    return Patches(
        found.px,
        found.noise_px,
        found.contrast,
        found.alike,
        float(np.hypot(look.blur_px, _PIXEL_PX)),
    )


def _look(seen: Stack, fine: NDArray[np.float32], reach: int) -> _Look:
    """Blur and tone curve with which most patches fit best."""
    few = slice(None, None, max(1, len(seen) // _PATCHES_LOOKED_AT))

    def misfit(look: _Look) -> float:
        return float(np.median(_fit(seen[few], _toned(fine[few], reach, look)).misfit))

    best = min((_Look(blur, gamma) for gamma in _GAMMAS for blur in _BLURS_PX), key=misfit)
    finer = [_Look(best.blur_px * step, best.gamma) for step in (0.87, 0.93, 1.0, 1.07, 1.15)]
    return min(finer, key=misfit)
