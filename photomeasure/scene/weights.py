"""What each corner counts: its noise, the residuals that are met, and how alike neighbours err."""

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

__all__ = ["corner_weights", "neighbours"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Pairs = NDArray[np.int64]  # (P, 2)

HUBER = 2.0
USUAL = 1.4826  # standard deviation over the median of the size of a normal's values
NEXT = 1.6  # of the usual distance of nearest corners: the eight round each
ALIKE = 12.0  # corners that a crease moves together; by drawn sheets with creases
LARGEST = 3.0  # of the usual residual, so that a few strays do not say how alike the rest err


def neighbours(corners_px: Points2) -> Pairs:
    """Which corners lie next to each other.

    Parameters
    ----------
    corners_px : (N, 2) [px]

    Returns
    -------
    (P, 2)
        Rows of each pair.
    """
    tree = cKDTree(corners_px)
    nearest = float(np.median(tree.query(corners_px, k=2)[0][:, 1]))
    pairs: Pairs = tree.query_pairs(NEXT * nearest, output_type="ndarray")
    return pairs


def corner_weights(residual_px: Points2, noise_px: Vector, pairs: Pairs) -> Vector:
    """Weight of each corner: its own noise, grown to the photo's residuals, Huber beyond.

    Parameters
    ----------
    residual_px : (N, 2) [px]
    noise_px : (N,) [px]
    pairs : (P, 2)
        From `neighbours`.

    Returns
    -------
    (N,) [1/px^2]

    Notes
    -----
    Paper that bends otherwise than the model allows moves neighbours alike, so that many corners
    tell no more than a few: their weight falls as their residuals' correlation rises.
    """
    size = np.abs(residual_px) / noise_px[:, None]
    growth = max(1.0, float(np.median(size)) * USUAL)
    excess = np.hypot(*(size / growth).T) / HUBER
    variance = (noise_px * growth) ** 2 * (1 + ALIKE * _likeness(residual_px, pairs))
    return np.asarray(1 / variance / np.maximum(1.0, excess))


def _likeness(residual_px: Points2, pairs: Pairs) -> float:
    """Correlation of neighbours' residuals, not below zero."""
    length = np.hypot(*residual_px.T)
    usual = max(float(np.median(length)), 1e-9)
    held = residual_px / np.maximum(1.0, length / (LARGEST * usual))[:, None]
    alike = float(np.mean(np.sum(held[pairs[:, 0]] * held[pairs[:, 1]], axis=1)))
    return max(0.0, alike / float(np.mean(np.sum(held**2, axis=1))))
