"""The silhouette of the part as two curves of distance from its axis."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.edges import linear_light, refine_steps, trace_outermost
from photomeasure.photo import Photo
from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis, contour_points
from photomeasure.thread.locate import Found

__all__ = ["Outline", "Side", "outline"]

Image = NDArray[np.float32]
Vector = NDArray[np.float64]  # (N,)
Points2 = NDArray[np.float64]  # (N, 2)

BEYOND_MM = 3.0  # looked at beyond the rough footprint
EDGE_SHARE = 0.012
NOISE_TIMES = 3.0
STRONG_SHARE = 0.05  # an edge this strong is sure; a stronger one is no surer
STEEPEST = 3
REACH_BLURS = 3.5  # half length of the profile across an edge
WORST_MISFIT = 0.4
INSIDE_MM = (0.4, 1.4)
COARSE = 8  # pixels between exactly mapped points; the map is smooth to 1e-3 px over them
HALF = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side's silhouette.

    Attributes
    ----------
    along_mm, off_mm : (N,)
        Sub-pixel points; distance from the axis, above zero on both sides.
    texture : (N,)
        Edge strength just inside, in shares of paper white: crests have it, a shadow has none.
    sign : int
        1 left of the axis' direction, -1 right.
    """

    along_mm: Vector
    off_mm: Vector
    texture: Vector
    sign: int


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Both sides on one axis, and the size of a pixel and of the blur there in mm."""

    axis: Axis
    left: Side
    right: Side
    pixel_mm: float
    blur_mm: float


def outline(photo: Photo, scene: Scene, found: Found, axis: Axis, blur_px: float) -> Outline:
    """Trace the silhouette to sub-pixel points.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    found : Found
    axis : Axis
        Good to a few degrees and a millimetre.
    blur_px : float [px]

    Returns
    -------
    Outline
    """
    pixel = _pixel_mm(scene, axis)
    along = np.arange(found.from_mm - BEYOND_MM, found.to_mm + BEYOND_MM, pixel)
    reach = found.half_width_mm + BEYOND_MM
    off = np.arange(-reach, reach, pixel)
    strip, cover = _strip(photo, scene, found, axis, (along, off))
    blur = blur_px * pixel
    smooth = np.asarray(cv2.GaussianBlur(strip, (0, 0), 1.2), np.float32)
    slopes = _slopes(smooth)
    strength = np.hypot(*slopes) * cover
    paper = float(np.percentile(strip, 90))
    busy = strength[cover > 0]
    noise = float(np.median(busy)) if len(busy) else 0.0
    floor = max(EDGE_SHARE * paper, NOISE_TIMES * noise)
    strength = np.minimum(strength, STRONG_SHARE * paper)
    sides = []
    for sign in (1, -1):
        rows = trace_outermost(_from_outside(strength, sign), floor, STEEPEST)
        rows = len(off) - 1 - rows if sign > 0 else rows
        seen = strength[rows, np.arange(len(along))] > floor
        points = _refined(strip, slopes, rows, seen, blur_px)
        texture = _inside(strength / paper, rows[seen], np.flatnonzero(seen), (sign, pixel))
        place = along[0] + pixel * points[:, 0]
        distance = sign * (off[0] + pixel * points[:, 1])
        good = np.isfinite(distance) & (distance > 0)
        order = np.argsort(place[good])
        sides.append(Side(place[good][order], distance[good][order], texture[good][order], sign))
    return Outline(axis, sides[0], sides[1], pixel, blur)


def _inside(
    strength: Image, rows: NDArray[np.int64], columns: NDArray[np.int64], way: tuple[int, float]
) -> Vector:
    """Mean edge strength between 0.4 and 1.4 mm inside the traced edge."""
    sign, pixel = way
    depth = np.arange(round(INSIDE_MM[0] / pixel), round(INSIDE_MM[1] / pixel) + 1)
    inner = np.clip(rows[:, None] - sign * depth[None, :], 0, strength.shape[0] - 1)
    return np.asarray(strength[inner, columns[:, None]].mean(axis=1), np.float64)


def _slopes(smooth: Image) -> tuple[Image, Image]:
    along = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    off = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(along, np.float32), np.asarray(off, np.float32)


def _from_outside(strength: Image, sign: int) -> Image:
    half = strength.shape[0] // 2
    return strength[half:][::-1] if sign > 0 else strength[:half]


def _pixel_mm(scene: Scene, axis: Axis) -> float:
    ends = axis.point_mm + np.array([[0.0], [1.0]]) * axis.direction
    return 1 / float(np.hypot(*np.diff(scene.px(ends), axis=0)[0]))


def _strip(
    photo: Photo, scene: Scene, found: Found, axis: Axis, grid: tuple[Vector, Vector]
) -> tuple[Image, Image]:
    """Linear light over (off, along), and where the footprint covers it."""
    along, off = grid
    coarse_along = np.arange(along[0], along[-1] + COARSE * _step(along), COARSE * _step(along))
    coarse_off = np.arange(off[0], off[-1] + COARSE * _step(off), COARSE * _step(off))
    places, offs = np.meshgrid(coarse_along, coarse_off)
    points = contour_points(scene, axis, places.ravel(), offs.ravel())
    px = scene.px(points)
    cover = found.covers(scene, px).reshape(places.shape)
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - 4, 0)
    high = np.ceil(px.max(axis=0)).astype(int) + 5
    window = linear_light(photo.grey[low[1] : high[1], low[0] : high[0]])
    coarse = np.dstack([(px - low).reshape(*places.shape, 2), cover]).astype(np.float32)
    column, row = np.meshgrid(np.arange(len(along)) / COARSE, np.arange(len(off)) / COARSE)
    fine = cv2.remap(coarse, column.astype(np.float32), row.astype(np.float32), cv2.INTER_LINEAR)
    strip = cv2.remap(
        window, fine[..., 0], fine[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return strip, (fine[..., 2] > HALF).astype(np.float32)  # type: ignore[return-value]


def _step(grid: Vector) -> float:
    return float(grid[1] - grid[0])


def _refined(
    strip: Image,
    slopes: tuple[Image, Image],
    rows: NDArray[np.int64],
    seen: NDArray[np.bool_],
    blur: float,
) -> Points2:
    """Step fit along the brightness gradient: points (column, row), NaN if lost."""
    columns = np.flatnonzero(seen)
    if len(columns) == 0:
        return np.zeros((0, 2))
    rows = rows[seen]
    normal = np.column_stack([slope[rows, columns] for slope in slopes]).astype(np.float64)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    places = np.arange(-REACH_BLURS * blur, REACH_BLURS * blur + 0.01, 0.5)
    base = np.column_stack([columns, rows]).astype(np.float64)
    maps = (base[:, None, :] + places[None, :, None] * normal[:, None, :]).astype(np.float32)
    profiles = cv2.remap(
        strip, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    shift, _, misfit = refine_steps(profiles, places, np.zeros(len(base)), blur)  # type: ignore[arg-type]
    shift[misfit > WORST_MISFIT] = np.nan
    return np.asarray(base + shift[:, None] * normal)
