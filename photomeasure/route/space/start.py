"""A first guess: photo after photo is hung on to the cards and bands that are placed already."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import rays
from photomeasure.route.space.model import PAPER_MM, Points, State, Thing
from photomeasure.route.space.see import BandMark, Shot

__all__ = [
    "Placed",
    "card_points",
    "first_state",
    "joined",
    "mark_points",
    "place_all",
    "things_seen",
]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Pose = NDArray[np.float64]  # (4, 4)

MARK_NOISE_PX = 1.5  # a marker's corners are proposed on a bent square
WORST_PX = 40.0  # usual error of a first pose; beyond, the photo does not fit
MOST_PX = 60.0  # errors beyond count alike
REFINEMENTS = 8
LEAST_POINTS = 8  # of things already placed, to hang a photo on to


@dataclass(slots=True, eq=False)
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

    def views(self, photo: int) -> list[tuple[int, Matrix, Matrix]]:
        """Every thing that a photo shows: its row, points in its frame, and rays to them."""
        shot = self.shots[photo]
        rows = {thing.name: k for k, thing in enumerate(self.things)}
        out = []
        for card in shot.cards:
            row = rows[card.print_.name, card.piece.name]
            solid = self.solid(row, card.piece.corners_page_mm[card.corner_ids])
            out.append((row, solid, rays(shot.lens.camera, card.corners_px)[:, :2]))
        for row in sorted({rows[m.print_.name, m.piece.name] for m in shot.marks}):
            own = [m for m in shot.marks if (m.print_.name, m.piece.name) == self.things[row].name]
            page = np.concatenate([m.piece.marker_corners_page_mm[m.row] for m in own])
            px = np.concatenate([m.corners_px for m in own])
            out.append((row, self.solid(row, page), rays(shot.lens.camera, px)[:, :2]))
        return out


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
    weight = [
        sum(len(solid) * (1 if placed.things[row].is_band else 3) for row, solid, _ in seen)
        for seen in views
    ]
    first = int(np.argmax(weight))
    placed.of_photos[first] = np.eye(4)
    _hang_things(placed, views[first], np.eye(4), placed.shots[first].lens.camera.focal_px)
    while True:
        waiting = [k for k in range(len(views)) if k not in placed.of_photos]
        known = {
            k: sum(len(solid) * (1 if placed.things[row].is_band else 3)
                   for row, solid, _ in views[k] if row in placed.of_things)
            for k in waiting
        }  # fmt: skip
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


def _hang_things(
    placed: Placed, views: list[tuple[int, Matrix, Matrix]], pose: Pose, focal_px: float
) -> None:
    """Place what a placed photo shows and no earlier one did."""
    for row, solid, seen in views:
        if row in placed.of_things:
            continue
        candidates = _thing_poses(placed, row, solid, seen)
        if candidates:
            best = min(candidates, key=lambda one: _error(one, solid, seen, focal_px))
            placed.of_things[row] = np.linalg.inv(pose) @ best


def _thing_poses(placed: Placed, row: int, solid: Matrix, seen: Matrix) -> list[Pose]:
    """Camera from thing, by a plane's two solutions."""
    if not placed.things[row].is_band:
        return [pose for pose, _ in _flat_poses(solid, seen)]
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
        x, y, z = camera[:, 0] / camera[:, 2], camera[:, 1] / camera[:, 2], camera[:, 2]
        rest = np.stack([x, y], axis=1) - seen
        slopes = np.zeros((len(x), 2, 6))
        slopes[:, 0, 3], slopes[:, 1, 4] = 1 / z, 1 / z
        slopes[:, 0, 5], slopes[:, 1, 5] = -x / z, -y / z
        for k in range(3):
            way = np.cross(np.eye(3)[k], turned)
            slopes[:, :, k] = np.einsum("nij,nj->ni", slopes[:, :, 3:], way)
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
    return pose


def _error(pose: Pose, solid: Matrix, seen: Matrix, focal_px: float) -> float:
    """Usual distance of points from where they are seen [px], large errors cut off."""
    camera = solid @ pose[:3, :3].T + pose[:3, 3]
    if np.any(camera[:, 2] <= 0):
        return 1e9
    off = np.hypot(*(camera[:, :2] / camera[:, 2:] - seen).T) * focal_px
    return float(np.mean(np.minimum(off, MOST_PX)))


def _photo_pose(
    placed: Placed, views: list[tuple[int, Matrix, Matrix]], focal_px: float
) -> tuple[Pose | None, float]:
    """Camera from world, from the placed cards that the photo shows, else from the bands."""
    known = [(row, solid, seen) for row, solid, seen in views if row in placed.of_things]
    cards = [one for one in known if not placed.things[one[0]].is_band]
    everything = _in_world(placed, known)
    world, seen = _in_world(placed, cards or known)
    poses = [
        pose @ np.linalg.inv(placed.of_things[row])
        for row, solid, at in cards or known
        for pose in _thing_poses(placed, row, solid, at)
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


def _in_world(placed: Placed, known: list[tuple[int, Matrix, Matrix]]) -> tuple[Matrix, Matrix]:
    """All points of placed things in the world, and the rays to them."""
    world = [s @ placed.of_things[r][:3, :3].T + placed.of_things[r][:3, 3] for r, s, _ in known]
    return np.concatenate(world), np.concatenate([seen for _, _, seen in known])


def _mend(placed: Placed, views: list[list[tuple[int, Matrix, Matrix]]]) -> None:
    """Of all poses that single photos suggest for a thing, take what fits all photos best."""
    focal = placed.shots[0].lens.camera.focal_px
    for row in placed.of_things:
        own = [
            (pose, solid, seen)
            for photo, pose in placed.of_photos.items()
            for which, solid, seen in views[photo]
            if which == row
        ]
        if len(own) < 2:
            continue
        candidates = [placed.of_things[row]]
        for pose, solid, seen in own:
            back = np.linalg.inv(pose)
            candidates += [back @ one for one in _thing_poses(placed, row, solid, seen)]

        def cost(thing: Pose, own: list[tuple[Pose, Matrix, Matrix]] = own) -> float:
            return sum(_error(pose @ thing, s, at, focal) for pose, s, at in own)

        placed.of_things[row] = min(candidates, key=cost)


def first_state(placed: Placed) -> tuple[State, list[int], list[int]]:
    """Everything that is placed, as unknowns.

    Parameters
    ----------
    placed : Placed

    Returns
    -------
    state : State
    photos, things : list of int
        Which of all they are, in the state's order.
    """
    photos = sorted(placed.of_photos)
    things = sorted(placed.of_things)
    prints = list(dict.fromkeys(thing.print_.name for thing in placed.things))
    scale = {t.print_.name: s for t, s in zip(placed.things, placed.scales, strict=True)}
    lenses = [placed.shots[k].lens.camera for k in photos]
    cameras = np.array([placed.of_photos[k] for k in photos])
    objects = np.array([placed.of_things[k] for k in things])
    return (
        State(
            lens=np.array([[c.focal_px, c.centre_x_px, c.centre_y_px, c.k1, c.k2] for c in lenses]),
            turn=cameras[:, :3, :3],
            shift=cameras[:, :3, 3],
            thing_turn=objects[:, :3, :3],
            thing_shift=objects[:, :3, 3],
            skew=np.zeros(len(things)),
            bend=np.zeros((len(things), 2)),
            scale=np.array([scale[name] for name in prints]),
            radius_mm=placed.radius_mm,
            give=0.5,
            is_band=np.array([placed.things[k].is_band for k in things]),
            print_row=np.array([prints.index(placed.things[k].print_.name) for k in things]),
        ),
        photos,
        things,
    )


def card_points(placed: Placed, photos: list[int], things: list[int]) -> Points:
    """Corners of all placed cards in all placed photos."""
    rows = {placed.things[k].name: i for i, k in enumerate(things)}
    parts = []
    for photo, k in enumerate(photos):
        for card in placed.shots[k].cards:
            name = (card.print_.name, card.piece.name)
            if name not in rows:
                continue
            nominal = placed.things[things[rows[name]]].nominal(
                card.piece.corners_page_mm[card.corner_ids]
            )
            parts.append(_points(photo, rows[name], nominal, card.corners_px, card.noise_px))
    return joined(parts)


def mark_points(placed: Placed, photos: list[int], things: list[int]) -> Points:
    """Corners of all markers of placed bands in all placed photos, as read."""
    rows = {placed.things[k].name: i for i, k in enumerate(things)}
    parts = []
    for photo, k in enumerate(photos):
        for mark in placed.shots[k].marks:
            parts += _mark(placed, mark, photo, rows, things)
    return joined(parts)


def _mark(
    placed: Placed, mark: BandMark, photo: int, rows: dict[tuple[str, str], int], things: list[int]
) -> list[Points]:
    name = (mark.print_.name, mark.piece.name)
    if name not in rows:
        return []
    thing = placed.things[things[rows[name]]]
    nominal = thing.nominal(mark.piece.marker_corners_page_mm[mark.row])
    return [_points(photo, rows[name], nominal, mark.corners_px, np.full(4, MARK_NOISE_PX))]


def _points(photo: int, thing: int, nominal: Matrix, px: Matrix, noise_px: Vector) -> Points:
    count = len(nominal)
    return Points(np.full(count, photo), np.full(count, thing), nominal, px, noise_px)


def joined(parts: Sequence[Points]) -> Points:
    """All points in one."""
    if not parts:
        none = np.empty(0, np.int64)
        return Points(none, none, np.empty((0, 2)), np.empty((0, 2)), np.empty(0))
    return Points(
        *(
            np.concatenate([getattr(one, name) for one in parts])
            for name in ("photo", "thing", "nominal", "px", "noise_px")
        )
    )
