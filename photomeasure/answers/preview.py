"""A small copy of a photo for the screen, and points of the photo as shares of it."""

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo

__all__ = ["WHOLE", "Window", "points_of", "preview", "shares_of", "window_round"]

Points2 = NDArray[np.float64]  # (N, 2)
Window = tuple[float, float, float, float]  # left, top, right, bottom, as shares of the photo

WHOLE: Window = (0.0, 0.0, 1.0, 1.0)
_LONGEST_PX = 1600  # a phone's screen, twice enlarged
_QUALITY = 82
_MOST_POINTS = 300


def preview(photo: Photo, window: Window = WHOLE) -> bytes:
    """Give a small upright JPEG of a photo, or of a window of it.

    Parameters
    ----------
    photo : Photo
    window : tuple of float

    Returns
    -------
    bytes
    """
    width, height = photo.size_px
    left, right = (round(share * width) for share in window[::2])
    top, bottom = (round(share * height) for share in window[1::2])
    shown = photo.colour[top:bottom, left:right]
    factor = min(1.0, _LONGEST_PX / max(shown.shape))
    size = (max(1, round((right - left) * factor)), max(1, round((bottom - top) * factor)))
    small = cv2.resize(shown, size, interpolation=cv2.INTER_AREA)
    return bytes(cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1])


def window_round(photo: Photo, points_px: Points2, room: float) -> Window:
    """Give the square about points, so many times as wide as they are, cut to the photo.

    Parameters
    ----------
    photo : Photo
    points_px : (N, 2) [px]
    room : float

    Returns
    -------
    tuple of float
    """
    low, high = points_px.min(axis=0), points_px.max(axis=0)
    half = room * float(np.max(high - low)) / 2
    size = np.array(photo.size_px)
    first = np.clip((low + high) / 2 - half, 0, size - 1) / size
    last = np.clip((low + high) / 2 + half, 1, size) / size
    return float(first[0]), float(first[1]), float(last[0]), float(last[1])


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
    kept = np.vstack([points_px[:-1:step], points_px[-1:]])
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
