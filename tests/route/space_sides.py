"""The hose's sides as photos of a drawn scene would show them, with errors, without pixels."""

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.follow import Look
from photomeasure.route.space.model import State, predict_world
from photomeasure.route.space.outline import CELL_MM, LEAST_SLANT, Stretch
from photomeasure.route.space.sides import Sides, sights
from tests.route.space_scenes import SpaceScene, px_of

__all__ = ["drawn_sides", "seen_off_mm"]

Floats = NDArray[np.float64]

NEAR_PX = 80.0
LEAST_SHOWN, MOST_SHOWN = 0.2, 0.9  # of the cells, from photo to photo
ERROR_MM, ERROR_PX, ALIKE_MM = 0.05, 0.3, 40.0
FALSE, FALSE_MM = 0.04, 2.0  # share of cells that show something else, and how far off


def seen_off_mm(
    scene: SpaceScene, photo: int, state: State, sides: tuple[Floats, Floats]
) -> Floats:
    """How far off the true axis is seen from places of a solved one, across; nan out of sight."""
    points, across = sides
    camera = scene.cameras[photo]
    true = px_of(camera, scene.curve.points)
    home = predict_world(state, photo, points)
    aside = (predict_world(state, photo, points + 0.5 * across) - home) / 0.5
    sight = points + state.turn[photo].T @ state.shift[photo]
    along = predict_world(state, photo, points + np.cross(across, sight)) - home
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    normal = np.column_stack([-along[:, 1], along[:, 0]])
    found = np.full(len(points), np.nan)
    for k, place in enumerate(home):
        off = true - place
        ahead, beside = off @ along[k], off @ normal[k]
        near = np.where(np.abs(beside) < NEAR_PX, np.abs(ahead), np.inf)
        best = int(near.argmin())
        if near[best] < 3 * np.abs(np.diff(ahead)).max():
            found[k] = beside[best] / float(aside[k] @ normal[k])
    return found


def drawn_sides(scene: SpaceScene, state: State) -> Look:
    """Look along a stretch as if in photos: some of it hidden, some of it false."""

    def look(stretch: Stretch) -> Sides:
        rng = np.random.default_rng(scene.seed + 31)
        at = np.arange(*stretch.limits, CELL_MM) + 0.5 * CELL_MM
        under = (at[:, None] > stretch.bands_mm[:, 0]) & (at[:, None] < stretch.bands_mm[:, 1])
        parts = [
            _in_photo(scene, state, (photo, at, np.asarray(~under.any(axis=1))), stretch, rng)
            for photo in range(len(scene.cameras))
        ]
        names = ("photo", "at_mm", "points", "across", "off_mm", "u_mm")
        return Sides(*(np.concatenate([getattr(one, name) for one in parts]) for name in names))

    return look


def _in_photo(
    scene: SpaceScene,
    state: State,
    where: tuple[int, Floats, NDArray[np.bool_]],
    stretch: Stretch,
    rng: np.random.Generator,
) -> Sides:
    photo, at, open_ = where
    seen = sights(state, photo, stretch.chain, at)
    off = seen_off_mm(scene, photo, state, (seen.points, seen.across))
    apart = np.exp(-np.abs(at[:, None] - at) / ALIKE_MM) + 1e-9 * np.eye(len(at))
    depth = seen.points @ state.turn[photo][2] + state.shift[photo][2]
    u = np.hypot(ERROR_MM, ERROR_PX * depth / state.lens[photo][0])
    error = u * (np.linalg.cholesky(apart) @ rng.standard_normal(len(at)))
    false = rng.random(len(at)) < FALSE
    error += false * rng.uniform(-FALSE_MM, FALSE_MM, len(at))
    shown = rng.random(len(at)) < rng.uniform(LEAST_SHOWN, MOST_SHOWN)
    good = open_ & shown & (seen.slant > LEAST_SLANT) & np.isfinite(off)
    good &= np.abs(off) < stretch.reach_mm
    return Sides(
        np.full(int(good.sum()), photo), at[good], seen.points[good], seen.across[good],
        (off + error)[good], u[good],
    )  # fmt: skip
