"""Edges, middle and ends of a line in its strip, to sub-pixel."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_closing, median_filter, percentile_filter, uniform_filter1d

from photomeasure.edges import refine_steps
from photomeasure.route.strip import Strip

__all__ = ["LEAST_BEYOND", "End", "Track", "follow", "line_ends"]

Vector = NDArray[np.float64]  # (N,)
Image = NDArray[np.float32]  # (N, T)
Mask = NDArray[np.bool_]  # (N,)

BIN_PX = 6.0  # stretch over which an edge is averaged; longer than JPEG's and the blur's likeness
LEAST_BIN_MM = 2.0
LEAST_CONTRAST = 0.45  # of the usual step; weaker steps are shadows or something on the line
LEAST_STEP = 0.2  # of the line's difference from the floor
WHOLE_STEP = 0.8  # of the line's difference from the floor
GROWTH = 1.15  # of the step under a wider blur that shows it to be softer
SOFTER = (1.6, 2.5, 4.0)  # of the picture's blur
MISFIT = 0.25  # root mean square over the step
WIDTH_MADS = 5.0
LEAST_WIDTH_MAD = 0.012  # of the width: printed edges of tape are no rougher
ONE_EDGE = 0.04  # weight: what spoilt one edge may have touched the other
GAP_WIDTHS = 4.0  # something that hides more of the line ends it
LEAST_BEYOND = 6.0  # blurs of floor beyond an end, or the picture has cut it off
END_BAND = 0.3  # half widths of the middle over which an end is averaged
END_PARTS = 8
STRIPES = 1.0  # widths of a tape that one stripe may look like the floor
STRIPED_BAND = (0.45, 80)  # widths, and percentile over them: some stripe shows at every place
STRIPED_END = (0.48, 16, 0.04, 4)  # half of a striped tape's width over which its end is looked
# at, in so many parts; widths by which parts may be apart, and how many must agree: where no stripe
# that stands out reaches the cut, they lie along a stripe's slanting rim
RAGGED = 0.06  # widths of scatter over a striped tape's end that are no square cut
STRIPED_EDGE = 0.3  # weight of one edge where stripes hide the other
OUTERMOST = (80, 2.5, 0.04)  # percentile over so many widths of a striped tape, and how many widths
# an edge may lie off it; further in lie the rims of stripes
INWARDS = (0.6, 1.6)  # widths within which the end is looked for: of tape, and of a round line
# that may lie in its own shadow
END_PULL = 0.3  # of what draws an edge towards half the colour; beyond an end lies more shadow


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """The line's middle over the strip.

    Attributes
    ----------
    along_mm, across_mm : (N,) [mm]
        In the strip.
    left_mm, right_mm : (N,) [mm]
        The edges' offsets; NaN where not found.
    weight : (N,) [1]
        1 both edges, less for one edge, 0 neither.
    width_mm : float [mm]
    width_u_mm : float [mm]
    """

    along_mm: Vector
    across_mm: Vector
    left_mm: Vector
    right_mm: Vector
    weight: Vector
    width_mm: float
    width_u_mm: float


@dataclass(frozen=True, slots=True)
class End:
    """One end in the strip.

    `u_mm` is from the scatter of the cut alone; `is_seen` is False where the strip ended first,
    `is_cut_off` where the picture did; `is_covered` where the line goes under a printed reference;
    `is_ragged` where it is the edge of a stripe across the tape rather than a square cut.
    """

    along_mm: float
    u_mm: float
    is_seen: bool
    is_covered: bool = False
    is_cut_off: bool = False
    is_ragged: bool = False


def follow(strip: Strip, blur_mm: float, ends_mm: tuple[float, float]) -> Track:
    """Find both edges in short stretches.

    Parameters
    ----------
    strip : Strip
    blur_mm : float [mm]
        Standard deviation of the picture's blur on the floor.
    ends_mm : (float, float) [mm]
        Between which the line is followed.

    Returns
    -------
    Track
    """
    rows = max(1, round(max(BIN_PX * strip.step_mm, LEAST_BIN_MM) / strip.step_mm))
    inside = (strip.along_mm > ends_mm[0]) & (strip.along_mm < ends_mm[1]) & strip.whole
    usable = np.nonzero(inside)[0]
    count = len(usable) // rows
    chosen = usable[: count * rows].reshape(count, rows)
    along = strip.along_mm[chosen].mean(axis=1)
    sure, sharp = strip.sure[chosen].mean(axis=1), strip.sharp[chosen].mean(axis=1)
    left, right = (_edge((sure, sharp), strip, blur_mm, side) for side in (1, -1))
    if strip.is_mottled and count:
        size = round(OUTERMOST[1] * strip.width_mm / (rows * strip.step_mm)) | 1
        left, right = _without_rims(left, right, size, strip.width_mm)
    if not (np.isfinite(left).any() and np.isfinite(right).any()):
        nothing = np.full(count, np.nan)
        return Track(along, np.zeros(count), nothing, nothing, np.zeros(count), np.nan, np.nan)
    return (_striped_middle if strip.is_mottled else _middle)(along, left, right)


def _edge(profiles: tuple[Image, Image], strip: Strip, blur_mm: float, side: int) -> Vector:
    """Offset of one edge for each profile; NaN where it is not to be trusted."""
    outward = side * strip.across_mm
    order = np.argsort(outward)
    near = order[(outward[order] > 0.0) & (outward[order] < 1.35 * strip.width_mm + 6 * blur_mm)]
    places = outward[near]
    start = places[0] + strip.step_mm * _fall(profiles[0][:, near], strip, blur_mm)
    place, height, misfit = _sharpest(
        profiles[1][:, near], places, start, blur_mm, in_shadow=strip.round_look == "dark"
    )
    least = max(LEAST_STEP, LEAST_CONTRAST * float(np.median(-height)))
    bad = ~np.isfinite(place) | (-height < least) | (misfit > MISFIT)
    return np.asarray(np.where(bad, np.nan, side * place))


def _without_rims(left: Vector, right: Vector, size: int, width_mm: float) -> tuple[Vector, Vector]:
    """Keep edges that lie outermost, and pairs that are as far apart as those."""
    outer = _outermost(left, 1, size, width_mm), _outermost(right, -1, size, width_mm)
    if not all(np.isfinite(edge).any() for edge in outer):
        return outer
    usual = float(np.nanmedian(_running(outer[0]) - _running(outer[1])))
    is_whole = np.abs(left - right - usual) < OUTERMOST[2] * width_mm
    return np.where(is_whole, left, outer[0]), np.where(is_whole, right, outer[1])


def _outermost(edge: Vector, side: int, size: int, width_mm: float) -> Vector:
    """Leave out what lies further in than a striped tape's edge near by: rims of its stripes."""
    known = np.isfinite(edge)
    if not known.any():
        return edge
    at = np.arange(len(edge))
    outward = side * np.interp(at, at[known], edge[known])
    usual = percentile_filter(outward, OUTERMOST[0], size=size, mode="reflect")
    is_rim = np.abs(outward - usual) > OUTERMOST[2] * width_mm
    return np.asarray(np.where(is_rim, np.nan, edge))


def _sharpest(
    profiles: Image, places: Vector, start: Vector, blur_mm: float, *, in_shadow: bool
) -> tuple[Vector, Vector, Vector]:
    """Fit steps with the least blur that takes in the whole of most of them.

    Colour in a JPEG and the shaded side of a light cord are softer than the picture's blur. A dark
    line in its own soft shadow never shows the whole step: there the blur is right that a wider one
    hardly betters.
    """
    found = refine_steps(profiles, places, start, blur_mm)
    for softer in SOFTER:
        wider = refine_steps(profiles, places, start, blur_mm * softer)
        before, after = (float(np.median(-f[1])) for f in (found, wider))
        if after < GROWTH * before if in_shadow else before > WHOLE_STEP:
            break
        found = wider
    return found


def _fall(values: Image, strip: Strip, blur_mm: float, pull: float = 1.0) -> Vector:
    """Samples before the step down from line to floor, for each profile.

    At a round line half the colour is no sure sign: beside a dark one lies its soft shadow, and a
    light one is shaded towards its side. The sharpest step further in, or out, is its edge.
    """
    reach = max(2, round(2 * blur_mm / strip.step_mm))
    smooth = uniform_filter1d(np.clip(values, -0.5, 1.5), 5, axis=0, mode="nearest")
    total = np.pad(np.cumsum(smooth, axis=1), ((0, 0), (1, 0)))
    inner = np.pad(np.cumsum((1 - smooth) ** 2 - smooth**2, axis=1), ((0, 0), (1, 0)))
    half = np.argmin(inner, axis=1)
    if strip.round_look == "flat":
        return np.asarray(half - 0.5, np.float64)
    at = np.arange(total.shape[1])
    before, after = np.maximum(at - reach, 0), np.minimum(at + reach, at[-1])
    step = (total - total[:, before]) / np.maximum(at - before, 1)
    step -= (total[:, after] - total) / np.maximum(after - at, 1)
    step -= pull * (inner - inner.min(axis=1, keepdims=True)) * strip.step_mm / strip.width_mm
    beyond = at - half[:, None] if strip.round_look == "dark" else half[:, None] - at
    step[beyond > 1] = -np.inf
    return np.asarray(np.argmax(step, axis=1) - 0.5, np.float64)


def _middle(along: Vector, left: Vector, right: Vector) -> Track:
    """Join the edges; a stretch whose width is off keeps the edge that fits its neighbours."""
    width = left - right
    usual = _running(width, "reflect")  # a last stretch that is off must not vouch for itself
    spread = 1.4826 * float(np.nanmedian(np.abs(width - usual)))
    limit = WIDTH_MADS * max(spread, LEAST_WIDTH_MAD * float(np.nanmedian(usual)))
    both = np.abs(width - usual) < limit
    centre = np.where(both, 0.5 * (left + right), np.nan)
    expected = _running(centre)
    centre = _from_one_edge(centre, (left, right), usual, (expected, limit))
    weight = np.where(both, 1.0, np.where(np.isfinite(centre), ONE_EDGE, 0.0))
    settled = np.where(np.isfinite(centre), centre, np.where(np.isfinite(expected), expected, 0.0))
    mean = float(np.nanmedian(np.where(both, width, np.nan))) if both.any() else np.nan
    return Track(along, settled, left, right, weight, mean, spread / _root(both))


def _striped_middle(along: Vector, left: Vector, right: Vector) -> Track:
    """Join the edges of striped tape, whose stripes may hide one or the other everywhere.

    So hardly any stretch may show its width; but that is the same all along.
    """
    courses = _running(left), _running(right)
    width_mm = float(np.nanmedian(courses[0] - courses[1]))
    off = np.concatenate([left - courses[0], right - courses[1]])
    spread = 2**0.5 * 1.4826 * float(np.nanmedian(np.abs(off)))
    limit = WIDTH_MADS * max(spread, LEAST_WIDTH_MAD * width_mm)
    both = np.abs(left - right - width_mm) < limit
    alone = left - 0.5 * width_mm, right + 0.5 * width_mm
    told = np.where(np.isfinite(alone[0]), alone[0], alone[1])
    expected = _running(np.where(both, 0.5 * (left + right), told))
    centre = np.where(both, 0.5 * (left + right), np.nan)
    centre = _from_one_edge(centre, (left, right), np.full(len(left), width_mm), (expected, limit))
    known = np.isfinite(centre)
    weight = np.where(both, 1.0, np.where(known, STRIPED_EDGE, 0.0))
    settled = np.where(known, centre, np.where(np.isfinite(expected), expected, 0.0))
    return Track(along, settled, left, right, weight, width_mm, spread / _root(known))


def _from_one_edge(
    centre: Vector, edges: tuple[Vector, Vector], usual: Vector, near: tuple[Vector, float]
) -> Vector:
    """Fill in where one edge alone lies where a line of the usual width has it."""
    expected, limit = near
    for edge, sign in zip(edges, (1.0, -1.0), strict=True):
        alone = edge - sign * 0.5 * usual
        use = ~np.isfinite(centre) & (np.abs(alone - expected) < limit)
        centre = np.where(use, alone, centre)
    return centre


def _root(which: Mask) -> float:
    return float(np.sqrt(max(1, int(which.sum()))))


def _running(values: Vector, beyond: Literal["nearest", "reflect"] = "nearest") -> Vector:
    """Running median over 21 stretches, gaps filled from their neighbours."""
    known = np.isfinite(values)
    if not known.any():
        return values
    at = np.arange(len(values))
    filled = np.interp(at, at[known], values[known])
    result: Vector = median_filter(filled, size=21, mode=beyond)
    return result


def line_ends(strip: Strip, blur_mm: float) -> tuple[End, End]:
    """Find where the line's colour stops, going out from its middle.

    Parameters
    ----------
    strip : Strip
        Reaching beyond both ends.
    blur_mm : float [mm]

    Returns
    -------
    (End, End)
    """
    band = np.abs(strip.across_mm) < END_BAND * strip.width_mm
    middle = np.median(strip.sure[:, band], axis=1)
    if strip.is_mottled:
        band = np.abs(strip.across_mm) < STRIPED_BAND[0] * strip.width_mm
        middle = np.percentile(strip.sure[:, band], STRIPED_BAND[1], axis=1)
    short = max(3, round(0.4 * strip.width_mm / strip.step_mm) | 1)
    sides = [(sign * strip.across_mm > 0.8 * strip.width_mm) for sign in (1, -1)]
    floor = np.minimum(*(np.median(strip.sure[:, side], axis=1) for side in sides))
    like_line = np.minimum(middle, 1.0 - floor)
    like_line[strip.covered | ~strip.seen] = 0.0
    on_line = median_filter(like_line, size=short, mode="nearest") > 0.5
    if strip.is_mottled:
        stripe = round(STRIPES * strip.width_mm / strip.step_mm)
        on_line = binary_closing(np.pad(on_line, stripe), np.ones(stripe))[stripe:-stripe]
    runs = _runs(on_line)
    start, stop = _joined(runs, GAP_WIDTHS * strip.width_mm / strip.step_mm)
    return _refined(strip, start, -1, blur_mm), _refined(strip, stop, +1, blur_mm)


def _runs(on_line: Mask) -> NDArray[np.int64]:
    """First and last row of each unbroken stretch, (R, 2)."""
    change = np.diff(np.concatenate(([0], on_line.astype(np.int64), [0])))
    return np.column_stack((np.nonzero(change > 0)[0], np.nonzero(change < 0)[0] - 1))


def _joined(runs: NDArray[np.int64], longest_gap: float) -> tuple[int, int]:
    """Ends of the longest stretch with what goes on beyond a short gap.

    A gap is bridged if the line goes on for longer than the gap; else it was something else.
    """
    if not len(runs):
        return 0, 0
    main = int(np.argmax(runs[:, 1] - runs[:, 0]))
    start, stop = (int(row) for row in runs[main])
    for first, last in runs[main + 1 :]:
        gap = first - stop
        if gap > longest_gap or last - first < gap:
            break
        stop = int(last)
    for first, last in runs[:main][::-1]:
        gap = start - last
        if gap > longest_gap or last - first < gap:
            break
        start = int(first)
    return start, stop


def _refined(strip: Strip, row: int, direction: int, blur_mm: float) -> End:
    """Fit the step across the end in parts of the middle band, and average them."""
    reach = round(max(0.6 * strip.width_mm, 8 * blur_mm) / strip.step_mm)
    inwards = INWARDS[strip.round_look == "dark"] * strip.width_mm
    back = max(reach, round(inwards / strip.step_mm))
    rows = row + direction * np.arange(-back, reach + 1)
    at_mm = float(strip.along_mm[row])
    if rows.min() < 0 or rows.max() >= len(strip.along_mm):
        return End(at_mm, np.inf, is_seen=False)
    beyond = np.argmin(np.append(strip.seen[rows], False))  # first that is not seen
    if beyond < back + LEAST_BEYOND * blur_mm / strip.step_mm:
        return End(at_mm, np.inf, is_seen=False, is_cut_off=True)
    rows = rows[:beyond]
    covered = np.nonzero(strip.covered[rows])[0]
    if len(covered) and covered[0] < back + LEAST_BEYOND * blur_mm / strip.step_mm:
        return End(at_mm, 0.2 * strip.width_mm, is_seen=True, is_covered=True)
    rows = rows[: covered[0]] if len(covered) else rows
    reach_mm = (STRIPED_END[0] if strip.is_mottled else END_BAND) * strip.width_mm
    band = np.nonzero(np.abs(strip.across_mm) < reach_mm)[0]
    most = STRIPED_END[1] if strip.is_mottled else END_PARTS
    parts = np.array_split(band, min(most, max(1, len(band) // 2)))
    sure, sharp = (
        np.stack([share[np.ix_(rows, part)].mean(axis=1) for part in parts])
        for share in (strip.sure, strip.sharp)
    )
    places: Vector = strip.step_mm * (np.arange(len(rows), dtype=np.float64) - back)
    start = places[0] + strip.step_mm * _fall(sure, strip, blur_mm, END_PULL)
    place, height, misfit = _sharpest(
        sharp, places, start, blur_mm, in_shadow=strip.round_look == "dark"
    )
    good = np.isfinite(place) & (-height > LEAST_STEP) & (misfit < 2 * MISFIT)
    if not good.any():
        return End(at_mm, 2 * strip.step_mm + 0.1 * strip.width_mm, is_seen=True)
    found, is_ragged = place[good], False
    if strip.is_mottled:
        found, is_ragged = _outer_parts(found, strip.width_mm)
    mean, spread = float(np.mean(found)), float(np.std(found))
    u = float(np.hypot(spread / np.sqrt(len(found)), 0.05 * strip.step_mm))
    return End(at_mm + direction * mean, u, is_seen=True, is_ragged=is_ragged)


def _outer_parts(found: Vector, width_mm: float) -> tuple[Vector, bool]:
    """The outermost parts of a striped tape's end that agree, and whether it is ragged instead."""
    for first in np.sort(found)[::-1]:
        alike = found[(found <= first) & (found > first - STRIPED_END[2] * width_mm)]
        if len(alike) >= STRIPED_END[3]:
            return alike, False
    return found, float(np.std(found)) > RAGGED * width_mm
