"""How the fitting lies on the paper, which gives the height and the rise of its axis.

It rests on a flat of its hexagon while its centre of mass stands over that flat; else it tips until
something beyond the hexagon touches, and how far it leans shows in the roundness of its end, too.
Without a hexagon it lies on its crests. The hexagon's corner-to-corner width at the axis' height
tells its size without any scale but the paper's: width = c AF, with c between 1.11 and 1.155 for
chamfered corners, and more of it seen aslant (`corners`).
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis, lean_rad, rays_passing
from photomeasure.thread.corners import aside_rad, corner_reach, lateral_mm
from photomeasure.thread.end import EndFace
from photomeasure.thread.grouped import quantile, quantiles

__all__ = [
    "CORNER_RATIO",
    "CORNER_RATIO_U",
    "Features",
    "Play",
    "Posture",
    "Rest",
    "level_posture",
    "postures",
    "solve",
]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
Vector = NDArray[np.float64]  # (N,)
Rows = NDArray[np.int64]  # (N,)

CORNER_RATIO = 1.1325  # of the range 1.11 to 1.155, width over corners by across flats
CORNER_RATIO_U = 0.013  # rectangular over that range
WIDTH_SHARE = 0.7  # of the corners' points: half the width over corners
EXTENT_SHARES = np.array([0.01, 0.99])  # of the corners' points: from where to where they run
BIN_MM = 0.5
LEAST_IN_BIN = 3
LEAST_REACH_MM = 2.5  # from the hexagon's edge to what touches the paper beside it
CENTRE_PLAY_MM = 0.8  # logistic scale; bores and hidden flanges move the true centre
FLAT_REACH = 0.04  # of half the flats: how much farther out than its corners a flat is touched
CHAMFER_MM = 0.8  # of a flat's length lost at either end to the turned chamfer; common practice
LEAST_GRAVITY = 0.03  # bores and hidden ends move the centre of mass
LEANING_SHARE = 0.02  # of tipped parts: what touches the paper is hidden or taken for another
AGREED_RAD = 0.045  # end and touching point, each good to about 0.02: their mean is taken
STEPS = 12
STILL_MM, PART_MM = 0.0005, 30.0

Posture = Literal[
    "flat",
    "tipped to low",
    "tipped to high",
    "leaning to low",
    "leaning to high",
    "on thread",
    "given",
]


@dataclass(frozen=True, slots=True)
class Play:
    """What a posture leaves open.

    Attributes
    ----------
    corner_ratio : float
        Of the hexagon, width over corners by across flats.
    lift_mm, lean_rad : float
        Of the axis: higher, and rising more, about what the part rests on.
    """

    corner_ratio: float = CORNER_RATIO
    lift_mm: float = 0.0
    lean_rad: float = 0.0


NO_PLAY = Play()


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """What is measured in the picture, in pixels, fixed once found.

    Attributes
    ----------
    turns_px : (K, 2)
        Crest tops.
    turn_signs, turn_numbers : (K,)
    flats_px : tuple of (N, 2)
        The hexagon's outermost edges, left and right; empty where not seen.
    profile_px : (B, 2)
        The whole silhouette, thinned.
    profile_signs : (B,)
    end : EndFace or None
    doubts_mm : (left, right)
        How clear the edges are.
    """

    turns_px: Points2
    turn_signs: Vector
    turn_numbers: Vector
    flats_px: tuple[Points2, Points2]
    profile_px: Points2
    profile_signs: Vector
    end: EndFace | None
    doubts_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def has_hexagon(self) -> bool:
        """Whether at least one edge of a hexagon is seen."""
        return any(len(edge) > 0 for edge in self.flats_px)


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Rays through what is measured, from the camera's centre; the axis does not move them."""

    centre_mm: Vector
    every: Points3
    parts: tuple[slice, ...]  # turns, profile, left and right flat


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """A solved posture.

    Attributes
    ----------
    axis : Axis
        Height and rise by the posture, heading and place by the crests.
    along_mm, off_mm : (K,)
        The turns on that axis.
    across_flats_mm : float or None
    hexagon_mm : (from, to) or None
        Along the axis.
    profile_along_mm, profile_off_mm : (B,)
    lean_rad : float
        Of the camera from square on to the axis.
    aside_rad : float
        Of the rays by the hexagon's edges from the upright, across the axis.
    """

    axis: Axis
    along_mm: Vector
    off_mm: Vector
    across_flats_mm: float | None
    hexagon_mm: tuple[float, float] | None
    profile_along_mm: Vector
    profile_off_mm: Vector
    lean_rad: float
    aside_rad: float = 0.0


def postures(scene: Scene, features: Features, start: Axis) -> dict[Posture, tuple[Rest, float]]:
    """Solve every way in which the part may lie, with the chance that gravity gives it.

    Parameters
    ----------
    scene : Scene
    features : Features
    start : Axis

    Returns
    -------
    dict of posture to (Rest, chance)
        Chances sum to 1; the outline's centre of mass is known to about 0.8 mm.
    """
    if not features.has_hexagon:
        return {"on thread": (solve(scene, features, start, "on thread"), 1.0)}
    flat = solve(scene, features, start, "flat")
    begin, end = flat.hexagon_mm or (0.0, 0.0)
    centre = _centre_of_mass(flat)
    low, high = (
        max(_chance(over), LEAST_GRAVITY)
        for over in (begin + CHAMFER_MM - centre, centre - end + CHAMFER_MM)
    )
    chances: dict[Posture, float] = {
        "flat": max(1 - low - high, LEAST_GRAVITY),
        "tipped to low": low,
        "tipped to high": high,
    }
    if features.end is not None:
        chances |= {
            "leaning to low": LEANING_SHARE * low,
            "leaning to high": LEANING_SHARE * high,
        }
    total = sum(chances.values())
    return {
        posture: (
            flat if posture == "flat" else solve(scene, features, flat.axis, posture),
            chance / total,
        )
        for posture, chance in chances.items()
    }


def level_posture(features: Features) -> Posture:
    """The posture that a first look supposes."""
    return "flat" if features.has_hexagon else "on thread"


def _chance(over_mm: float) -> float:
    """Chance of tipping when the centre of mass seems to stand this far over the edge."""
    return 1 / (1 + float(np.exp(np.clip(-over_mm / CENTRE_PLAY_MM, -50, 50))))


def solve(
    scene: Scene,
    features: Features,
    start: Axis,
    posture: Posture,
    play: Play = NO_PLAY,
) -> Rest:
    """Axis, sizes and posture that agree with each other and with the picture.

    Parameters
    ----------
    scene : Scene
    features : Features
    start : Axis
    posture : Posture
    play : Play

    Returns
    -------
    Rest
    """
    rays = _rays(scene, features)
    rest = _measure(rays, features, start, play.corner_ratio)
    for _ in range(STEPS):
        height, rise = _stand(scene, features.end, rest, posture, play)
        axis = _centred(rest, features.turn_signs)
        moved = replace(axis, height_mm=height, rise_rad=rise)
        is_still = _apart_mm(moved, rest.axis) < STILL_MM
        rest = _measure(rays, features, moved, play.corner_ratio)
        if is_still:
            break
    return rest


def _apart_mm(axis: Axis, other: Axis) -> float:
    """How far two axes are apart, at the part."""
    shift = float(np.linalg.norm(axis.point_mm - other.point_mm))
    return shift + PART_MM * float(np.linalg.norm(axis.direction - other.direction))


def _rays(scene: Scene, features: Features) -> _Rays:
    places = (features.turns_px, features.profile_px, *features.flats_px)
    ends = np.cumsum([0, *(len(each) for each in places)])
    parts = tuple(slice(first, last) for first, last in pairwise(ends))
    return _Rays(scene.centre_mm, scene.rays(np.concatenate(places)), parts)


def _measure(rays: _Rays, features: Features, axis: Axis, corner_ratio: float) -> Rest:
    along, off = rays_passing(rays.every, rays.centre_mm, axis)
    turns, profile, *_ = rays.parts
    none = (None, None, 0.0)
    found = _hexagon(rays, axis, along, corner_ratio) if features.has_hexagon else none
    return Rest(
        axis,
        along[turns],
        off[turns] * features.turn_signs,
        found[0],
        found[1],
        along[profile],
        off[profile] * features.profile_signs,
        lean_rad(rays.every[turns], axis),
        found[2],
    )


def _hexagon(
    rays: _Rays, axis: Axis, along_mm: Vector, corner_ratio: float
) -> tuple[float, tuple[float, float], float]:
    """Across flats from the corners, which stand at the axis' height on both sides."""
    widths, places, asides = [], [], []
    for part in rays.parts[2:]:
        edge, along = rays.every[part], along_mm[part]
        if len(edge) == 0:
            continue
        height = axis.height_mm + float(np.mean(along)) * np.sin(axis.rise_rad)
        lateral = lateral_mm(rays.centre_mm, edge, axis, height)
        asides.append(aside_rad(edge.mean(axis=0), axis))
        stands_out = corner_reach(CORNER_RATIO, asides[-1]) / CORNER_RATIO
        widths.append(float(quantile(np.abs(lateral), WIDTH_SHARE)) / stands_out)
        places.append(along)
    low, high = quantile(np.concatenate(places), EXTENT_SHARES)
    across = 2 * float(np.mean(widths)) / corner_ratio
    return across, (float(low), float(high)), float(np.mean(asides))


def _centre_of_mass(rest: Rest) -> float:
    """Axial place of the centre of mass of the solid that the outline spins."""
    places, radii, _ = _binned(rest.profile_along_mm, rest.profile_off_mm)
    return float((places * radii**2).sum() / (radii**2).sum())


def _stand(
    scene: Scene, face: EndFace | None, rest: Rest, posture: Posture, play: Play
) -> tuple[float, float]:
    """Height of the axis at its place zero, and its rise."""
    if posture == "given":
        return rest.axis.height_mm + play.lift_mm, rest.axis.rise_rad + play.lean_rad
    if posture == "on thread" or rest.across_flats_mm is None or rest.hexagon_mm is None:
        slope, radius = np.polyfit(rest.along_mm, rest.off_mm, 1)
        rise = float(np.arctan(slope)) + play.lean_rad
        middle = float(rest.along_mm.mean())
        height = float(radius) * float(np.cos(rise)) - middle * float(np.sin(play.lean_rad))
        return height + play.lift_mm, rise
    half = rest.across_flats_mm / 2
    if posture == "flat":
        pivot = float(np.mean(rest.hexagon_mm))
        return half + play.lift_mm - pivot * float(np.sin(play.lean_rad)), play.lean_rad
    edge, way = (rest.hexagon_mm[0], -1) if posture.endswith("low") else (rest.hexagon_mm[1], 1)
    lean = _tipped_lean(scene, face, rest, posture, (half, edge, way)) - way * play.lean_rad
    pivot = edge + way * FLAT_REACH * half
    height = half * float(np.cos(lean)) + pivot * float(np.sin(way * lean))
    return height + play.lift_mm, -way * lean


def _tipped_lean(
    scene: Scene,
    face: EndFace | None,
    rest: Rest,
    posture: Posture,
    over: tuple[float, float, int],
) -> float:
    """How far the part leans over an edge: by what touches the paper, and by its end's round."""
    half, edge, way = over
    lean = _touching_lean(rest, half, edge, way)
    rises = face.rises_rad(scene, rest.axis) if face else ()
    seen = min((-way * r for r in rises), key=lambda r: abs(r - lean), default=lean)
    if posture.startswith("leaning"):
        return max(seen, 0.0)
    return (seen + lean) / 2 if abs(seen - lean) < AGREED_RAD else lean


def _touching_lean(rest: Rest, half: float, edge: float, way: int) -> float:
    """How far the part leans over the hexagon's edge until something beyond it touches."""
    along, radius = _standing_out(rest)
    reach = way * (along - edge)
    there = reach > LEAST_REACH_MM + _smear(rest, radius)
    if not there.any():
        return 0.0
    return float(np.arctan(((half - radius[there]) / reach[there]).min()))


def _smear(rest: Rest, radius_mm: Vector) -> Vector:
    """How far the hexagon's own face reaches along the outline at these distances, (N,).

    Seen at a lean, a face's corners above and below the axis stand beyond those beside it.
    """
    corner = CORNER_RATIO * (rest.across_flats_mm or 0.0) / 2
    deep = np.sqrt(3) * np.clip(corner - radius_mm, 0, corner / 2)
    return np.asarray(deep * np.tan(rest.lean_rad))


def _standing_out(rest: Rest) -> tuple[Vector, Vector]:
    """Places and radii that may touch the paper: the crests' cone, and the plain outline."""
    slope, offset = np.polyfit(rest.along_mm, rest.off_mm, 1)
    first, last = float(rest.along_mm.min()), float(rest.along_mm.max())
    plain = (rest.profile_along_mm < first - BIN_MM) | (rest.profile_along_mm > last + BIN_MM)
    places, radii, counts = _binned(rest.profile_along_mm[plain], rest.profile_off_mm[plain])
    full = counts >= LEAST_IN_BIN
    ends = np.array([first, last])
    return (
        np.append(places[full], ends),
        np.append(radii[full], slope * ends + offset),
    )


def _binned(along_mm: Vector, off_mm: Vector) -> tuple[Vector, Vector, Rows]:
    """Places along the axis, the median distance from it at each, and the number of points."""
    bins, middle, counts = quantiles(off_mm, np.rint(along_mm / BIN_MM).astype(int), 0.5)
    return np.asarray(bins * BIN_MM), middle, counts


def _centred(rest: Rest, signs: Vector) -> Axis:
    """Move and turn the axis until both sides' crests are equally far from it."""
    middle = float(rest.along_mm.mean())
    along = rest.along_mm - middle
    design = np.column_stack([np.ones_like(along), along, signs, signs * along])
    if np.all(signs == signs[0]):
        return rest.axis
    fit = np.linalg.lstsq(design, rest.off_mm, rcond=None)[0]
    shift = float(fit[2] - fit[3] * middle)
    axis = rest.axis
    return replace(
        axis,
        x_mm=axis.x_mm - shift * float(np.sin(axis.heading_rad)),
        y_mm=axis.y_mm + shift * float(np.cos(axis.heading_rad)),
        heading_rad=axis.heading_rad + float(np.arctan(fit[3])),
    )
