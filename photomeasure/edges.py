"""Sub-pixel edges in brightness profiles: pixels and normals only.

A picture is blurred before its tone curve, so edges are looked for in linear light.
"""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

__all__ = ["LEVELS_BLURS", "cheapest_path", "half_levels", "linear_light", "refine_steps"]

Image = NDArray[np.float32]  # (rows, columns)
Vector = NDArray[np.float64]  # (N,)

GAUSS_NEWTON_STEPS = 6
LEVELS_BLURS = (1.8, 3.2)  # from the edge: where the brightness on either side is read


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
    return np.asarray(cv2.LUT(np.ascontiguousarray(stored), _tone_table()), np.float32)


def cheapest_path(price: Image, steepest: int, toll: float) -> NDArray[np.int64]:
    """Cross a picture from its first column to its last (dynamic programming).

    Parameters
    ----------
    price : (rows, columns)
        Of each place.
    steepest : int [rows/column]
        Largest step between neighbouring columns.
    toll : float
        For each row of such a step.

    Returns
    -------
    (columns,)
        Row in each column.
    """
    rows, columns = price.shape
    tolls = (toll * np.abs(np.arange(-steepest, steepest + 1))).astype(np.float32)
    best = np.full((columns, rows + 2 * steepest), np.inf, np.float32)
    inside = best[:, steepest : steepest + rows]
    inside[:] = price.T
    neighbours = np.lib.stride_tricks.sliding_window_view(best, rows, axis=1)
    choices = np.empty((len(tolls), rows), np.float32)
    for column in range(1, columns):
        np.add(neighbours[column - 1], tolls[:, None], out=choices)
        inside[column] += choices.min(axis=0)
    path = np.empty(columns, np.int64)
    path[-1] = int(np.argmin(inside[-1]))
    for column in range(columns - 1, 0, -1):
        row = path[column]
        choice = np.argmin(best[column - 1, row : row + len(tolls)] + tolls)
        path[column - 1] = row + choice - steepest
    return path


def half_levels(profiles: Image, places: Vector, blur: float) -> Vector:
    """Where each profile crosses half way between the colours on either side of its edge.

    Parameters
    ----------
    profiles : (N, samples, channels)
        Linear light along each normal.
    places : (samples,) [any]
        Where the samples lie on the normal, evenly spaced about zero.
    blur : float [same]
        Standard deviation of the picture's blur.

    Returns
    -------
    (N,) [same]
        NaN where there is no such crossing by the steepest place.

    Notes
    -----
    On a straight edge this is the edge. At a blurred tip it is a point of the contour at half
    brightness, of which the thread's crest model speaks.
    """
    step = float(places[1] - places[0])
    near, far = (round(reach * blur / step) for reach in LEVELS_BLURS)
    rise = np.linalg.norm(profiles[:, 2:] - profiles[:, :-2], axis=2)
    middle = 1 + far + np.argmax(rise[:, far : rise.shape[1] - far], axis=1)
    offsets = np.arange(near, far + 1)
    lines = np.arange(len(profiles))[:, None]
    high = np.median(profiles[lines, middle[:, None] + offsets], axis=1)
    low = np.median(profiles[lines, middle[:, None] - offsets], axis=1)
    change = high - low
    above = np.einsum("nsc,nc->ns", profiles - ((high + low) / 2)[:, None], change)
    return _crossings(above, places, middle, blur / step)


def _crossings(
    above: NDArray[np.floating], places: Vector, middle: NDArray[np.int64], reach: float
) -> Vector:
    """Rise through zero of each row nearest to its middle, by linear interpolation."""
    changes = (above[:, :-1] <= 0) & (above[:, 1:] > 0)
    distance = np.abs(np.arange(changes.shape[1])[None, :] + 0.5 - middle[:, None])
    distance = np.where(changes, distance, np.inf)
    nearest = np.argmin(distance, axis=1)
    lines = np.arange(len(above))
    left, right = above[lines, nearest], above[lines, nearest + 1]
    share = left / np.where(left == right, 1.0, left - right)
    found = distance[lines, nearest] < reach + 1
    place = places[nearest] + share * (places[1] - places[0])
    return np.where(found, place, np.nan)


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
