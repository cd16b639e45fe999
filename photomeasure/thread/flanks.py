"""Depth of the grooves and angle between the flanks, where the view and the pixels carry it.

Seen from the side a helix hides its own grooves. Let a point a little round the thread from the
outline, by the angle phi, stand s phi farther along the axis, s = P / 2 pi for a view square on and
more or less than that by R tan(lean) on the two sides; it shows over the outline where the thread
rises faster than R phi^2 / 2 falls. A rounded root of radius q is therefore seen to its floor while
s^2 < q R, and the flanks stay straight and as steep as they are but for 1 - s^2 / (2 R^2 tan^2) of
it (own derivation). Sides that are nearer to that limit are left out.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.axis import contour_points, passing
from photomeasure.thread.crest import crest_loss_mm
from photomeasure.thread.look import Seen
from photomeasure.thread.outline import Side
from photomeasure.thread.reading import Hand
from photomeasure.thread.values import Sizes

__all__ = ["Grooves", "grooves", "shear_mm", "straight_flank"]

Vector = NDArray[np.float64]  # (N,)
Curves = list[tuple[Vector, Vector]]  # one a turn: place from its crest, depth under the crests

ROOT_ROUND = 0.14  # radius over pitch: 60 degree threads 0.125 to 0.144, Whitworth form 0.137
MOST_HIDDEN = 0.5  # of s^2 / (q R)
MOST_LEAN_RAD = np.radians(6.0)
MOST_DOUBT_PX = 0.4  # of a side's edge
LEAST_DEPTH, MOST_DEPTH = 0.50, 0.80  # of the pitch; what is seen outside is no groove
LEAST_SIDE_TURNS = 3
TURN_REACH = 0.62  # of a pitch to either side of a crest
FLOOR = 97  # percentile of the depth
# Over the rendered scenes kept for tuning: floors of rounded roots, sharper ones of tapered threads
FILLED_PX, FILLED_U_PX = 0.3, 0.45
TAPER_FILLED_PX, TAPER_FILLED_U_PX = 0.75, 0.6
# The flanks' straight part: off crest and root by blurs and by pixels
BELOW_CREST, ABOVE_ROOT = (0.15, 1.0, 1.2), (0.22, 1.2, 1.5)  # of depth, blurs, pixels
STRAIGHT_PX = 0.2
FLANKS_DEG = (17.0, 41.0)  # half the angle; beyond: no flank
LEAST_FLANKS, LEAST_SHARE, LEAST_WEIGHT = 8, 0.5, 220.0
LEAST_PITCH_PX = 15.0
MOST_WEIGHT = 30.0  # pixels squared, of one flank
ANGLE_U_DEG = 1.2  # tone curve, glow in the groove; over the same scenes
STATISTIC = 1.3


@dataclass(frozen=True, slots=True)
class Grooves:
    """What the grooves tell; None where the view does not carry it.

    Attributes
    ----------
    depth_mm, depth_u_mm : float
        From the crests down to the root of the axial section, what blur takes put back.
    angle_deg, angle_u_deg : float or None
        Between the flanks.
    """

    depth_mm: float
    depth_u_mm: float
    angle_deg: float | None
    angle_u_deg: float | None


def grooves(seen: Seen, best: Sizes, hand: Hand, is_tapered: bool) -> Grooves | None:
    """Read the grooves of both sides.

    Parameters
    ----------
    seen : Seen
    best : Sizes
    hand : Hand
    is_tapered : bool

    Returns
    -------
    Grooves or None
        None if no side shows its grooves down to the floor.
    """
    sides = (seen.outline.left, seen.outline.right)
    shown = [
        curves
        for side, doubt in zip(sides, seen.doubts_mm, strict=True)
        if doubt < MOST_DOUBT_PX * seen.outline.pixel_mm
        and (curves := _side(seen, best, side, hand))
    ]
    floors = np.concatenate([_floors(curves) for curves in shown]) if shown else np.zeros(0)
    if len(floors) < LEAST_SIDE_TURNS:
        return None
    depth, pixel = float(np.median(floors)), seen.outline.pixel_mm
    if not LEAST_DEPTH < depth / best.vector[1] < MOST_DEPTH:
        return None
    scatter = float(1.4826 * np.median(np.abs(floors - depth))) / np.sqrt(len(floors))
    filled, u = (TAPER_FILLED_PX, TAPER_FILLED_U_PX) if is_tapered else (FILLED_PX, FILLED_U_PX)
    angle = _angle(shown, depth, seen, float(best.vector[1]))
    return Grooves(
        depth + crest_loss_mm(float(best.vector[1]), seen.outline.blur_mm)[0] + filled * pixel,
        float(np.hypot(u * pixel, scatter)),
        *(angle or (None, None)),
    )


def shear_mm(pitch_mm: float, radius_mm: float, lean_rad: float, turn: int) -> float:
    """How far the thread moves along the axis for each radian round it, as the camera sees it.

    Parameters
    ----------
    pitch_mm, radius_mm : float [mm]
    lean_rad : float [rad]
        Of the rays along the axis.
    turn : int
        Side times hand: 1 or -1; 0 where the hand is not known, for the larger.

    Returns
    -------
    float [mm]
    """
    own, view = pitch_mm / (2 * np.pi), radius_mm * np.tan(lean_rad)
    return float(abs(own + turn * view) if turn else own + abs(view))


def _side(seen: Seen, best: Sizes, side: Side, hand: Hand) -> Curves:
    """One side's turns, if it shows its grooves."""
    scene, axis = seen.scene, best.rest.axis
    here = seen.features.turn_signs == side.sign
    places, tops = best.rest.along_mm[here], best.rest.off_mm[here]
    if len(places) < LEAST_SIDE_TURNS:
        return []
    px = scene.px(contour_points(scene, seen.outline.axis, side.along_mm, side.sign * side.off_mm))
    along, off = passing(scene, axis, px)
    near = (along > places.min()) & (along < places.max())
    rays = scene.rays(px[near])
    leans = np.arcsin(rays @ axis.direction / np.linalg.norm(rays, axis=1))
    lean = float(leans.mean()) if near.any() else np.pi / 2
    turn = {"right": side.sign, "left": -side.sign, "unknown": 0}[hand]
    pitch, radius = float(best.vector[1]), float(best.vector[0]) / 2
    hidden = shear_mm(pitch, radius, lean, turn) ** 2 / (ROOT_ROUND * pitch * radius)
    if hidden > MOST_HIDDEN or abs(lean) > MOST_LEAN_RAD:
        return []
    line = np.polyfit(places, tops, 1)
    deep = np.polyval(line, along) - side.sign * off
    reach = [np.abs(along - place) < TURN_REACH * pitch for place in places]
    return [(along[rows] - place, deep[rows]) for place, rows in zip(places, reach, strict=True)]


def _floors(curves: Curves) -> Vector:
    return np.array([np.percentile(deep, FLOOR) for _, deep in curves if len(deep) > 8])


def _angle(
    shown: list[Curves], depth: float, seen: Seen, pitch: float
) -> tuple[float, float] | None:
    """Angle between the flanks and its standard uncertainty, by the median flank."""
    pixel, blur = seen.outline.pixel_mm, seen.outline.blur_mm
    if pitch < LEAST_PITCH_PX * pixel:
        return None
    top = max(BELOW_CREST[0] * depth, BELOW_CREST[1] * blur, BELOW_CREST[2] * pixel)
    floor = depth - max(ABOVE_ROOT[0] * depth, ABOVE_ROOT[1] * blur, ABOVE_ROOT[2] * pixel)
    every = [
        straight_flank(way * place[rows], deep[rows])
        for place, deep in (curve for curves in shown for curve in curves)
        for way in (1, -1)
        if (rows := (way * place > 0) & (deep > top) & (deep < floor)).sum() > 2
    ]
    if not every:
        return None
    half, off, weight = (np.array(column) for column in zip(*every, strict=True))
    weight = np.minimum(weight / pixel**2, MOST_WEIGHT)
    good = (off < STRAIGHT_PX * pixel) & (half > FLANKS_DEG[0]) & (half < FLANKS_DEG[1])
    if good.sum() < max(LEAST_FLANKS, LEAST_SHARE * len(good)) or weight[good].sum() < LEAST_WEIGHT:
        return None
    middle = _median(half[good], weight[good])
    spread = 1.4826 * _median(np.abs(half[good] - middle), weight[good])
    count = weight[good].sum() ** 2 / (weight[good] ** 2).sum()
    u = np.hypot(ANGLE_U_DEG, 2 * STATISTIC * 1.25 * spread / np.sqrt(count))
    return 2 * middle, float(u)


def _median(values: Vector, weights: Vector) -> float:
    order = np.argsort(values)
    rising = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(rising, rising[-1] / 2)])


def straight_flank(out_mm: Vector, deep_mm: Vector) -> tuple[float, float, float]:
    """Fit a straight line square to itself, robustly.

    Parameters
    ----------
    out_mm, deep_mm : (N,) [mm]
        Away from the crest along the axis, and down.

    Returns
    -------
    half_deg : float [deg]
        Between flank and the axis' normal.
    off_mm : float [mm]
        Scatter about the line.
    weight : float [mm2]
        Sum of squares of the depths about their mean.
    """
    points = np.column_stack([out_mm, deep_mm])
    weight = np.ones(len(points))
    way, off, scatter = np.array([0.0, 1.0]), np.zeros(len(points)), 0.0
    for _ in range(5):
        centred = points - (weight[:, None] * points).sum(axis=0) / weight.sum()
        _, axes = np.linalg.eigh((centred.T * weight) @ centred)
        way, off = axes[:, 1], centred @ axes[:, 0]
        scatter = float(1.4826 * np.median(np.abs(off))) + 1e-4
        weight = 1 / np.maximum(1, np.abs(off) / (2 * scatter))
    half = float(np.degrees(np.arctan2(way[0] * np.sign(way[1]), abs(way[1]))))
    return half, scatter, float(((deep_mm - deep_mm.mean()) ** 2).sum())
