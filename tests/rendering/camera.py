"""A phone's camera as geometry: pinhole, two radial terms, a lens of some width."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["PhoneCamera", "focused", "look_at", "project", "rays_sheet"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class PhoneCamera:
    """The camera of one upright picture; (0, 0) is the centre of the top left pixel.

    Attributes
    ----------
    size_px : (width, height)
    focal_px, centre_x_px, centre_y_px : float
    k1, k2 : float
        A ray (x, y, 1) lands where (x, y) (1 + k1 r^2 + k2 r^4) would.
    aperture_mm, focus_mm : float
        Width of the lens, and how far ahead it is sharp.
    camera_from_sheet : (4, 4) [mm]
        Camera: x right, y down, z forward. Sheet: x right, y up, z out of the paper.
    """

    size_px: tuple[int, int]
    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float
    k2: float
    aperture_mm: float
    focus_mm: float
    camera_from_sheet: Floats

    @property
    def centre_sheet_mm(self) -> Floats:
        """The camera's centre, (3,)."""
        return np.asarray(-self.camera_from_sheet[:3, :3].T @ self.camera_from_sheet[:3, 3])


def focused(camera: PhoneCamera, point_mm: Floats) -> PhoneCamera:
    """The same camera, sharp at a point, (3,) [mm]."""
    pose = camera.camera_from_sheet
    return replace(camera, focus_mm=float(pose[2, :3] @ point_mm + pose[2, 3]))


def look_at(eye_mm: Floats, target_mm: Floats, roll_rad: float) -> Floats:
    """Pose camera_from_sheet of a camera at `eye_mm` that looks at `target_mm`, (4, 4) [mm]."""
    forward = (target_mm - eye_mm) / np.linalg.norm(target_mm - eye_mm)
    up = np.array([-np.sin(roll_rad), np.cos(roll_rad), 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(forward, right), forward])
    pose = np.eye(4)
    pose[:3, :3], pose[:3, 3] = rotation, -rotation @ eye_mm
    return pose


def project(camera: PhoneCamera, points_sheet_mm: Floats) -> Floats:
    """Pixels of points.

    Parameters
    ----------
    camera : PhoneCamera
    points_sheet_mm : (N, 3) [mm]

    Returns
    -------
    (N, 2) [px]
    """
    pose = camera.camera_from_sheet
    points = points_sheet_mm @ pose[:3, :3].T + pose[:3, 3]
    xy = points[:, :2] / points[:, 2:]
    r2 = np.sum(xy**2, axis=1, keepdims=True)
    xy = xy * (1 + r2 * (camera.k1 + r2 * camera.k2))
    return np.asarray(camera.focal_px * xy + (camera.centre_x_px, camera.centre_y_px))


def rays_sheet(camera: PhoneCamera, x_px: Floats, y_px: Floats) -> Floats:
    """Directions through pixels in the sheet's frame, not normalised.

    Parameters
    ----------
    camera : PhoneCamera
    x_px, y_px : (...) [px]

    Returns
    -------
    (..., 3) [1]
        One millimetre forward for each unit.
    """
    xd = (x_px - camera.centre_x_px) / camera.focal_px
    yd = (y_px - camera.centre_y_px) / camera.focal_px
    x, y = xd, yd
    for _ in range(12):
        r2 = x * x + y * y
        factor = 1 + r2 * (camera.k1 + r2 * camera.k2)
        x, y = xd / factor, yd / factor
    directions = np.stack([x, y, np.ones_like(x)], axis=-1)
    return np.asarray(directions @ camera.camera_from_sheet[:3, :3])
