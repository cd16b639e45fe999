"""A thread's edge followed round the wall: all turns laid over each other, from side to side."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["SAMPLES", "Path", "edge_path"]

Vector = NDArray[np.float64]
Grid = NDArray[np.float64]  # (angles, levels)
Places = NDArray[np.int64]

SAMPLES = 40  # a pitch
# Samples from one angle to the next; what each costs, squared, at the middle. To the sides lines
# run off ever steeper where the bore is not yet right
STEEPEST, STEP_COSTS = 2, 1.2
# From a crest's one edge to its other: samples, and what it costs
LEAST_JUMP, MOST_JUMP, JUMP_COSTS = 4, 16, 3.0
MOST_RISE, LEAST_SEEN = 6.0, 2  # most that an edge counts; turns
SMOOTH = 1.5  # angles


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Where the sharpest edge of a turn lies at every angle.

    Attributes
    ----------
    phase : int
        At the middle angle [samples].
    offsets : (A,)
        How much deeper than there [samples].
    parts : (A,)
        Number of the stretch without a jump that each angle is in.
    """

    phase: int
    offsets: Vector
    parts: Places


def edge_path(sides_rad: Vector, rises: Grid, is_seen: NDArray[np.bool_]) -> Path:
    """Follow the edge round the wall, the cheapest way from side to side (Viterbi).

    Parameters
    ----------
    sides_rad : (A,)
    rises : (A, D)
        How steep light is, over its middle; the stripes lie about level.
    is_seen : (A, D)

    Returns
    -------
    Path

    Notes
    -----
    Where light leaves a crest's upper edge, its lower one is the sharper: the path jumps.
    """
    turns = rises.shape[1] // SAMPLES
    folded = rises[:, : turns * SAMPLES].reshape(-1, turns, SAMPLES)
    seen = is_seen[:, : turns * SAMPLES].reshape(folded.shape)
    mean = np.minimum(folded, MOST_RISE).sum(axis=1) / np.maximum(seen.sum(axis=1), LEAST_SEEN)
    places = _cheapest(mean, STEP_COSTS * np.cos(sides_rad))
    middle = len(places) // 2
    jumps = np.abs(np.diff(places)) > STEEPEST
    parts = np.concatenate([[0], np.cumsum(jumps)])
    smooth = np.empty(len(places))
    for part in np.unique(parts):
        own = parts == part
        smooth[own] = _smooth(places[own].astype(np.float64))
    phase = int(np.rint(smooth[middle]))
    return Path(phase % SAMPLES, smooth - phase, parts)


def _cheapest(gains: Grid, step_costs: Vector) -> Places:
    """Places of the path with the most gain; they run on beyond a turn, (A,)."""
    moves = np.concatenate(
        [
            np.arange(-STEEPEST, STEEPEST + 1),
            np.arange(LEAST_JUMP, MOST_JUMP + 1),
            -np.arange(LEAST_JUMP, MOST_JUMP + 1),
        ]
    )
    is_step = np.abs(moves) <= STEEPEST
    costs = np.where(is_step, step_costs[:, None] * moves**2, JUMP_COSTS)
    before = (np.arange(SAMPLES) - moves[:, None]) % SAMPLES
    best, came = gains[0], np.zeros(gains.shape, dtype=np.int64)
    for line in range(1, len(gains)):
        tried = best[before] - costs[line][:, None]
        came[line] = np.argmax(tried, axis=0)
        best = tried.max(axis=0) + gains[line]
    path = np.empty(len(gains), dtype=np.int64)
    path[-1] = place = int(np.argmax(best))
    for line in range(len(gains) - 1, 0, -1):
        place -= int(moves[came[line, place % SAMPLES]])
        path[line - 1] = place
    return path


def _smooth(places: Vector) -> Vector:
    """Without steps; straight beyond both ends."""
    room = int(4 * SMOOTH)
    if len(places) < 3:
        return places
    first = 2 * places[0] - places[1 : room + 1][::-1]
    last = 2 * places[-1] - places[-room - 1 : -1][::-1]
    whole = np.concatenate([first, places, last])
    blurred = cv2.GaussianBlur(whole[None], (0, 0), SMOOTH, borderType=cv2.BORDER_REPLICATE)[0]
    return np.asarray(blurred[len(first) : len(first) + len(places)])
