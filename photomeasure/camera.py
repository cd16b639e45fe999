"""The lens: pinhole with radial distortion, and what is known of it before a photo is measured."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import LensProfile, Photo, quarter_turn
from photomeasure.quantities import Source

__all__ = [
    "BREATHING_U",
    "DRIFT",
    "Camera",
    "LensPrior",
    "growth",
    "lens_prior",
    "project",
    "rays",
    "slopes",
]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
Slopes = NDArray[np.float64]  # (N, 2, M)

DIAGONAL_35MM = 43.267  # mm, of a 36 x 24 frame (CIPA DCG-001 defines by the diagonal)
USUAL_FOCAL_35MM = 26.0  # mm, main camera of a phone; common practice, no source
USUAL_FOCAL_MM = 6.0  # mm, the lens itself; common practice, no source
# From photo to photo of one lens: focus, stabilisation (the first three relative to the focal
# length), and what focus does to distortion; common practice, no source
DRIFT = (0.004, 0.003, 0.003, 0.005, 0.005)
BREATHING_U = 0.35  # of what near focus adds: lenses do not quite move as a whole


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


def _nothing_shared() -> NDArray[np.float64]:
    return np.zeros((5, 0))


@dataclass(frozen=True, slots=True, eq=False)
class LensPrior:
    """Best guess of a lens, in the order of Camera's fields.

    Attributes
    ----------
    camera : Camera
    own_u : (5,)
        Standard uncertainties that this photo shares with no other.
    shared : (5, S)
        What one standard uncertainty of each of `sources` does.
    sources : tuple of Source
    """

    camera: Camera
    own_u: NDArray[np.float64]
    shared: NDArray[np.float64] = field(default_factory=_nothing_shared)
    sources: tuple[Source, ...] = ()

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of all five, (5, 5)."""
        return np.asarray(np.diag(np.square(self.own_u)) + self.shared @ self.shared.T)

    @property
    def u(self) -> NDArray[np.float64]:
        """Standard uncertainties altogether, (5,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))


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
    r2 = normalised[:, :1] ** 2 + normalised[:, 1:] ** 2
    distorted = normalised * (1 + r2 * (camera.k1 + r2 * camera.k2))
    return np.asarray(camera.focal_px * distorted + (camera.centre_x_px, camera.centre_y_px))


def slopes(camera: Camera, points_camera_mm: Points3) -> tuple[Slopes, Slopes]:
    """How image points move with the lens, and with the points themselves.

    Parameters
    ----------
    camera : Camera
    points_camera_mm : (N, 3) [mm]
        z forward, above zero.

    Returns
    -------
    by_lens : (N, 2, 5)
        In the order of Camera's fields.
    by_point : (N, 2, 3) [px/mm]
        Derivatives of `project`.
    """
    depth = points_camera_mm[:, 2:]
    flat = points_camera_mm[:, :2] / depth
    r2 = flat[:, :1] ** 2 + flat[:, 1:] ** 2
    factor = 1 + r2 * (camera.k1 + r2 * camera.k2)
    ones = np.broadcast_to(np.eye(2), (len(flat), 2, 2))
    radial = camera.focal_px * np.stack([r2 * flat, r2**2 * flat], axis=2)
    by_lens = np.concatenate([(factor * flat)[..., None], ones, radial], axis=2)
    outer = flat[:, :, None] * flat[:, None, :]
    bent = (2 * (camera.k1 + 2 * r2 * camera.k2))[..., None] * outer
    by_flat = camera.focal_px / depth[..., None] * (factor[..., None] * ones + bent)
    return by_lens, np.concatenate([by_flat, -by_flat @ flat[..., None]], axis=2)


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


def growth(photo: Photo, distance_mm: float) -> float:
    """How near focus lengthens the principal distance (thin lens moved as a whole).

    Parameters
    ----------
    photo : Photo
    distance_mm : float [mm]
        Rough distance of what is in focus.

    Returns
    -------
    float
        Over that of a lens focused far off.
    """
    return 1 + _focal_mm(photo) / distance_mm


def _focal_mm(photo: Photo) -> float:
    said = photo.focal_hint.focal_mm if photo.focal_hint else photo.notes.focal_mm
    learnt = photo.profile.name.focal_mm if photo.profile else None
    return said or learnt or USUAL_FOCAL_MM


def lens_prior(photo: Photo, distance_mm: float) -> LensPrior:
    """What is known of the lens before the photo is measured.

    Parameters
    ----------
    photo : Photo
    distance_mm : float [mm]
        Rough distance of what is in focus.

    Returns
    -------
    LensPrior
    """
    if photo.profile is not None:
        return _learnt(photo, photo.profile, distance_mm)
    width, height = photo.size_px
    hint = photo.focal_hint
    if hint is None:
        focal_px = USUAL_FOCAL_35MM / DIAGONAL_35MM * float(np.hypot(width, height))
        relative_u = 0.2
    else:
        focal_px, relative_u = hint.focal_px, float(np.hypot(hint.relative_u, 0.015))
    focal_px *= growth(photo, distance_mm)
    camera = Camera(focal_px, (width - 1) / 2, (height - 1) / 2, 0.0, 0.0)
    off_centre = 0.008 * max(width, height)
    return LensPrior(camera, np.array([relative_u * focal_px, off_centre, off_centre, 0.05, 0.05]))


def _learnt(photo: Photo, profile: LensProfile, distance_mm: float) -> LensPrior:
    """Lens of a profile, scaled to this picture, turned as it was held and focused as near."""
    long = max(photo.size_px)
    near = growth(photo, distance_mm)
    scale = np.array([long * near, long, long, 1.0, 1.0])
    values, shared = scale * profile.values, scale[:, None] * profile.root
    turn = quarter_turn(photo.notes)
    breathing = BREATHING_U * abs(near - 1 - _focal_mm(photo) * profile.near_per_mm)
    own = np.array(DRIFT) * np.array([values[0]] * 3 + [1.0] * 2)
    own[0] = np.hypot(own[0], breathing * values[0])
    if turn is None:  # held in no known way: the centre lies off on any side
        off = np.hypot(np.hypot(*values[1:3]), np.hypot(*np.linalg.norm(shared[1:3], axis=1)))
        own[1:3] = np.hypot(own[1:3], off)
        turn = np.zeros((2, 2))
    values[1:3], shared[1:3] = turn @ values[1:3], turn @ shared[1:3]
    middle = (np.array(photo.size_px) - 1) / 2
    sources = tuple(
        Source(f"lens profile/{number}", "the phone's lens as learnt", "camera", profile.key)
        for number in range(1, shared.shape[1] + 1)
    )
    values[1:3] += middle
    camera = Camera(*(float(value) for value in values))
    return LensPrior(camera, own, shared, sources)
