"""How far a hexagon's corners stand out, seen from beside the paper's upright.

The hexagon lies on a flat, its corners cut by a circle. The ray that touches it is followed to the
axis' height: seen from above it passes there by half the width over the cut corners. Aslant it
touches the end of the cut, and beyond 30 degrees a corner above or below the axis.
"""

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.axis import Axis

__all__ = ["aside_rad", "corner_reach", "lateral_mm"]

Vector = NDArray[np.float64]  # (N,)
Points3 = NDArray[np.float64]  # (N, 3)

CORNER_RAD = np.pi / 3  # from corner to corner
STEEPEST_RAD = np.radians(60)  # of rays that are followed to the axis' height


def corner_reach(corner_ratio: float, aside_rad: float) -> float:
    """Width at the axis' height between rays that touch a hexagon, over its width across flats.

    Parameters
    ----------
    corner_ratio : float
        Width over the cut corners by across flats, 1 to 1.155.
    aside_rad : float [rad]
        Of the ray from the upright, across the axis.

    Returns
    -------
    float

    Notes
    -----
    Support function of a hexagon cut by a circle (own derivation).
    """
    aside = min(abs(aside_rad), STEEPEST_RAD)
    turned = abs((aside + CORNER_RAD / 2) % CORNER_RAD - CORNER_RAD / 2)
    cut = max(CORNER_RAD / 2 - float(np.arccos(1 / corner_ratio)), 0.0)
    return corner_ratio * float(np.cos(max(turned - cut, 0.0)) / np.cos(aside))


def aside_rad(ray: Vector, axis: Axis) -> float:
    """How far a ray stands from the upright in the plane square to the axis.

    Parameters
    ----------
    ray : (3,)
    axis : Axis

    Returns
    -------
    float [rad]
    """
    return float(np.arctan2(abs(ray @ axis.across), abs(ray @ axis.upright)))


def lateral_mm(centre_mm: Vector, rays: Points3, axis: Axis, height_mm: float) -> Vector:
    """How far beside an axis, seen from above, rays pass a height.

    Parameters
    ----------
    centre_mm : (3,) [mm]
        The camera's.
    rays : (N, 3)
    axis : Axis
    height_mm : float [mm]

    Returns
    -------
    (N,) [mm]
        Positive to the left of the axis' direction.
    """
    reach = (height_mm - centre_mm[2]) / rays[:, 2]
    spot = centre_mm[:2] + reach[:, None] * rays[:, :2] - (axis.x_mm, axis.y_mm)
    heading = axis.heading_rad
    return np.asarray(np.cos(heading) * spot[:, 1] - np.sin(heading) * spot[:, 0])
