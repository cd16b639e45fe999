"""A first guess: photo after photo is hung on to the cards and bands that are placed already."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import rays
from photomeasure.route.space.model import PAPER_MM, Thing
from photomeasure.route.space.see import Shot

__all__ = ["Placed", "place_all", "things_seen"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Pose = NDArray[np.float64]  # (4, 4)

WORST_PX = 40.0  # usual error of a first pose; beyond, the photo does not fit
MOST_PX = 60.0  # errors beyond count alike
REFINEMENTS = 8
STILL = 1e-6  # rad, and of the distance: a pose that moves less stands
LEAST_CROSSED = 4
LEAST_POINTS = 8  # of things already placed, to hang a photo on to


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Poses so far: world from object, camera from world."""

    shots: Sequence[Shot]
    things: Sequence[Thing]
    scales: Sequence[Vector]  # of each thing
    radius_mm: float
    of_things: dict[int, Pose] = field(default_factory=dict)
    of_photos: dict[int, Pose] = field(default_factory=dict)

    def solid(self, thing: int, page_mm: Matrix) -> Matrix:
        """Points of a thing in its own frame, (N, 3)."""
        flat = self.things[thing].nominal(page_mm) * self.scales[thing]
        if not self.things[thing].is_band:
            return np.column_stack([flat, np.zeros(len(flat))])
        angle = flat[:, 0] / (self.radius_mm - PAPER_MM / 2)
        x, y = self.radius_mm * np.cos(angle), -self.radius_mm * np.sin(angle)
        return np.column_stack([x, y, flat[:, 1]])

    def views(self, photo: int) -> list["_View"]:
        """Every thing that a photo shows."""
        shot = self.shots[photo]
        rows = {thing.name: k for k, thing in enumerate(self.things)}
        out = []
        for card in shot.cards:
            row = rows[card.print_.name, card.piece.name]
            solid = self.solid(row, card.piece.corners_page_mm[card.corner_ids])
            at = rays(shot.lens.camera, card.corners_px)[:, :2]
            out.append(_View(row, solid, at, is_band=False))
        for row in sorted({rows[m.print_.name, m.piece.name] for m in shot.marks}):
            own = [m for m in shot.marks if (m.print_.name, m.piece.name) == self.things[row].name]
            page = np.concatenate([m.piece.marker_corners_page_mm[m.row] for m in own])
            px = np.concatenate([m.corners_px for m in own])
            at = rays(shot.lens.camera, px)[:, :2]
            out.append(_View(row, self.solid(row, page), at, is_band=True))
        return out


@dataclass(frozen=True, eq=False)
class _View:
    """A thing in one photo: its row, points in its frame, rays to them."""

    row: int
    solid: Matrix
    seen: Matrix
    is_band: bool

    @cached_property
    def poses(self) -> list[Pose]:
        """Camera from thing, by a plane's two solutions."""
        if self.is_band:
            return _band_poses(self.solid, self.seen)
        return [pose for pose, _ in _flat_poses(self.solid, self.seen)]

    @property
    def weight(self) -> int:
        """How much it tells of where a camera stands."""
        return len(self.solid) * (1 if self.is_band else 3)


def things_seen(shots: Iterable[Shot]) -> list[Thing]:
    """Every card and band that any photo shows, the cards first."""
    found: dict[tuple[str, str], Thing] = {}
    for shot in shots:
        for card in shot.cards:
            thing = Thing(card.print_, card.piece)
            found.setdefault(thing.name, thing)
        for mark in shot.marks:
            thing = Thing(mark.print_, mark.piece)
            found.setdefault(thing.name, thing)
    return sorted(found.values(), key=lambda t: (t.is_band, t.piece.order or 0, t.name))


def place_all(placed: Placed) -> None:
    """Place photos and things, one after another; what does not connect stays out.

    Parameters
    ----------
    placed : Placed
        Filled in.
    """
    views = [placed.views(photo) for photo in range(len(placed.shots))]
    first = int(np.argmax([sum(one.weight for one in seen) for seen in views]))
    placed.of_photos[first] = np.eye(4)
    _hang_things(placed, views[first], np.eye(4), placed.shots[first].lens.camera.focal_px)
    while True:
        waiting = [k for k in range(len(views)) if k not in placed.of_photos]
        known = {
            k: sum(one.weight for one in views[k] if one.row in placed.of_things) for k in waiting
        }
        for photo in sorted(waiting, key=lambda k: -known[k]):
            if known[photo] < LEAST_POINTS:
                continue
            focal = placed.shots[photo].lens.camera.focal_px
            pose, error = _photo_pose(placed, views[photo], focal)
            if pose is not None and error < WORST_PX:
                placed.of_photos[photo] = pose
                _hang_things(placed, views[photo], pose, focal)
                _mend(placed, views)
                break
        else:
            return


def _hang_things(placed: Placed, views: list[_View], pose: Pose, focal_px: float) -> None:
    """Place what a placed photo shows and no earlier one did."""
    for one in views:
        if one.row not in placed.of_things and one.poses:
            errors = [_error(there, one.solid, one.seen, focal_px) for there in one.poses]
            best = one.poses[int(np.argmin(errors))]
            placed.of_things[one.row] = np.linalg.inv(pose) @ best


def _band_poses(solid: Matrix, seen: Matrix) -> list[Pose]:
    """Camera from band, by each of its markers in turn."""
    poses = []
    for first in range(0, len(solid), 4):
        corners, at = solid[first : first + 4], seen[first : first + 4]
        angle = np.arctan2(-corners[:, 1], corners[:, 0]).mean()
        if np.ptp(np.arctan2(-corners[:, 1], corners[:, 0])) > np.pi:
            angle += np.pi
        round_ = np.array([-np.sin(angle), -np.cos(angle), 0.0])
        out = np.array([np.cos(angle), -np.sin(angle), 0.0])
        basis = np.stack([round_, [0.0, 0.0, 1.0], -out])
        middle = corners.mean(axis=0)
        flat = (corners - middle) @ basis.T * [1, 1, 0]
        for pose, _ in _flat_poses(flat, at):
            whole = np.eye(4)
            whole[:3, :3] = pose[:3, :3] @ basis
            whole[:3, 3] = pose[:3, 3] - whole[:3, :3] @ middle
            poses.append(_finer(whole, solid, seen))
    return poses


def _flat_poses(solid: Matrix, seen: Matrix) -> list[tuple[Pose, float]]:
    done, turns, shifts, errors = cv2.solvePnPGeneric(
        solid, np.ascontiguousarray(seen), np.eye(3), None, flags=cv2.SOLVEPNP_IPPE
    )
    if not done:
        return []
    found = []
    for turn, shift, error in zip(turns, shifts, np.asarray(errors).ravel(), strict=True):
        pose = np.eye(4)
        pose[:3, :3], pose[:3, 3] = cv2.Rodrigues(turn)[0], np.asarray(shift).ravel()
        if np.all(np.isfinite(pose)):
            found.append((pose, float(error)))
    return found


def _finer(pose: Pose, solid: Matrix, seen: Matrix) -> Pose:
    """Least squares from a pose close by, with little weight on what is far off."""
    for _ in range(REFINEMENTS):
        turned = solid @ pose[:3, :3].T
        camera = turned + pose[:3, 3]
        if np.any(camera[:, 2] <= 0):
            break
        rest = camera[:, :2] / camera[:, 2:] - seen
        slopes = _slopes(turned, camera)
        off = np.hypot(*rest.T)
        weight = 1 / np.maximum(off, 2 * np.median(off) + 1e-9)
        flat = (slopes * weight[:, None, None]).reshape(-1, 6)
        normal = flat.T @ slopes.reshape(-1, 6)
        normal += 1e-9 * np.diag(np.diag(normal))
        step = -np.linalg.solve(normal, flat.T @ rest.ravel())
        turn = cv2.Rodrigues(np.clip(step[:3], -0.5, 0.5))[0]
        pose = pose.copy()
        pose[:3, :3] = turn @ pose[:3, :3]
        pose[:3, 3] += step[3:]
        if np.abs(step[:3]).max() < STILL and np.abs(step[3:]).max() < STILL * camera[0, 2]:
            break
    return pose


def _slopes(turned: Matrix, camera: Matrix) -> NDArray[np.float64]:
    """How x/z and y/z of points change with a turn and a shift, (N, 2, 6)."""
    (tx, ty, tz), (x, y, z) = turned.T, camera.T
    one, by_x, by_y, none = 1 / z, -x / z**2, -y / z**2, np.zeros_like(z)
    of_x = [by_x * ty, one * tz - by_x * tx, -one * ty, one, none, by_x]
    of_y = [by_y * ty - one * tz, -by_y * tx, one * tx, none, one, by_y]
    return np.stack([np.stack(of_x, axis=1), np.stack(of_y, axis=1)], axis=1)


def _error(pose: Pose, solid: Matrix, seen: Matrix, focal_px: float) -> float:
    """Usual distance of points from where they are seen [px], large errors cut off."""
    camera = solid @ pose[:3, :3].T + pose[:3, 3]
    if np.any(camera[:, 2] <= 0):
        return 1e9
    off = np.hypot(*(camera[:, :2] / camera[:, 2:] - seen).T) * focal_px
    return float(np.mean(np.minimum(off, MOST_PX)))


def _photo_pose(placed: Placed, views: list[_View], focal_px: float) -> tuple[Pose | None, float]:
    """Camera from world, from the placed cards that the photo shows, else from the bands."""
    known = [one for one in views if one.row in placed.of_things]
    cards = [one for one in known if not one.is_band]
    everything = _in_world(placed, known)
    world, seen = _in_world(placed, cards or known)
    poses = [
        pose @ np.linalg.inv(placed.of_things[one.row])
        for one in cards or known
        for pose in one.poses
    ]
    done, turn, shift = cv2.solvePnP(
        world, np.ascontiguousarray(seen), np.eye(3), None, flags=cv2.SOLVEPNP_SQPNP
    )
    if done:
        pose = np.eye(4)
        pose[:3, :3], pose[:3, 3] = cv2.Rodrigues(turn)[0], np.asarray(shift).ravel()
        poses.append(pose)
    if not poses:
        return None, np.inf
    fine = [*poses] + [_finer(one, world, seen) for one in poses]
    best = min(
        fine,
        key=lambda one: _error(one, world, seen, focal_px) + _error(one, *everything, focal_px),
    )
    return best, _error(best, world, seen, focal_px)


def _in_world(placed: Placed, known: list[_View]) -> tuple[Matrix, Matrix]:
    """All points of placed things in the world, and the rays to them."""
    homes = [(one, placed.of_things[one.row]) for one in known]
    world = [one.solid @ home[:3, :3].T + home[:3, 3] for one, home in homes]
    return np.concatenate(world), np.concatenate([one.seen for one in known])


def _mend(placed: Placed, views: list[list[_View]]) -> None:
    """Of all poses that single photos suggest for a thing, take what fits all photos best."""
    focal = placed.shots[0].lens.camera.focal_px
    for row in placed.of_things:
        own = [
            (pose, one)
            for photo, pose in placed.of_photos.items()
            for one in views[photo]
            if one.row == row
        ]
        if len(own) < 2:
            continue
        candidates = [placed.of_things[row]]
        candidates += [np.linalg.inv(pose) @ there for pose, one in own for there in one.poses]
        crossed = _crossed(own)
        if crossed is not None:
            candidates.append(crossed)

        def cost(thing: Pose, own: list[tuple[Pose, _View]] = own) -> float:
            return sum(_error(pose @ thing, one.solid, one.seen, focal) for pose, one in own)

        placed.of_things[row] = min(candidates, key=cost)


def _crossed(own: list[tuple[Pose, _View]]) -> Pose | None:
    """Pose of a thing whose points are where the rays of two photos or more cross."""
    rays_of: dict[tuple[float, ...], list[tuple[Pose, Vector]]] = {}
    for pose, one in own:
        for point, ray in zip(np.round(one.solid, 4), one.seen, strict=True):
            rays_of.setdefault(tuple(point), []).append((pose, ray))
    both = [(point, views) for point, views in rays_of.items() if len(views) > 1]
    if len(both) < LEAST_CROSSED:
        return None
    points = np.array([point for point, _ in both])
    places = np.array([_crossing(views) for _, views in both])
    if not np.all(np.isfinite(places)):
        return None
    middle, home = points.mean(axis=0), places.mean(axis=0)
    left, _, right = np.linalg.svd((places - home).T @ (points - middle))
    whole = np.eye(4)
    whole[:3, :3] = (left * [1.0, 1.0, np.sign(np.linalg.det(left @ right))]) @ right
    whole[:3, 3] = home - whole[:3, :3] @ middle
    return whole


def _crossing(views: list[tuple[Pose, Vector]]) -> Vector:
    """The point nearest to all rays."""
    normal, side = np.zeros((3, 3)), np.zeros(3)
    for pose, ray in views:
        way = pose[:3, :3].T @ np.append(ray, 1.0)
        way /= np.linalg.norm(way)
        across = np.eye(3) - np.outer(way, way)
        normal += across
        side += across @ (-pose[:3, :3].T @ pose[:3, 3])
    if np.linalg.cond(normal) > 1e4:
        return np.full(3, np.nan)
    return np.asarray(np.linalg.solve(normal, side))
