"""Length, turning, bends and tightest radius of a curve given by close points.

The definitions are those of the project's accuracy bars; the truth of drawn scenes goes through
the same functions.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from photomeasure.route.arcs import Arcs

__all__ = ["BendValues", "CurveValues", "Layout", "curve_values", "dense_points", "layout"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)

LEAST_BEND_DEG = 15.0
FLATTEST_BEND_ODS = 20.0  # radius over outside diameter beyond which a stretch is no bend
LEAST_WINDOW_MM = 20.0  # arc over which the tightest radius is taken
LEAST_TURNING_DEG = 10.0  # below it a route has no tightest radius
MIDDLE = (0.2, 0.8)  # of a bend's turning, over which its radius is taken
USUAL_OD_MM = 20.0  # where neither hose nor line has a known diameter
STEP_MM = 1.0
LEAST_BOW = 0.2  # scatter across the chord times radius over the square of that along it; of an
# arc it is 0.45
STRAIGHT = 1e-10  # of the smaller over the larger spread: a radius of a hundred metres or more


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Where on the points the bends and the tightest place lie.

    Attributes
    ----------
    bends : tuple of (int, int)
        First and last point of each bend.
    tightest : (int, int) or None
        First and last point of the window with the least radius.
    signs : tuple of int
        For each bend 1 if it turns left, else -1.
    senses : (N - 2,)
        1 where the curve turns left from one step to the next, -1 where it turns right.
    """

    bends: tuple[tuple[int, int], ...]
    signs: tuple[int, ...]
    tightest: tuple[int, int] | None
    senses: Vector


@dataclass(frozen=True, slots=True)
class BendValues:
    """One bend: place [mm], radius [mm] and angle [deg]."""

    at_mm: float
    radius_mm: float
    angle_deg: float


@dataclass(frozen=True, slots=True)
class CurveValues:
    """What is measured of a curve; `tightest_mm` is None below 10 degrees of turning."""

    length_mm: float
    turning_deg: float
    tightest_mm: float | None
    bends: tuple[BendValues, ...]


def dense_points(arcs: Arcs, start_mm: float, stop_mm: float) -> tuple[Points2, Vector]:
    """Points a millimetre apart from start to stop.

    Parameters
    ----------
    arcs : Arcs
    start_mm, stop_mm : float [mm]
        Arc lengths.

    Returns
    -------
    points : (N, 2) [mm]
    at_mm : (N,) [mm]
        Their arc lengths.
    """
    count = max(3, round((stop_mm - start_mm) / STEP_MM) + 1)
    at_mm = np.linspace(start_mm, stop_mm, count)
    return arcs.points(at_mm), at_mm


def layout(arcs: Arcs, at_mm: Vector, od_mm: float | None) -> Layout:
    """Find the bends and the tightest place.

    Parameters
    ----------
    arcs : Arcs
    at_mm : (N,) [mm]
        Arc lengths of the dense points.
    od_mm : float or None [mm]
        Outside diameter of the hose, else of the line; None if neither is known.

    Returns
    -------
    Layout
    """
    curvature = arcs.curvature_per_mm
    flattest = 1.0 / (FLATTEST_BEND_ODS * (od_mm or USUAL_OD_MM))
    sense = np.sign(curvature) * (np.abs(curvature) > flattest)
    bends, signs = [], []
    for first, last, sign in _runs(sense):
        span = _span(arcs.knots_mm[first], arcs.knots_mm[last + 1], at_mm)
        turned = np.diff(arcs.headings(at_mm[list(span)]))[0]
        if sign and abs(np.rad2deg(turned)) >= LEAST_BEND_DEG:
            bends.append(span)
            signs.append(int(sign))
    points = arcs.points(at_mm)
    turns = np.diff(_headings(np.diff(points, axis=0)))
    enough = np.rad2deg(np.sum(np.abs(turns))) >= LEAST_TURNING_DEG
    window = _tightest_window(points, at_mm, od_mm) if enough else None
    return Layout(tuple(bends), tuple(signs), window, np.sign(turns))


def _runs(sense: Vector) -> list[tuple[int, int, float]]:
    """First and last piece of each stretch of equal sense."""
    edges = np.nonzero(np.diff(sense))[0]
    first = np.concatenate(([0], edges + 1))
    last = np.concatenate((edges, [len(sense) - 1]))
    return [(int(a), int(b), float(sense[a])) for a, b in zip(first, last, strict=True)]


def _span(from_mm: float, to_mm: float, at_mm: Vector) -> tuple[int, int]:
    """Nearest points to two arc lengths, at least two apart."""
    first, last = (int(np.argmin(np.abs(at_mm - mm))) for mm in (from_mm, to_mm))
    first = min(first, len(at_mm) - 3)
    return first, max(last, first + 2)


def _tightest_window(points: Points2, at_mm: Vector, od_mm: float | None) -> tuple[int, int]:
    size = min(len(points), round(max(od_mm or 0.0, LEAST_WINDOW_MM) / (at_mm[1] - at_mm[0])) + 1)
    radius = _radii(sliding_window_view(points, size, axis=0).transpose(0, 2, 1))
    first = int(np.argmin(radius))
    return first, first + size - 1


def curve_values(points_mm: Points2, where: Layout) -> CurveValues:
    """Measure a curve whose bends are known.

    Parameters
    ----------
    points_mm : (N, 2) [mm]
        Close points of a smooth curve, as many as the layout was made for.
    where : Layout

    Returns
    -------
    CurveValues
    """
    steps = np.diff(points_mm, axis=0)
    at_mm = np.concatenate(([0.0], np.cumsum(_arc_steps(steps))))
    heading = _headings(steps)
    turning = where.senses @ np.diff(heading)
    tightest = None
    if where.tightest:
        window = points_mm[where.tightest[0] : where.tightest[1] + 1]
        tightest = float(_radii(window[None])[0])
    bends = tuple(
        _bend(points_mm, at_mm, heading, span, sign)
        for span, sign in zip(where.bends, where.signs, strict=True)
    )
    return CurveValues(float(at_mm[-1]), float(np.rad2deg(turning)), tightest, bends)


def _headings(steps: Points2) -> Vector:
    """Direction of each step, without jumps."""
    return np.asarray(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))


def _arc_steps(steps: Points2) -> Vector:
    """Arc lengths of steps: chords lengthened by what the turning between them tells."""
    chord = np.hypot(steps[:, 0], steps[:, 1])
    heading = _headings(steps)
    turn = np.abs(np.gradient(heading)) if len(heading) > 1 else np.zeros(len(chord))
    result: Vector = chord * (1 + turn**2 / 24)
    return result


def _heading(heading: Vector, point: int) -> float:
    """Direction at a point: the mean of the steps before and after it."""
    before, after = max(0, point - 1), min(len(heading) - 1, point)
    return float(0.5 * (heading[before] + heading[after]))


def _turned(heading: Vector, span: tuple[int, int]) -> float:
    """Turning between the steps just outside a stretch."""
    return float(heading[min(len(heading) - 1, span[1])] - heading[max(0, span[0] - 1)])


def _bend(
    points: Points2, at_mm: Vector, heading: Vector, span: tuple[int, int], sign: int
) -> BendValues:
    first, last = span
    at_points = np.array([_heading(heading, k) for k in range(first, last + 1)])
    turned = sign * (at_points - at_points[0])
    share = np.maximum.accumulate(turned) / max(float(turned[-1]), 1e-9)
    at = float(np.interp(0.5, share, at_mm[first : last + 1]))
    middle = (share >= MIDDLE[0]) & (share <= MIDDLE[1])
    chosen = points[first : last + 1][middle] if middle.sum() >= 3 else points[first : last + 1]
    angle = float(np.rad2deg(sign * _turned(heading, span)))
    return BendValues(at, float(_radii(chosen[None])[0]), angle)


def _radii(windows: NDArray[np.float64]) -> Vector:
    """Radius of the circle fitted to each set of points, (W, N, 2) [mm] to (W,) [mm].

    Notes
    -----
    Least squares of x² + y² = 2ax + 2by + c about each set's middle (Kåsa), which is exact where
    the points lie on a circle.
    """
    local = windows - windows.mean(axis=1, keepdims=True)
    square = np.sum(local**2, axis=2)
    square = square - square.mean(axis=1, keepdims=True)
    moments = np.einsum("wni,wnj->wij", local, local)
    size = np.trace(moments, axis1=1, axis2=2)
    straight = np.linalg.det(moments) < STRAIGHT * size**2
    moments[straight] = np.eye(2)
    side = np.einsum("wni,wn->wi", local, square)
    middle = 0.5 * np.linalg.solve(moments, side[..., None])[..., 0]
    spread = np.mean(np.sum(local**2, axis=2), axis=1)
    radius = np.sqrt(np.sum(middle**2, axis=1) + spread)
    least = np.linalg.eigvalsh(moments)[:, 0] / windows.shape[1]
    straight |= np.sqrt(np.maximum(least, 0.0)) * radius < LEAST_BOW * spread  # an S
    return np.where(straight, np.inf, radius)
