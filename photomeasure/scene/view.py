"""One solved photo: its lens, and where it stood over the sheet."""

from dataclasses import dataclass, field
from typing import Self

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, project, rays
from photomeasure.quantities import Source
from photomeasure.scene.scale import PageScale

__all__ = ["Scene"]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """One solved photo.

    Attributes
    ----------
    camera : Camera
    camera_from_sheet : (4, 4) [mm]
    corners_px : (K, 2)
        The reference's corners as found.
    residuals_px : (K, 2)
        Corners as found minus as solved.
    scale : PageScale
        Of the first print.
    sources : tuple of Source
        Independent causes of this scene's uncertainty.
    shifted : tuple of Scene
        For each source the scene moved by one standard uncertainty of it.
    """

    camera: Camera
    camera_from_sheet: Matrix
    corners_px: Points2
    residuals_px: Points2
    scale: PageScale
    sources: tuple[Source, ...] = ()
    shifted: tuple[Self, ...] = field(default=(), repr=False)

    @property
    def centre_mm(self) -> Vector:
        """The camera's centre in the sheet frame, (3,) [mm]."""
        rotation, translation = self.camera_from_sheet[:3, :3], self.camera_from_sheet[:3, 3]
        return np.asarray(-rotation.T @ translation)

    def rays(self, points_px: Points2) -> Points3:
        """Unit directions through pixels in the sheet frame, (N, 3)."""
        directions = rays(self.camera, points_px) @ self.camera_from_sheet[:3, :3]
        return np.asarray(directions / np.linalg.norm(directions, axis=1, keepdims=True))

    def sheet_mm(self, points_px: Points2, height_mm: float = 0.0) -> Points2:
        """Where pixels meet the plane `height_mm` above the sheet, (N, 2) [mm]."""
        directions, centre = self.rays(points_px), self.centre_mm
        reach = (height_mm - centre[2]) / directions[:, 2]
        return np.asarray(centre[:2] + reach[:, None] * directions[:, :2])

    def px(self, points_sheet_mm: Points3) -> Points2:
        """Where points of the sheet frame are seen, (N, 2) [px]."""
        rotation, translation = self.camera_from_sheet[:3, :3], self.camera_from_sheet[:3, 3]
        return project(self.camera, points_sheet_mm @ rotation.T + translation)

    def variants(self) -> tuple[tuple[Source, Self], ...]:
        """Each source with the scene moved by one standard uncertainty of it."""
        return tuple(zip(self.sources, self.shifted, strict=True))
