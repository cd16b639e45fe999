"""How far the hose's surface stays from things marked in two photos or more."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, rays
from photomeasure.errors import UsageError
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.space.chain import Chain
from photomeasure.route.space.chainfit import moved
from photomeasure.route.space.course import Course
from photomeasure.route.space.model import State, predict_world
from photomeasure.route.space.reading import Clearance, Mark, SpaceSaid
from photomeasure.route.space.see import Shot
from photomeasure.route.space.slack import moved_apart
from photomeasure.route.space.solve import Solved
from photomeasure.route.space.vary import DRAWS, Variation, root_of

__all__ = ["Hose", "clearances"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Sight = tuple[int, tuple[float, float]]  # row of a photo, and a pixel in it

CLICK_PX = 3.5  # how well a person points at one place in two photos of 12 MP; own estimate
CLICK_SHARE = CLICK_PX / 4032  # of the picture's longer side
OFF = 6.0  # times that: such marks are not of one place
FLATTEST = 1e-3  # of the sights' normal matrix: nearly parallel sights meet nowhere
STEP_MM = 1.0
MOVING_MM, HOT_MM = 25.0, 100.0  # kept from what moves, from an open exhaust; from memory
LABELS = {
    "marks": "how well the marked places were pointed at",
    "hose surface": "the hose's outside diameter",
    "photo geometry": "lens, poses and places of cards and bands",
    "hose axis": "the hose's shape, and how snugly the bands are wrapped",
}


@dataclass(frozen=True, slots=True, eq=False)
class Hose:
    """The solved route, and the photos it was solved from."""

    solved: Solved
    shots: Sequence[Shot]
    vary: Variation
    od: Quantity

    @property
    def course(self) -> Course:
        """The route's curve."""
        return self.vary.course


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    """A marked place: its sights, where they cross, and that place's covariance [mm²]."""

    sights: tuple[Sight, ...]
    place: Vector
    covariance: Matrix


def clearances(
    hose: Hose, names: Sequence[str], said: SpaceSaid
) -> tuple[tuple[Clearance, ...], tuple[str, ...]]:
    """Find where marked things are and how near the hose comes.

    Parameters
    ----------
    hose : Hose
    names : sequence of str
        Of all photos as given, also of those that do not connect.
    said : SpaceSaid
        Its marks, and what moves.

    Returns
    -------
    clearances : tuple of Clearance
    warnings : tuple of str

    Raises
    ------
    UsageError
        A mark names a photo that is not there, or a movement something that is not marked.
    """
    found, told = [], list[str]()
    for name in dict.fromkeys(mark.name for mark in said.marks):
        spots = []
        for sights in _sights(hose, names, [mark for mark in said.marks if mark.name == name]):
            spot = _crossed(hose, sights)
            if isinstance(spot, str):
                told.append(f"{name}: {spot}")
            else:
                spots.append(spot)
        if spots:
            found.append(_clearance(hose, name, spots))
    moved_ = moved_apart(found, said)
    return moved_, (*told, *(text for one in moved_ for text in _near(one)))


def _sights(hose: Hose, names: Sequence[str], marks: Sequence[Mark]) -> list[tuple[Sight, ...]]:
    """Sights of each place of a thing, in the photos that connect."""
    rows = {shot.name: row for row, shot in enumerate(hose.shots)}
    in_photo: dict[str, list[tuple[float, float]]] = {}
    for mark in marks:
        in_photo.setdefault(_photo(mark, names), []).append(mark.px)
    count = max(len(places) for places in in_photo.values())
    return [
        tuple(
            (rows[name], places[k])
            for name, places in in_photo.items()
            if name in rows and k < len(places)
        )
        for k in range(count)
    ]


def _photo(mark: Mark, names: Sequence[str]) -> str:
    if mark.photo in names:
        return mark.photo
    if mark.photo.isdecimal() and 1 <= int(mark.photo) <= len(names):
        return names[int(mark.photo) - 1]
    raise UsageError(
        f"The mark of {mark.name} names the photo '{mark.photo}', which is not there.",
        "Name a photo's file, or its number from 1, as in exhaust@2:1520,877.",
    )


def _crossed(hose: Hose, sights: tuple[Sight, ...]) -> "_Spot | str":
    """Where sights cross; a sentence where they do not."""
    if len(sights) < 2:
        return "mark it in two photos that connect, or more; its distance is not known."
    state = hose.solved.state
    place, normal = _crossing(state, hose.shots, sights)
    size = np.linalg.eigvalsh(normal)
    if size[0] < FLATTEST * size[-1]:
        return "the photos that it is marked in are taken from nearly one place; mark another."
    for row, px in sights:
        off = predict_world(state, row, place[None])[0] - px
        if not np.hypot(*off) < OFF * CLICK_SHARE * max(hose.shots[row].size_px):
            return "its marks do not meet; are they of one place, in the same order?"
    return _Spot(sights, place, np.asarray(np.linalg.inv(normal), np.float64))


def _crossing(
    state: State, shots: Sequence[Shot], sights: Sequence[Sight]
) -> tuple[Vector, Matrix]:
    """The place nearest to all sights, and the inverse of its covariance [1/mm²]."""
    place: Vector = np.zeros(3)
    normal: Matrix = np.eye(3)
    weights = np.ones(len(sights))
    for _ in range(3):
        normal, side = np.zeros((3, 3)), np.zeros(3)
        for k, (row, px) in enumerate(sights):
            camera = Camera(*(float(v) for v in state.lens[row]))
            way = rays(camera, np.array([px]))[0] @ state.turn[row]
            way /= np.linalg.norm(way)
            eye = -state.turn[row].T @ state.shift[row]
            across = weights[k] * (np.eye(3) - np.outer(way, way))
            normal += across
            side += across @ eye
        place = np.asarray(np.linalg.lstsq(normal, side, rcond=None)[0], np.float64)
        for k, (row, _) in enumerate(sights):
            eye = -state.turn[row].T @ state.shift[row]
            noise_px = CLICK_SHARE * max(shots[row].size_px)
            away = max(float(np.linalg.norm(place - eye)), 1.0)
            weights[k] = (float(state.lens[row][0]) / (noise_px * away)) ** 2
    return place, normal


def _clearance(hose: Hose, name: str, spots: Sequence[_Spot]) -> Clearance:
    course = hose.course
    places = np.array([spot.place for spot in spots])
    feet = course.fit.chain.feet(course.ends.edges, course.ends.near_mm)
    limits = (float(feet[0]), float(feet[1]))
    at_mm, share = _nearest(course.fit.chain, limits, places)
    axis, thing = course.fit.chain.at(np.array([at_mm]))[0][0], share @ places
    way = (thing - axis) / max(float(np.linalg.norm(thing - axis)), 1e-9)
    spread = sum(
        (s**2 * spot.covariance for s, spot in zip(share, spots, strict=True)), np.zeros((3, 3))
    )
    parts = _parts(hose, spots, share, (at_mm, limits))
    key = "+".join(shot.key for shot in hose.shots)
    parts[Source(f"marks/{name}", LABELS["marks"], "photo", key)] = float(
        np.sqrt(way @ spread @ way)
    )
    parts[Source(f"hose surface/{name}", LABELS["hose surface"], "photo", key)] = 0.5 * hose.od.u
    distance = float(np.linalg.norm(thing - axis)) - 0.5 * hose.od.value
    quantity = Quantity.normal(measured(distance, parts), "mm")
    return Clearance(name, quantity, at_mm - limits[0], np.stack([axis, thing]))


def _nearest(chain: Chain, limits: tuple[float, float], places: Matrix) -> tuple[float, Vector]:
    """Arc length where the axis is nearest to the line through places, and their shares there."""
    at = np.arange(*limits, STEP_MM)
    axis = chain.at(at)[0]
    best = (np.inf, 0.0, np.eye(len(places))[0])
    for k in range(max(1, len(places) - 1)):
        one, other = places[k], places[min(k + 1, len(places) - 1)]
        along = other - one
        t = np.clip((axis - one) @ along / max(float(along @ along), 1e-9), 0, 1)
        away = np.linalg.norm(axis - one - t[:, None] * along, axis=1)
        near = int(np.argmin(away))
        if away[near] < best[0]:
            share = np.zeros(len(places))
            share[min(k + 1, len(places) - 1)] += t[near]
            share[k] += 1 - t[near]
            best = (float(away[near]), float(at[near]), share)
    return best[1], best[2]


def _parts(
    hose: Hose,
    spots: Sequence[_Spot],
    share: Vector,
    where: tuple[float, tuple[float, float]],
) -> dict[Source, float]:
    """Signed contributions of prints, photos and curve to one distance [mm]."""
    course, vary, solved = hose.course, hose.vary, hose.solved
    at_mm, limits = where

    def away(chain: Chain, thing: Vector) -> float:
        foot = np.clip(chain.feet(thing[None], np.array([at_mm])), *limits)
        return float(np.linalg.norm(thing - chain.at(foot)[0][0]))

    home = share @ np.array([spot.place for spot in spots])
    base = away(course.fit.chain, home)

    def by_state(step: Vector) -> float:
        now = vary.moved_at_state(step)
        places = [_crossing(now.state, hose.shots, spot.sights)[0] for spot in spots]
        thing = now.home(np.array(places))
        return away(moved(course.fit.chain, now.step), share @ thing) / now.scale - base

    parts = {source: by_state(shift) for source, shift in solved.shifts}
    rest = solved.covariance - sum(
        (np.outer(shift, shift) for _, shift in solved.shifts), 0 * solved.covariance
    )
    root, rng = root_of(rest), np.random.default_rng(0)
    counts = (4 * len(course.rows), len(course.fit.sides.photo), course.fit.loose.shape[1])
    by_photos, by_curve = [], []
    for _ in range(DRAWS):
        by_photos.append(by_state(root @ rng.standard_normal(root.shape[1])))
        wrap, seen, loose = (rng.standard_normal(count) for count in counts)
        step = vary.step_at_wrap(wrap) + vary.step_at_sides(seen) + vary.step_at_curve(loose)
        by_curve.append(away(moved(course.fit.chain, step), home) - base)
    key = "+".join(shot.key for shot in hose.shots)
    for name, changes in (("photo geometry", by_photos), ("hose axis", by_curve)):
        source = Source(f"{name}/clearance", LABELS[name], "photo", key)
        parts[source] = float(np.sqrt(np.mean(np.square(changes))))
    return parts


def _near(one: Clearance) -> list[str]:
    """Say where the hose comes near."""
    low = one.least.low
    if low >= HOT_MM:
        return []
    least = (
        f"{one.name}: the hose may come within {max(low, 0.0):.0f} mm"
        + (f", {one.moves_mm:.0f} mm of movement taken off" if one.moves_mm else "")
        + f", {one.at_mm:.0f} mm along."
    )
    if low < MOVING_MM:
        return [f"{least} Keep {MOVING_MM:.0f} mm from what moves, more from what is hot."]
    return [f"{least} Keep 75 to {HOT_MM:.0f} mm from an exhaust without a shield."]
