"""Prints as an ideal camera sees them: no light, no paper, only geometry, blur and noise."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo
from photomeasure.references.draw_png import raster
from photomeasure.references.prints import Print

TEXTURE_DPI = 600.0


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A camera over a page: pinhole with two radial terms, (0, 0) the centre of the first pixel."""

    size_px: tuple[int, int]
    focal_px: float
    distance_mm: float
    tilt_deg: float = 0.0
    tilt_towards_deg: float = 0.0
    turn_deg: float = 0.0
    look_at_mm: tuple[float, float] = (105.0, 148.5)
    k1: float = 0.0
    k2: float = 0.0

    @property
    def intrinsics(self) -> NDArray[np.float64]:
        width, height = self.size_px
        f = self.focal_px
        return np.array([[f, 0, (width - 1) / 2], [0, f, (height - 1) / 2], [0, 0, 1]])

    @property
    def camera_from_page(self) -> NDArray[np.float64]:
        """(3, 4): the page's point looked at lies on the axis, `distance_mm` away."""
        towards, tilt, turn = np.deg2rad((self.tilt_towards_deg, self.tilt_deg, self.turn_deg))
        axis = np.array([np.cos(towards), np.sin(towards), 0.0])
        rotation = cv2.Rodrigues(axis * tilt)[0] @ cv2.Rodrigues(np.array([0, 0, turn]))[0]
        centre = rotation @ np.array([*self.look_at_mm, 0.0])
        shift = np.array([0, 0, self.distance_mm]) - centre
        return np.hstack((rotation, shift[:, None]))

    def project(self, points_page_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 2) page points to pixels."""
        pose = self.camera_from_page
        pixels, _ = cv2.projectPoints(
            np.column_stack((points_page_mm, np.zeros(len(points_page_mm)))),
            cv2.Rodrigues(pose[:, :3])[0],
            pose[:, 3],
            self.intrinsics,
            np.array([self.k1, self.k2, 0, 0, 0]),
        )
        return np.asarray(pixels.reshape(-1, 2), dtype=np.float64)

    def page_of(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 2) pixels back to page points."""
        points = points_px
        if self.k1 or self.k2:
            points = cv2.undistortPoints(
                points_px.reshape(-1, 1, 2),
                self.intrinsics,
                np.array([self.k1, self.k2, 0, 0, 0]),
                criteria=(cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 60, 1e-9),
            ).reshape(-1, 2)
            rays = np.column_stack((points, np.ones(len(points))))
        else:
            rays = (
                np.column_stack((points, np.ones(len(points)))) @ np.linalg.inv(self.intrinsics).T
            )
        ray_from_page = self.camera_from_page[:, [0, 1, 3]]
        page = rays @ np.linalg.inv(ray_from_page).T
        return np.asarray(page[:, :2] / page[:, 2:], dtype=np.float64)


def _page_map(view: View, samples: int, rows: range) -> NDArray[np.float32]:
    """Page points of every sub-pixel: exact at every fourth pixel, straight lines between.

    At the tilts and distortions of the tests that is good to a thousandth of a pixel.
    """
    width = view.size_px[0]
    x = 4 * np.arange(-1, width // 4 + 2) + 1.5
    y = 4 * np.arange(rows.start // 4 - 1, rows.stop // 4 + 2) + 1.5
    nodes = view.page_of(np.column_stack([v.ravel() for v in np.meshgrid(x, y)]))
    coarse = nodes.astype(np.float32).reshape(len(y), len(x), 2)
    factor = 4 * samples
    fine = cv2.resize(coarse, (len(x) * factor, len(y) * factor), interpolation=cv2.INTER_LINEAR)
    return fine[factor : factor + len(rows) * samples, factor : factor + width * samples]


def ideal(print_: Print, view: View, samples: int = 4) -> NDArray[np.float32]:
    """Supersampled picture, 0 to 1: `samples` squared rays a pixel into the page's raster.

    The picture's width and height are multiples of 4.
    """
    grey = cv2.cvtColor(raster(print_, TEXTURE_DPI), cv2.COLOR_RGB2GRAY)
    page = np.pad(np.asarray(grey, np.uint8), 40, constant_values=255)
    width, height = view.size_px
    picture = np.empty((height, width), dtype=np.float32)
    for top in range(0, height, 64):
        rows = range(top, min(top + 64, height))
        at = _page_map(view, samples, rows) * (TEXTURE_DPI / 25.4) - 0.5 + 40
        fine = cv2.remap(page, at, None, cv2.INTER_LINEAR, borderValue=255.0)
        fine = cv2.resize(fine, (width, len(rows)), interpolation=cv2.INTER_AREA)
        picture[rows.start : rows.stop] = fine
    return picture / 255


def developed(
    ideal_picture: NDArray[np.float32],
    rng: np.random.Generator,
    *,
    blur_px: float = 0.8,
    noise: float = 2.0,
    levels: tuple[float, float] = (30.0, 220.0),
) -> NDArray[np.uint8]:
    """Blur, black and white level, white noise, rounding."""
    picture = ideal_picture * (levels[1] - levels[0]) + levels[0]
    picture = cv2.GaussianBlur(picture, (0, 0), blur_px)
    picture = picture + rng.normal(0, noise, picture.shape).astype(np.float32)
    return np.clip(np.round(picture), 0, 255).astype(np.uint8)


def photo_of(grey: NDArray[np.uint8], name: str = "test.png") -> Photo:
    """A photo without a file."""
    colour = cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR)
    return Photo(name, grey, np.asarray(colour, dtype=np.uint8), "key", None, "lens")
