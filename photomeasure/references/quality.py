"""Blur and noise of a picture round its chessboard corners, and what they do to a corner."""

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["blur_px", "corner_noise_px", "grain", "sample", "sharpest_edge_px"]

Points2 = NDArray[np.float64]  # (N, 2)
Grey = NDArray[np.uint8]

_REMAP_ROWS = 30000  # the library's limit is 32767
_ALONG = np.array([0.16, 0.22, 0.28])  # of a square, along each edge away from the corner
_ACROSS = np.linspace(-1, 1, 33)  # of the reach to either side of an edge
_REACH_SHARE = 0.105  # of a square: the markers begin at 0.15
_PATCH = np.stack(np.meshgrid([-1.0, 0.0, 1.0], [-1.0, 0.0, 1.0]), axis=-1).reshape(9, 2)
_MEDIAN_CHI2_6 = 5.348 / 6  # median over mean of chi-squared with 6 degrees of freedom


def sample(grey: Grey, at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Brightness at points, between pixels linearly.

    Parameters
    ----------
    grey : (height, width) uint8
    at : (..., 2) [px]

    Returns
    -------
    (...)
    """
    points = at.reshape(-1, 2).astype(np.float32)
    values = np.empty(len(points), dtype=np.float64)
    for first in range(0, len(points), _REMAP_ROWS):
        part = points[first : first + _REMAP_ROWS]
        values[first : first + _REMAP_ROWS] = cv2.remap(
            grey, part[:, :1], part[:, 1:], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )[:, 0]
    return values.reshape(at.shape[:-1])


def grain(grey: Grey, px: Points2, block: int = 1) -> float:
    """Standard deviation of the picture's noise, as of white noise in single pixels.

    Parameters
    ----------
    grey : (height, width) uint8
    px : (N, 2) [px]
        Points in the middle of evenly inked or blank places.
    block : int [px]
        Look at means of squares of so many pixels: noise that a phone has smoothed lives there.

    Returns
    -------
    float
        Grey levels.
    """
    height, width = grey.shape
    inner = np.stack(np.meshgrid(*[np.arange(block) - block // 2] * 2), axis=-1).reshape(-1, 2)
    offsets = (_PATCH[:, None] * block + inner).reshape(-1, 2)
    at = (np.round(px)[:, None] + offsets).astype(np.int64)
    at = at[np.all((at >= 0) & (at < (width, height)), axis=(1, 2))]
    if not len(at):
        return 1.0
    values = grey[at[:, :, 1], at[:, :, 0]].astype(np.float64)
    means = values.reshape(len(at), 9, -1).mean(axis=2)
    design = np.column_stack((np.ones(9), _PATCH))
    rest = np.eye(9) - design @ np.linalg.pinv(design)
    variance = ((means @ rest) ** 2).sum(axis=1) / 6 * block**2
    return float(np.sqrt(max(np.median(variance) / _MEDIAN_CHI2_6, 1 / 12)))


def blur_px(grey: Grey, px: Points2, jacobian: NDArray[np.float64], square_mm: float) -> float:
    """Standard deviation of the blur, from profiles across the edges that meet in the corners.

    Parameters
    ----------
    grey : (height, width) uint8
    px : (K, 2) [px]
    jacobian : (K, 2, 2) [px/mm]
        How the page lies at each corner.
    square_mm : float [mm]

    Returns
    -------
    float [px]

    Notes
    -----
    For a step blurred by a Gaussian, the integral of e (1 - e) over the edge profile e, from 0 to
    1, is s / sqrt(pi). The pixels' own width is in it.
    """
    arms = jacobian.transpose(0, 2, 1) * square_mm  # (K, arm, xy): right and down
    arms = np.concatenate((arms, -arms), axis=1)
    normal = np.stack((-arms[..., 1], arms[..., 0]), axis=2)
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    reach = _REACH_SHARE * np.linalg.norm(arms, axis=2).min(axis=1)
    start = px[:, None, None] + arms[:, :, None] * _ALONG[:, None]
    across = normal[:, :, None, None] * (reach[:, None] * _ACROSS)[:, None, None, :, None]
    profile = sample(grey, start[:, :, :, None] + across).reshape(len(px), -1, len(_ACROSS))
    low, high = profile[..., :6].mean(axis=2), profile[..., -6:].mean(axis=2)
    step = np.where(np.abs(high - low) < 8, np.nan, high - low)
    edge = (profile - low[..., None]) / step[..., None]
    width = (edge * (1 - edge)).sum(axis=2) * (_ACROSS[1] - _ACROSS[0]) * reach[:, None]
    if np.all(np.isnan(width)):
        return float(np.median(reach))
    return float(max(np.sqrt(np.pi) * np.nanmedian(width), 0.3))


def corner_noise_px(
    grain_level: float,
    contrast: NDArray[np.float64],
    blur: float,
    window: NDArray[np.int64],
    slant: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Standard deviation of corners found by `cornerSubPix`, each axis.

    Parameters
    ----------
    grain_level : float
        Noise of a pixel [grey levels].
    contrast : (K,)
        White less black [grey levels].
    blur : float [px]
    window : (K,) [px]
        Half side of the window.
    slant : (K,)
        A square's longest over its shortest side in the picture.

    Returns
    -------
    (K,) [px]

    Notes
    -----
    Fitted to the scatter of some 50 000 projected corners: blur 0.7 to 3 px, noise 1 to 8 levels,
    contrast 60 to 190, windows 3 to 15 px, white noise; 15 % rms off. `pixels` is what remains
    without noise: steep edges, few pixels in a window, slanted squares.
    """
    ratio = grain_level / contrast
    flat = 18.0 * ratio**2 * blur**2.35 * window**-1.5
    steep = 2.1 * ratio**4 * blur**1.15 * window**1.9
    pixels = 0.02 * max(blur, 0.8) ** -1.3 + 0.06 * slant**1.5 / window**2
    return np.asarray(np.sqrt(pixels**2 + flat + steep))


def sharpest_edge_px(grey: Grey) -> float:
    """Blur of the sharpest strong edges anywhere in a picture.

    Parameters
    ----------
    grey : (height, width) uint8

    Returns
    -------
    float [px]
        Standard deviation; 0 where the picture has no strong edge at all.
    """
    size = max(1, grey.shape[1] // 8), max(1, grey.shape[0] // 8)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    box = np.ones((5, 5), dtype=np.uint8)
    span = cv2.subtract(cv2.dilate(small, box), cv2.erode(small, box))
    contrast = float(np.percentile(span, 99))
    if contrast < 30:
        return 0.0
    smooth = cv2.GaussianBlur(grey, (0, 0), 1.0)
    slope_x = cv2.Sobel(smooth, cv2.CV_16S, 1, 0, ksize=1)
    slope_y = cv2.Sobel(smooth, cv2.CV_16S, 0, 1, ksize=1)
    steepest = max(float(np.percentile(np.abs(s[::2, ::2]), 99.8)) for s in (slope_x, slope_y)) / 2
    return float(contrast / (np.sqrt(2 * np.pi) * max(steepest, 0.5)))
