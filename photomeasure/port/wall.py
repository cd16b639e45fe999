"""The bore's far wall, unwrapped: a cylinder laid flat, on which a thread is straight stripes."""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.port.mouth import Circle
from photomeasure.port.view import FACE_MM, PortView

__all__ = [
    "MARGIN_MM",
    "Bore",
    "Stripes",
    "Wall",
    "find_stripes",
    "helix_depth_mm",
    "is_seen",
    "unwrap",
]

Grid = NDArray[np.float64]  # (angles, depths)
Vector = NDArray[np.float64]

DARK = 0.004  # of full light
SMOOTH_MM, REACH_SIGMAS = 0.9, 2.5  # stripes are what is finer than this
LEAST_CONTRAST = 0.03  # of the logarithm of light
LEAST_RADIUS_MM, LEAST_OF_HOLE = 3.0, 0.3  # the collar just clears the mouth
CLEARANCE_MM = 0.9  # of the collar's hole over a bore
OFF_MM, OFF_STEP_MM = 1.5, 0.5  # a collar is stuck on by eye
STARTS = 3
CLIMB_MM, MOST_STEPS = (0.3, 0.15, 0.08), 4
OVERTONES = ((1, 1.0), (2, 0.7))
HANDS = (1, -1)
MOST_DEPTH_MM = 200.0
MARGIN_MM = 0.3  # inside the mouth's near edge


@dataclass(frozen=True, eq=False)
class _Grain:
    """How finely a wall is looked at."""

    sides_rad: Vector
    step_mm: float
    pitches_mm: Vector

    def waves(self, order: int, depths: int) -> NDArray[np.complex64]:
        """Waves of every pitch over the depths, (depths, pitches)."""
        return self._all_waves[order][:depths]

    @cached_property
    def _all_waves(self) -> dict[int, NDArray[np.complex64]]:
        depths = np.arange(int(MOST_DEPTH_MM / self.step_mm)) * self.step_mm
        turns = np.outer(depths, 1 / self.pitches_mm)
        return {
            order: np.exp(-2j * np.pi * order * turns).astype(np.complex64)
            for order, _ in OVERTONES
        }


COARSE = _Grain(np.radians(np.arange(-48, 49, 6.0)), 0.12, np.geomspace(0.75, 3.2, 70))
FINE = _Grain(np.radians(np.arange(-56, 57, 3.0)), 0.06, np.geomspace(0.75, 3.2, 200))


@dataclass(frozen=True, slots=True)
class Bore:
    """A cylinder or cone about an axis nearly square to the face; sheet frame.

    Attributes
    ----------
    x_mm, y_mm : float
        Of the axis in the face's plane.
    lean_x, lean_y : float
        Of the axis, per mm of depth.
    radius_mm : float
        At depth `at_mm`.
    narrowing : float
        Of the radius per mm of depth.
    at_mm : float
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    lean_x: float = 0.0
    lean_y: float = 0.0
    narrowing: float = 0.0
    at_mm: float = 0.0

    def points(self, turns_rad: Grid, depths_mm: Grid) -> NDArray[np.float64]:
        """Points on the wall, (..., 3) [mm]; depth is below the print's plane."""
        radius = self.radius_mm - self.narrowing * (depths_mm - self.at_mm)
        x = self.x_mm + self.lean_x * depths_mm + radius * np.cos(turns_rad)
        y = self.y_mm + self.lean_y * depths_mm + radius * np.sin(turns_rad)
        return np.stack([x, y, -depths_mm], axis=-1)


@dataclass(frozen=True, slots=True)
class Stripes:
    """A thread on a bore's wall.

    Attributes
    ----------
    bore : Bore
    pitch_mm : float
    hand : int
        1 right, -1 left.
    depth_mm : float
        Of one stripe at the far side, somewhere.
    share : float
        Of the wall's fine contrast that is this thread.
    """

    bore: Bore
    pitch_mm: float
    hand: int
    depth_mm: float
    share: float


Tried = tuple[float, tuple[float, float, float], Stripes]  # how well, where, what


@dataclass(frozen=True, slots=True, eq=False)
class Wall:
    """An unwrapped wall.

    Attributes
    ----------
    sides_rad : (A,)
        From the far side, counter-clockwise seen from outside.
    depths_mm : (D,)
        Below the print's plane.
    light : (A, D)
    is_seen : (A, D)
        Not hidden by the mouth's near edge.
    """

    sides_rad: Vector
    depths_mm: Vector
    light: Grid
    is_seen: NDArray[np.bool_]


def helix_depth_mm(sides_rad: Grid, pitch_mm: float, hand: int) -> Grid:
    """How much less deep a thread's turn lies at a side than at the far wall.

    Parameters
    ----------
    sides_rad : (...) [rad]
        From the far side, counter-clockwise seen from outside.
    pitch_mm : float [mm]
    hand : int
        1 right, -1 left.

    Returns
    -------
    (...) [mm]

    Notes
    -----
    A right-hand helix rises out of the port counter-clockwise, seen from outside.
    """
    return np.asarray(hand * pitch_mm * sides_rad / (2 * np.pi))


def unwrap(view: PortView, bore: Bore, mouth: Circle, sides_rad: Vector, step_mm: float) -> Wall:
    """Lay the far wall flat.

    Parameters
    ----------
    view : PortView
    bore : Bore
    mouth : Circle
    sides_rad : (A,)
    step_mm : float [mm]

    Returns
    -------
    Wall
    """
    deepest = 1.08 * (bore.radius_mm + mouth.radius_mm) / np.tan(max(view.slant_rad, 0.4))
    depths = np.arange(0.0, deepest, step_mm)
    turns = np.broadcast_to((view.far_rad + sides_rad)[:, None], (len(sides_rad), len(depths)))
    points = bore.points(turns, np.broadcast_to(depths, turns.shape))
    return Wall(sides_rad, depths, view.light(points), is_seen(view, points, mouth))


def is_seen(view: PortView, points: NDArray[np.float64], mouth: Circle) -> NDArray[np.bool_]:
    """Whether the line from the camera to a point passes through the mouth.

    Parameters
    ----------
    view : PortView
    points : (..., 3) [mm]
    mouth : Circle

    Returns
    -------
    (...)
    """
    centre = view.scene.centre_mm
    share = (centre[2] + FACE_MM) / (centre[2] - points[..., 2])
    x = centre[0] + share * (points[..., 0] - centre[0]) - mouth.x_mm
    y = centre[1] + share * (points[..., 1] - centre[1]) - mouth.y_mm
    return np.asarray(np.hypot(x, y) < mouth.radius_mm - MARGIN_MM)


def find_stripes(view: PortView, most_mm: float = np.inf) -> Stripes:
    """Look for the bore and thread whose stripes explain most of the wall.

    Parameters
    ----------
    view : PortView
    most_mm : float [mm]
        The bore's largest radius; the collar's hole bounds it, too.

    Returns
    -------
    Stripes

    Notes
    -----
    A bore that lies farther off along the line of sight looks like a deeper one, so that way a
    coarse grid is enough.
    """
    offs = np.arange(-OFF_MM, OFF_MM + 1e-9, OFF_STEP_MM)
    along = np.arange(-OFF_MM, OFF_MM + 1e-9, 3 * OFF_STEP_MM)
    most = min(view.hole_radius_mm - CLEARANCE_MM, most_mm)
    least = max(LEAST_RADIUS_MM, LEAST_OF_HOLE * view.hole_radius_mm)
    radii = np.geomspace(least, most, int(np.log(most / least) / 0.06) + 2)
    tried = [
        _tried(view, (float(side), float(way), float(radius)), COARSE)
        for radius in radii
        for side in offs
        for way in along
    ]
    tried.sort(key=lambda one: -one[0])
    tops = [_climb(view, one, COARSE, CLIMB_MM[:2]) for one in tried[:STARTS]]
    top = max(tops, key=lambda one: one[0])
    return _climb(view, _tried(view, top[1], FINE), FINE, CLIMB_MM[1:])[2]


def _climb(view: PortView, start: Tried, grain: "_Grain", steps_mm: tuple[float, ...]) -> Tried:
    """Walk to the best place about a first one, with finer and finer steps."""
    best = start
    for step in steps_mm:
        for _ in range(MOST_STEPS):
            here = best[1]
            moves = [
                _tried(view, (here[0] + step * i, here[1], here[2] + step * j), grain)
                for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1))
            ]
            top = max(moves, key=lambda one: one[0])
            if top[0] <= best[0]:
                break
            best = top
    return best


def _tried(view: PortView, place: tuple[float, float, float], grain: "_Grain") -> Tried:
    """How well a bore beside, along and of a radius explains the wall."""
    side, along, radius = place
    cos, sin = np.cos(view.far_rad), np.sin(view.far_rad)
    x, y = along * cos - side * sin, along * sin + side * cos
    bore = Bore(float(x), float(y), radius)
    mouth = Circle(bore.x_mm, bore.y_mm, radius + MARGIN_MM, 1.0)
    found = _stripes(unwrap(view, bore, mouth, grain.sides_rad, grain.step_mm), bore, grain)
    return found[0], place, found[1]


def fine_contrast(wall: Wall) -> NDArray[np.float32]:
    """The wall's light without its broad shades; 0 where hidden."""
    sigma = SMOOTH_MM / float(wall.depths_mm[1] - wall.depths_mm[0])
    seen = wall.is_seen.astype(np.float32)
    reach = (2 * round(REACH_SIGMAS * sigma) + 1, 1)
    share = np.maximum(cv2.GaussianBlur(seen, reach, sigmaX=sigma), 0.05)

    def broad(grid: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray(cv2.GaussianBlur(grid, reach, sigmaX=sigma) / share)

    tone = np.log(wall.light + DARK).astype(np.float32) * seen
    fine = (tone - broad(tone)) * seen
    size = np.sqrt(np.maximum(broad(fine**2), LEAST_CONTRAST**2))
    return np.asarray(np.clip(fine / size, -3, 3) * seen)


def _stripes(wall: Wall, bore: Bore, grain: "_Grain") -> tuple[float, Stripes]:
    """The best pitch and hand on one wall, and how much it explains in all."""
    fine = fine_contrast(wall)
    cells = float(wall.is_seen.sum())
    total = float((fine**2).sum()) * cells / 2 + 1e-9
    shears = np.exp(-1j * np.outer(HANDS, wall.sides_rad)).astype(np.complex64)
    sheared = {
        order: (shears**order @ fine) @ grain.waves(order, len(wall.depths_mm))
        for order, _ in OVERTONES
    }
    scores = sum(weight * np.abs(sheared[order]) ** 2 for order, weight in OVERTONES)
    best = int(np.argmax(scores))
    row, column = divmod(best, scores.shape[1])
    pitch = float(grain.pitches_mm[column])
    depth = -float(np.angle(sheared[1][row, column])) / (2 * np.pi) * pitch
    share = min(float(scores[row, column]) / total, 0.99)
    area = cells * grain.step_mm * bore.radius_mm * float(wall.sides_rad[1] - wall.sides_rad[0])
    stripes = Stripes(bore, pitch, HANDS[row], depth % pitch, share)
    return -area * float(np.log(1 - share)), stripes
