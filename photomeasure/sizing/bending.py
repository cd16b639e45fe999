"""The shortest hose of a least radius between two ends that point given ways.

A bend, a straight, a bend: the straight's direction is found by repetition, for many pairs of
ends at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Aims", "Paths", "shortest_paths"]

Vectors = NDArray[np.float64]  # (N, 3)
_STEPS = 60  # a way that has not settled by then is taken for none
_DAMPING = 0.6
_SETTLED = 1e-8  # a thousandth of a millimetre in a hundred metres
_CLOSED_MM = 1e-3
_MOST_TURN_RAD = np.deg2rad(170.0)  # beyond it the tangents hardly meet


@dataclass(frozen=True, slots=True, eq=False)
class Aims:
    """N pairs of ends: where each path begins and ends, and its unit direction of travel there.

    Attributes
    ----------
    start_mm, end_mm : ndarray (N, 3) [mm]
    leaving, arriving : ndarray (N, 3)
    """

    start_mm: Vectors
    leaving: Vectors
    end_mm: Vectors
    arriving: Vectors

    def __post_init__(self) -> None:
        for held in (self.start_mm, self.leaving, self.end_mm, self.arriving):
            held.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """N paths: which are sound, and their lengths, directions and turning.

    Attributes
    ----------
    sound : ndarray of bool (N,)
        A path of bend, straight, bend exists.
    length_mm : ndarray (N,) [mm]
        Zero where not sound.
    straight : ndarray (N, 3)
        Unit direction of the straight piece.
    turns_rad : ndarray (N, 2) [rad]
        Turning of the first and of the second bend.
    """

    sound: NDArray[np.bool_]
    length_mm: NDArray[np.float64]
    straight: Vectors
    turns_rad: NDArray[np.float64]

    def __post_init__(self) -> None:
        for held in (self.sound, self.length_mm, self.straight, self.turns_rad):
            held.setflags(write=False)


def _size(vectors: Vectors) -> Vectors:
    """Length of each row; (N, 1). A third of the time that `np.linalg.norm` takes."""
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", vectors, vectors))[:, None])


def _unit(vectors: Vectors) -> Vectors:
    size = _size(vectors)
    return np.asarray(vectors / np.maximum(size, 1e-12))


def _tan_half(one: Vectors, other: Vectors) -> Vectors:
    """Tangent of half the angle between unit vectors, kept finite; (N, 1)."""
    apart, together = _size(one - other), _size(one + other)
    return np.asarray(apart / np.maximum(together, apart / np.tan(_MOST_TURN_RAD / 2) + 1e-300))


def shortest_paths(aims: Aims, radius_mm: float) -> Paths:
    """Find for each pair of ends the path of bend, straight, bend.

    Parameters
    ----------
    aims : Aims
    radius_mm : float [mm]
        Of both bends, to the axis.

    Returns
    -------
    Paths

    Notes
    -----
    A bend of angle a touches its tangents R · tan(a / 2) from where they meet; with V and W the
    meeting points of first and second bend, the straight runs along W - V and is what the two
    tangents leave of it (own derivation).
    """
    straight = _straights(aims, radius_mm)
    first = _tan_half(aims.leaving, straight)[:, 0]
    second = _tan_half(straight, aims.arriving)[:, 0]
    turns = 2 * np.arctan(np.stack([first, second], axis=1))
    gap = _corners(aims, straight, radius_mm)
    left_mm = np.sum(gap * straight, axis=1) - radius_mm * (first + second)
    astray_mm = np.linalg.norm(np.cross(gap, straight), axis=1)
    sound = (left_mm >= -_CLOSED_MM) & (astray_mm < _CLOSED_MM)
    sound &= np.max(turns, axis=1) < _MOST_TURN_RAD - 1e-9
    length = np.where(sound, radius_mm * turns.sum(axis=1) + np.maximum(left_mm, 0), 0.0)
    return Paths(sound, length, straight, turns)


def _straights(aims: Aims, radius_mm: float) -> Vectors:
    """Repeat until each straight runs along the line between its own two corners."""
    straight = _unit(aims.end_mm - aims.start_mm)
    moving = np.arange(len(straight))
    for _ in range(_STEPS):
        part = Aims(
            aims.start_mm[moving],
            aims.leaving[moving],
            aims.end_mm[moving],
            aims.arriving[moving],
        )
        before = straight[moving]
        change = _unit(_corners(part, before, radius_mm)) - before
        straight[moving] = _unit(before + _DAMPING * change)
        moving = moving[np.abs(change).max(axis=1) > _SETTLED]
        if not len(moving):
            break
    return straight


def _corners(aims: Aims, straight: Vectors, radius_mm: float) -> Vectors:
    """Give W - V for the straight's present direction; (N, 3) [mm]."""
    first = radius_mm * _tan_half(aims.leaving, straight)
    second = radius_mm * _tan_half(straight, aims.arriving)
    corner_mm = aims.start_mm + first * aims.leaving
    return np.asarray(aims.end_mm - second * aims.arriving - corner_mm)
