"""The silhouette of the part as two curves of distance from its axis."""

from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.edges import LEVELS_BLURS, cheapest_path, half_levels
from photomeasure.thread.axis import Axis
from photomeasure.thread.paper import UNKNOWN_SHARE
from photomeasure.thread.strip import Strip

__all__ = ["Guide", "Outline", "Side", "edge_strength", "guided", "outline", "traced_points"]

Image = NDArray[np.float32]
Vector = NDArray[np.float64]  # (N,)
Points2 = NDArray[np.float64]  # (N, 2)

STEEPEST = 3  # rows a column
STEP_TOLL = 0.03
AWAY_TOLL, FAR_TOLL = 0.15, 2.0  # per mm from the rim of the bare paper, in sure edges
LEFT_OUTSIDE = 0.2  # price of an edge left outside, as a share of the gain of one followed
THREAD_DEEP_MM = 0.6  # crests and roots stand so far from the rim, which runs between them
OFF_GUIDE_MM = 0.25  # strayed from the guide costs as much as a sure edge
SURE_EDGE = 0.03  # of the brightness around, per pixel; a stronger edge is no surer
LEAST_EDGE = 0.1  # of a sure one
COLOUR_WEIGHT = 1.5  # of red less green against their mean: shade has no colour, brass has
AROUND_MM = 1.5
RIDGE_PX = 9
BARE, LEAST_PAPER_PX = 0.8, 2000  # where the paper's own grain is read
GRAIN_BINS, GRAIN_SHARE = 6, 70  # of brightness; percentile
SLOPE_BLUR_PX = 1.2
SNAP_PX = 2.5  # from the path to the steepest place
PATH_SMOOTH_PX = 2.0
PROFILE_STEP_PX = 0.25

_strength_of: WeakKeyDictionary[Strip, Image] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side's silhouette.

    Attributes
    ----------
    along_mm, off_mm : (N,)
        Sub-pixel points; distance from the axis, above zero on both sides.
    sign : int
        1 left of the axis' direction, -1 right.
    """

    along_mm: Vector
    off_mm: Vector
    sign: int


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Both sides on one axis.

    Attributes
    ----------
    axis : Axis
    left, right : Side
    pixel_mm, blur_mm : float
        Size of a pixel and of the blur at the part.
    aim_mm : float
        Place along the axis that the photo has in its middle.
    stretch_mm : tuple of float
        Where the thread is looked for.
    """

    axis: Axis
    left: Side
    right: Side
    pixel_mm: float
    blur_mm: float
    aim_mm: float
    stretch_mm: tuple[float, float] = (-np.inf, np.inf)


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """Where one side is expected.

    Attributes
    ----------
    along_mm, off_mm : (N,)
        Rising; nothing is expected beyond its ends.
    """

    along_mm: Vector
    off_mm: Vector


def outline(strip: Strip, blur_px: float) -> Outline:
    """Trace the silhouette to sub-pixel points.

    Parameters
    ----------
    strip : Strip
    blur_px : float [px]

    Returns
    -------
    Outline
    """
    return Outline(
        axis=strip.axis,
        left=_side(strip, blur_px, (1, None)),
        right=_side(strip, blur_px, (-1, None)),
        pixel_mm=strip.pixel_mm,
        blur_mm=blur_px * strip.pixel_mm,
        aim_mm=strip.aim_mm,
        stretch_mm=strip.stretch_mm,
    )


def guided(strip: Strip, seen: Outline, sign: int, guide: Guide) -> Outline:
    """The same outline with one side traced again, near where it is expected.

    Parameters
    ----------
    strip : Strip
        On which it was seen.
    seen : Outline
    sign : int
        Of the side, as in `Side`.
    guide : Guide

    Returns
    -------
    Outline
    """
    again = _side(strip, seen.blur_mm / strip.pixel_mm, (sign, guide))
    return replace(seen, left=again) if sign > 0 else replace(seen, right=again)


def traced_points(
    strip: Strip, window: tuple[NDArray[np.int64], NDArray[np.int64]], blur_px: float
) -> Points2:
    """Trace the silhouette across the axis, where it ends the part.

    Parameters
    ----------
    strip : Strip
    window : (rows, columns)
        Of the strip; columns from outside inwards.
    blur_px : float [px]

    Returns
    -------
    (N, 2) [mm]
        Distance from the axis and place along it; NaN where lost.
    """
    rows, columns = window
    strength = edge_strength(strip)[np.ix_(rows, columns)].T
    bare = strip.bare[np.ix_(rows, columns)].T
    path = cheapest_path(_price(strength, bare, strip.pixel_mm), STEEPEST, STEP_TOLL)
    seen = strength[path, np.arange(len(path))] > LEAST_EDGE
    light = np.ascontiguousarray(strip.light[np.ix_(rows, columns)].transpose(1, 0, 2))
    points = _refined(light, path, seen, blur_px)
    step = strip.pixel_mm * (1 if columns[-1] > columns[0] else -1)
    return np.column_stack(
        [
            strip.off_mm[rows[0]] + strip.pixel_mm * points[:, 0],
            strip.along_mm[columns[0]] + step * points[:, 1],
        ]
    )


def edge_strength(strip: Strip) -> Image:
    """Edge strength, 0 to 1, as a share of the brightness around, on the edge's ridge.

    Parameters
    ----------
    strip : Strip

    Returns
    -------
    (rows, columns)
    """
    if strip not in _strength_of:
        _strength_of[strip] = _edge_strength(strip)
    return _strength_of[strip]


def _edge_strength(strip: Strip) -> Image:
    red, green = strip.light[..., 0], strip.light[..., 1]
    bright = np.asarray((red + green) / 2, np.float32)
    around = np.asarray(cv2.GaussianBlur(bright, (0, 0), AROUND_MM / strip.pixel_mm), np.float32)
    steep = np.asarray(
        np.hypot(_slope(bright), COLOUR_WEIGHT * _slope(np.asarray(red - green))), np.float32
    )
    above = np.maximum(steep / (around + 1e-4) - _paper_grain(steep, around, strip.bare), 0)
    ridge = above / (cv2.dilate(above, np.ones((RIDGE_PX, RIDGE_PX), np.uint8)) + 1e-6)
    return np.asarray(np.minimum(above / SURE_EDGE, 1) * ridge**2, np.float32)


def _paper_grain(steep: Image, around: Image, bare: Image) -> Image:
    """Relative slope that noise and dots reach on bare paper of each place's brightness."""
    level = np.log(around + 1e-4)
    paper = bare > BARE
    if paper.sum() < LEAST_PAPER_PX:
        return np.full_like(steep, SURE_EDGE)
    edges = np.quantile(level[paper], np.linspace(0, 1, GRAIN_BINS + 1))
    which = np.clip(np.searchsorted(edges, level[paper]) - 1, 0, GRAIN_BINS - 1)
    relative = steep[paper] / (around[paper] + 1e-4)
    grain = [np.percentile(relative[which == n], GRAIN_SHARE) for n in range(GRAIN_BINS)]
    middles = (edges[1:] + edges[:-1]) / 2
    return np.asarray(np.interp(level, middles, grain), np.float32)


def _slope(picture: Image) -> Image:
    smooth = cv2.GaussianBlur(picture, (0, 0), SLOPE_BLUR_PX)
    along = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    off = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(np.hypot(along, off), np.float32)


def _side(strip: Strip, blur_px: float, which: tuple[int, Guide | None]) -> Side:
    sign, guide = which
    pixel, strength = strip.pixel_mm, edge_strength(strip)
    price = _price(_from_outside(strength, sign), _from_outside(strip.bare, sign), pixel)
    if guide is not None:
        price += _strayed(strip, guide)
    rows = cheapest_path(price, STEEPEST, STEP_TOLL)
    rows = len(strip.off_mm) - 1 - rows if sign > 0 else rows
    columns = np.arange(len(rows))
    on_bed = np.abs(strip.bare[rows, columns] - UNKNOWN_SHARE) > 1e-4
    seen = (strength[rows, columns] > LEAST_EDGE) & on_bed
    points = _refined(strip.light, rows, seen, blur_px)
    place = strip.along_mm[0] + pixel * points[:, 0]
    distance = sign * (strip.off_mm[0] + pixel * points[:, 1])
    good = np.isfinite(distance) & (distance > 0)
    order = np.argsort(place[good])
    return Side(place[good][order], distance[good][order], sign)


def _price(strength: Image, bare: Image, pixel_mm: float) -> Image:
    """What a path pays: its distance from the paper's rim, edges left outside, less its own."""
    rim = np.cumsum(0.5 - bare, axis=0) * 2 * pixel_mm
    away = rim - rim.min(axis=0)
    toll = AWAY_TOLL * away + FAR_TOLL * np.maximum(away - THREAD_DEEP_MM, 0)
    outside = np.cumsum(strength, axis=0) - strength
    return np.asarray(toll + LEFT_OUTSIDE * outside - strength, np.float32)


def _strayed(strip: Strip, guide: Guide) -> Image:
    """Price of leaving the guide: grows as the square of the shortest distance from it."""
    off = np.abs(strip.off_mm[: len(strip.off_mm) // 2])
    inside = (strip.along_mm > guide.along_mm[0]) & (strip.along_mm < guide.along_mm[-1])
    columns = np.flatnonzero(inside)
    drawn = np.full((len(off), len(columns)), 255, np.uint8)
    expected = np.interp(strip.along_mm[columns], guide.along_mm, guide.off_mm)
    places = np.column_stack([np.arange(len(columns)), (off[0] - expected) / strip.pixel_mm])
    cv2.polylines(drawn, [np.rint(places).astype(np.int32)], False, 0)
    away = cv2.distanceTransform(drawn, cv2.DIST_L2, 5) * strip.pixel_mm
    price = np.zeros((len(off), len(strip.along_mm)), np.float32)
    price[:, columns] = np.minimum((away / OFF_GUIDE_MM) ** 2, 16)
    return price


def _from_outside(picture: Image, sign: int) -> Image:
    half = picture.shape[0] // 2
    return picture[half:][::-1] if sign > 0 else picture[:half]


def _refined(
    light: Image, rows: NDArray[np.int64], seen: NDArray[np.bool_], blur: float
) -> Points2:
    """Half-level points (column, row) on normals of the path, NaN if lost."""
    columns = np.flatnonzero(seen)
    if len(columns) == 0:
        return np.zeros((0, 2))
    path = gaussian_filter1d(rows.astype(np.float64), PATH_SMOOTH_PX)
    slope = np.gradient(path)[columns]
    normal = np.column_stack([-slope, np.ones_like(slope)])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    base = np.column_stack([columns, rows[columns]]).astype(np.float64)
    reach = SNAP_PX + LEVELS_BLURS[1] * blur
    places = np.arange(-reach, reach + PROFILE_STEP_PX / 2, PROFILE_STEP_PX)
    maps = (base[:, None, :] + places[None, :, None] * normal[:, None, :]).astype(np.float32)
    profiles = cv2.remap(
        light, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    shift = half_levels(np.asarray(profiles, np.float32), places, blur)
    return np.asarray(base + shift[:, None] * normal)
