"""How a body lies on a plane: the stable faces of its convex hull, reached by rolling."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from tests.rendering.meshes import Mesh, centre_of_mass

__all__ = ["Rest", "place", "settle"]

Floats = NDArray[np.float64]

WOBBLE_RAD = 0.06  # a rest that so small a tilt leaves is none


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """A body at rest; the frame `plane` has z up and the plane at z = 0.

    Attributes
    ----------
    plane_from_thread : (4, 4) [mm]
        With the axis' free end towards plane -x, the axis over y = 0.
    contacts_thread_mm : (K, 3) [mm]
        Points of the body that touch the plane.
    """

    plane_from_thread: Floats
    contacts_thread_mm: Floats


def _hull(mesh: Mesh) -> ConvexHull:
    return ConvexHull(mesh.vertices_mm[:: max(1, len(mesh.vertices_mm) // 1_000_000)])


def _ring(down: Floats, angle_rad: float, count: int = 16) -> Floats:
    """Directions round one, all at the same angle from it, (count, 3)."""
    side = np.cross(down, np.eye(3)[np.argmin(np.abs(down))])
    side /= np.linalg.norm(side)
    other = np.cross(down, side)
    turn = np.linspace(0, 2 * np.pi, count, endpoint=False)[:, None]
    around = np.cos(turn) * side + np.sin(turn) * other
    return np.asarray(np.cos(angle_rad) * down + np.sin(angle_rad) * around)


def _settle_direction(points: Floats, down: Floats) -> Floats:
    """Roll downhill until no tilt of WOBBLE_RAD lowers the centre of mass (the origin).

    With `down` towards the plane the centre of mass stands at the largest point @ down.
    """
    height = float((points @ down).max())
    for step in (WOBBLE_RAD, WOBBLE_RAD / 3, WOBBLE_RAD / 12, WOBBLE_RAD):
        for _ in range(400):
            ring = _ring(down, step)
            heights = (points @ ring.T).max(axis=0)
            best = int(np.argmin(heights))
            if heights[best] >= height - 1e-9:
                break
            down, height = ring[best], float(heights[best])
    return down


def _face_under(hull: ConvexHull, centre: Floats, down: Floats) -> Floats:
    """Outward normal of the hull's face that the ray from the centre of mass leaves through."""
    normals, offsets = hull.equations[:, :3], hull.equations[:, 3]
    with np.errstate(divide="ignore"):
        way = -(normals @ centre + offsets) / (normals @ down)
    return np.asarray(normals[np.argmin(np.where(normals @ down > 1e-9, way, np.inf))])


def _rest_on(hull: ConvexHull, normal: Floats) -> Rest:
    """The body with outward `normal` straight down."""
    up = -normal
    axis = np.array([0.0, 0.0, 1.0])
    along = axis - up * (axis @ up)
    along /= np.linalg.norm(along)
    plane_from_thread = np.eye(4)
    plane_from_thread[:3, :3] = np.stack([along, np.cross(up, along), up])
    corners = hull.points[hull.vertices]
    height = corners @ up
    touching = corners[height < height.min() + 0.003]
    plane_from_thread[2, 3] = -height.min()
    return Rest(plane_from_thread, touching)


def settle(mesh: Mesh, rng: np.random.Generator, steepest_rad: float = 0.5) -> Rest:
    """Drop a fitting on a plane until it lies with its axis nearly level.

    Parameters
    ----------
    mesh : Mesh
        Closed, in the thread's frame.
    rng : np.random.Generator
    steepest_rad : float [rad]
        Rests whose axis climbs more (standing on an end face) are thrown again.

    Returns
    -------
    Rest
    """
    hull, centre = _hull(mesh), centre_of_mass(mesh)
    points = hull.points[hull.vertices] - centre
    for _ in range(50):
        turn, lean = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.15)
        down = np.array([np.cos(turn), np.sin(turn), np.tan(lean)])
        down = _settle_direction(points, down / np.linalg.norm(down))
        normal = _face_under(hull, centre, down)
        if abs(np.arcsin(np.clip(normal[2], -1, 1))) <= steepest_rad:
            return _rest_on(hull, normal)
    raise ValueError("this body lies on no side")


def place(rest: Rest, yaw_rad: float, x_mm: float, y_mm: float) -> Floats:
    """Pose on the sheet: turned about the vertical, then moved.

    Parameters
    ----------
    rest : Rest
    yaw_rad : float [rad]
    x_mm, y_mm : float [mm]
        Where the plane frame's origin (under the thread's end face) comes to lie.

    Returns
    -------
    (4, 4) [mm]
        sheet_from_thread.
    """
    c, s = np.cos(yaw_rad), np.sin(yaw_rad)
    sheet_from_plane = np.array([[c, -s, 0, x_mm], [s, c, 0, y_mm], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    return np.asarray(sheet_from_plane @ rest.plane_from_thread)
