"""A smooth curve in space as a chain of short arcs, with a frame that does not turn about it."""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["Chain", "chain_through", "turns"]

Vector = NDArray[np.float64]  # (N,)
Points3 = NDArray[np.float64]  # (N, 3)
Frames = NDArray[np.float64]  # (N, 3, 3)

LINK_MM = 5.0
STRAIGHT = 1e-9  # 1/mm
STILL_MM = 1e-7
SAMPLES = 40  # of a first path between two points


def turns(vectors: Points3) -> Frames:
    """Rotation matrices of rotation vectors, (N, 3) to (N, 3, 3) (Rodrigues)."""
    angle = np.linalg.norm(vectors, axis=1)[:, None, None]
    x, y, z = vectors.T
    none = np.zeros_like(x)
    cross = np.stack([none, -z, y, z, none, -x, -y, x, none], axis=1).reshape(-1, 3, 3)
    sine = np.sinc(angle / np.pi)
    versine = 0.5 * np.sinc(angle / (2 * np.pi)) ** 2
    return np.asarray(np.eye(3) + sine * cross + versine * cross @ cross)


@dataclass(frozen=True, eq=False)
class Chain:
    """Arcs of equal length joined without a corner.

    Attributes
    ----------
    start_mm : (3,)
    frame : (3, 3)
        Rows: direction, first and second normal at the start.
    curvature : (M, 2) [1/mm]
        Of each link along the two normals.
    link_mm : float
    """

    start_mm: Vector
    frame: NDArray[np.float64]
    curvature: NDArray[np.float64]
    link_mm: float = LINK_MM

    @cached_property
    def joints(self) -> tuple[Points3, Frames]:
        """Points and frames where links meet, one more than there are links."""
        link = self.link_mm
        size = np.hypot(*self.curvature.T)
        half = 0.5 * size * link
        ahead = link * np.sinc(2 * half / np.pi)
        aside = link * half * np.sinc(half / np.pi) ** 2
        way = self.curvature / np.maximum(size, STRAIGHT)[:, None]
        spins = turns(
            np.column_stack(
                [np.zeros(len(size)), -self.curvature[:, 1] * link, self.curvature[:, 0] * link]
            )
        ).transpose(0, 2, 1)  # in the frame's own axes
        frames = np.concatenate([self.frame[None], _one_after_another(spins) @ self.frame])
        normal = np.einsum("ki,kij->kj", way, frames[:-1, 1:])
        steps = ahead[:, None] * frames[:-1, 0] + aside[:, None] * normal
        points = np.cumsum(np.concatenate([np.asarray(self.start_mm)[None], steps]), axis=0)
        return points, frames

    @property
    def length_mm(self) -> float:
        """From the first joint to the last."""
        return self.link_mm * len(self.curvature)

    def link_of(self, at_mm: Vector) -> NDArray[np.int64]:
        """Which link an arc length lies on."""
        found = np.floor(np.asarray(at_mm) / self.link_mm).astype(np.int64)
        return np.clip(found, 0, len(self.curvature) - 1)

    def at(self, at_mm: Vector) -> tuple[Points3, Frames]:
        """Points and frames at arc lengths; beyond the ends the outer arcs go on.

        Parameters
        ----------
        at_mm : (N,) [mm]

        Returns
        -------
        points : (N, 3) [mm]
        frames : (N, 3, 3)
        """
        points, frames = self.joints
        link = self.link_of(at_mm)
        rest = np.asarray(at_mm) - link * self.link_mm
        curvature = self.curvature[link]
        size = np.hypot(*curvature.T)
        angle = size * rest
        way = curvature / np.maximum(size, STRAIGHT)[:, None]
        ahead = rest * np.sinc(angle / np.pi)
        aside = rest * 0.5 * angle * np.sinc(angle / (2 * np.pi)) ** 2
        frame = frames[link]
        normal = way[:, :1] * frame[:, 1] + way[:, 1:] * frame[:, 2]
        spin = turns(
            np.column_stack([np.zeros(len(rest)), -curvature[:, 1] * rest, curvature[:, 0] * rest])
        ).transpose(0, 2, 1)
        return points[link] + ahead[:, None] * frame[:, 0] + aside[:, None] * normal, spin @ frame

    def nearest(self, points_mm: Points3) -> Vector:
        """Arc lengths of the places nearest to points, (N,) [mm]."""
        at = np.arange(0.0, self.length_mm, self.link_mm)
        away = np.linalg.norm(self.at(at)[0] - points_mm[:, None], axis=2)
        return self.feet(points_mm, at[away.argmin(axis=1)])

    def feet(self, points_mm: Points3, near_mm: Vector, rounds: int = 6) -> Vector:
        """Arc lengths of the perpendiculars' feet, from arc lengths close by.

        Parameters
        ----------
        points_mm : (N, 3) [mm]
        near_mm : (N,) [mm]

        Returns
        -------
        (N,) [mm]
        """
        at = np.asarray(near_mm, dtype=np.float64).copy()
        for _ in range(rounds):
            here, frames = self.at(at)
            step = np.clip(np.sum((points_mm - here) * frames[:, 0], axis=1), -20.0, 20.0)
            at += step
            if np.abs(step).max() < STILL_MM:
                break
        return at


def _one_after_another(spins: Frames) -> Frames:
    """Of each spin the product with all before it, in some seven steps for a hundred (a scan)."""
    whole, reach = spins.copy(), 1
    while reach < len(whole):
        whole[reach:] = whole[reach:] @ whole[:-reach]
        reach *= 2
    return whole


def chain_through(
    points: Points3, ways: Points3, before_mm: float, after_mm: float
) -> tuple[Chain, Vector]:
    """A first chain along points with directions, straight on beyond both ends.

    Parameters
    ----------
    points, ways : (N, 3)
        In order; directions are unit vectors.
    before_mm, after_mm : float [mm]

    Returns
    -------
    chain : Chain
    at_mm : (N,)
        Arc lengths of the points.
    """
    dense = [points[0] - before_mm * ways[0]]
    for a, b, s, e in zip(points[:-1], points[1:], ways[:-1], ways[1:], strict=True):
        gap = float(np.linalg.norm(b - a)) * _longer(s, e)
        t = np.linspace(0, 1, SAMPLES, endpoint=False)[:, None]
        dense.append(
            (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * gap * s
            + (3 * t**2 - 2 * t**3) * b + (t**3 - t**2) * gap * e
        )  # fmt: skip
    dense.append(points[-1:])
    dense.append((points[-1] + after_mm * ways[-1])[None])
    path = np.vstack(dense)
    at = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    count = max(4, int(np.ceil(at[-1] / LINK_MM)))
    even = np.arange(count + 1) * LINK_MM
    joints = np.column_stack([np.interp(even, at, path[:, k]) for k in range(3)])
    steps = np.diff(joints, axis=0)
    steps = steps[np.linalg.norm(steps, axis=1) > 0.5 * LINK_MM]
    chain = _chain_along(points[0] - before_mm * ways[0], steps, count)
    return chain, chain.feet(points, at[1 + SAMPLES * np.arange(len(points))])


def _longer(one: Vector, other: Vector) -> float:
    """Arc over chord for the turning between two directions."""
    half = 0.5 * float(np.arccos(np.clip(one @ other, -1, 1)))
    return half / np.sin(half) if half > 1e-3 else 1.0


def _chain_along(start: Vector, steps: Points3, count: int) -> Chain:
    ways = steps / np.linalg.norm(steps, axis=1, keepdims=True)
    frame = _frame(ways[0])
    first, curvature = frame, []
    for one, other in pairwise(ways):
        bend = (other - one) / LINK_MM
        curvature.append([bend @ frame[1], bend @ frame[2]])
        axis = np.cross(one, other)
        size = np.linalg.norm(axis)
        if size > 1e-12:
            angle = np.arctan2(size, one @ other)
            frame = frame @ turns((axis / size * angle)[None])[0].T
    curvature += [[0.0, 0.0]] * (count - len(curvature))
    return Chain(start, first, np.array(curvature))


def _frame(way: Vector) -> NDArray[np.float64]:
    other = np.eye(3)[int(np.argmin(np.abs(way)))]
    side = np.cross(way, other)
    side /= np.linalg.norm(side)
    return np.stack([way, side, np.cross(way, side)])
