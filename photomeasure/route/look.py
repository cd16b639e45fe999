"""One look along a line: its surroundings pulled straight, its edges and ends found."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.route.arcfit import ArcFit, fit_arcs
from photomeasure.route.arcs import Arcs
from photomeasure.route.faint import follow_faint
from photomeasure.route.reading import FlatScene
from photomeasure.route.strip import Ground, Strip, pull_straight
from photomeasure.route.track import End, Track, follow, line_ends

__all__ = ["LEAST_STRETCHES", "Pass", "look_along", "on_floor", "seen_spread"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)

LOOSE_WEIGHTS = (0.3, 0.02)  # of one edge, and of the guide itself where neither is found
BRIDGED = (6, 0.02)  # stretches on either side that lead a bridge over a gap, and its weight
LEAST_STRETCHES = 8
LEAST_FOUND = (0.5, 0.25)  # of the line's stretches with usable edges; of striped tape's
MARK_SHARE = 0.001  # of the photo's longer side by which a finger on it misses; own estimate
WOBBLE_MM = 0.1  # a line laid by hand wobbles more; smaller waves are no bends; own estimate


@dataclass(frozen=True, slots=True, eq=False)
class Pass:
    """One look along the line: guide, strip and what was found in it.

    `is_faint` where two edges alone told the line, `is_clear` False where these are doubtful.
    """

    guide: Arcs
    strip: Strip
    ends: tuple[End, End]
    track: Track
    fit: ArcFit
    is_faint: bool = False
    is_clear: bool = True


def look_along(
    ground: Ground, guide: Arcs, width_mm: float, height_mm: float, *, is_loose: bool
) -> Pass:
    """Find edges and ends near a guide, and fit a curve to the middle.

    Parameters
    ----------
    ground : Ground
    guide : Arcs [mm]
    width_mm, height_mm : float [mm]
        Of the line, and of its middle above the prints' faces.
    is_loose : bool
        The guide may lie beside the line: one edge must do, and where there is none the guide.

    Returns
    -------
    Pass

    Raises
    ------
    NoLineError
        The edges are not found, or hardly differ from the floor.
    """
    strip = pull_straight(replace(ground, is_quick=is_loose), guide, width_mm, height_mm)
    blur_mm = ground.blur_px * strip.step_mm
    marked = _marked_ends(ground, guide, height_mm)
    is_clear = True
    if ground.is_faint:
        spread = seen_spread(ground.scene, guide, strip.along_mm, height_mm)
        ends, track, is_clear = follow_faint(strip, blur_mm, (spread, width_mm), marked)
    else:
        ends = marked or line_ends(strip, blur_mm)
        inner = (ends[0].along_mm + 2 * blur_mm, ends[1].along_mm - 2 * blur_mm)
        track = follow(strip, blur_mm, inner)
    found = track.weight > 0
    share = float(found.mean()) if len(found) else 0.0
    if found.sum() < LEAST_STRETCHES or share < LEAST_FOUND[strip.is_mottled]:
        raise NoLineError(
            f"The line's edges can be followed over {share:.0%} of its length only.",
            "Use tape that stands out from the floor, and keep shadows and glare off it.",
        )
    weight = track.weight
    if is_loose:
        least = np.where(found, *LOOSE_WEIGHTS)
        found, weight = np.ones_like(found), np.maximum(weight, least)
    points = on_floor(guide, track.along_mm, track.across_mm)
    if not is_loose:
        points, weight = _bridged(points, weight)
    found = weight > 0
    fit = fit_arcs(points[found], weight[found], WOBBLE_MM)
    return Pass(guide, strip, ends, track, fit, ground.is_faint, is_clear)


def seen_spread(scene: FlatScene, guide: Arcs, at_mm: Vector, height_mm: float) -> Vector:
    """How much wider than its diameter a round line is seen, in the plane of its axis.

    Parameters
    ----------
    scene : FlatScene
    guide : Arcs [mm]
    at_mm : (N,) [mm]
        Arc lengths on the guide.
    height_mm : float [mm]
        Of the axis above the prints' faces.

    Returns
    -------
    (N,) [1]

    Notes
    -----
    Its two contours, cut at the axis' height, lie further apart the more sideways it is seen.
    """
    heading = guide.headings(at_mm)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    to_camera = scene.centre_mm[:2] - guide.points(at_mm)
    lean = np.sum(to_camera * normal, axis=1) / (scene.centre_mm[2] - height_mm)
    return np.asarray(np.hypot(1.0, lean))


def _bridged(points_mm: Points2, weight: Vector) -> tuple[Points2, Vector]:
    """Lead the line over gaps as its neighbours point, or the fit might fold up in there.

    Notes
    -----
    A cubic from end to end of the gap with both sides' directions (Hermite's form).
    """
    points_mm, bridged = points_mm.copy(), weight.copy()
    good, reach = np.nonzero(weight > 0)[0], BRIDGED[0]
    for k in np.nonzero(np.diff(good) > 2)[0]:
        before, after = good[max(0, k + 1 - reach) : k + 1], good[k + 1 : k + 1 + reach]
        if min(len(before), len(after)) < 3:
            continue
        start, stop = points_mm[before[-1]], points_mm[after[0]]
        size = float(np.hypot(*(stop - start)))
        ways = [size * _direction(points_mm[side]) for side in (before, after)]
        gap = np.arange(good[k] + 1, good[k + 1])
        t = ((gap - good[k]) / (good[k + 1] - good[k]))[:, None]
        points_mm[gap] = (
            (1 + 2 * t) * (1 - t) ** 2 * start
            + t * (1 - t) ** 2 * ways[0]
            + t**2 * (3 - 2 * t) * stop
            + t**2 * (t - 1) * ways[1]
        )
        bridged[gap] = BRIDGED[1]
    return points_mm, bridged


def _direction(points_mm: Points2) -> Vector:
    """Unit direction of the straight line through a few points, in their order."""
    way = np.linalg.svd(points_mm - points_mm.mean(axis=0))[2][0]
    return np.asarray(way * np.sign(way @ (points_mm[-1] - points_mm[0])))


def _marked_ends(ground: Ground, guide: Arcs, height_mm: float) -> tuple[End, End] | None:
    """Both ends where somebody marked them, as surely as a finger points."""
    if len(ground.photo.marked_px) != 2:
        return None
    marks_px = np.array(ground.photo.marked_px)
    off_px = np.array([MARK_SHARE * max(ground.photo.size_px), 0.0])
    places, beside = (ground.scene.sheet_mm(px, height_mm) for px in (marks_px, marks_px + off_px))
    order = np.argsort(along := guide.nearest(places))
    first, last = (
        End(float(along[k]), float(np.hypot(*(beside - places)[k])), is_seen=True) for k in order
    )
    return first, last


def on_floor(guide: Arcs, along_mm: Vector, across_mm: Vector) -> Points2:
    """From the strip to the plane of the line.

    Parameters
    ----------
    guide : Arcs [mm]
    along_mm, across_mm : (N,) [mm]

    Returns
    -------
    (N, 2) [mm]
    """
    heading = guide.headings(along_mm)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    return np.asarray(guide.points(along_mm) + across_mm[:, None] * normal)
