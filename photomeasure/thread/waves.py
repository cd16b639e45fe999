"""Find the thread in an outline: the pitch and place at which a sine explains most of it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.outline import Outline, Side

__all__ = ["WINDOW_TURNS", "Wave", "aimed_wave"]

Vector = NDArray[np.float64]  # (N,)

PITCHES_MM = np.geomspace(0.75, 3.4, 90)  # of fluid ports, 28 to 8 threads to the inch and wider
WINDOW_TURNS = 4.0
LEAST_AMPLITUDE, LARGEST_AMPLITUDE = 0.04, 0.40  # of a pitch; a sharp V has 0.43 / 2 * pi / 4
LEAST_SHARE = 0.55  # of the outline's wander that one period must explain
LEAST_POINTS = 24
GAP_MM = 0.3  # in the outline
LEAST_SEEN = 0.85
STEEPEST_ENVELOPE = 0.25  # of the crests against a rough axis
CLEAR_SHARE = 0.6  # of the clearest thread: a second one as clear counts
APART_MM = 4.0  # a hexagon stands between two threads


@dataclass(frozen=True, slots=True)
class Wave:
    """A thread as first seen.

    Attributes
    ----------
    pitch_mm : float
    middle_mm : float
        Of the stretch where it is clearest.
    share : float
        Of the outline's wander that it explains, summed over sides, 0 to 1.5.
    """

    pitch_mm: float
    middle_mm: float
    share: float


def aimed_wave(outline: Outline) -> Wave | None:
    """The clearest thread; of two on one part the one nearer to the middle of the photo.

    Parameters
    ----------
    outline : Outline

    Returns
    -------
    Wave or None
        None if no stretch of the outline is periodic.
    """
    best = _clearest_wave(outline, None)
    if best is None:
        return None
    other = _clearest_wave(outline, best)
    if other is None or other.share < CLEAR_SHARE * best.share:
        return best
    return min((best, other), key=lambda wave: abs(wave.middle_mm - outline.aim_mm))


def _clearest_wave(outline: Outline, beside: Wave | None) -> Wave | None:
    """The pitch and place at which a sine explains most of both outlines, off a known thread."""
    sides = (outline.left, outline.right)
    if min(len(side.along_mm) for side in sides) < LEAST_POINTS:
        return None
    low = min(float(side.along_mm.min()) for side in sides)
    high = max(float(side.along_mm.max()) for side in sides)
    grid = np.arange(low, high, outline.pixel_mm)
    curves = [_even(side, grid) for side in sides]
    best = None
    for pitch in PITCHES_MM:
        count = round(WINDOW_TURNS * pitch / outline.pixel_mm)
        if count >= len(grid):
            break
        shares = np.stack([_wave_share(curve, grid, float(pitch), count) for curve in curves])
        total = shares.max(axis=0) + 0.5 * shares.min(axis=0)
        total = np.where(shares.max(axis=0) > LEAST_SHARE, total, 0)
        middles = (grid[: len(total)] + grid[count - 1 : count - 1 + len(total)]) / 2
        if beside is not None:
            apart = WINDOW_TURNS * (beside.pitch_mm + pitch) / 2 + APART_MM
            total = np.where(np.abs(middles - beside.middle_mm) > apart, total, 0)
        index = int(np.argmax(total))
        if total[index] > (best.share if best else 0.0):
            best = Wave(float(pitch), float(middles[index]), float(total[index]))
    return best


def _even(side: Side, grid: Vector) -> tuple[Vector, Vector]:
    """The outline on an even grid, and 1 where it was seen there."""
    off = np.interp(grid, side.along_mm, side.off_mm)
    right = np.clip(np.searchsorted(side.along_mm, grid), 1, len(side.along_mm) - 1)
    gap = side.along_mm[right] - side.along_mm[right - 1]
    return off, (gap < GAP_MM).astype(float)


def _wave_share(curve: tuple[Vector, Vector], grid: Vector, pitch: float, count: int) -> Vector:
    """Share of the wander about a straight line that a sine explains, window by window.

    Notes
    -----
    Moving sums: every window is a straight-line fit, then one Fourier coefficient of the rest.
    """
    off, seen = curve

    def moving(values: NDArray[Any]) -> NDArray[Any]:
        total = np.concatenate([[0], np.cumsum(values)])
        return np.asarray(total[count:] - total[:-count])

    turn = np.exp(2j * np.pi * grid / pitch)
    middle = moving(grid) / count
    spread = moving(grid**2) / count - middle**2
    mean = moving(off) / count
    slope = (moving(grid * off) / count - middle * mean) / spread
    wander = moving(off**2) / count - mean**2 - slope**2 * spread
    wave = moving(off * turn) - (mean - slope * middle) * moving(turn) - slope * moving(grid * turn)
    amplitude = 2 * np.abs(wave) / count
    share = amplitude**2 / 2 / np.maximum(wander, 1e-9)
    is_thread = (
        (amplitude > LEAST_AMPLITUDE * pitch)
        & (amplitude < LARGEST_AMPLITUDE * pitch)
        & (np.abs(slope) < STEEPEST_ENVELOPE)
        & (moving(seen) > LEAST_SEEN * count)
    )
    return np.where(is_thread, share, 0.0)
