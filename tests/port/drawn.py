"""A threaded port with a collar round it, drawn by casting a ray through every pixel.

The wall is a helical internal thread as the standards draw it (crest P/4, flanks of 30 degrees,
root P/8); light falls from two directions and fades with depth. No shadows, no mirror images.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, rays
from photomeasure.photo import FocalHint, Photo
from photomeasure.references.catalogue import print_of
from photomeasure.references.draw_png import raster
from photomeasure.references.prints import Piece
from photomeasure.scene.model import piece_middle
from tests.scenes import looking_at

Vector = NDArray[np.float64]
Flags = NDArray[np.bool_]
DPI = 600.0
PAPER_MM = 0.1
STEP_MM, BISECTIONS = 0.08, 7
FACE, RECESS_FLOOR, RECESS_WALL = 0.33, 0.45, 0.2  # brightness


@dataclass(frozen=True, slots=True)
class DrawnPort:
    """Truth of one drawn port; lengths in mm, angles in degrees."""

    bore_mm: float = 16.4
    pitch_mm: float = 1.5
    hand: int = 1
    taper: float = 0.0  # on diameter
    mouth_mm: float = 18.8
    chamfer_deg: float = 45.0  # half angle
    recess_mm: float = 0.0  # diameter of the spot face; 0: none
    recess_deep_mm: float = 0.0
    thread_depth_mm: float = 14.0
    depth_mm: float = 20.0
    collar: str = "collar 24"
    tilt_deg: float = 45.0
    heading_deg: float = 70.0
    distance_mm: float = 205.0
    off_centre_mm: tuple[float, float] = (0.4, -0.3)
    size_px: tuple[int, int] = (2016, 1512)
    focal_px: float = 3000.0
    shine: float = 0.6
    grease: float = 0.0
    light: float = 1.0
    scale: tuple[float, float] = (1.0, 1.0)
    warp_mm: float = 0.0
    seed: int = 0

    @property
    def piece(self) -> Piece:
        pieces = print_of("collar", "A4").pieces
        return next(piece for piece in pieces if piece.name == self.collar)


@cache
def _page() -> NDArray[np.uint8]:
    return raster(print_of("collar", "A4"), DPI)


def _wall_radius(port: DrawnPort, angle: Vector, depth: Vector) -> Vector:
    """Radius of the port's wall at an angle about the axis and a depth below the face."""
    crest = port.bore_mm / 2 - port.taper / 2 * depth
    height = 0.6134 * port.pitch_mm * (1 - port.grease)
    turn = depth / port.pitch_mm + port.hand * angle / (2 * np.pi)
    off = np.abs(turn - np.round(turn)) * port.pitch_mm
    groove = crest + np.minimum(height, height + (port.pitch_mm / 16 - off) * np.sqrt(3))
    wall = np.where(depth < port.thread_depth_mm, np.maximum(groove, crest), crest)
    chamfer = port.mouth_mm / 2 - depth * np.tan(np.radians(port.chamfer_deg))
    return np.asarray(np.maximum(wall, chamfer))


def _gap(port: DrawnPort, points: Vector) -> Vector:
    """How far inside the wall points are; their z is minus the depth below the face."""
    angle = np.arctan2(points[:, 1], points[:, 0])
    return _wall_radius(port, angle, -points[:, 2]) - np.hypot(points[:, 0], points[:, 1])


def _cast(port: DrawnPort, start: Vector, way: Vector) -> tuple[Vector, Flags]:
    """Where rays that start at the face meet the wall or the floor, and which meet the floor."""
    reach = np.zeros(len(start))
    floor = -port.depth_mm / way[:, 2]
    active = np.ones(len(start), bool)
    while active.any():
        reach[active] += STEP_MM
        here = np.flatnonzero(active)
        gap = _gap(port, start[here] + reach[here, None] * way[here])
        active[here] = (gap > 0) & (reach[here] < floor[here])
    low, high = reach - STEP_MM, reach.copy()
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        inside = _gap(port, start + middle[:, None] * way) > 0
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    on_floor = high >= floor
    reach = np.where(on_floor, floor, high)
    return start + reach[:, None] * way, on_floor


def _normals(port: DrawnPort, points: Vector) -> Vector:
    small = 1e-4
    slopes = np.stack(
        [
            (_gap(port, points + small * axis) - _gap(port, points - small * axis))
            for axis in np.eye(3)
        ],
        axis=1,
    )
    return np.asarray(slopes / np.linalg.norm(slopes, axis=1, keepdims=True))


def _shade(port: DrawnPort, points: Vector, way: Vector, on_floor: Flags) -> Vector:
    normal = _normals(port, points)
    normal[on_floor] = (0.0, 0.0, 1.0)
    mirrored = way - 2 * np.sum(way * normal, axis=1, keepdims=True) * normal
    light = np.full(len(points), 0.10)
    for lamp, power in (((0.3, -0.5, 0.8), 0.35), ((-0.7, 0.2, 0.7), 0.2)):
        to_lamp = np.array(lamp) / np.linalg.norm(lamp)
        light += power * np.clip(normal @ to_lamp, 0, None)
        light += port.shine * power * np.clip(mirrored @ to_lamp, 0, None) ** 8
    return np.asarray(light * np.exp(points[:, 2] / (1.2 * port.bore_mm)))


def camera_of(port: DrawnPort) -> tuple[Camera, Vector]:
    """Lens, and pose camera_from_sheet."""
    width, height = port.size_px
    lens = Camera(port.focal_px, (width - 1) / 2 + 3.0, (height - 1) / 2 - 4.0, 0.01, -0.01)
    pose = looking_at(
        np.array([1.0, -2.0, 0.0]),
        port.distance_mm,
        np.radians(port.tilt_deg),
        np.radians(port.heading_deg),
        np.pi / 2 + 0.05,
    )
    return lens, pose


def _paper(port: DrawnPort, at_mm: Vector) -> Vector:
    """Brightness of the page at points of the sheet frame, (N, 2); NaN off the piece."""
    piece = port.piece
    nominal = at_mm / np.array(port.scale)
    page = nominal * (1, -1) + piece_middle(piece)
    at_px = (page * (DPI / 25.4) - 0.5).astype(np.float32)
    rows = [
        cv2.remap(_page(), part[:, :1], part[:, 1:], cv2.INTER_LINEAR)[:, 0, 1]
        for part in np.array_split(at_px, len(at_px) // 30000 + 1)
    ]
    value = 0.04 + 0.76 * np.concatenate(rows) / 255
    low, high = piece.outline_page_mm.min(axis=0), piece.outline_page_mm.max(axis=0)
    assert piece.hole is not None
    off = np.any((page < low) | (page > high), axis=1)
    off |= np.hypot(*nominal.T) < piece.hole.diameter_mm / 2
    return np.asarray(np.where(off, np.nan, value))


def _on_plane(centre: Vector, way: Vector, height_mm: float) -> Vector:
    """Where rays meet a plane parallel to the paper, (N, 3)."""
    return np.asarray(centre + ((height_mm - centre[2]) / way[:, 2])[:, None] * way)


def _light(port: DrawnPort, at_px: Vector) -> Vector:
    lens, pose = camera_of(port)
    way = rays(lens, at_px) @ pose[:3, :3]
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    centre = -pose[:3, :3].T @ pose[:3, 3]
    on_paper = centre + (-centre[2] / way[:, 2])[:, None] * way
    if port.warp_mm:
        lift = port.warp_mm * (on_paper[:, 0] ** 2 - on_paper[:, 1] ** 2) / 25.0**2
        on_paper = centre + ((lift - centre[2]) / way[:, 2])[:, None] * way
    value = _paper(port, on_paper[:, :2])
    bare = np.flatnonzero(np.isnan(value))
    middle = np.array([*port.off_centre_mm, -PAPER_MM])
    face, value[bare] = _on_plane(centre - middle, way[bare], 0.0), FACE
    sunk = np.hypot(face[:, 0], face[:, 1]) < port.recess_mm / 2
    face[sunk] = _on_plane(centre - middle, way[bare][sunk], -port.recess_deep_mm)
    hits_wall = np.hypot(face[:, 0], face[:, 1]) > port.recess_mm / 2
    value[bare[sunk]] = np.where(hits_wall[sunk], RECESS_WALL, RECESS_FLOOR)
    inside = np.hypot(face[:, 0], face[:, 1]) < port.mouth_mm / 2
    face[:, 2] = 0.0  # depths count from the mouth
    points, on_floor = _cast(port, face[inside], way[bare[inside]])
    value[bare[inside]] = _shade(port, points, way[bare[inside]], on_floor)
    return value


def draw_port(port: DrawnPort, name: str = "drawn.png") -> Photo:
    """Draw the photo: two by two rays a pixel, blur, tone curve, noise."""
    width, height = port.size_px
    rows, columns = np.mgrid[0 : 2 * height, 0 : 2 * width]
    at_px = np.column_stack([columns.ravel(), rows.ravel()]) / 2.0 - 0.25
    value = np.concatenate(
        [_light(port, part) for part in np.array_split(at_px, len(at_px) // 1_000_000 + 1)]
    )
    fine = value.reshape(2 * height, 2 * width).astype(np.float32)
    light = cv2.GaussianBlur(
        cv2.resize(fine, (width, height), interpolation=cv2.INTER_AREA), (0, 0), 0.7
    )
    stored = 255 * np.clip(port.light * light, 0, 1) ** (1 / 2.2)
    noise = np.random.default_rng(port.seed).normal(0, 1.5, stored.shape)
    grey = np.clip(np.round(stored + noise), 0, 255).astype(np.uint8)
    colour = np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR), np.uint8)
    hint = FocalHint(port.focal_px / 1.02, 0.02, 4.0)
    return Photo(name, grey, colour, f"{name} {port}", hint, "lens")
