"""Scenes in space without pixels: corners projected with noise, solved and measured like photos."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, LensPrior
from photomeasure.quantities import Quantity
from photomeasure.references.catalogue import print_of
from photomeasure.route.space.budget import Measured, measure
from photomeasure.route.space.course import Course
from photomeasure.route.space.follow import Basis, Look, followed
from photomeasure.route.space.gather import joined
from photomeasure.route.space.model import PAPER_MM, Points, State, Thing
from photomeasure.route.space.see import Shot
from photomeasure.route.space.solve import Known, Solved, solve
from photomeasure.scene.scale import BarReading, page_scale
from tests.route.space_scenes import (
    Band,
    SpaceScene,
    band_points,
    card_points,
    px_of,
    shown_u,
)
from tests.route.space_truth import truth_of

Floats = NDArray[np.float64]

NOISE_PX = 0.05
LEAST_FACING = 0.4
FOUND = 0.85  # of the points in sight
LEAST_POINTS = 4  # of a band, to be used


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """One scene: what was measured, and the truth."""

    seed: int
    photos: int
    measured: Measured
    truth: dict[str, Any]


def _things(scene: SpaceScene) -> list[Thing]:
    cards, bands = print_of("markers", "A4"), print_of("bands", "A4")
    found = [
        Thing(cards, next(p for p in cards.pieces if p.name == card.name)) for card in scene.cards
    ]
    for band in scene.bands:
        found.append(Thing(bands, next(p for p in bands.pieces if p.order == band.order)))
    return found


def _seen(scene: SpaceScene, photo: int, row: int, thing: Thing) -> tuple[Floats, Floats]:
    """Page points of a thing that a photo shows, and where, without noise."""
    camera = scene.cameras[photo]
    page = thing.piece.corners_page_mm
    if thing.is_band:
        page = np.vstack([page, thing.piece.marker_corners_page_mm.mean(axis=1)])
        points, out = band_points(scene, scene.bands[row - len(scene.cards)], page)
    else:
        points = card_points(scene, scene.cards[row], page)
        out = np.broadcast_to(scene.cards[row].pose[:3, 2], points.shape)
    way = camera.centre_sheet_mm - points
    facing = np.sum(way * out, axis=1) / np.linalg.norm(way, axis=1)
    px = px_of(camera, points)
    shown = (facing > LEAST_FACING) & np.all((px > 20) & (px < np.array(camera.size_px) - 20), 1)
    if thing.is_band:
        left = thing.piece.outline_page_mm[:, 0].min()
        shown &= shown_u(scene, page[:, 0] - left - 2.5)
    return page[shown], px[shown]


def _points(scene: SpaceScene, things: list[Thing], rng: np.random.Generator) -> Points:
    parts = []
    for photo in range(len(scene.cameras)):
        for row, thing in enumerate(things):
            page, px = _seen(scene, photo, row, thing)
            keep = rng.random(len(page)) < FOUND
            count = int(keep.sum())
            if count < (1 if thing.is_band else 6):
                continue
            noisy = px[keep] + NOISE_PX * rng.standard_normal((count, 2))
            parts.append(
                Points(
                    np.full(count, photo), np.full(count, row), thing.nominal(page[keep]), noisy,
                    np.full(count, NOISE_PX),
                )
            )  # fmt: skip
    return joined(parts)


def _pose_of_band(scene: SpaceScene, band: Band) -> tuple[Floats, Floats]:
    index = scene.curve.index(band.at_mm)
    frame = scene.curve.frames[index]
    roll = scene.radius_mm + PAPER_MM / 2
    phi = band.phase_rad - 42.5 * scene.scales["bands"][0] / roll
    x = np.cos(phi) * frame[1] + np.sin(phi) * frame[2]
    return np.column_stack([x, np.cross(frame[0], x), frame[0]]), scene.curve.points[index]


def _shot(scene: SpaceScene, photo: int) -> Shot:
    camera = scene.cameras[photo]
    width, height = camera.size_px
    focal = scene.focal_35mm / 43.267 * float(np.hypot(width, height))
    prior = LensPrior(
        Camera(focal * (1 + scene.focal_mm / 600), (width - 1) / 2, (height - 1) / 2, 0.0, 0.0),
        (0.02 * focal, 0.008 * width, 0.008 * width, 0.05, 0.05),
    )
    return Shot(
        f"photo{photo}", f"{scene.seed}-{photo}", "phone", (width, height), prior, scene.focal_mm,
        (), (), 1.0, (),
    )  # fmt: skip


def _state(scene: SpaceScene, things: list[Thing], rng: np.random.Generator) -> State:
    """The truth, moved a little."""
    poses = [(card.pose[:3, :3], card.pose[:3, 3]) for card in scene.cards]
    poses += [_pose_of_band(scene, band) for band in scene.bands]
    first = poses[0]
    cameras = [camera.camera_from_sheet for camera in scene.cameras]
    turn = np.array([c[:3, :3] @ first[0] for c in cameras])
    shift = np.array([c[:3, :3] @ first[1] + c[:3, 3] for c in cameras])
    spun = np.array([cv2.Rodrigues(rng.normal(0, 0.01, 3))[0] for _ in things])
    spun[0] = np.eye(3)
    home = np.array([first[0].T @ pose[0] for pose in poses])
    place = np.array([first[0].T @ (pose[1] - first[1]) for pose in poses])
    place[1:] += rng.normal(0, 1.0, (len(things) - 1, 3))
    lenses = [_shot(scene, k).lens.camera for k in range(len(cameras))]
    return State(
        lens=np.array([[c.focal_px, c.centre_x_px, c.centre_y_px, c.k1, c.k2] for c in lenses]),
        turn=turn,
        shift=shift,
        thing_turn=spun @ home,
        thing_shift=place,
        skew=np.zeros(len(things)),
        bend=np.zeros((len(things), 2)),
        scale=np.ones((2, 2)),
        radius_mm=9.0,
        give=0.5,
        is_band=np.array([thing.is_band for thing in things]),
        print_row=np.array([int(thing.is_band) for thing in things]),
    )


def solved_scene(
    scene: SpaceScene, look: Callable[[SpaceScene, State], Look] | None = None
) -> tuple[Solved, list[Thing], Course, list[Shot], Measured] | None:
    """Solve and measure one scene; None where too little of an outer band is in sight."""
    rng = np.random.default_rng(scene.seed + 555)
    things = _things(scene)
    points = _points(scene, things, rng)
    shots = [_shot(scene, photo) for photo in range(len(scene.cameras))]
    scales = [
        page_scale(print_of(kind, "A4"), BarReading(*scene.bars[kind]))
        for kind in ("markers", "bands")
    ]
    known = Known(shots, scales, 9.1, 2.5, np.full(len(shots), 600.0))
    state = _state(scene, things, rng)
    solved = solve(state, points, known)
    solved = solve(solved.state, points, known, is_near=True)
    counts = np.bincount(points.thing, minlength=len(things))
    first, last = len(scene.cards), len(things) - 1
    bands = [k for k in range(first, len(things)) if counts[k] >= LEAST_POINTS]
    if first not in bands or last not in bands:
        return None
    look_of = None if look is None else partial(look, scene)
    solved, course = followed(Basis(solved, points, known, things), bands, look_of)
    return solved, things, course, shots, measure(solved, things, course, "photos")


def outcome(
    scene: SpaceScene, look: Callable[[SpaceScene, State], Look] | None = None
) -> Outcome | None:
    """Solve and measure one scene; None where too little of an outer band is in sight."""
    made = solved_scene(scene, look)
    if made is None:
        return None
    return Outcome(scene.seed, len(made[3]), made[4], truth_of(scene))


def error_of(found: Quantity | None, true: float | None) -> tuple[float, float] | None:
    """Error and standard uncertainty, or None where either is not known."""
    if found is None or true is None:
        return None
    return found.value - true, found.u
