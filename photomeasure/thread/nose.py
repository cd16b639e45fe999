"""A turned cone at an end of the part: half its angle tells on which seat it seals.

The outline's two sides are taken together, so the axis' heading falls out. The cone is the longest
straight stretch, beyond the hexagon or beyond the thread, that draws in by more than a chamfer.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.axis import contour_points, passing
from photomeasure.thread.look import Seen
from photomeasure.thread.outline import Side
from photomeasure.thread.values import Sizes

__all__ = ["Nose", "longest_cone", "nose"]

Vector = NDArray[np.float64]  # (N,)

STEP_MM = 0.2
FROM_HEXAGON_MM = 0.8  # its chamfer
LEAST_MM = 3.0  # a chamfer at a thread's end is shorter
LEAST_DRAWN_IN = 0.12  # of the radius that the cone begins with
LEAST_DEG, MOST_DEG = 8.0, 60.0
STRAIGHT_MM = 0.05
EDGE = 0.12  # of the stretch, at either end: it may reach a little round the corner
LEAST_SEEN = 0.75  # of the stretch, on both sides
ANGLE_U_DEG, END_U_MM = 0.4, 0.03  # over rendered scenes kept for tuning; where a side was traced
SIDES_DIFFER_DEG = 5.0


@dataclass(frozen=True, slots=True)
class Nose:
    """A cone.

    Attributes
    ----------
    half_angle_deg, u_deg : float
        Between its side and the axis.
    length_mm : float
        Along the axis.
    """

    half_angle_deg: float
    u_deg: float
    length_mm: float


def nose(seen: Seen, best: Sizes) -> Nose | None:
    """Find a cone at the thread's own end, else beyond the hexagon.

    Parameters
    ----------
    seen : Seen
    best : Sizes

    Returns
    -------
    Nose or None
    """
    sides = [_points(seen, best, side) for side in (seen.outline.left, seen.outline.right)]
    low = min(float(along.min()) for along, _ in sides)
    high = max(float(along.max()) for along, _ in sides)
    places = np.arange(low, high, STEP_MM) + STEP_MM / 2
    radii = np.stack([_means(along, off, low, len(places)) for along, off in sides])
    first = float((best.from_end * best.rest.along_mm).min())
    before = places < first
    own = longest_cone(-places[before][::-1], radii[:, before][:, ::-1])
    if own is not None or best.rest.hexagon_mm is None:
        return own
    far = max(best.from_end * place for place in best.rest.hexagon_mm) + FROM_HEXAGON_MM
    return longest_cone(places[places > far], radii[:, places > far])


def longest_cone(along_mm: Vector, radii_mm: NDArray[np.float64]) -> Nose | None:
    """Find the longest straight stretch that draws in.

    Parameters
    ----------
    along_mm : (N,) [mm]
        Outwards, evenly spaced.
    radii_mm : (2, N) [mm]
        Of both sides; NaN where not seen.

    Returns
    -------
    Nose or None
    """
    seen = np.isfinite(radii_mm).all(axis=0)
    along, both = along_mm[seen], radii_mm[:, seen]
    if len(along) < LEAST_MM / STEP_MM:
        return None
    radius = both.mean(axis=0)
    slope, scatter, count = _lines(along, radius)
    length = along[None, :] - along[:, None]
    drawn_in = -slope * length / np.maximum(radius[:, None], 1e-6)
    steep = np.degrees(np.arctan(-slope))
    fits = (
        (length >= LEAST_MM)
        & (count * STEP_MM > LEAST_SEEN * length)
        & (scatter < STRAIGHT_MM)
        & (drawn_in > LEAST_DRAWN_IN)
        & (steep > LEAST_DEG)
        & (steep < MOST_DEG)
    )
    if not fits.any():
        return None
    side = np.where(fits, length * np.sqrt(1 + slope**2), 0.0)
    start, stop = np.unravel_index(int(np.argmax(side)), side.shape)
    off_edge = round(EDGE * (int(stop) - int(start)))
    rows = slice(int(start) + off_edge, int(stop) + 1 - off_edge)
    angles = [
        float(np.degrees(np.arctan(-np.polyfit(along[rows], one[rows], 1)[0]))) for one in both
    ]
    if abs(angles[0] - angles[1]) > SIDES_DIFFER_DEG:
        return None
    u = np.hypot(ANGLE_U_DEG, np.degrees(END_U_MM / side[start, stop]))
    return Nose(sum(angles) / 2, float(u), float(length[start, stop]))


def _lines(along: Vector, radius: Vector) -> tuple[Vector, Vector, Vector]:
    """Slope, scatter and count of the line through every stretch from row to column."""

    def sums(values: Vector) -> Vector:
        total = np.concatenate([[0.0], np.cumsum(values)])
        return np.asarray(total[None, 1:] - total[:-1, None])

    count = np.maximum(sums(np.ones_like(along)), 1.0)
    x, y = along - along.mean(), radius - radius.mean()
    mean_x, mean_y = sums(x) / count, sums(y) / count
    spread = np.maximum(sums(x * x) / count - mean_x**2, 1e-9)
    slope = (sums(x * y) / count - mean_x * mean_y) / spread
    rest = sums(y * y) / count - mean_y**2 - slope**2 * spread
    return slope, np.sqrt(np.maximum(rest, 0.0)), count


def _points(seen: Seen, best: Sizes, side: Side) -> tuple[Vector, Vector]:
    """One side on the solved axis, places counted from the free end."""
    scene = seen.scene
    px = scene.px(contour_points(scene, seen.outline.axis, side.along_mm, side.sign * side.off_mm))
    along, off = passing(scene, best.rest.axis, px)
    return best.from_end * along, side.sign * off


def _means(along: Vector, off: Vector, low: float, count: int) -> Vector:
    """Mean distance from the axis in each step, NaN where nothing was seen."""
    step = np.clip(np.floor((along - low) / STEP_MM).astype(int), 0, count - 1)
    seen = np.bincount(step, minlength=count).astype(np.float64)
    total = np.bincount(step, weights=off, minlength=count)
    return np.asarray(np.divide(total, seen, out=np.full(count, np.nan), where=seen > 0))
