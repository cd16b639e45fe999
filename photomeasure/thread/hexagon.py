"""The hexagon's width across flats: its corners' width, and the spanners that there are.

Corners are turned off, so the width over them is 1.11 to 1.155 times that across flats. A spanner's
hexagon is made no larger than the spanner, and up to 0.84 mm smaller. Every size, metric and inch,
whose window meets the width seen is kept with its probability. A given spanner leaves one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from photomeasure.standards.spanners import Spanner, flats_tolerance, spanners
from photomeasure.thread.corners import corner_reach
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.reading import SpannerSize
from photomeasure.thread.turns import Turns

__all__ = ["Hexagon", "hexagon", "hexagon_edges"]

Vector = NDArray[np.float64]  # (N,)
Rows = NDArray[np.int64]  # (N,)

WIDER = 1.06  # a hexagon's corners stand out by at least this much over the crests
CORNERS = (1.11, 1.155)  # width over corners by across flats; all are as likely
LEAST_PLAY = 0.002  # of that, seen at 30 degrees, where the cut does not show
SEEN_WIDE, SEEN_U = 1.001, 0.004  # of the width as traced; over rendered scenes kept for tuning
FINDER_SLIP = 0.02  # the edge was not the corner's: any width is as likely
EDGE_BAND, DENSE = 0.985, 0.5  # of the edge's distance, and of the densest band's points
COLLAR = 0.89  # its radius by that of the corners, at most
WORN_MM = 0.84  # below the spanner's size, and then no more
AS_MADE = 0.8  # to the grade that bolts are made to (ISO 4759-1, memory): 13 up to 32 mm, then 14
GRADE_13_TO_MM = 32.0
USUAL = {"fitting": 1.0, "bolt": 0.3, "rare": 0.05}  # common practice, no source
NO_SPANNER = 0.02  # any width
STEP_MM = 0.01
LEAST_PROBABILITY = 0.01
CONTRADICTED = 1e-4


@dataclass(frozen=True, slots=True)
class Hexagon:
    """A hexagon's width across flats.

    Attributes
    ----------
    across_flats_mm, u_mm, low_mm, high_mm : float
        Median, standard deviation and central 95 %.
    spanners : tuple of SpannerSize
        Most likely first.
    corner_ratio, corner_ratio_u : float
        Width over corners as traced by across flats.
    is_contradicted : bool
        The given spanner cannot fit what is seen; it was left out.
    """

    across_flats_mm: float
    u_mm: float
    low_mm: float
    high_mm: float
    spanners: tuple[SpannerSize, ...]
    corner_ratio: float
    corner_ratio_u: float
    is_contradicted: bool


def hexagon(
    width_mm: float, relative_u: float, spanner_mm: float | None = None, aside_rad: float = 0.0
) -> Hexagon:
    """Snap the width over corners to spanner sizes.

    Parameters
    ----------
    width_mm : float [mm]
        Over the corners, as traced.
    relative_u : float
        Of the paper's scale.
    spanner_mm : float or None [mm]
        The one that fits.
    aside_rad : float [rad]
        How far from upright it was seen, across the axis: aslant the cut of the corners tells less.

    Returns
    -------
    Hexagon
    """
    flats = np.arange(0.8 * width_mm, width_mm, STEP_MM)
    corners = _corners(aside_rad)
    seen = _likelihood(flats, width_mm, float(np.hypot(SEEN_U, relative_u)), corners)
    sizes = [_density(flats, one.size_mm) * USUAL[one.use] for one in spanners()]
    names = [one.designation for one in spanners()]
    if spanner_mm is not None:
        given = _density(flats, spanner_mm)
        if (given * seen).sum() > CONTRADICTED * seen.max() / STEP_MM:
            sizes, names = [given], [_named(spanner_mm)]
    is_contradicted = spanner_mm is not None and len(names) > 1
    chances = np.stack([*sizes, np.full_like(flats, NO_SPANNER / width_mm)]) * seen
    if len(names) == 1:
        chances = chances[:1]
    weights = chances.sum(axis=1) / chances.sum()
    found = [
        SpannerSize(name, float(weight))
        for name, weight in sorted(zip(names, weights, strict=False), key=lambda pair: -pair[1])
        if weight >= LEAST_PROBABILITY
    ]
    return _summed(flats, chances.sum(axis=0), (width_mm, tuple(found), is_contradicted))


def _summed(
    flats: Vector, chance: Vector, told: tuple[float, tuple[SpannerSize, ...], bool]
) -> Hexagon:
    width, found, is_contradicted = told
    chance = chance / chance.sum()
    rising = np.cumsum(chance)
    low, median, high = np.interp((0.025, 0.5, 0.975), rising, flats)
    mean = float(chance @ flats)
    u = float(np.sqrt(chance @ (flats - mean) ** 2))
    return Hexagon(
        across_flats_mm=float(median),
        u_mm=u,
        low_mm=float(low),
        high_mm=float(high),
        spanners=found,
        corner_ratio=width / mean,
        corner_ratio_u=width / mean * u / mean,
        is_contradicted=is_contradicted,
    )


def _corners(aside_rad: float) -> tuple[float, float]:
    """Width over corners, as traced, by that across flats: least and most."""
    usual = float(np.mean(CORNERS))
    at_usual = corner_reach(usual, aside_rad) / usual
    low, high = (corner_reach(ratio, aside_rad) / at_usual for ratio in CORNERS)
    return min(low, high - LEAST_PLAY), high


def _likelihood(
    flats: Vector, width: float, relative_u: float, corners: tuple[float, float]
) -> Vector:
    """Chance of the width seen at each width across flats, any corner ratio being as likely."""
    u = relative_u * width
    low, high = (ndtr((ratio * SEEN_WIDE * flats - width) / u) for ratio in corners)
    inside = (high - low) / (flats * SEEN_WIDE * (corners[1] - corners[0]))
    return np.asarray((1 - FINDER_SLIP) * inside + FINDER_SLIP / (0.2 * width))


def _density(flats: Vector, size_mm: float) -> Vector:
    """Widths across flats as made for one spanner, per mm."""
    tolerance = flats_tolerance(size_mm)
    made = tolerance.it13_mm if size_mm <= GRADE_13_TO_MM else tolerance.it14_mm
    short = size_mm - flats
    near = AS_MADE * ((short >= 0) & (short <= made)) / made
    return np.asarray(near + (1 - AS_MADE) * ((short >= 0) & (short <= WORN_MM)) / WORN_MM)


def _named(size_mm: float) -> str:
    nearest: Spanner = min(spanners(), key=lambda one: abs(one.size_mm - size_mm))
    return nearest.designation if abs(nearest.size_mm - size_mm) < STEP_MM else f"{size_mm:g}mm"


def hexagon_edges(outline: Outline, turns: Turns) -> tuple[Rows, Rows]:
    """Find the hexagon's outermost edge on either side.

    Parameters
    ----------
    outline : Outline
    turns : Turns

    Returns
    -------
    tuple of (N,)
        Rows of the left and of the right side's points; empty where none stands out.
    """
    crest = max(turn.off_mm for turn in turns.turns)
    lengths = [_edge_rows(side, crest) for side in (outline.left, outline.right)]
    return lengths[0], lengths[1]


def _edge_rows(side: Side, crest_mm: float) -> Rows:
    wide = np.flatnonzero(side.off_mm > WIDER * crest_mm)
    if len(wide) < 8:
        return np.zeros(0, np.int64)
    wide = wide[side.off_mm[wide] <= _outermost_mm(side.off_mm[wide])]
    top = np.percentile(side.off_mm[wide], 90)
    return np.asarray(wide[side.off_mm[wide] > EDGE_BAND * top], np.int64)


def _outermost_mm(off_mm: Vector) -> float:
    """Farthest distance below which points lie about as dense as anywhere: the hexagon's edge.

    A few points beyond, where a shade's corner was taken for the part's, are too sparse. A collar
    is no wider than across the flats.
    """
    rising = np.sort(off_mm)
    density = np.arange(1, len(rising) + 1) - np.searchsorted(rising, EDGE_BAND * rising)
    is_wide = rising > COLLAR * np.percentile(rising, 98)
    is_dense = density >= DENSE * density[is_wide].max()
    return float(rising[is_wide & is_dense][-1])
