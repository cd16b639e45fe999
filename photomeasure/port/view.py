"""The port's window of a photo: light, and points of the port laid into the picture."""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.edges import linear_light
from photomeasure.photo import Photo
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import Scene

__all__ = ["FACE_MM", "PortView", "Window"]

Image = NDArray[np.float32]  # (rows, columns)
Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
Vector = NDArray[np.float64]

FACE_MM = 0.1  # the port's face below the print: a sheet of paper; common practice, no source
ROOM_MM = 3.0  # round the collar's hole
REMAP_ROWS = 30000  # the library's limit is 32767


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """A piece of the photo in linear light; `corner_px` is its first pixel."""

    light: Image
    corner_px: Vector

    @classmethod
    def around(cls, photo: Photo, points_px: Points2) -> "Window":
        """The pixels that hold all points, and a few more."""
        size = np.array(photo.size_px)
        low = np.clip(np.floor(points_px.min(axis=0)).astype(int) - 8, 0, size - 2)
        high = np.clip(np.ceil(points_px.max(axis=0)).astype(int) + 9, low + 2, size)
        stored = photo.grey[low[1] : high[1], low[0] : high[0]]
        return cls(linear_light(stored), low.astype(np.float64))

    def at(self, points_px: Points2) -> Vector:
        """Light at points, linearly between pixels, (N,); the rim's beyond the window."""
        own = (points_px - self.corner_px).astype(np.float32)
        parts = [
            cv2.remap(
                self.light,
                part[:, :1],
                part[:, 1:],
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )[:, 0]
            for part in np.array_split(own, len(own) // REMAP_ROWS + 1)
        ]
        return np.concatenate(parts).astype(np.float64)


@dataclass(frozen=True, eq=False)
class PortView:
    """One photo of a port.

    Attributes
    ----------
    photo : Photo
    scene : Scene
        In the collar's sheet frame: origin at its middle, z out of the port.
    found : FoundPiece
        The collar.
    window : Window
    """

    photo: Photo
    scene: Scene
    found: FoundPiece
    window: Window

    @classmethod
    def of(cls, photo: Photo, scene: Scene, found: FoundPiece) -> "PortView":
        """Cut the collar's hole and what lies behind it out of the photo."""
        reach = cls._hole_mm(found) / 2 + ROOM_MM
        turns = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        rim = reach * np.column_stack([np.cos(turns), np.sin(turns), 0 * turns])
        return cls(photo, scene, found, Window.around(photo, scene.px(rim)))

    @staticmethod
    def _hole_mm(found: FoundPiece) -> float:
        hole = found.piece.hole
        return hole.diameter_mm if hole is not None else 0.0

    @property
    def hole_radius_mm(self) -> float:
        """Of the collar's hole as printed."""
        return self._hole_mm(self.found) / 2

    @cached_property
    def far_rad(self) -> float:
        """Direction in the collar's plane away from the camera."""
        centre = self.scene.centre_mm
        return float(np.arctan2(-centre[1], -centre[0]))

    @cached_property
    def slant_rad(self) -> float:
        """Between the line of sight and the port's axis."""
        centre = self.scene.centre_mm
        return float(np.arctan2(np.hypot(centre[0], centre[1]), centre[2]))

    @cached_property
    def pixel_mm(self) -> float:
        """Size of a pixel across the line of sight at the mouth."""
        return float(np.linalg.norm(self.scene.centre_mm)) / self.scene.camera.focal_px

    def light(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Light seen at points of the sheet frame, (..., 3) to (...)."""
        flat = points_mm.reshape(-1, 3)
        return self.window.at(self.scene.px(flat)).reshape(points_mm.shape[:-1])
