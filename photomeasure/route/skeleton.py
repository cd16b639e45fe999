"""The longest way through a thin blob of pixels."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from skimage.morphology import skeletonize

__all__ = ["longest_path"]

Points2 = NDArray[np.float64]  # (N, 2)
NEIGHBOURS = ((0, 1, 1.0), (1, 0, 1.0), (1, 1, 2**0.5), (1, -1, 2**0.5))


def longest_path(blob: NDArray[np.bool_]) -> tuple[Points2, Points2]:
    """Thin a blob and walk from one far end to the other.

    Parameters
    ----------
    blob : (height, width)

    Returns
    -------
    path : (N, 2) [px]
        x, y in order; empty if there is nothing to walk.
    thinned : (M, 2) [px]
        All that is left of the blob, in no order; a net of lines leaves more than the path.
    """
    rows, columns = np.nonzero(blob)
    if len(rows) < 2:
        return np.zeros((0, 2)), np.zeros((0, 2))
    top, left = int(rows.min()), int(columns.min())
    window = blob[top : int(rows.max()) + 1, left : int(columns.max()) + 1]
    thin = np.pad(skeletonize(window), 1)  # type: ignore[no-untyped-call]
    graph, rows, columns = _graph(thin)
    if len(rows) < 2:
        return np.zeros((0, 2)), np.zeros((0, 2))
    first = int(np.argmax(_reach(graph, 0)[0]))
    distance, before = _reach(graph, first)
    way = [int(np.argmax(distance))]
    while way[-1] != first:
        way.append(int(before[way[-1]]))
    thinned = np.column_stack((columns + left - 1, rows + top - 1)).astype(np.float64)
    return thinned[way], thinned


def _graph(thin: NDArray[np.bool_]) -> tuple[coo_array, NDArray[np.int64], NDArray[np.int64]]:
    """Neighbouring pixels joined, with their distance."""
    rows, columns = np.nonzero(thin)
    number = np.full(thin.shape, -1, np.int64)
    number[rows, columns] = np.arange(len(rows))
    start, stop, length = [], [], []
    for down, right, distance in NEIGHBOURS:
        other = number[rows + down, columns + right]
        joined = other >= 0
        start.append(np.nonzero(joined)[0])
        stop.append(other[joined])
        length.append(np.full(int(joined.sum()), distance))
    entries = (np.concatenate(start), np.concatenate(stop))
    size = (len(rows), len(rows))
    return coo_array((np.concatenate(length), entries), shape=size).tocsr(), rows, columns


def _reach(graph: coo_array, start: int) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Distance of every pixel, and the one before it on the way; what is cut off is at 0."""
    distance, before = dijkstra(graph, directed=False, indices=start, return_predecessors=True)
    return np.where(np.isfinite(distance), distance, 0.0), before
