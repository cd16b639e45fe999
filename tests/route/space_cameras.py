"""Hand-held photo sets round a hose, taken as the print says."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from photomeasure.references.bands import BANDS_SHOOT
from tests.rendering.camera import PhoneCamera, look_at, project

__all__ = ["Lens", "draw_cameras"]

Floats = NDArray[np.float64]

NEAR_MM, FAR_MM = BANDS_SHOOT.distance_mm
TWO = 2  # photos that the first and the last band are in, as the print says
ONCE_SHARE = 0.85  # of all bands that any photo shows; some are hidden or forgotten
ALONG = np.cos(np.deg2rad(45))  # looking so nearly along the hose shows no marker
RIM = 0.02  # of the picture's width: nearer to its rim does not count as shown
MOST_PHOTOS = 8
TRIES = 60  # before one more photo is taken


class Axis(Protocol):
    """Close points of the hose's axis and their frames."""

    points: Floats
    frames: Floats


@dataclass(frozen=True, slots=True)
class Lens:
    """One phone's: as noted in its files, and as it is."""

    focal_35mm: int
    focal_mm: float
    focal_px: float
    centre_px: tuple[float, float]
    k1: float
    k2: float


def _lens(rng: np.random.Generator, size_px: tuple[int, int]) -> Lens:
    noted, focal_mm = int(rng.choice([24, 25, 26, 27, 28])), float(rng.uniform(4.2, 6.9))
    focal = noted / 43.267 * float(np.hypot(*size_px)) * (1 + rng.normal(0, 0.012))
    k1, k2 = float(rng.normal(0, 0.02)), float(rng.normal(0, 0.01))
    centre = np.array(size_px) / 2 - 0.5 + rng.normal(0, 0.004 * size_px[0], 2)
    return Lens(noted, focal_mm, focal, (float(centre[0]), float(centre[1])), k1, k2)


def draw_cameras(
    axis: Axis,
    bands: list[int],
    rng: np.random.Generator,
    photos: int,
    size_px: tuple[int, int],
) -> tuple[tuple[PhoneCamera, ...], Lens]:
    """Walk round the bay and along the hose, and look whether the ends are in two photos.

    Parameters
    ----------
    axis : Axis
    bands : list of int
        Places of the bands' middles among the axis' points.
    rng : numpy.random.Generator
    photos : int
        One more is taken, up to 8, where so many do not do.
    size_px : (width, height)

    Returns
    -------
    tuple of PhoneCamera, Lens
    """
    lens = _lens(rng, size_px)
    count = photos
    while True:
        for _ in range(TRIES):
            cameras = _walk(axis, rng, count, (size_px, lens))
            if _is_as_printed(axis, bands, cameras):
                return cameras, lens
        count = min(count + 1, MOST_PHOTOS)


def _walk(
    axis: Axis,
    rng: np.random.Generator,
    photos: int,
    phone: tuple[tuple[int, int], Lens],
) -> tuple[PhoneCamera, ...]:
    """From one side to the other, aiming at one stretch after another."""
    size_px, lens = phone
    middle = axis.points.mean(axis=0)
    cameras = []
    turn0, stretches = rng.uniform(0, 2 * np.pi), rng.permutation(photos)
    for number in rng.permutation(photos):
        share = (stretches[number] + rng.uniform(0.1, 0.9)) / photos
        on_hose = axis.points[round(share * (len(axis.points) - 1))]
        target = middle + rng.uniform(0.3, 1.0) * (on_hose - middle) + rng.normal(0, 15, 3)
        lean = np.deg2rad(rng.uniform(12, 50))
        turn = turn0 + 2 * np.pi * (number + 0.5) / photos + rng.normal(0, 0.25)
        way = np.array([np.sin(lean) * np.cos(turn), np.sin(lean) * np.sin(turn), np.cos(lean)])
        span = float(np.linalg.norm(axis.points - target, axis=1).max())
        distance = float(np.clip(span * rng.uniform(1.0, 1.5) + 120, NEAR_MM + 100, 0.95 * FAR_MM))
        roll = rng.normal(0, 0.3) + rng.integers(0, 4) * np.pi / 2
        cameras.append(
            PhoneCamera(
                size_px, lens.focal_px * (1 + lens.focal_mm / distance) * (1 + rng.normal(0, 5e-4)),
                *lens.centre_px, lens.k1, lens.k2, 0.0, distance,
                look_at(target + distance * way, target, roll),
            )
        )  # fmt: skip
    return tuple(cameras)


def _is_as_printed(axis: Axis, bands: list[int], cameras: tuple[PhoneCamera, ...]) -> bool:
    """The outer bands in two photos, most others in one, none of them far off."""
    counts = np.sum([_shown(axis, bands, camera) for camera in cameras], axis=0)
    return bool(min(counts[0], counts[-1]) >= TWO and np.mean(counts > 0) >= ONCE_SHARE)


def _shown(axis: Axis, bands: list[int], camera: PhoneCamera) -> NDArray[np.bool_]:
    """Which bands a photo shows: in the picture, near enough, from the side."""
    way = camera.centre_sheet_mm - axis.points[bands]
    away = np.linalg.norm(way, axis=1)
    along = np.abs(np.sum(way * axis.frames[bands, 0], axis=1)) / away
    px, rim = project(camera, axis.points[bands]), RIM * camera.size_px[0]
    inside = np.all((px > rim) & (px < np.array(camera.size_px) - rim), axis=1)
    return np.asarray(inside & (away < FAR_MM) & (along < ALONG))
