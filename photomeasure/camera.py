"""The lens: pinhole with radial distortion, and what is known of it before a photo is measured."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo

__all__ = ["Camera", "LensPrior", "lens_prior", "project", "rays"]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)

DIAGONAL_35MM = 43.267  # mm, of a 36 x 24 frame (CIPA DCG-001 defines by the diagonal)
USUAL_FOCAL_35MM = 26.0  # mm, main camera of a phone; common practice, no source
USUAL_FOCAL_MM = 6.0  # mm, the lens itself; common practice, no source


@dataclass(frozen=True, slots=True)
class Camera:
    """Intrinsics of the upright photo; the pixel's centre is a whole number.

    Distortion: a ray at (x, y, 1) lands where (x, y) (1 + k1 r^2 + k2 r^4) would, r^2 = x^2 + y^2.
    """

    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float
    k2: float


@dataclass(frozen=True, slots=True)
class LensPrior:
    """Best guess of a lens and its standard uncertainties, in the order of Camera's fields."""

    camera: Camera
    u: tuple[float, float, float, float, float]


def project(camera: Camera, points_camera_mm: Points3) -> Points2:
    """Image points in front of the camera.

    Parameters
    ----------
    camera : Camera
    points_camera_mm : (N, 3) [mm]
        z forward, above zero.

    Returns
    -------
    (N, 2) [px]
    """
    normalised = points_camera_mm[:, :2] / points_camera_mm[:, 2:]
    r2 = np.sum(normalised**2, axis=1, keepdims=True)
    distorted = normalised * (1 + r2 * (camera.k1 + r2 * camera.k2))
    return np.asarray(camera.focal_px * distorted + (camera.centre_x_px, camera.centre_y_px))


def rays(camera: Camera, points_px: Points2) -> Points3:
    """Directions through pixels, z = 1; the inverse of `project`.

    Parameters
    ----------
    camera : Camera
    points_px : (N, 2) [px]

    Returns
    -------
    (N, 3) [1]

    Notes
    -----
    Newton's method on the radius, which converges in a few steps for a phone's mild distortion.
    """
    distorted = (points_px - (camera.centre_x_px, camera.centre_y_px)) / camera.focal_px
    radius_d = np.hypot(distorted[:, 0], distorted[:, 1])
    radius = radius_d.copy()
    for _ in range(8):
        r2 = radius**2
        value = radius * (1 + r2 * (camera.k1 + r2 * camera.k2)) - radius_d
        radius -= value / (1 + r2 * (3 * camera.k1 + 5 * r2 * camera.k2))
    factor = np.divide(radius, radius_d, out=np.ones_like(radius), where=radius_d > 0)
    return np.column_stack([distorted * factor[:, None], np.ones(len(factor))])


def lens_prior(photo: Photo, distance_mm: float) -> LensPrior:
    """What is known of the lens before the photo is measured.

    Parameters
    ----------
    photo : Photo
    distance_mm : float [mm]
        Rough distance of what is in focus: near focus lengthens the principal distance by
        focal length / distance (thin lens).

    Returns
    -------
    LensPrior
    """
    width, height = photo.size_px
    hint = photo.focal_hint
    if hint is None:
        focal_px = USUAL_FOCAL_35MM / DIAGONAL_35MM * float(np.hypot(width, height))
        relative_u, focal_mm = 0.2, USUAL_FOCAL_MM
    else:
        focal_px, relative_u = hint.focal_px, float(np.hypot(hint.relative_u, 0.015))
        focal_mm = hint.focal_mm or USUAL_FOCAL_MM
    focal_px *= 1 + focal_mm / distance_mm
    camera = Camera(focal_px, (width - 1) / 2, (height - 1) / 2, 0.0, 0.0)
    off_centre = 0.008 * max(width, height)
    return LensPrior(camera, (relative_u * focal_px, off_centre, off_centre, 0.05, 0.05))
