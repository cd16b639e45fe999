"""Routes and cameras drawn at random, and a scene whose covariance is known.

The scene is solved by linear theory from noisy corners of the sheets: enough to test what a route
makes of a scene's uncertainty, without any picture.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, project, rays
from photomeasure.quantities import Source
from photomeasure.references.prints import Bar, FoundPiece, Piece, Print, Shoot
from photomeasure.route.arcs import Arcs

Points2 = NDArray[np.float64]
Points3 = NDArray[np.float64]
Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

A4_MM = (210.0, 297.0)
LENS_U = (0.02, 10.0, 10.0, 0.02, 0.01)  # prior: focal length relative, rest absolute


@dataclass(frozen=True, slots=True, eq=False)
class FlatScene:
    """Camera over a floor; the sheet's frame is the floor's."""

    camera: Camera
    turn: Vector  # (3,) rotation vector, camera from sheet
    shift_mm: Vector  # (3,)
    outlines_mm: tuple[Points2, ...] = ()
    moves: tuple[tuple[Source, Vector], ...] = ()  # change of (camera 5, turn 3, shift 3)

    @property
    def centre_mm(self) -> Vector:
        return np.asarray(-self._rotation().T @ self.shift_mm)

    def _rotation(self) -> Matrix:
        return np.asarray(cv2.Rodrigues(self.turn)[0], dtype=np.float64)

    def px(self, points_sheet_mm: Points3) -> Points2:
        return project(self.camera, points_sheet_mm @ self._rotation().T + self.shift_mm)

    def sheet_mm(self, points_px: Points2, height_mm: float = 0.0) -> Points2:
        rotation = self._rotation()
        centre = -rotation.T @ self.shift_mm
        direction = rays(self.camera, points_px) @ rotation
        steps = (height_mm - centre[2]) / direction[:, 2]
        return np.asarray((centre + steps[:, None] * direction)[:, :2])

    def vector(self) -> Vector:
        c = self.camera
        lens = (c.focal_px, c.centre_x_px, c.centre_y_px, c.k1, c.k2)
        return np.concatenate((lens, self.turn, self.shift_mm))

    def moved(self, change: Vector) -> "FlatScene":
        v = self.vector() + change
        return replace(self, camera=Camera(*v[:5]), turn=v[5:8], shift_mm=v[8:11])

    def variants(self) -> "tuple[tuple[Source, FlatScene], ...]":
        return tuple((source, self.moved(change)) for source, change in self.moves)

    @property
    def outlines_px(self) -> tuple[Points2, ...]:
        return tuple(self.px(np.column_stack((o, np.zeros(len(o))))) for o in self.outlines_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A sheet on the floor: where its middle lies and how it is turned."""

    middle_mm: tuple[float, float]
    turn_rad: float

    def points(self, page_mm: Points2, scale: tuple[float, float] = (1.0, 1.0)) -> Points2:
        c, s = np.cos(self.turn_rad), np.sin(self.turn_rad)
        return np.asarray((page_mm * scale) @ np.array([[c, s], [-s, c]]) + self.middle_mm)

    def outline(self) -> Points2:
        half = np.array(A4_MM) / 2
        return self.points(half * [[-1, -1], [1, -1], [1, 1], [-1, 1]])


def page_corners() -> Points2:
    """Chessboard corners over most of an A4 page, its middle the origin."""
    x, y = np.meshgrid(np.arange(-90, 91, 18.0), np.arange(-126, 127, 18.0))
    return np.column_stack((x.ravel(), y.ravel()))


def known_scene(
    true: FlatScene, sheets: tuple[Sheet, ...], rng: np.random.Generator, corner_u_px: float
) -> FlatScene:
    """Draw what a solve of noisy corners would give: estimate and covariance agree exactly."""
    design, prior = _design(true, sheets)
    information = design.T @ design / corner_u_px**2 + np.diag(1.0 / prior**2)
    root = _root(np.asarray(np.linalg.inv(information)))
    names = ["print scale x", "print scale y", *(f"sheet pose/{k}" for k in range(11))]
    key = str(rng.integers(1 << 60))
    error = root @ rng.standard_normal(root.shape[1])
    moves = []
    for k, column in enumerate(root.T):
        name = names[k] if k < len(names) else f"sheet pose/{k}"
        source = Source(name, name, "print" if k < 2 else "photo", key)
        moves.append((source, column[2:13]))
    estimate = true.moved(error[2:13])
    outlines = tuple(s.outline() for s in sheets)
    return replace(estimate, moves=tuple(moves), outlines_mm=outlines)


def _root(covariance: Matrix) -> Matrix:
    return np.asarray(np.linalg.cholesky(covariance + 1e-18 * np.eye(len(covariance))))


def _design(true: FlatScene, sheets: tuple[Sheet, ...]) -> tuple[Matrix, Vector]:
    """Jacobian of all corners: scale x, y, camera, pose, then place of the other sheets."""
    page = page_corners()

    def corners(v: Vector) -> Vector:
        scene, found = true.moved(v[2:13]), []
        for k, sheet in enumerate(sheets):
            change = v[10 + 3 * k : 13 + 3 * k] if k else np.zeros(3)
            middle = (sheet.middle_mm[0] + change[0], sheet.middle_mm[1] + change[1])
            moved = Sheet(middle, sheet.turn_rad + float(change[2]))
            flat = moved.points(page, (1 + v[0], 1 + v[1]))
            found.append(scene.px(np.column_stack((flat, np.zeros(len(flat))))))
        return np.vstack(found).ravel()

    steps = np.array([1e-4, 1e-4, 1.0, 1.0, 1.0, 1e-3, 1e-3, *[1e-4] * 3, *[0.1] * 3])
    prior = np.array([5e-4, 5e-4, 0.02 * true.camera.focal_px, *LENS_U[1:], *[1e3] * 6])
    steps = np.concatenate((steps, np.tile([0.1, 0.1, 1e-4], len(sheets) - 1)))
    prior = np.concatenate((prior, np.full(3 * (len(sheets) - 1), 1e4)))
    columns = []
    for k, step in enumerate(steps):
        change = np.zeros(len(steps))
        change[k] = step
        columns.append((corners(change) - corners(-change)) / (2 * step))
    return np.column_stack(columns), prior


def draw_camera(rng: np.random.Generator, size_px: tuple[int, int]) -> FlatScene:
    """Draw a phone held over a floor, looking down at 5 to 40 degrees off square."""
    width = size_px[0]
    focal = rng.uniform(0.70, 0.80) * width
    centre = (np.array(size_px) - 1) / 2 + rng.normal(0, 0.003 * width, 2)
    k1, k2 = rng.normal(0, 0.02), rng.normal(0, 0.01)
    camera = Camera(focal, centre[0], centre[1], k1, k2)
    tilt, roll = np.deg2rad(rng.uniform(5, 40)), rng.uniform(0, 2 * np.pi)
    rotation = _about(0, np.pi - tilt) @ _about(2, roll)
    turn = np.asarray(cv2.Rodrigues(rotation)[0], np.float64).ravel()
    distance = rng.uniform(900, 1600)
    return FlatScene(camera, turn, np.array([0.0, 0.0, distance]))


def _about(axis: int, angle: float) -> Matrix:
    vector = np.zeros(3)
    vector[axis] = angle
    return np.asarray(cv2.Rodrigues(vector)[0], dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class DrawnRoute:
    """A taped route with its sheets, all inside the picture."""

    scene: FlatScene
    arcs: Arcs
    sheets: tuple[Sheet, ...]
    width_mm: float

    @property
    def length_mm(self) -> float:
        return float(self.arcs.knots_mm[-1])


def draw_route(
    rng: np.random.Generator, size_px: tuple[int, int] = (4000, 3000), sheets: int = 2
) -> DrawnRoute:
    """Draw cameras, routes and sheets until everything is in the picture and apart."""
    while True:
        scene = draw_camera(rng, size_px)
        arcs = _draw_arcs(rng)
        line = arcs.points(np.arange(0.0, arcs.knots_mm[-1], 5.0))
        if not _inside(scene, line, size_px, 0.05) or _least_gap(line, arcs) < 90:
            continue
        placed = _place_sheets(rng, scene, line, size_px, sheets)
        if placed is not None:
            return DrawnRoute(scene, arcs, placed, rng.uniform(12, 45))


def _draw_arcs(rng: np.random.Generator) -> Arcs:
    lengths, curvatures = [rng.uniform(80, 400)], [0.0]
    for _ in range(rng.integers(1, 4)):
        radius, angle = rng.uniform(60, 250), np.deg2rad(rng.uniform(20, 110))
        lengths += [radius * angle, rng.uniform(60, 300)]
        curvatures += [float(rng.choice([-1, 1])) / radius, 0.0]
    knots = np.concatenate(([0.0], np.cumsum(lengths)))
    start = rng.uniform(-700, 700, 2)
    return Arcs(start, rng.uniform(0, 2 * np.pi), knots, np.array(curvatures))


def _inside(scene: FlatScene, line_mm: Points2, size_px: tuple[int, int], margin: float) -> bool:
    px = scene.px(np.column_stack((line_mm, np.zeros(len(line_mm)))))
    edge = margin * size_px[0]
    return bool(np.all(px > edge) and np.all(px < np.array(size_px) - edge))


def _least_gap(line: Points2, arcs: Arcs) -> float:
    at = np.arange(len(line)) * 5.0
    apart = np.abs(at[:, None] - at[None]) > 300
    gaps = np.hypot(*(line[:, None] - line[None]).transpose(2, 0, 1))
    return float(np.min(gaps[apart])) if np.any(apart) else np.inf


def _place_sheets(
    rng: np.random.Generator,
    scene: FlatScene,
    line: Points2,
    size_px: tuple[int, int],
    count: int,
) -> tuple[Sheet, ...] | None:
    placed: list[Sheet] = []
    for k in range(count):
        anchor = line[0] if k == 0 else line[-1]
        for _ in range(60):
            sheet = Sheet(tuple(anchor + rng.normal(0, 220, 2)), rng.uniform(0, 2 * np.pi))
            edge = np.vstack([np.linspace(a, b, 20) for a, b in _sides(sheet.outline())])
            near = np.min(np.hypot(*(edge[:, None] - line[None]).transpose(2, 0, 1)))
            covers = cv2.pointPolygonTest(
                sheet.outline().astype(np.float32), tuple(map(float, line[len(line) // 2])), False
            )
            apart = all(np.hypot(*np.subtract(sheet.middle_mm, o.middle_mm)) > 370 for o in placed)
            if near > 45 and covers < 0 and apart and _inside(scene, edge, size_px, 0.01):
                placed.append(sheet)
                break
        else:
            return None
    return tuple(placed)


def _sides(outline: Points2) -> list[tuple[Vector, Vector]]:
    return list(zip(outline, np.roll(outline, -1, axis=0), strict=True))


def found_piece(route: DrawnRoute, sheet: Sheet, blur_px: float) -> FoundPiece:
    """Give what a finder would have found of a sheet, corners all exact."""
    page = page_corners()
    flat = sheet.points(page)
    half = np.array(A4_MM) / 2
    piece = Piece(
        name="sheet",
        outline_page_mm=half * [[-1, -1], [1, -1], [1, 1], [-1, 1]],
        marker_ids=np.zeros(0, np.int64),
        marker_corners_page_mm=np.zeros((0, 4, 2)),
        corners_page_mm=page,
    )
    bar = Bar((0, 0), (100, 0), 100)
    shoot = Shoot((200, 2000), (0, 40))
    print_ = Print("drawn", "sheet", 1, "A4", A4_MM, (piece,), bar, bar, None, shoot)
    px = route.scene.px(np.column_stack((flat, np.zeros(len(flat)))))
    count = len(page)
    return FoundPiece(
        print_, piece, np.arange(count), px, np.full(count, 0.05), blur_px, is_mirrored=False
    )
