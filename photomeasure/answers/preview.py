"""A small copy of a photo for the screen, and points of the photo as shares of it."""

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo

__all__ = ["points_of", "preview", "shares_of"]

Points2 = NDArray[np.float64]  # (N, 2)

_LONGEST_PX = 1600  # a phone's screen, twice enlarged
_QUALITY = 82
_MOST_POINTS = 300


def preview(photo: Photo) -> bytes:
    """Give a small upright JPEG of a photo.

    Parameters
    ----------
    photo : Photo

    Returns
    -------
    bytes
    """
    factor = min(1.0, _LONGEST_PX / max(photo.size_px))
    size = tuple(max(1, round(side * factor)) for side in photo.size_px)
    small = cv2.resize(photo.colour, size, interpolation=cv2.INTER_AREA)
    return bytes(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1])


def shares_of(photo: Photo, points_px: Points2) -> list[list[float]]:
    """Give points of a photo as shares of its width and height, thinned out for the screen.

    Parameters
    ----------
    photo : Photo
    points_px : (N, 2) [px]

    Returns
    -------
    list of [x, y]
    """
    step = max(1, len(points_px) // _MOST_POINTS)
    kept = np.vstack([points_px[::step], points_px[-1:]])
    shares = (kept + 0.5) / np.array(photo.size_px)
    return [[round(float(x), 5), round(float(y), 5)] for x, y in shares]


def points_of(photo: Photo, shares: list[list[float]]) -> tuple[tuple[float, float], ...]:
    """Turn shares of a photo's width and height back into its pixels.

    Parameters
    ----------
    photo : Photo
    shares : list of [x, y]

    Returns
    -------
    tuple of (float, float)
    """
    width, height = photo.size_px
    return tuple((x * width - 0.5, y * height - 0.5) for x, y in shares)
