"""How deep the mouth lies below the print: by the recess, and the dark under the paper's edge."""

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.port.circles import SpotFace
from photomeasure.port.mouth import Circle
from photomeasure.port.view import PortView

__all__ = ["dark_under_edge_mm", "mouth_depth_mm"]

Vector = NDArray[np.float64]
Grid = NDArray[np.float64]  # (angles, places)

SIDES_RAD = np.radians(np.arange(-60.0, 60.1, 2.0))  # of the hole's edge, from the far side
STEP_MM, BLUR_MM = 0.03, 0.04
EDGE_MM, DEEP_MM = 0.9, 2.7  # the cut edge beside the printed one; how far inwards is looked
DARK, LEAST_FALL = 0.01, 0.8  # of full light; of the logarithm of light [1/mm]
CLEAR_MM, LEAST_ROOM_MM, LEAST_LINES = 0.3, 0.6, 12  # before the next circle
FULL, FULL_PERCENTILE = 0.92, 85
# The mouth below the print, or a recess's floor below it more than below its rim, by scenes for
# tuning: least, by how wide it is dark (so much of it tells), standard uncertainty; and where no
# room shows the dark: middle, uncertainty
BARE, BARE_UNSEEN = (0.18, 0.68, 0.23), (0.45, 0.45)
IN_RECESS, IN_RECESS_UNSEEN = (0.09, 0.71, 0.15), (0.2, 0.2)
WIDEST_MM = 1.5


def mouth_depth_mm(view: PortView, mouth: Circle, spot: SpotFace | None) -> tuple[float, float]:
    """How deep the mouth lies below the print's plane, and how uncertain that is.

    Parameters
    ----------
    view : PortView
    mouth : Circle
        As laid into the face's plane.
    spot : SpotFace or None
        The recess about it, if its edge is seen.

    Returns
    -------
    tuple of float [mm]
    """
    dark = dark_under_edge_mm(view, mouth, spot)
    floor = 0.0 if spot is None else spot.depth_mm
    if dark is None:
        middle, u = BARE_UNSEEN if spot is None else IN_RECESS_UNSEEN
        return floor + middle, u
    least, tells, u = BARE if spot is None else IN_RECESS
    return floor + least + tells * min(dark, WIDEST_MM), u


def dark_under_edge_mm(view: PortView, mouth: Circle, spot: SpotFace | None) -> float | None:
    """How wide it is dark inside the far edge of the collar's hole.

    Parameters
    ----------
    view : PortView
    mouth : Circle
        As laid into the face's plane.
    spot : SpotFace or None
        A recess about it, whose rim is seen.

    Returns
    -------
    float or None [mm]
        Integral of the light that lacks; None where there is no room to see it.

    Notes
    -----
    Paper flat on a face ends in a fine line. Where it stands off, or lies over a recess, less
    light reaches what is seen below its far edge, over about as much as it stands off.
    """
    way = np.column_stack([np.cos(view.far_rad + SIDES_RAD), np.sin(view.far_rad + SIDES_RAD)])
    inwards = np.arange(-EDGE_MM, DEEP_MM + EDGE_MM, STEP_MM)
    places = (view.hole_radius_mm - inwards)[None, :, None] * way[:, None, :]
    light = view.light(np.concatenate([places, np.zeros((*places.shape[:2], 1))], axis=-1))
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), sigmaX=BLUR_MM / STEP_MM, sigmaY=1.0))
    falls = -np.gradient(np.log(light + DARK), STEP_MM, axis=1)
    edges = np.argmax(np.where(inwards < EDGE_MM, falls, -np.inf), axis=1)
    inner = mouth if spot is None else Circle(spot.x_mm, spot.y_mm, spot.radius_mm, 1.0)
    rooms = view.hole_radius_mm - inwards[edges] - _reach_mm(inner, way) - CLEAR_MM
    is_edge = falls[np.arange(len(edges)), edges] > LEAST_FALL
    profile = _profile(light, edges, np.where(is_edge, rooms, 0.0))
    return None if profile is None else _lack_mm(profile)


def _reach_mm(circle: Circle, way: Grid) -> Vector:
    """How far from the sheet's middle a circle is left along each ray; 0 where it is not met."""
    middle = np.array([circle.x_mm, circle.y_mm])
    along = way @ middle
    inside = along**2 - middle @ middle + circle.radius_mm**2
    return np.where(inside > 0, along + np.sqrt(np.maximum(inside, 0.0)), 0.0)


def _profile(light: Grid, edges: NDArray[np.intp], rooms_mm: Vector) -> Vector | None:
    """Light inwards from the edge, over its full level, in the middle of all lines."""
    rows = []
    for line, edge, room in zip(light, edges, rooms_mm, strict=True):
        own = np.full(round(DEEP_MM / STEP_MM), np.nan)
        seen = line[edge : edge + len(own)][: max(int(room / STEP_MM), 0)]
        own[: len(seen)] = seen
        if room >= LEAST_ROOM_MM:
            rows.append(own)
    if len(rows) < LEAST_LINES:
        return None
    grid = np.array(rows)
    is_seen = (~np.isnan(grid)).sum(axis=0) >= max(LEAST_LINES, 0.4 * len(grid))
    grid = grid[:, is_seen]
    if grid.shape[1] < LEAST_ROOM_MM / STEP_MM:
        return None
    full = np.nanpercentile(grid[:, round(CLEAR_MM / STEP_MM) :], FULL_PERCENTILE, axis=1)
    return np.asarray(np.nanmedian(grid / np.maximum(full[:, None], DARK), axis=0))


def _lack_mm(profile: Vector) -> float:
    """Light that lacks before it is full [mm]."""
    first = round(CLEAR_MM / STEP_MM)
    full = float(profile[first:].max())
    end = first + int(np.argmax(profile[first:] >= FULL * full))
    return float(np.clip(1 - profile[:end] / full, 0, 1).sum() * STEP_MM)
