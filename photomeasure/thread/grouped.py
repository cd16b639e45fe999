"""Quantiles between neighbours by a straight line, without numpy's cost a call."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["quantile", "quantiles"]

Vector = NDArray[np.float64]  # (N,)
Whole = NDArray[np.int64]  # (N,)


def quantile(values: Vector, share: float | Vector) -> Vector:
    """Quantiles of one group.

    Parameters
    ----------
    values : (N,) [any]
        At least one.
    share : float or (S,)
        0.5 for the median.

    Returns
    -------
    () or (S,) [as values]
    """
    ranked = np.sort(values)
    places = np.asarray(share) * (len(ranked) - 1)
    return np.asarray(np.interp(places, np.arange(len(ranked)), ranked))


def quantiles(values: Vector, groups: Whole, share: float) -> tuple[Whole, Vector, Whole]:
    """One quantile of every group.

    Parameters
    ----------
    values : (N,) [any]
    groups : (N,)
        To which group each value belongs.
    share : float
        0.5 for the median.

    Returns
    -------
    names : (G,)
        Of the groups, rising.
    quantile : (G,) [as values]
    count : (G,)
    """
    order = np.lexsort((values, groups))
    names, first, count = np.unique(groups[order], return_index=True, return_counts=True)
    ranked = values[order]
    place = share * (count - 1)
    low = place.astype(np.int64)
    below, above = ranked[first + low], ranked[first + np.minimum(low + 1, count - 1)]
    return names, below + (place - low) * (above - below), count
