"""The unknowns of the joint solve, where they put every point, and how that changes with them."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.prints import Piece, Print

__all__ = [
    "Points",
    "State",
    "Thing",
    "bands_edge_mm",
    "exp",
    "local",
    "predict",
    "predict_one",
    "predict_world",
]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Stack = NDArray[np.float64]  # (N, 3, 3)
Ints = NDArray[np.int64]

PAPER_MM = 0.1  # office paper; common practice, no source
LENS, POSE, OBJECT = 5, 6, 9  # of a photo: lens and pose; of an object: pose, a band's skew, bend
SLOTS = LENS + POSE + OBJECT + 4  # and the print's scale in x and y, the bands' radius and give


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """A card or a band: what stands still between the photos."""

    print_: Print
    piece: Piece

    @property
    def is_band(self) -> bool:
        """Whether it is wrapped round the hose."""
        return self.piece.order is not None

    @property
    def name(self) -> tuple[str, str]:
        """Tell it from all others."""
        return self.print_.name, self.piece.name

    def nominal(self, page_mm: Matrix) -> Matrix:
        """Page points about the piece's middle, (N, 2) [mm]: x right, y up; on bands down."""
        low, high = self.piece.outline_page_mm.min(axis=0), self.piece.outline_page_mm.max(axis=0)
        return np.asarray((page_mm - (low + high) / 2) * (1.0, 1.0 if self.is_band else -1.0))


def bands_edge_mm(piece: Piece) -> float:
    """From a band's middle to its edge along the arrow [mm], as designed."""
    return float(np.ptp(piece.outline_page_mm[:, 1]) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Points of objects seen in photos.

    Attributes
    ----------
    photo, thing : (N,)
        Rows of the state.
    nominal : (N, 2) [mm]
    px : (N, 2)
    noise_px : (N,)
    """

    photo: Ints
    thing: Ints
    nominal: Matrix
    px: Matrix
    noise_px: Vector

    def of(self, rows: NDArray[np.bool_] | Ints) -> "Points":
        """Some of the points."""
        return Points(
            self.photo[rows], self.thing[rows], self.nominal[rows], self.px[rows],
            self.noise_px[rows],
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """All unknowns.

    Attributes
    ----------
    lens : (P, 5)
        In the order of Camera's fields.
    turn, shift : (P, 3, 3), (P, 3)
        Camera from world.
    thing_turn, thing_shift : (O, 3, 3), (O, 3)
        World from object.
    skew : (O,)
        How slantwise a band was wrapped [rad]; 0 for cards.
    bend : (O, 2) [1/mm]
        How the hose bends under a band, along the object's x and y.
    scale : (S, 2)
        Of each print.
    radius_mm : float
        Of the bands' outer face.
    give : float
        Whether a band's paper in a bend keeps its length on every side of the hose (0) or gives
        so that it lies along the axis evenly (1).
    is_band, print_row : (O,)
    """

    lens: Matrix
    turn: Stack
    shift: Matrix
    thing_turn: Stack
    thing_shift: Matrix
    skew: Vector
    bend: Matrix
    scale: Matrix
    radius_mm: float
    give: float
    is_band: NDArray[np.bool_]
    print_row: Ints

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return (LENS + POSE) * len(self.lens) + OBJECT * len(self.skew) + 2 * len(self.scale) + 2

    @property
    def bare_radius_mm(self) -> float:
        """Of the hose without its bands."""
        return self.radius_mm - PAPER_MM

    def photo_slot(self, photo: int) -> int:
        """First unknown of a photo: lens, then pose."""
        return photo * (LENS + POSE)

    def thing_slot(self, thing: int) -> int:
        """First unknown of an object: pose, then skew."""
        return (LENS + POSE) * len(self.lens) + OBJECT * thing

    def scale_slot(self, row: int) -> int:
        """First unknown of a print's scale."""
        return (LENS + POSE) * len(self.lens) + OBJECT * len(self.skew) + 2 * row

    def values(self) -> Vector:
        """Unknowns as they are; poses count as zero, as they move from where they are."""
        out = np.zeros(self.size)
        for photo, lens in enumerate(self.lens):
            at = self.photo_slot(photo)
            out[at : at + LENS] = lens
        for thing, skew in enumerate(self.skew):
            at = self.thing_slot(thing) + POSE
            out[at], out[at + 1 : at + 3] = skew, self.bend[thing]
        out[self.scale_slot(0) : -2] = self.scale.ravel()
        out[-2:] = self.radius_mm, self.give
        return out

    def moved(self, step: Vector) -> "State":
        """Take a step of all unknowns."""
        photos, things = len(self.lens), len(self.skew)
        split = (LENS + POSE) * photos
        of_photos = step[:split].reshape(photos, -1)
        of_things = step[split : split + OBJECT * things].reshape(things, -1)
        return replace(
            self,
            lens=self.lens + of_photos[:, :LENS],
            turn=exp(of_photos[:, LENS : LENS + 3]) @ self.turn,
            shift=self.shift + of_photos[:, LENS + 3 :],
            thing_turn=exp(of_things[:, :3]) @ self.thing_turn,
            thing_shift=self.thing_shift + of_things[:, 3:6],
            skew=self.skew + of_things[:, 6],
            bend=self.bend + of_things[:, 7:],
            scale=self.scale + step[self.scale_slot(0) : -2].reshape(-1, 2),
            radius_mm=self.radius_mm + float(step[-2]),
            give=self.give + float(step[-1]),
        )


def exp(vectors: Matrix) -> Stack:
    """Rotation matrices of rotation vectors, (N, 3) to (N, 3, 3)."""
    return np.array([cv2.Rodrigues(one)[0] for one in vectors]).reshape(-1, 3, 3)


def local(state: State, thing: Ints, nominal: Matrix) -> tuple[Matrix, NDArray[np.float64]]:
    """Points in their object's frame, and how they change.

    Parameters
    ----------
    state : State
    thing : (N,)
    nominal : (N, 2) [mm]

    Returns
    -------
    points : (N, 3) [mm]
    slopes : (N, 7, 3)
        By scale x, scale y, skew, bend x, bend y, radius and give.
    """
    points, slopes = np.zeros((len(thing), 3)), np.zeros((len(thing), 7, 3))
    points[:, :2] = nominal * state.scale[state.print_row[thing]]
    slopes[:, 0, 0], slopes[:, 1, 1] = nominal.T
    is_band = state.is_band[thing]
    if is_band.any():
        points[is_band], slopes[is_band] = _wrapped(state, thing[is_band], nominal[is_band])
    return points, slopes


def _wrapped(state: State, thing: Ints, nominal: Matrix) -> tuple[Matrix, NDArray[np.float64]]:
    """Bands on a hose that bends: its axis a parabola, the paper round it.

    Towards the inside of a bend (`inner`, the share by which it is shorter there) paper that keeps
    its length reaches further along the axis.
    """
    radius, roll, give = state.radius_mm, state.radius_mm - PAPER_MM / 2, state.give
    (x, y), (u, v) = nominal.T, (nominal * state.scale[state.print_row[thing]]).T
    skew, (bend_x, bend_y) = state.skew[thing], state.bend[thing].T
    angle = u / roll
    cos, sin, none = np.cos(angle), np.sin(angle), np.zeros_like(u)
    along = v + skew * u
    inner = radius * (bend_x * cos - bend_y * sin)
    at = along * (1 + (1 - give) * inner)
    half = 0.5 * at**2
    by_at = np.stack([bend_x * at, bend_y * at, 1 - inner], axis=1)
    by_inner = by_at * (along * (1 - give))[:, None]
    by_inner[:, 2] -= at
    by_along = by_at * (1 + (1 - give) * inner)[:, None]
    inner_by_angle = -radius * (bend_x * sin + bend_y * cos)
    by_angle = np.stack([-radius * sin, -radius * cos, none], axis=1)
    by_angle += by_inner * inner_by_angle[:, None]
    by_bend_x = np.stack([half, none, none], axis=1) + by_inner * (radius * cos)[:, None]
    by_bend_y = np.stack([none, half, none], axis=1) - by_inner * (radius * sin)[:, None]
    by_radius = np.stack([cos, -sin, none], axis=1) + by_inner * (inner / radius)[:, None]
    slopes = [
        by_angle * (x / roll)[:, None] + by_along * (skew * x)[:, None],
        by_along * y[:, None],
        by_along * u[:, None],
        by_bend_x,
        by_bend_y,
        by_radius - by_angle * (angle / roll)[:, None],
        -by_at * (along * inner)[:, None],
    ]
    return _round_hose(state, thing, nominal), np.stack(slopes, axis=1)


def _round_hose(state: State, thing: Ints | int, nominal: Matrix) -> Matrix:
    """Points of bands in their frames, (N, 3); of one band or of each point's own."""
    radius, (u, v) = state.radius_mm, (nominal * state.scale[state.print_row[thing]]).T
    bend_x, bend_y = state.bend[thing].T
    angle = u / (radius - PAPER_MM / 2)
    cos, sin = np.cos(angle), np.sin(angle)
    inner = radius * (bend_x * cos - bend_y * sin)
    at = (v + state.skew[thing] * u) * (1 + (1 - state.give) * inner)
    half = 0.5 * at**2
    return np.stack(
        [radius * cos + bend_x * half, bend_y * half - radius * sin, at * (1 - inner)], axis=1
    )


def predict_one(state: State, photo: int, band: int, nominal: Matrix) -> Matrix:
    """Where points of one band are seen in one photo.

    Parameters
    ----------
    state : State
    photo, band : int
        Rows of the state.
    nominal : (N, 2) [mm]

    Returns
    -------
    (N, 2) [px]
        Not a number behind the camera.
    """
    inner = _round_hose(state, band, nominal)
    world = inner @ state.thing_turn[band].T + state.thing_shift[band]
    return predict_world(state, photo, world)


def predict(state: State, points: Points, *, slopes: bool = True) -> tuple[Matrix, Matrix, Ints]:
    """Where points should be seen, and how that changes with the unknowns.

    Parameters
    ----------
    state : State
    points : Points
    slopes : bool
        Leave them out if not.

    Returns
    -------
    px : (N, 2)
    jacobian : (N, 2, 24)
    columns : (N, 24)
        Which unknowns they are.
    """
    photo, thing = points.photo, points.thing
    inner, changes = local(state, thing, points.nominal)
    turned = np.einsum("nij,nj->ni", state.thing_turn[thing], inner)
    world = turned + state.thing_shift[thing]
    rotated = np.einsum("nij,nj->ni", state.turn[photo], world)
    seen = rotated + state.shift[photo]
    px, by_lens, by_seen = _pictured(state.lens[photo], seen)
    if not slopes:
        return px, np.empty((0, 2, SLOTS)), np.empty((0, SLOTS), np.int64)
    by_world = by_seen @ state.turn[photo]
    by_inner = by_world @ state.thing_turn[thing] @ changes.transpose(0, 2, 1)
    jacobian = np.concatenate(
        [
            by_lens, -by_seen @ _cross(rotated), by_seen, -by_world @ _cross(turned), by_world,
            by_inner[:, :, [2, 3, 4, 0, 1, 5, 6]],
        ],
        axis=2,
    )  # fmt: skip
    return px, jacobian, _columns(state, photo, thing)


def _pictured(lens: Matrix, seen: Matrix) -> tuple[Matrix, Matrix, Matrix]:
    """Pixels of points before the camera, and their slopes by the lens and by the points."""
    f, cx, cy, k1, k2 = lens.T
    z = np.where(np.abs(seen[:, 2]) < 1.0, 1.0, seen[:, 2])
    x, y = seen[:, 0] / z, seen[:, 1] / z
    r2 = x * x + y * y
    d = 1 + r2 * (k1 + r2 * k2)
    px = np.stack([f * x * d + cx, f * y * d + cy], axis=1)
    xy, one = np.stack([x, y], axis=1), np.broadcast_to(np.eye(2), (len(x), 2, 2))
    radial = f[:, None] * xy * r2[:, None]
    by_lens = np.concatenate(
        [(xy * d[:, None])[..., None], one, radial[..., None], (radial * r2[:, None])[..., None]],
        axis=2,
    )
    grow = 2 * (k1 + 2 * k2 * r2)
    by_xy = d[:, None, None] * one + grow[:, None, None] * xy[:, :, None] * xy[:, None, :]
    xy_by_seen = np.concatenate([one, -xy[..., None]], axis=2) / z[:, None, None]
    return px, by_lens, f[:, None, None] * by_xy @ xy_by_seen


def predict_world(state: State, photo: int, world_mm: Matrix) -> Matrix:
    """Where points of the world are seen in one photo.

    Parameters
    ----------
    state : State
    photo : int
        Row of the state.
    world_mm : (N, 3) [mm]

    Returns
    -------
    (N, 2) [px]
        Not a number behind the camera.
    """
    seen = world_mm @ state.turn[photo].T + state.shift[photo]
    ahead = seen[:, 2] > 1.0
    f, cx, cy, k1, k2 = state.lens[photo]
    xy = seen[:, :2] / np.where(ahead, seen[:, 2], 1.0)[:, None]
    r2 = np.sum(xy**2, axis=1, keepdims=True)
    px = f * xy * (1 + r2 * (k1 + r2 * k2)) + (cx, cy)
    return np.asarray(np.where(ahead[:, None], px, np.nan))


def _cross(vectors: Matrix) -> Stack:
    """Matrices that cross with vectors from the left, (N, 3, 3)."""
    out = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    out[:, 0, 1], out[:, 0, 2], out[:, 1, 2] = -z, y, -x
    out[:, 1, 0], out[:, 2, 0], out[:, 2, 1] = z, -y, x
    return out


def _columns(state: State, photo: Ints, thing: Ints) -> Ints:
    first = (LENS + POSE) * photo[:, None] + np.arange(LENS + POSE)
    second = (LENS + POSE) * len(state.lens) + OBJECT * thing[:, None] + np.arange(OBJECT)
    third = state.scale_slot(0) + 2 * state.print_row[thing][:, None] + np.arange(2)
    last = np.broadcast_to(np.array([state.size - 2, state.size - 1]), (len(photo), 2))
    return np.concatenate([first, second, third, last], axis=1)
