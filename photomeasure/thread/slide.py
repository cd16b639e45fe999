"""The mean shape of a turn slid along and up onto every turn of a side, all turns at once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.outline import Side

__all__ = ["BINS", "Slid", "slid_onto"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (T, N)

BINS = 40  # of a turn's shape
LEAST_POINTS = 8
SLIDES = 4
FARTHEST_STEP, FARTHEST = 0.1, 0.3  # of a pitch
LEAST_VARIANCE = 1e-9
CREST_SHARE = 0.15  # of a groove's depth: the crest, which keeps its height while grooves fill
LEAST_ON_CREST = 1.5  # points' weight


@dataclass(frozen=True, slots=True, eq=False)
class Slid:
    """Where the shape came to lie on each turn, all (T,).

    Attributes
    ----------
    numbers : (T,)
        Of the turns from the wave's origin.
    along_mm, above_mm : (T,)
        Middle of the crest, and its height above the crests' line.
    u_mm : (T,)
        Of the height, by the scatter of this crest's points alone.
    likeness : (T,)
        Share of the shape's variance that is found again, 1 at best.
    """

    numbers: NDArray[np.int64]
    along_mm: Vector
    above_mm: Vector
    u_mm: Vector
    likeness: Vector


@dataclass(frozen=True, slots=True, eq=False)
class _Points:
    """Points of every turn, filled up to the most that one has; all (T, N)."""

    from_middle_mm: Matrix
    off_line_mm: Matrix
    is_own: NDArray[np.bool_]

    def median(self, values: Matrix) -> Matrix:
        """Of each turn's own points, (T, 1)."""
        ranked = np.sort(np.where(self.is_own, values, np.inf), axis=1)
        count = self.is_own.sum(axis=1, keepdims=True)
        both = np.take_along_axis(ranked, np.hstack([(count - 1) // 2, count // 2]), axis=1)
        return np.asarray(both.mean(axis=1, keepdims=True))


def slid_onto(side: Side, wave: tuple[float, float], shape_mm: Vector, line: Vector) -> Slid:
    """Slide the shape onto every turn that has points enough.

    Parameters
    ----------
    side : Side
    wave : (pitch, origin) [mm]
    shape_mm : (40,)
        Of a turn, its crest at index 20.
    line : (slope, offset)
        Of the crests' tops over the place along the axis.

    Returns
    -------
    Slid

    Notes
    -----
    Gauss-Newton on shift and height of each turn, points far off the shape weighing less. The
    height is then the crest's own: along a thread the view leans more and more, and a groove seen
    from aslant is filled from below while its crests stay (dilation by a parabola; own derivation).
    """
    pitch, origin = wave
    first = int(np.ceil((side.along_mm.min() - origin) / pitch))
    last = int(np.floor((side.along_mm.max() - origin) / pitch))
    numbers = np.arange(first, last + 1)
    begin, end = (
        np.searchsorted(side.along_mm, origin + (numbers + half) * pitch) for half in (-0.5, 0.5)
    )
    is_full = end - begin >= LEAST_POINTS
    numbers, begin, end = numbers[is_full], begin[is_full], end[is_full]
    rows = begin[:, None] + np.arange((end - begin).max(initial=0))
    is_own = rows < end[:, None]
    rows = np.minimum(rows, len(side.along_mm) - 1)
    along = side.along_mm[rows]
    off_line = side.off_mm[rows] - np.polyval(line, along)
    points = _Points(along - (origin + numbers * pitch)[:, None], off_line, is_own)
    return _slid(points, (numbers, pitch, origin), shape_mm)


def _slid(points: _Points, wave: tuple[NDArray[np.int64], float, float], shape: Vector) -> Slid:
    numbers, pitch, origin = wave
    grid = (np.arange(-BINS, 2 * BINS) - BINS / 2) / BINS * pitch
    tiled = np.tile(shape, 3)
    slopes = np.gradient(tiled, grid)
    moved = np.zeros((len(numbers), 2))  # along and up
    weight = points.is_own.astype(float)
    for _ in range(SLIDES):
        place = points.from_middle_mm - moved[:, :1]
        residual = points.off_line_mm - np.interp(place, grid, tiled) - moved[:, 1:]
        spread = 1.4826 * points.median(np.abs(residual)) + 1e-4
        weight = points.is_own / np.maximum(1, np.abs(residual) / (2 * spread))
        design = np.stack([-np.interp(place, grid, slopes), np.ones_like(place)], axis=1)
        weighed = design * weight[:, None]
        normal = weighed @ design.swapaxes(1, 2) + 1e-9 * np.eye(2)
        change = np.linalg.solve(normal, weighed @ residual[..., None])[..., 0]
        change[:, 0] = np.clip(change[:, 0], -FARTHEST_STEP * pitch, FARTHEST_STEP * pitch)
        moved += change
    model = np.interp(points.from_middle_mm - moved[:, :1], grid, tiled)
    residual = points.off_line_mm - model - moved[:, 1:]
    variance = (weight * residual**2).sum(axis=1) / weight.sum(axis=1)
    crest, u = _on_crest(points, residual, model)
    spread_of_model = np.var(model, axis=1, where=points.is_own)
    is_near = (np.abs(moved[:, 0]) <= FARTHEST * pitch) & (spread_of_model > 0)
    return Slid(
        *(
            each[is_near]
            for each in (
                numbers,
                origin + numbers * pitch + moved[:, 0],
                moved[:, 1] + crest,
                u,
                1 - variance / np.maximum(spread_of_model, LEAST_VARIANCE),
            )
        )
    )


def _on_crest(points: _Points, residual: Matrix, model: Matrix) -> tuple[Vector, Vector]:
    """How much higher each crest stands than its turn, and its uncertainty by scatter, (T,)."""
    depth = -np.min(model, axis=1, where=points.is_own, initial=-LEAST_VARIANCE)[:, None]
    near = points.is_own * np.clip(1.25 + model / (CREST_SHARE * depth), 0, 1)
    is_seen = near.sum(axis=1, keepdims=True) > LEAST_ON_CREST
    crest = _Points(points.from_middle_mm, points.off_line_mm, near > 0.5)
    height = np.zeros((len(near), 1))
    weight, spread = near, np.zeros_like(height)
    for _ in range(SLIDES):
        off = np.abs(residual - height)
        spread = 1.4826 * crest.median(off) + 1e-4
        weight = near / np.maximum(1, off / (2 * spread)) + LEAST_VARIANCE
        total = weight.sum(axis=1, keepdims=True)
        height = np.where(is_seen, (weight * residual).sum(axis=1, keepdims=True) / total, 0.0)
    return height[:, 0], (spread / np.sqrt(weight.sum(axis=1, keepdims=True)))[:, 0]
