"""What neighbours say of a point: the lens and the paper's bend change slowly over the page."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["bent_trend", "straight_trend"]

Points2 = NDArray[np.float64]  # (N, 2)


def straight_trend(at: Points2, known: Points2, values: Points2) -> Points2:
    """Expect a value at points, by a plane through the six nearest known ones.

    Parameters
    ----------
    at : (N, 2)
    known : (M, 2)
    values : (M, 2)

    Returns
    -------
    (N, 2)
    """
    near, x = _neighbours(at, known, 6, has_self=False)
    design = np.concatenate((np.ones((*near.shape, 1)), x), axis=2)
    # noisy values: a slope only where neighbours lie on all sides
    return _at_middle(design, values[near], np.array([1e-6, 0.3, 0.3]))


def bent_trend(known: Points2, values: Points2) -> Points2:
    """Expect each known point's value from its fourteen neighbours, by a curved surface.

    Parameters
    ----------
    known : (M, 2)
    values : (M, 2)

    Returns
    -------
    (M, 2)
    """
    near, x = _neighbours(known, known, 14, has_self=True)
    curves = np.stack((x[..., 0] ** 2, x[..., 0] * x[..., 1], x[..., 1] ** 2), axis=2)
    design = np.concatenate((np.ones((*near.shape, 1)), x, curves), axis=2)
    return _at_middle(design, values[near], np.array([1e-6, 0.02, 0.02, 0.1, 0.1, 0.1]))


def _neighbours(
    at: Points2, known: Points2, count: int, *, has_self: bool
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Rows of the nearest points (N, k) and their offsets (N, k, 2), about 1 in length."""
    offset = known[None, :, :] - at[:, None, :]
    distance2 = (offset**2).sum(axis=2)
    if has_self:
        np.fill_diagonal(distance2, np.inf)
    count = min(count, len(known) - has_self)
    near = np.argpartition(distance2, count - 1, axis=1)[:, :count]
    span = np.sqrt(np.take_along_axis(distance2, near, axis=1).mean(axis=1)) + 1e-9
    x = np.take_along_axis(offset, near[:, :, None], axis=1) / span[:, None, None]
    return near.astype(np.int64), x


def _at_middle(
    design: NDArray[np.float64], values: NDArray[np.float64], ridge: NDArray[np.float64]
) -> Points2:
    transposed = design.transpose(0, 2, 1)
    normal = transposed @ design + np.diag(ridge)
    return np.asarray(np.linalg.solve(normal, transposed @ values)[:, 0])
