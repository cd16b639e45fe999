"""Length, turning, bends, tightest radius and clocking of a chain, by the accuracy bars' rules."""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from photomeasure.route.space.chain import Chain

__all__ = ["Ends", "Spans", "Values", "clocking_deg", "least_radius_mm", "spans", "values"]

Vector = NDArray[np.float64]  # (N,)
Points3 = NDArray[np.float64]  # (N, 3)

STEP_MM, COARSE_MM = 1.0, 2.5
LEAST_BEND_DEG = 15.0
FLATTEST_BEND_ODS = 20.0
LEAST_WINDOW_MM = 20.0
LEAST_TURNING_DEG = 10.0
LEAST_BOW = 0.2  # scatter across the chord times radius over the square of that along it; of an
# arc it is 0.45
MIDDLE = (0.2, 0.8)
LEAST_OFF_AXIS_DEG = 20.0  # of a card's axis off the hose's, for a clocking


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """What limits the route, in the world.

    Attributes
    ----------
    edges : (2, 3)
        The first band's start edge and the last one's end edge, on the axis.
    near_mm : (2,)
        Their arc lengths, roughly.
    card_axes, card_middles : (2, 3) or None
        Of the cards START and END, not a number where one is missing.
    """

    edges: Points3
    near_mm: Vector
    card_axes: Points3
    card_middles: Points3


@dataclass(frozen=True, slots=True)
class Spans:
    """Where bends and the tightest place lie [mm from the start]; fixed while values are varied."""

    bends: tuple[tuple[float, float], ...]
    tightest: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Values:
    """What is measured of one chain; None as the rules say."""

    length_mm: float
    turning_deg: float
    bends: tuple[tuple[float, float, float], ...]  # at, radius, angle
    tightest_mm: float | None
    clocking_deg: float | None
    start_to_card_mm: float | None
    end_to_card_mm: float | None

    def vector(self) -> Vector:
        """All in one row, not a number for None."""
        flat = [v for bend in self.bends for v in bend]
        single = [self.length_mm, self.turning_deg, self.tightest_mm, self.clocking_deg,
                  self.start_to_card_mm, self.end_to_card_mm]  # fmt: skip
        return np.array([np.nan if v is None else v for v in (*single, *flat)])


def _dense(chain: Chain, ends: Ends) -> tuple[Vector, Points3, Points3, Vector]:
    feet = chain.feet(ends.edges, ends.near_mm)
    count = max(4, round((feet[1] - feet[0]) / STEP_MM) + 1)
    at = np.linspace(feet[0], feet[1], count)
    points, frames = chain.at(at)
    curvature = np.hypot(*chain.curvature[chain.link_of(at)].T)
    return at, points, frames[:, 0], curvature


def spans(chain: Chain, ends: Ends, od_mm: float) -> Spans:
    """Find the bends and the tightest place.

    Parameters
    ----------
    chain : Chain
    ends : Ends
    od_mm : float [mm]
        Of what was photographed.

    Returns
    -------
    Spans
    """
    at, points, _, curvature = _dense(chain, ends)
    step = at[1] - at[0]
    turned = np.concatenate([[0.0], np.cumsum(0.5 * (curvature[1:] + curvature[:-1]) * step)])
    above = np.concatenate([[0], curvature > 1 / (FLATTEST_BEND_ODS * od_mm), [0]]).astype(int)
    begins, stops = (np.nonzero(np.diff(above) == sign)[0] for sign in (1, -1))
    bends = tuple(
        (float(at[a] - at[0]), float(at[b - 1] - at[0]))
        for a, b in zip(begins, stops, strict=True)
        if np.rad2deg(turned[b - 1] - turned[a]) >= LEAST_BEND_DEG
    )
    size = round(max(od_mm, LEAST_WINDOW_MM) / step) + 1
    if np.rad2deg(turned[-1]) < LEAST_TURNING_DEG or size > len(points):
        return Spans(bends, None)
    radii = _radii(sliding_window_view(points, size, axis=0).transpose(0, 2, 1))
    first = int(np.argmin(radii))
    return Spans(bends, (float(at[first] - at[0]), float(at[first + size - 1] - at[0])))


def least_radius_mm(chain: Chain, ends: Ends, od_mm: float) -> float:
    """Radius where the chain bends most, wherever that is, from coarser places [mm].

    Parameters
    ----------
    chain : Chain
    ends : Ends
    od_mm : float [mm]

    Returns
    -------
    float [mm]
    """
    feet = chain.feet(ends.edges, ends.near_mm)
    points = chain.at(np.arange(feet[0], feet[1], COARSE_MM))[0]
    size = round(max(od_mm, LEAST_WINDOW_MM) / COARSE_MM) + 1
    if len(points) < size:
        return np.inf
    return float(_radii(sliding_window_view(points, size, axis=0).transpose(0, 2, 1)).min())


def values(chain: Chain, ends: Ends, where: Spans) -> Values:
    """Measure a chain whose bends are known.

    Parameters
    ----------
    chain : Chain
    ends : Ends
    where : Spans

    Returns
    -------
    Values
    """
    at, points, ways, curvature = _dense(chain, ends)
    along, step = at - at[0], at[1] - at[0]
    turned = np.concatenate([[0.0], np.cumsum(0.5 * (curvature[1:] + curvature[:-1]) * step)])
    tightest = None
    if where.tightest:
        chosen = (along >= where.tightest[0] - 1e-6) & (along <= where.tightest[1] + 1e-6)
        tightest = float(_radii(points[chosen][None])[0])
    _, frames = chain.at(at[[0, -1]])
    axes, middles = ends.card_axes, ends.card_middles
    start = (ends.edges[0] - middles[0]) @ ways[0]
    stop = (middles[1] - ends.edges[1]) @ ways[-1]
    return Values(
        float(along[-1]),
        float(np.rad2deg(turned[-1])),
        tuple(_bend(along, points, turned, span) for span in where.bends),
        tightest,
        clocking_deg(axes[0], axes[1], frames),
        float(start) if np.isfinite(start) else None,
        float(stop) if np.isfinite(stop) else None,
    )


def _bend(
    along: Vector, points: Points3, turned: Vector, span: tuple[float, float]
) -> tuple[float, float, float]:
    own = (along >= span[0] - 1e-6) & (along <= span[1] + 1e-6)
    at, here, angle = along[own], points[own], turned[own] - turned[own][0]
    share = angle / max(float(angle[-1]), 1e-9)
    middle = (share >= MIDDLE[0]) & (share <= MIDDLE[1])
    chosen = here[middle] if middle.sum() >= 4 else here
    radius = float(_radii(chosen[None])[0])
    return float(np.interp(0.5, share, at)), radius, float(np.rad2deg(angle[-1]))


def clocking_deg(start_axis: Vector, end_axis: Vector, frames: NDArray[np.float64]) -> float | None:
    """How far the end port's axis is turned about the hose against the start's, carried along.

    Parameters
    ----------
    start_axis, end_axis : (3,)
        Of the cards; not a number where one is missing.
    frames : (2, 3, 3)
        Frames that do not turn about the hose, at its first and last edge.

    Returns
    -------
    float or None [deg]
        0 on the same side, counter-clockwise positive looking along the hose from the start.
    """
    if not (np.all(np.isfinite(start_axis)) and np.all(np.isfinite(end_axis))):
        return None
    limit = np.cos(np.deg2rad(LEAST_OFF_AXIS_DEG))
    if abs(start_axis @ frames[0, 0]) > limit or abs(end_axis @ frames[1, 0]) > limit:
        return None
    carried = (start_axis @ frames[0, 1]) * frames[1, 1] + (start_axis @ frames[0, 2]) * frames[
        1, 2
    ]
    way = frames[1, 0]
    square = end_axis - (end_axis @ way) * way
    return float(-np.rad2deg(np.arctan2(way @ np.cross(carried, square), carried @ square)))


def _radii(windows: NDArray[np.float64]) -> Vector:
    """Radius of the circle fitted to each set of points in space, (W, N, 3) [mm] to (W,).

    Notes
    -----
    In each set's own plane of least squares, then Kåsa's fit.
    """
    local = windows - windows.mean(axis=1, keepdims=True)
    moments = np.einsum("wni,wnj->wij", local, local)
    vectors = np.linalg.eigh(moments)[1][:, :, :0:-1]  # of the two largest
    flat = local @ vectors
    square = np.sum(flat**2, axis=2)
    spread = square.mean(axis=1)
    square = square - square.mean(axis=1, keepdims=True)
    inner = np.einsum("wni,wnj->wij", flat, flat)
    size = np.trace(inner, axis1=1, axis2=2)
    straight = np.linalg.det(inner) < 1e-10 * size**2
    inner[straight] = np.eye(2)
    side = np.einsum("wni,wn->wi", flat, square)
    middle = 0.5 * np.linalg.solve(inner, side[..., None])[..., 0]
    radius = np.sqrt(np.sum(middle**2, axis=1) + spread)
    aside = np.sqrt(np.mean(flat[:, :, 1] ** 2, axis=1))
    straight |= aside * radius < LEAST_BOW * spread  # an S, or a straight line
    return np.where(straight, np.inf, radius)
