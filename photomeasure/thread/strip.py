"""The picture straightened along the part's axis: rows are distances from it, columns places."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.edges import linear_light
from photomeasure.photo import Photo
from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis, contour_points, passing
from photomeasure.thread.locate import Found
from photomeasure.thread.paper import OpenPaper

__all__ = ["Strip", "straightened"]

Image = NDArray[np.float32]
Vector = NDArray[np.float64]  # (N,)

MARK_SLACK_MM = 0.5  # a finger's tap on an enlarged picture
BEYOND_MM = 3.0  # shown beyond the rough footprint
COARSE = 8  # pixels between exactly mapped points; the map is smooth to 1e-3 px over them


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Strip:
    """What the rays that pass the axis at (off, along) see.

    Attributes
    ----------
    axis : Axis
    along_mm : (columns,)
    off_mm : (rows,)
        Above zero to the left of the axis' direction.
    light : (rows, columns, 2)
        Linear red and green, in which the bed's yellow dots are as bright as its paper.
    bare : (rows, columns)
        How well the bed's print is seen there, 0 to 1.
    pixel_mm : float
    aim_mm : float
        Place along the axis that the photo has in its middle.
    stretch_mm : tuple of float
        From where to where along the axis somebody says that the thread goes.
    is_heading_sure : bool
        The axis runs along the part to half a degree.
    """

    axis: Axis
    along_mm: Vector
    off_mm: Vector
    light: Image
    bare: Image
    pixel_mm: float
    aim_mm: float
    stretch_mm: tuple[float, float] = (-np.inf, np.inf)
    is_heading_sure: bool = False


def straightened(photo: Photo, scene: Scene, paper: OpenPaper, found: Found, axis: Axis) -> Strip:
    """Straighten the part's surroundings at the photo's own resolution.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    paper : OpenPaper
    found : Found
        How far along and across to look.
    axis : Axis

    Returns
    -------
    Strip
    """
    pixel = _pixel_mm(scene, axis)
    along = np.arange(found.from_mm - BEYOND_MM, found.to_mm + BEYOND_MM, pixel)
    half = np.arange(pixel / 2, found.half_width_mm + BEYOND_MM, pixel)
    off = np.concatenate([-half[::-1], half])
    coarse_along = along[0] + COARSE * pixel * np.arange(len(along) // COARSE + 2)
    coarse_off = off[0] + COARSE * pixel * np.arange(len(off) // COARSE + 2)
    places, offs = np.meshgrid(coarse_along, coarse_off)
    px = scene.px(contour_points(scene, axis, places.ravel(), offs.ravel()))
    bare = paper.at(scene.sheet_mm(px))
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - 4, 0)
    high = np.maximum(np.ceil(px.max(axis=0)).astype(int) + 5, low + 1)
    window = linear_light(photo.colour[low[1] : high[1], low[0] : high[0], 2:0:-1])
    coarse = np.column_stack([px - low, bare]).astype(np.float32).reshape(*places.shape, 3)
    column, row = np.meshgrid(
        np.arange(len(along), dtype=np.float32) / COARSE,
        np.arange(len(off), dtype=np.float32) / COARSE,
    )
    maps = cv2.remap(coarse, column, row, cv2.INTER_LINEAR)
    light = cv2.remap(
        window, maps[..., 0], maps[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    middle = np.array([photo.aim_px])
    return Strip(
        axis=axis,
        along_mm=along,
        off_mm=off,
        light=np.asarray(light, np.float32),
        bare=np.ascontiguousarray(maps[..., 2]),
        pixel_mm=pixel,
        aim_mm=float(passing(scene, axis, middle)[0][0]),
        stretch_mm=_stretch_mm(photo, scene, axis),
        is_heading_sure=found.is_heading_sure,
    )


def _stretch_mm(photo: Photo, scene: Scene, axis: Axis) -> tuple[float, float]:
    if len(photo.marked_px) != 2:
        return -np.inf, np.inf
    ends = passing(scene, axis, np.array(photo.marked_px))[0]
    return float(ends.min()) - MARK_SLACK_MM, float(ends.max()) + MARK_SLACK_MM


def _pixel_mm(scene: Scene, axis: Axis) -> float:
    ends = axis.point_mm + np.array([[0.0], [1.0]]) * axis.direction
    return 1 / float(np.hypot(*np.diff(scene.px(ends), axis=0)[0]))
