"""The hose's own two sides, looked for in one photo along a curve that is nearly right.

The picture is pulled straight along the curve, so that the hose runs down a strip. Where both
sides stand out, by brightness or else by hue, apart by the hose's width, their middle is where the
axis is seen. What is no pair of sides so far apart is left out: a shadow's edge, a bright line
along the hose, a rod across.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chain import Chain
from photomeasure.route.space.greys import Views
from photomeasure.route.space.model import State, predict_world
from photomeasure.route.space.sides import Sides, Sights, joined, none_seen, sights

__all__ = ["Stretch", "sides_in"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

STEP_MM, ACROSS_MM = 1.5, 0.2  # of the strip
SMOOTH_MM = 2.5  # along the hose: standard deviation
ROOM_MM = 1.5  # beyond what is looked at
LEAST_SLANT = 0.4  # of a sight, below which the hose is seen too much along itself
STEEPEST = 2  # steps across from one row to the next
PULL = 0.15  # how much less a middle counts that lies at the end of the reach
LEAST_FALL = 8.0  # grey levels a millimetre, of either side
CLEAR = 3.0  # times the strip's usual fall of brightness
WIDER = 5  # steps across within which a side may lie for the path
NEAR_MM = 0.8  # of a side, about where the path has it
WIDTH_MM, WIDTH_PX = 0.3, 1.0  # how far the width may be off
CELL_MM = 12.0  # that are one place
LEAST_SHARE = 0.6  # of a cell's rows
ROUGH_MM = 0.4  # scatter within a cell
EDGE_PX, EDGE_MM = 0.3, 0.1  # how well a middle is seen; rendered sets


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """What of a chain to look at: from first to last edge, but not under bands [mm]."""

    chain: Chain
    limits: tuple[float, float]
    bands_mm: Matrix  # (B, 2)
    reach_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """The picture pulled straight: rows along the hose, columns across."""

    at_mm: Vector
    seen: Sights
    offsets_mm: Vector
    px: Matrix  # (N, M, 2)
    open_: NDArray[np.bool_]  # rows that may be used
    px_per_mm: Vector
    fall: Matrix  # of brightness or hue across [levels a millimetre]


def sides_in(views: Views, photo: int, state: State, stretch: Stretch) -> Sides:
    """Look for the hose's sides in one photo.

    Parameters
    ----------
    views : (grey, hue)
        Brightness (height, width) and, half as large, hue in two channels.
    photo : int
        Row of the state.
    state : State
    stretch : Stretch

    Returns
    -------
    Sides
    """
    grey, hue = views
    strip = _strip(grey.shape[::-1], photo, state, stretch)
    if strip.open_.sum() < CELL_MM / STEP_MM:
        return none_seen()
    by_grey, by_hue = (
        _cells(photo, strip, *_middles(replace(strip, fall=_fall(strip, one)), stretch.reach_mm))
        for one in (grey, hue)
    )
    return joined([by_grey, by_hue.of(~_known(by_hue, by_grey))])


def _known(own: Sides, other: Sides) -> NDArray[np.bool_]:
    """Which places the other look shows, too."""
    apart = np.abs(own.at_mm[:, None] - other.at_mm)
    return np.asarray((apart < 0.75 * CELL_MM).any(axis=1))


def _strip(size_px: tuple[int, ...], photo: int, state: State, stretch: Stretch) -> _Strip:
    at = np.arange(*stretch.limits, STEP_MM)
    seen = sights(state, photo, stretch.chain, at)
    side = float(seen.half_mm.max()) + stretch.reach_mm + ROOM_MM
    offsets = np.arange(-side, side + ACROSS_MM, ACROSS_MM)
    places = seen.middles[:, None] + offsets[:, None] * seen.across[:, None]
    px = predict_world(state, photo, places.reshape(-1, 3)).reshape(len(at), len(offsets), 2)
    inside = np.all(np.isfinite(px) & (px > 1) & (px < np.array(size_px) - 2), axis=(1, 2))
    under = (at[:, None] > stretch.bands_mm[:, 0]) & (at[:, None] < stretch.bands_mm[:, 1])
    open_ = inside & (seen.slant > LEAST_SLANT) & ~under.any(axis=1)
    width = np.hypot(*(px[:, -1] - px[:, 0]).T)
    per_mm = np.maximum(np.nan_to_num(width, nan=1.0) / (offsets[-1] - offsets[0]), 0.1)
    px = np.nan_to_num(px, nan=-9.0).clip(-9, 2**15)
    return _Strip(at, seen, offsets, px, open_, per_mm, np.empty((0, 0)))


def _fall(strip: _Strip, picture: NDArray[np.uint8]) -> Matrix:
    """How steeply a picture changes across, smoothed along the hose within each open stretch."""
    whole = 1 if picture.ndim == 2 else 2  # hue is half as large
    px = ((strip.px + 0.5) / whole - 0.5).astype(np.float32)
    light = cv2.remap(
        picture, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float64)
    known = strip.open_.astype(np.float64)[:, None]
    kernel = cv2.getGaussianKernel(2 * int(3 * SMOOTH_MM / STEP_MM) + 1, SMOOTH_MM / STEP_MM)
    one, border = np.ones((1, 1)), cv2.BORDER_CONSTANT
    count = cv2.sepFilter2D(known, -1, one, kernel, borderType=border).reshape(-1, 1)
    total = np.zeros(light.shape[:2])
    for channel in np.moveaxis(np.atleast_3d(light), 2, 0):
        smooth = cv2.sepFilter2D(channel * known, -1, one, kernel, borderType=border)
        smooth = cv2.GaussianBlur(smooth / np.maximum(count, 1e-6), (0, 0), sigmaX=1.0, sigmaY=1e-3)
        total += np.gradient(np.asarray(smooth, np.float64), ACROSS_MM, axis=1) ** 2
    return np.asarray(np.sqrt(total))


def _at(field: Matrix, offsets_mm: Vector, places_mm: Matrix) -> Matrix:
    """Values of rows of a field at places across, (N, K)."""
    index = (places_mm - offsets_mm[0]) / ACROSS_MM
    low = np.clip(np.floor(index).astype(int), 0, field.shape[1] - 2)
    share = np.clip(index - low, 0, 1)
    rows = np.arange(len(field))[:, None]
    return np.asarray(field[rows, low] * (1 - share) + field[rows, low + 1] * share)


def _path(strip: _Strip, reach_mm: float) -> Vector:
    """Middles that best have an edge at both sides, one for each row, without leaps."""
    size = np.abs(strip.fall)
    wide = np.asarray(
        cv2.dilate(size, np.ones((1, 5))), np.float64
    )  # sides may be apart a little more or less
    tried = np.arange(-reach_mm, reach_mm + 1e-9, ACROSS_MM)
    half = strip.seen.half_mm[:, None]
    both = np.minimum(
        _at(wide, strip.offsets_mm, tried + half), _at(wide, strip.offsets_mm, tried - half)
    )
    usual = LEAST_FALL + CLEAR * float(np.median(size[strip.open_]))
    gain = both / (both + usual) - PULL * (tried / reach_mm) ** 2
    gain[~strip.open_] = -5 * PULL * (tried / reach_mm) ** 2  # by a band the axis is known
    best, back = gain[0], np.zeros(gain.shape, int)
    for row in range(1, len(gain)):
        padded = np.pad(best, STEEPEST, constant_values=-np.inf)
        moves = np.lib.stride_tricks.sliding_window_view(padded, 2 * STEEPEST + 1)
        back[row] = moves.argmax(axis=1) - STEEPEST
        best = moves.max(axis=1) + gain[row]
    chosen = np.empty(len(gain), int)
    chosen[-1] = int(best.argmax())
    for row in range(len(gain) - 1, 0, -1):
        chosen[row - 1] = chosen[row] + back[row, chosen[row]]
    return np.asarray(tried[chosen])


def _middles(strip: _Strip, reach_mm: float) -> tuple[Vector, NDArray[np.bool_]]:
    """Middle between both sides in each row, to a part of a pixel, and where it may be believed."""
    path, half = _path(strip, reach_mm), strip.seen.half_mm
    (left, left_fall), (right, right_fall) = (
        _edge(strip, path + sign * half) for sign in (-1.0, 1.0)
    )
    usual = float(np.median(strip.fall[strip.open_]))
    clear = np.minimum(left_fall, right_fall) > max(LEAST_FALL, CLEAR * usual)
    width = right - left - 2 * half
    fits = np.abs(width) < WIDTH_MM + WIDTH_PX / strip.px_per_mm
    return 0.5 * (left + right), strip.open_ & clear & fits


def _edge(strip: _Strip, near_mm: Vector) -> tuple[Vector, Vector]:
    """Steepest place about a side, and how steep."""
    steps = np.arange(-NEAR_MM, NEAR_MM + 1e-9, ACROSS_MM / 2)
    size = _at(strip.fall, strip.offsets_mm, near_mm[:, None] + steps)
    k = np.clip(size.argmax(axis=1), 1, len(steps) - 2)
    rows = np.arange(len(size))
    before, here, after = size[rows, k - 1], size[rows, k], size[rows, k + 1]
    bend = np.minimum(before - 2 * here + after, -1e-9)
    shift = np.clip(0.5 * (before - after) / bend, -1, 1)
    is_top = (here >= before) & (here >= after)
    return near_mm + steps[k] + shift * ACROSS_MM / 2, np.where(is_top, here, 0.0)


def _cells(photo: int, strip: _Strip, middle: Vector, good: NDArray[np.bool_]) -> Sides:
    """One place for every stretch of some millimetres in which most rows agree."""
    cell = np.floor((strip.at_mm - strip.at_mm[0]) / CELL_MM).astype(int)
    least = LEAST_SHARE * CELL_MM / STEP_MM
    rows, off, u = [], [], []
    for number in np.unique(cell[good]):
        own = np.flatnonzero(good & (cell == number))
        usual = float(np.median(middle[own]))
        rough = 1.4826 * float(np.median(np.abs(middle[own] - usual)))
        if len(own) < least or rough > ROUGH_MM:
            continue
        k = int(own[len(own) // 2])
        rows.append(k)
        off.append(usual)
        u.append(float(np.hypot(EDGE_MM + rough, EDGE_PX / strip.px_per_mm[k])))
    return Sides(
        np.full(len(rows), photo), strip.at_mm[rows], strip.seen.points[rows],
        strip.seen.across[rows], np.array(off), np.array(u),
    )  # fmt: skip
