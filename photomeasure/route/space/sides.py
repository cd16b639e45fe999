"""Where a hose's two sides are seen between its bands, and what that tells of its axis.

A ray that touches a tube of radius r about an axis point does so where the tube's normal n, square
to the axis, meets n . (point - eye) = -r. The two sides lie alike to either side of the plane
through the eye and the hose's direction, so the middle between them is the axis' place across the
sight, whatever blur and light do to both sides alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chain import Chain
from photomeasure.route.space.model import State, predict_world

__all__ = ["Sides", "Sights", "joined", "none_seen", "shifted_mm", "sights"]

Vector = NDArray[np.float64]  # (N,)
Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)

SLOPE_MM = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Places across the hose where the middle between its two sides is seen.

    Attributes
    ----------
    photo : (K,)
        Row of the state.
    at_mm : (K,)
        Along the chain that they were looked for along; in order within each photo.
    points : (K, 3) [mm]
        Axis places of that chain.
    across : (K, 3)
        Unit ways across the sight.
    off_mm : (K,)
        How far the middle is seen from the axis place, along `across`.
    u_mm : (K,)
        Standard uncertainty.
    """

    photo: NDArray[np.int64]
    at_mm: Vector
    points: Points3
    across: Points3
    off_mm: Vector
    u_mm: Vector

    def of(self, rows: NDArray[np.bool_]) -> "Sides":
        """Some of them."""
        return Sides(
            self.photo[rows], self.at_mm[rows], self.points[rows], self.across[rows],
            self.off_mm[rows], self.u_mm[rows],
        )  # fmt: skip


def joined(parts: Sequence[Sides]) -> Sides:
    """All of them in one."""
    names = ("photo", "at_mm", "points", "across", "off_mm", "u_mm")
    return Sides(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))


def none_seen() -> Sides:
    """No side of any hose."""
    none = np.empty(0)
    return Sides(np.empty(0, np.int64), none, np.empty((0, 3)), np.empty((0, 3)), none, none)


@dataclass(frozen=True, slots=True, eq=False)
class Sights:
    """How one photo sees places of a chain.

    Attributes
    ----------
    points : (N, 3) [mm]
        On the axis.
    middles : (N, 3) [mm]
        Half way between the two points that the sights touch.
    across : (N, 3)
        Unit ways from the middle to one of them.
    half_mm : (N,)
        From the middle to either.
    slant : (N,)
        Sine of the angle between the sight and the hose.
    """

    points: Points3
    middles: Points3
    across: Points3
    half_mm: Vector
    slant: Vector


def sights(state: State, photo: int, chain: Chain, at_mm: Vector) -> Sights:
    """Say how a photo sees a hose.

    Parameters
    ----------
    state : State
    photo : int
        Row of the state.
    chain : Chain
    at_mm : (N,) [mm]

    Returns
    -------
    Sights
    """
    radius = state.bare_radius_mm
    points, frames = chain.at(at_mm)
    way = frames[:, 0]
    sight = points + state.turn[photo].T @ state.shift[photo]  # from the eye
    along = np.sum(sight * way, axis=1)
    aside = sight - along[:, None] * way
    away = np.maximum(np.linalg.norm(aside, axis=1), 1.5 * radius)
    out = aside / away[:, None]
    across = np.cross(way, out)
    return Sights(
        points,
        points - (radius**2 / away)[:, None] * out,
        across,
        radius * np.sqrt(1 - (radius / away) ** 2),
        away / np.linalg.norm(sight, axis=1),
    )


def shifted_mm(state: State, sides: Sides, now: State, moved_points: Points3) -> Vector:
    """How much further off the middles are seen if the solve and the axis places move.

    Parameters
    ----------
    state : State
    sides : Sides
    now : State
        The solve moved.
    moved_points : (K, 3) [mm]
        The axis places in the moved world.

    Returns
    -------
    (K,) [mm]
    """
    change = np.zeros(len(sides.photo))
    for photo in np.unique(sides.photo):
        own = sides.photo == photo
        points, across = sides.points[own], sides.across[own]
        home = predict_world(state, int(photo), points)
        aside = (predict_world(state, int(photo), points + SLOPE_MM * across) - home) / SLOPE_MM
        sight = points + state.turn[photo].T @ state.shift[photo]
        sight /= np.linalg.norm(sight, axis=1, keepdims=True)
        along = predict_world(state, int(photo), points + np.cross(across, sight)) - home
        normal = np.column_stack([-along[:, 1], along[:, 0]])
        step = predict_world(now, int(photo), moved_points[own]) - home
        change[own] = -np.sum(step * normal, axis=1) / np.sum(aside * normal, axis=1)
    return np.nan_to_num(change)
