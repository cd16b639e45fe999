"""Drawn scenes of noisy corners with known truth: no picture, just geometry."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, project
from photomeasure.photo import CameraNotes, FocalHint, Photo, quarter_turn
from photomeasure.references.catalogue import print_of
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading
from photomeasure.scene.model import piece_middle
from tests.rendering.page import Sheet

SIZE_PX = (4032, 3024)
FOCAL_MM = 6.0
A4 = print_of("sheet", "A4")


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


@dataclass(frozen=True, slots=True)
class Phone:
    """One lens: far focal length, its centre along the sensor's axes, distortion, breathing."""

    focal_px: float
    centre_px: tuple[float, float]
    k1: float
    k2: float
    breathing: float
    model: str

    def camera(
        self, distance_mm: float, orientation: int, rng: np.random.Generator, drift: float
    ) -> Camera:
        """Lens of one upright photo, with what changes from photo to photo."""
        width, height = size_of(orientation)
        turn = quarter_turn(CameraNotes(turned=orientation))
        assert turn is not None
        near = 1 + self.breathing * FOCAL_MM / distance_mm
        focal = self.focal_px * near * (1 + 0.004 * drift * rng.standard_normal())
        off = turn @ self.centre_px + 0.003 * focal * drift * rng.standard_normal(2)
        return Camera(
            focal,
            (width - 1) / 2 + off[0],
            (height - 1) / 2 + off[1],
            self.k1 + 0.005 * drift * rng.standard_normal(),
            self.k2 + 0.005 * drift * rng.standard_normal(),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Paper:
    """One printed A4 sheet as it lies: true scale, and its corners in the sheet frame."""

    scale: tuple[float, float]
    corners_mm: NDArray[np.float64]  # (K, 3)
    bars: BarReading


def size_of(orientation: int) -> tuple[int, int]:
    """Width and height of an upright photo."""
    return (SIZE_PX[1], SIZE_PX[0]) if orientation in {6, 8} else SIZE_PX


def draw_phone(rng: np.random.Generator) -> Phone:
    """A main camera as phones have them."""
    return Phone(
        focal_px=2970.0 * (1 + 0.02 * rng.standard_normal()),
        centre_px=tuple(15 * rng.standard_normal(2)),
        k1=0.02 * rng.standard_normal(),
        k2=0.02 * rng.standard_normal(),
        breathing=1 + 0.35 * rng.standard_normal(),
        model=f"phone {rng.integers(1000)}",
    )


def draw_paper(
    rng: np.random.Generator,
    lift_mm: float = 0.0,
    corner_lifts_mm: float = 0.0,
    crease_deg: float = 0.0,
    scale: tuple[float, float] | None = None,
) -> Paper:
    """A print with its printer's scale, bent all over, at its corners or along a line; its bars."""
    scale = scale or tuple(1 + 0.005 * rng.standard_normal(2))
    flat = (A4.pieces[0].corners_page_mm - piece_middle(A4.pieces[0])) * (1, -1) * scale
    height = lift_mm * np.sum((flat / (90, 130)) ** 4, axis=1) / 2
    if corner_lifts_mm:
        lifts = tuple(rng.uniform(0, corner_lifts_mm, 4))
        height += Sheet(A4.page_mm, *scale, lifts, (0.0, 0.0), 15.0, 60.0).height_mm(*flat.T)
    if crease_deg:
        way = rng.uniform(0, np.pi)
        beyond = flat @ (np.cos(way), np.sin(way)) - rng.uniform(25, 60)
        height += np.maximum(beyond, 0) * np.tan(np.radians(crease_deg))
    read = 100 * np.array(scale) + 0.05 * rng.standard_normal(2)
    return Paper(scale, np.column_stack([flat, height]), BarReading(*read))


@dataclass(frozen=True, slots=True)
class View:
    """From where photos are taken: ranges of distance and tilt, and how the phone is held."""

    distance_mm: tuple[float, float] = (190.0, 260.0)
    tilt_deg: tuple[float, float] = (0.0, 20.0)
    orientation: int = 1
    noise_px: float = 0.05
    drift: float = 1.0


def take(phone: Phone, paper: Paper, view: View, rng: np.random.Generator) -> DrawnScene:
    """Take a photo: noisy corners and what is noted beside them."""
    distance = rng.uniform(*view.distance_mm)
    camera = phone.camera(distance, view.orientation, rng, view.drift)
    pose = looking_at(
        np.array([*rng.uniform(-15, 15, 2), 0.0]),
        distance,
        np.radians(rng.uniform(*view.tilt_deg)),
        rng.uniform(0, 2 * np.pi),
        np.pi / 2 + 0.1 * rng.standard_normal(),
    )
    size = size_of(view.orientation)
    seen = project(camera, paper.corners_mm @ pose[:3, :3].T + pose[:3, 3])
    seen = seen + view.noise_px * rng.standard_normal(seen.shape)
    ids = np.flatnonzero(np.all((seen > 20) & (seen < np.array(size) - 20), axis=1))
    noise = np.full(len(ids), view.noise_px)
    found = FoundPiece(A4, A4.pieces[0], ids, seen[ids], noise, 0.8, False)
    photo = Photo(
        "drawn.jpg",
        np.broadcast_to(np.uint8(128), size[::-1]),
        np.broadcast_to(np.uint8(128), (*size[::-1], 3)),
        f"drawn {rng.integers(1 << 40)}",
        FocalHint(2970.0, 0.02, FOCAL_MM),
        phone.model,
        notes=CameraNotes(turned=view.orientation, model=phone.model, focal_mm=FOCAL_MM),
    )
    return DrawnScene(camera, pose, paper.scale, photo, found, paper.bars)


def draw_scene(rng: np.random.Generator, view: View | None = None, **bend_mm: float) -> DrawnScene:
    """Draw lens, print and one photo; bends as `draw_paper` has them."""
    return take(draw_phone(rng), draw_paper(rng, **bend_mm), view or View(), rng)


def paper_picture(drawn: DrawnScene) -> Photo:
    """The photo with true A4 paper to be seen on a grey bench; nothing is printed on it."""
    width, height = np.array(A4.page_mm) / 2
    t = np.linspace(-1, 1, 200)
    rim = np.concatenate([np.column_stack([t, 0 * t - 1]), np.column_stack([0 * t + 1, t])])
    rim = np.concatenate([rim, -rim]) * (width, height)
    px = drawn.px(np.column_stack([rim, np.zeros(len(rim))]))
    grey = np.full(drawn.photo.grey.shape, 120, np.uint8)
    cv2.fillPoly(grey, [np.rint(px * 16).astype(np.int32)], 230, cv2.LINE_AA, shift=4)
    grey = np.asarray(cv2.GaussianBlur(grey, (0, 0), 1.0), np.uint8)
    colour = np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR), np.uint8)
    return replace(drawn.photo, grey=grey, colour=colour)
