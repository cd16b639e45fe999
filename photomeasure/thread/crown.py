"""The crests' tops, where the turns' shape changes along the thread.

Perspective, lean and light let turns look deeper and narrower towards one end. One mean shape slid
onto all of them stands too high on the shallow ones and too low on the deep ones: a false taper of
half a degree. So each turn is given its own depth here, and its upper part tells place and height.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.turns import BINS, Followed, Turn

__all__ = ["crowned"]

Vector = NDArray[np.float64]  # (N,)

UPPER = 0.5  # of the shape's depth; below, a point counts for little
DEEPER_WEIGHT = 0.1
DEPTH_U = 0.3  # how much a turn's depth may differ from the mean, as its share
CORRELATED = 4.0  # neighbouring points that err alike
DEPTH_RANGE = 0.7
STEPS = 6
LEAST_POINTS = 8
FARTHEST_STEP, FARTHEST = 0.1, 0.3  # of a pitch


def crowned(
    outline: Outline, sides: tuple[Followed, Followed] | None
) -> tuple[Followed, Followed] | None:
    """Place and height of every crest by its own upper part.

    Parameters
    ----------
    outline : Outline
        That was followed.
    sides : (left, right) or None

    Returns
    -------
    (left, right) or None
        A side whose turns were laid, not followed, stays as it is.
    """
    if sides is None:
        return None
    return _side(outline.left, sides[0]), _side(outline.right, sides[1])


def _side(side: Side, followed: Followed) -> Followed:
    if followed.laid_u_px is not None or np.ptp(followed.shape_mm) == 0:
        return followed
    return replace(followed, turns=tuple(_crown(side, turn, followed) for turn in followed.turns))


def _crown(side: Side, turn: Turn, followed: Followed) -> Turn:
    """One turn with its depth free; as it was where the fit runs away (Gauss-Newton)."""
    pitch, middle = followed.pitch_mm, turn.along_mm
    first, last = np.searchsorted(side.along_mm, (middle - 0.5 * pitch, middle + 0.5 * pitch))
    if last - first < LEAST_POINTS:
        return turn
    from_middle = side.along_mm[first:last] - middle
    off_line = side.off_mm[first:last] - np.polyval(followed.line, side.along_mm[first:last])
    grid = (np.arange(-BINS, 2 * BINS) - BINS / 2) / BINS * pitch
    shapes = np.tile(followed.shape_mm, 3)
    slopes = np.gradient(shapes, grid)
    level = UPPER * float(shapes.min())
    shift = height = depth = 0.0
    for _ in range(STEPS):
        shape = np.interp(from_middle - shift, grid, shapes)
        slope = np.interp(from_middle - shift, grid, slopes)
        residual = off_line - (1 + depth) * shape - height
        weight = np.where(shape > level, 1.0, DEEPER_WEIGHT)
        design = np.column_stack([-slope, np.ones_like(shape), shape])
        change = _step(design, weight, residual, depth)
        shift += float(np.clip(change[0], -FARTHEST_STEP * pitch, FARTHEST_STEP * pitch))
        height += float(change[1])
        depth = float(np.clip(depth + change[2], -DEPTH_RANGE, DEPTH_RANGE))
    if abs(shift) > FARTHEST * pitch:
        return turn
    top = float(np.polyval(followed.line, middle + shift)) + height
    return replace(turn, along_mm=middle + shift, off_mm=top)


def _step(design: Vector, weight: Vector, residual: Vector, depth: float) -> Vector:
    """One step of robust least squares, the depth held to that of the others."""
    spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-4
    weight = weight / np.maximum(1, np.abs(residual) / (2 * spread))
    held = CORRELATED * (spread / DEPTH_U) ** 2
    weighed = design.T * weight
    normal = weighed @ design + np.diag([1e-9, 1e-9, held])
    target = weighed @ residual - np.array([0.0, 0.0, held * depth])
    return np.asarray(np.linalg.solve(normal, target))
