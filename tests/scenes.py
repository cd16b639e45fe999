"""Drawn scenes of noisy corners with known truth: no picture, just geometry."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, project
from photomeasure.photo import FocalHint, Photo
from photomeasure.references.catalogue import print_of
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading
from photomeasure.scene.model import piece_middle

SIZE_PX = (4032, 3024)


@dataclass(frozen=True, slots=True, eq=False)
class DrawnScene:
    """Truth and what a finder would have seen of it."""

    camera: Camera
    camera_from_sheet: NDArray[np.float64]  # (4, 4)
    scale: tuple[float, float]
    photo: Photo
    found: FoundPiece
    bars: BarReading

    def px(self, points_sheet_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Project (N, 3) points of the sheet frame."""
        matrix = self.camera_from_sheet
        return project(self.camera, points_sheet_mm @ matrix[:3, :3].T + matrix[:3, 3])


def looking_at(
    target_mm: NDArray[np.float64],
    distance_mm: float,
    tilt_rad: float,
    heading_rad: float,
    roll_rad: float,
) -> NDArray[np.float64]:
    """Pose camera_from_sheet of a camera that looks at a point from `tilt` off the normal."""
    back = np.array(
        [
            np.sin(tilt_rad) * np.cos(heading_rad),
            np.sin(tilt_rad) * np.sin(heading_rad),
            np.cos(tilt_rad),
        ]
    )
    z = -back
    x = np.cross(np.array([-np.sin(roll_rad), np.cos(roll_rad), 0.0]), z)
    x /= np.linalg.norm(x)
    rotation = np.stack([x, np.cross(z, x), z])
    pose = np.eye(4)
    pose[:3, :3] = rotation
    pose[:3, 3] = -rotation @ (target_mm + distance_mm * back)
    return pose


def draw_scene(
    rng: np.random.Generator,
    *,
    noise_px: float = 0.05,
    lift_mm: float = 0.0,
    distance_mm: tuple[float, float] = (190.0, 260.0),
) -> DrawnScene:
    """Draw lens, pose, print scale and noisy corners of the A4 sheet."""
    print_ = print_of("sheet", "A4")
    piece = print_.pieces[0]
    nominal_focal = 2970.0 * (1 + 0.02 * rng.standard_normal())
    distance = rng.uniform(*distance_mm)
    focal = nominal_focal * (1 + 6.0 / distance)
    width, height = SIZE_PX
    camera = Camera(
        focal,
        (width - 1) / 2 + 15 * rng.standard_normal(),
        (height - 1) / 2 + 15 * rng.standard_normal(),
        0.02 * rng.standard_normal(),
        0.02 * rng.standard_normal(),
    )
    pose = looking_at(
        np.array([*rng.uniform(-15, 15, 2), 0.0]),
        distance,
        np.radians(rng.uniform(0, 20)),
        rng.uniform(0, 2 * np.pi),
        np.pi / 2 + 0.1 * rng.standard_normal(),
    )
    scale = tuple(1 + 0.005 * rng.standard_normal(2))
    flat = (piece.corners_page_mm - piece_middle(piece)) * (1, -1) * scale
    lifts = lift_mm * np.sum((flat / (90, 130)) ** 4, axis=1) / 2
    points = np.column_stack([flat, lifts])
    seen = project(camera, points @ pose[:3, :3].T + pose[:3, 3])
    seen = seen + noise_px * rng.standard_normal(seen.shape)
    ids = np.flatnonzero(np.all((seen > 20) & (seen < np.array(SIZE_PX) - 20), axis=1))
    found = FoundPiece(print_, piece, ids, seen[ids], np.full(len(ids), noise_px), 0.8, False)
    grey = np.broadcast_to(np.uint8(128), (height, width))
    colour = np.broadcast_to(np.uint8(128), (height, width, 3))
    photo = Photo(
        "drawn.jpg",
        grey,
        colour,
        f"drawn {rng.integers(1 << 40)}",
        FocalHint(2970.0, 0.02, 6.0),
        "drawn lens",
    )
    bars = BarReading(
        100 * scale[0] + 0.05 * rng.standard_normal(), 100 * scale[1] + 0.05 * rng.standard_normal()
    )
    return DrawnScene(camera, pose, scale, photo, found, bars)
