"""Find the part on the bed, roughly: where it lies and which way its axis points."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.edges import linear_light
from photomeasure.errors import NoFittingError
from photomeasure.photo import Photo
from photomeasure.references.prints import Print
from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis

__all__ = ["Found", "locate"]

Image = NDArray[np.float32]
Points2 = NDArray[np.float64]  # (N, 2)

PX_MM = 5.0
LIFT_MM = 5.0  # plane on which the coarse picture is drawn, about a fitting's middle
MARGIN_MM = 1.5  # of the bed, kept clear of its printed border
LEAST_AREA_MM2 = 40.0
EDGE_SHARE = 0.02  # of paper white per coarse pixel: above a soft shadow's slope
NOISE_TIMES = 4.0
GAP_MM = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The part's footprint.

    Attributes
    ----------
    axis : Axis
        Rough, level, at half the part's width.
    from_mm, to_mm : float
        Extent along the axis.
    half_width_mm : float
        Extent across it.
    mask : (rows, columns)
        Footprint on a plane 5 mm above the sheet.
    origin_mm : (2,)
        Sheet frame, of the mask's first pixel.
    """

    axis: Axis
    from_mm: float
    to_mm: float
    half_width_mm: float
    mask: NDArray[np.uint8]
    origin_mm: tuple[float, float]

    def covers(self, scene: Scene, points_px: Points2) -> NDArray[np.float32]:
        """Whether pixels lie over the footprint (grown by 1.5 mm), (N,) [0 or 1]."""
        places = np.rint((scene.sheet_mm(points_px, LIFT_MM) - self.origin_mm) * PX_MM).astype(int)
        grown = np.pad(cv2.dilate(self.mask, np.ones((15, 15), np.uint8)), 1)
        rows, columns = grown.shape
        column = np.clip(places[:, 0] + 1, 0, columns - 1)
        row = np.clip(places[:, 1] + 1, 0, rows - 1)
        return np.asarray(grown[row, column], dtype=np.float32)


def locate(photo: Photo, scene: Scene, print_: Print) -> tuple[Found, Found]:
    """Find the part by the sharp edges that it brings onto the bed.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    print_ : Print
        With a bed.

    Returns
    -------
    tuple of Found
        The part with its axis along the direction in which brightness changes most, and across it:
        crests weigh most on the one, highlights along a shiny part on the other.

    Raises
    ------
    NoFittingError
        If nothing of a fitting's size lies there.
    """
    picture, origin = _bed_picture(photo, scene, print_)
    slope_x, slope_y, mask = _edges(picture)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    if count < 2 or stats[1:, cv2.CC_STAT_AREA].max() < LEAST_AREA_MM2 * PX_MM**2:
        raise NoFittingError(
            f"{photo.name} shows no fitting on the sheet's white bed.",
            "Lay one fitting in the middle of the bed, well lit, and take the photo again.",
        )
    part = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    heading = _heading(slope_x[part], slope_y[part])
    rows, columns = np.nonzero(part)
    points = np.column_stack([columns, rows]) / PX_MM + origin
    mask = part.astype(np.uint8)
    return _framed(points, heading, mask, origin), _framed(
        points, heading + np.pi / 2, mask, origin
    )


def _bed_picture(photo: Photo, scene: Scene, print_: Print) -> tuple[Image, tuple[float, float]]:
    """The bed seen from straight above, row 0 at the smallest y of the sheet frame."""
    if print_.bed is None:
        raise NoFittingError(
            f"{print_.name} has no bed for a fitting.", "Print the sheet and lay the fitting on it."
        )
    middle = np.array(print_.bed.centre_mm) - np.array(print_.page_mm) / 2
    half = np.array(print_.bed.size_mm) / 2 - MARGIN_MM
    low = np.array([middle[0], -middle[1]]) - half
    x = np.arange(0, 2 * half[0], 1 / PX_MM) + low[0]
    y = np.arange(0, 2 * half[1], 1 / PX_MM) + low[1]
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.column_stack([grid_x.ravel(), grid_y.ravel(), np.full(grid_x.size, LIFT_MM)])
    maps = scene.px(points).astype(np.float32).reshape(*grid_x.shape, 2)
    stored = cv2.remap(photo.grey, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR)
    return linear_light(stored), (float(low[0]), float(low[1]))  # type: ignore[arg-type]


def _edges(picture: Image) -> tuple[Image, Image, NDArray[np.uint8]]:
    smooth = cv2.GaussianBlur(picture, (0, 0), 1.0)
    slope_x = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    slope_y = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    steep = np.hypot(slope_x, slope_y)
    floor = max(
        EDGE_SHARE * float(np.percentile(picture, 90)), NOISE_TIMES * float(np.median(steep))
    )
    mask = cv2.morphologyEx((steep > floor).astype(np.uint8), cv2.MORPH_OPEN, np.ones((2, 2)))
    gap = round(GAP_MM * PX_MM)
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((gap, gap), np.uint8))
    return slope_x, slope_y, closed  # type: ignore[return-value]


def _heading(slope_x: Image, slope_y: Image) -> float:
    """Direction in which brightness changes most: across the crests, along the axis."""
    xx, yy, xy = (slope_x**2).sum(), (slope_y**2).sum(), (slope_x * slope_y).sum()
    return float(0.5 * np.arctan2(2 * xy, xx - yy))


def _framed(
    points: Points2, heading: float, mask: NDArray[np.uint8], origin: tuple[float, float]
) -> Found:
    along = np.array([np.cos(heading), np.sin(heading)])
    across = np.array([-along[1], along[0]])
    low, high = np.percentile(points @ across, (0.5, 99.5))
    begin, end = np.percentile(points @ along, (0.2, 99.8))
    middle = (begin + end) / 2 * along + (low + high) / 2 * across
    axis = Axis(float(middle[0]), float(middle[1]), 0.85 * (high - low) / 2, heading)
    half = (end - begin) / 2
    return Found(axis, -half, half, (high - low) / 2, mask, origin)
