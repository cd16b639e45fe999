"""Sub-pixel edges in brightness profiles: pixels and normals only.

A picture is blurred before its tone curve, so edges are looked for in linear light.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

__all__ = ["linear_light", "refine_steps", "trace_outermost"]

Image = NDArray[np.float32]  # (rows, columns)
Vector = NDArray[np.float64]  # (N,)

GAUSS_NEWTON_STEPS = 6
LEFT_OUTSIDE = 0.3  # price of an edge left outside, in shares of the gain of one followed


@cache
def _tone_table() -> NDArray[np.float32]:
    """Undo the sRGB tone curve (IEC 61966-2-1)."""
    stored = np.arange(256) / 255
    linear = np.where(stored <= 0.04045, stored / 12.92, ((stored + 0.055) / 1.055) ** 2.4)
    return linear.astype(np.float32)


def linear_light(stored: NDArray[np.uint8]) -> Image:
    """Brightness proportional to light.

    Parameters
    ----------
    stored : (rows, columns) uint8

    Returns
    -------
    (rows, columns) float32 [0 to 1]
    """
    return np.asarray(_tone_table()[stored])


def trace_outermost(strength: Image, floor: float, steepest: int) -> NDArray[np.int64]:
    """Follow the first strong edge from row 0 inwards, column by column.

    Parameters
    ----------
    strength : (rows, columns) [1]
        Edge strength, row 0 outside.
    floor : float [1]
        Strength that noise and soft shadows reach.
    steepest : int [rows/column]
        Largest step of the edge between neighbouring columns.

    Returns
    -------
    (columns,)
        Row of the edge in each column.

    Notes
    -----
    Dynamic programming. A path pays for every edge that it leaves outside itself.
    """
    excess = np.maximum(strength - floor, 0)
    left_outside = np.cumsum(excess, axis=0) - excess
    price = LEFT_OUTSIDE * left_outside - excess
    rows, columns = price.shape
    best = price[:, 0].astype(np.float64)
    came_from = np.zeros((rows, columns), np.int64)
    offsets = np.arange(-steepest, steepest + 1)
    toll = 0.02 * float(excess.max()) * np.abs(offsets)
    for column in range(1, columns):
        padded = np.pad(best, steepest, constant_values=np.inf)
        choices = np.lib.stride_tricks.sliding_window_view(padded, 2 * steepest + 1) + toll
        pick = np.argmin(choices, axis=1)
        came_from[:, column] = np.arange(rows) + offsets[pick]
        best = choices[np.arange(rows), pick] + price[:, column]
    path = np.empty(columns, np.int64)
    path[-1] = int(np.argmin(best))
    for column in range(columns - 1, 0, -1):
        path[column - 1] = came_from[path[column], column]
    return path


def refine_steps(
    profiles: Image, places: Vector, start: Vector, blur: float
) -> tuple[Vector, Vector, Vector]:
    """Fit a blurred step to each profile.

    Parameters
    ----------
    profiles : (N, samples)
        Linear light along each normal.
    places : (samples,) [any]
        Where the samples lie on the normal.
    start : (N,) [same]
        Rough place of each edge.
    blur : float [same]
        Standard deviation of the picture's blur.

    Returns
    -------
    place : (N,) [same]
        Of the step; NaN where the fit ran away.
    contrast : (N,)
        Height of the step, in linear light.
    misfit : (N,)
        Root mean square residual over the step's height.

    Notes
    -----
    Gauss-Newton on place, level and height, weights falling off with the distance from the step,
    so that what lies beyond does not pull.
    """
    place = start.astype(np.float64).copy()
    level = height = residual = np.zeros(len(place))
    for _ in range(GAUSS_NEWTON_STEPS):
        z = (places[None, :] - place[:, None]) / blur
        step, slope = ndtr(z), np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
        weight = np.exp(-((z / 3.0) ** 4))
        level, height = _levels(profiles, step, weight)
        residual = profiles - level[:, None] - height[:, None] * step
        gradient = -height[:, None] * slope / blur
        change = _partial_step(residual, gradient, step, weight)
        place += np.clip(change, -blur, blur)
    rms = np.sqrt(np.sum(weight * residual**2, axis=1) / np.sum(weight, axis=1))
    lost = ~np.isfinite(place) | (np.abs(place - start) > 4 * blur)
    return np.where(lost, np.nan, place), height, rms / np.maximum(np.abs(height), 1e-6)


def _levels(profiles: NDArray[np.floating], step: Vector, weight: Vector) -> tuple[Vector, Vector]:
    """Weighted linear fit of level + height * step to each row."""
    total = weight.sum(axis=1)
    mean_step = (weight * step).sum(axis=1) / total
    mean = (weight * profiles).sum(axis=1) / total
    centred = step - mean_step[:, None]
    height = (weight * centred * profiles).sum(axis=1) / np.maximum(
        (weight * centred**2).sum(axis=1), 1e-12
    )
    return mean - height * mean_step, height


def _partial_step(residual: Vector, gradient: Vector, step: Vector, weight: Vector) -> Vector:
    """Change of place, with level and height eliminated from its gradient."""
    level, height = _levels(gradient, step, weight)
    own = gradient - level[:, None] - height[:, None] * step
    bottom = np.maximum((weight * own**2).sum(axis=1), 1e-15)
    return np.asarray((weight * own * residual).sum(axis=1) / bottom)
