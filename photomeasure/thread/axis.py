"""Where rays pass a straight axis: the geometry of a silhouette.

A ray touches a body of revolution where its distance from the axis is the body's radius, at the
axial place of the closest approach. This holds for any camera position (tangency; own derivation).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene import Scene

__all__ = ["Axis", "Heading", "contour_points", "lean_rad", "passing", "rays_passing"]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
Vector = NDArray[np.float64]  # (N,)


@dataclass(frozen=True, slots=True)
class Heading:
    """Where an axis runs in plan [rad]."""

    rad: float
    u_rad: float


@dataclass(frozen=True, slots=True)
class Axis:
    """A line over the sheet: it passes (x, y, height) and points by heading and rise.

    Attributes
    ----------
    x_mm, y_mm, height_mm : float
        Sheet frame, at axial place zero.
    heading_rad : float
        In the paper's plane, counter-clockwise from the sheet's x.
    rise_rad : float
        Upwards from the paper's plane.
    """

    x_mm: float
    y_mm: float
    height_mm: float
    heading_rad: float
    rise_rad: float = 0.0

    @property
    def point_mm(self) -> Vector:
        """Origin, (3,)."""
        return np.array([self.x_mm, self.y_mm, self.height_mm])

    @property
    def direction(self) -> Vector:
        """Unit vector, (3,)."""
        flat = np.cos(self.rise_rad)
        return np.array(
            [
                flat * np.cos(self.heading_rad),
                flat * np.sin(self.heading_rad),
                np.sin(self.rise_rad),
            ]
        )

    @property
    def across(self) -> Vector:
        """Unit vector to the left of the direction, in the paper's plane, (3,)."""
        return np.array([-np.sin(self.heading_rad), np.cos(self.heading_rad), 0.0])

    @property
    def upright(self) -> Vector:
        """Unit vector square to direction and across, away from the paper, (3,)."""
        flat = np.sin(self.rise_rad)
        return np.array(
            [
                -flat * np.cos(self.heading_rad),
                -flat * np.sin(self.heading_rad),
                np.cos(self.rise_rad),
            ]
        )


def passing(scene: Scene, axis: Axis, points_px: Points2) -> tuple[Vector, Vector]:
    """Axial place and signed distance at which rays pass the axis.

    Parameters
    ----------
    scene : Scene
    axis : Axis
    points_px : (N, 2) [px]

    Returns
    -------
    along_mm : (N,) [mm]
    off_mm : (N,) [mm]
        Positive to the left of the axis' direction as the camera sees it from above.
    """
    return rays_passing(scene.rays(points_px), scene.centre_mm, axis)


def rays_passing(rays: Points3, centre_mm: Vector, axis: Axis) -> tuple[Vector, Vector]:
    """Axial place and signed distance at which rays pass the axis.

    Parameters
    ----------
    rays : (N, 3)
        Of unit length.
    centre_mm : (3,) [mm]
        From which they come.
    axis : Axis

    Returns
    -------
    along_mm, off_mm : (N,) [mm]
        As of `passing`.
    """
    direction, from_axis = axis.direction, centre_mm - axis.point_mm
    slope = rays @ direction
    square = 1 - slope**2
    along = (from_axis @ direction - slope * (rays @ from_axis)) / square
    normal = (from_axis @ axis.upright) * axis.across - (from_axis @ axis.across) * axis.upright
    return along, rays @ normal / np.sqrt(square)


def lean_rad(rays: Points3, axis: Axis) -> float:
    """How far a view leans along an axis, 0 when square on.

    Parameters
    ----------
    rays : (N, 3)
        Of unit length; their mean counts.
    axis : Axis

    Returns
    -------
    float [rad]
    """
    ray = rays.mean(axis=0)
    return float(np.arcsin(abs(ray @ axis.direction) / np.linalg.norm(ray)))


def contour_points(scene: Scene, axis: Axis, along_mm: Vector, off_mm: Vector) -> Points3:
    """Where the silhouette of a body of revolution touches it; the inverse of `passing`.

    Parameters
    ----------
    scene : Scene
    axis : Axis
    along_mm : (N,) [mm]
    off_mm : (N,) [mm]
        Radius there, signed by side; smaller than the camera's distance from the axis.

    Returns
    -------
    (N, 3) [mm]
        Points of the body in the sheet frame.

    Notes
    -----
    The touching point's normal n is square to the axis and to the ray, so n (camera - foot) = off.
    """
    feet = axis.point_mm + along_mm[:, None] * axis.direction
    up = scene.centre_mm - feet
    up = up - (up @ axis.direction)[:, None] * axis.direction
    distance = np.linalg.norm(up, axis=1, keepdims=True)
    up = up / distance
    left = np.cross(up, axis.direction)
    lean = off_mm[:, None] / distance
    return np.asarray(feet + off_mm[:, None] * (lean * up + np.sqrt(1 - lean**2) * left))
