"""Find the thread in an outline: the pitch and place at which a sine explains most of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.outline import Outline, Side

__all__ = ["WINDOW_TURNS", "Wave", "aimed_wave"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

PITCHES_MM = np.geomspace(0.75, 3.4, 90)  # of fluid ports, 28 to 8 threads to the inch and wider
WINDOW_TURNS = 4.0
LEAST_AMPLITUDE, LARGEST_AMPLITUDE = 0.04, 0.40  # of a pitch; a sharp V has 0.43 / 2 * pi / 4
LEAST_SHARE = 0.55  # of the outline's wander that one period must explain
LEAST_POINTS = 24
GAP_MM = 0.3  # in the outline
LEAST_SEEN = 0.85
STEEPEST_ENVELOPE = 0.25  # of the crests against a rough axis
WAVES = 8  # windows at most: a long thread is seen in several
AIM_MM = 14.0  # the thread nearer to the middle of the photo is meant


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


@dataclass(frozen=True, slots=True, eq=False)
class _Shares:
    """How much of both outlines' wander a sine of one pitch explains, window by window."""

    pitch_mm: float
    middles_mm: Vector
    total: Vector


@dataclass(frozen=True, slots=True, eq=False)
class _Sums:
    """Both outlines on an even grid, with running sums from which every window's follow."""

    grid: Vector  # (N,)
    off: Matrix  # (2, N)
    of_grid: Matrix  # (2, N + 1) of the place and its square
    of_off: NDArray[np.float64]  # (3, 2, N + 1) of off, place times off, off squared
    of_seen: Matrix  # (2, N + 1)


def aimed_wave(outline: Outline) -> Wave | None:
    """The clearest thread; of two on one part mostly that nearer to the middle of the photo.

    Parameters
    ----------
    outline : Outline

    Returns
    -------
    Wave or None
        None if no stretch of the outline is periodic.
    """
    shares = _all_shares(outline)
    found: list[Wave] = []
    for _ in range(WAVES):
        wave = _clearest_wave(shares, found)
        if wave is None:
            break
        found.append(wave)

    def aimed_share(wave: Wave) -> float:
        half = WINDOW_TURNS / 2 * wave.pitch_mm
        off = max(0.0, abs(wave.middle_mm - outline.aim_mm) - half)
        return float(wave.share * np.exp(-((off / AIM_MM) ** 2)))

    return max(found, key=aimed_share, default=None)


def _clearest_wave(shares: Sequence[_Shares], beside: Sequence[Wave]) -> Wave | None:
    """The pitch and place at which a sine explains most of both outlines, off known windows."""
    best = None
    for one in shares:
        total = one.total
        for known in beside:
            apart = WINDOW_TURNS * (known.pitch_mm + one.pitch_mm) / 2
            total = np.where(np.abs(one.middles_mm - known.middle_mm) > apart, total, 0)
        index = int(np.argmax(total))
        if total[index] > (best.share if best else 0.0):
            best = Wave(one.pitch_mm, float(one.middles_mm[index]), float(total[index]))
    return best


def _all_shares(outline: Outline) -> list[_Shares]:
    sides = (outline.left, outline.right)
    if min(len(side.along_mm) for side in sides) < LEAST_POINTS:
        return []
    low = min(float(side.along_mm.min()) for side in sides)
    high = max(float(side.along_mm.max()) for side in sides)
    sums = _sums(sides, np.arange(low, high, outline.pixel_mm))
    counts = np.rint(WINDOW_TURNS * PITCHES_MM / outline.pixel_mm).astype(int)
    return [
        _shares(sums, float(pitch), int(count))
        for pitch, count in zip(PITCHES_MM, counts, strict=True)
        if count < len(sums.grid)
    ]


def _sums(sides: Sequence[Side], grid: Vector) -> _Sums:
    off, seen = (
        np.stack(both) for both in zip(*(_even(side, grid) for side in sides), strict=True)
    )
    return _Sums(
        grid,
        off,
        _running(np.stack([grid, grid**2])),
        _running(np.stack([off, grid * off, off**2])),
        _running(seen),
    )


def _even(side: Side, grid: Vector) -> tuple[Vector, Vector]:
    """The outline on an even grid, and 1 where it was seen there."""
    off = np.interp(grid, side.along_mm, side.off_mm)
    right = np.clip(np.searchsorted(side.along_mm, grid), 1, len(side.along_mm) - 1)
    gap = side.along_mm[right] - side.along_mm[right - 1]
    return off, (gap < GAP_MM).astype(float)


def _running(values: NDArray[Any]) -> NDArray[Any]:
    """Sums of all values before each place along the last axis, and of all."""
    sums = np.zeros((*values.shape[:-1], values.shape[-1] + 1), values.dtype)
    np.cumsum(values, axis=-1, out=sums[..., 1:])
    return sums


def _shares(sums: _Sums, pitch: float, count: int) -> _Shares:
    """Share of the wander about a straight line that a sine explains, window by window.

    Notes
    -----
    Moving sums: every window is a straight-line fit, then one Fourier coefficient of the rest.
    """

    def moving(running: NDArray[Any]) -> NDArray[Any]:
        return np.asarray(running[..., count:] - running[..., :-count])

    turn = np.exp(2j * np.pi * sums.grid / pitch)
    middle, square = moving(sums.of_grid) / count
    spread = square - middle**2
    mean, slope, wander = moving(sums.of_off) / count
    slope = (slope - middle * mean) / spread
    wander = wander - mean**2 - slope**2 * spread
    of_turn = moving(_running(np.stack([turn, sums.grid * turn])))
    wave = moving(_running(sums.off * turn)) - (mean - slope * middle) * of_turn[0]
    wave = 2 / count * (wave - slope * of_turn[1])
    power = wave.real**2 + wave.imag**2
    share = power / 2 / np.maximum(wander, 1e-9)
    is_thread = (
        (power > (LEAST_AMPLITUDE * pitch) ** 2)
        & (power < (LARGEST_AMPLITUDE * pitch) ** 2)
        & (np.abs(slope) < STEEPEST_ENVELOPE)
        & (moving(sums.of_seen) > LEAST_SEEN * count)
    )
    left, right = np.where(is_thread, share, 0.0)
    clearer, other = np.maximum(left, right), np.minimum(left, right)
    return _Shares(pitch, middle, np.where(clearer > LEAST_SHARE, clearer + 0.5 * other, 0.0))
