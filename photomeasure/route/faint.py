"""Follow a round line that is about as bright as the floor: two sharp edges, evenly far apart.

What such a line shows are the steps from its body to its own shadow. Shadows are soft and the
line's sides are sharp, so slow changes of brightness are taken out first. On one side the step may
fade for a stretch; the width, which is the same all along, bridges that.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.edges import cheapest_path, refine_steps
from photomeasure.route.strip import Strip
from photomeasure.route.track import LEAST_BEYOND, End, Track

__all__ = ["follow_faint"]

Vector = NDArray[np.float64]  # (N,)
Image = NDArray[np.float32]  # (N, T)

BIN_PX, LEAST_BIN_MM = 8.0, 2.0  # stretch over which brightness is averaged
SOFT = (1.2, 4.0)  # blurs: what is sharp, and what is as slow as a shadow's rim
ALONG_BINS = 2.0  # bins over which an edge is the same
CLEAREST = 6.0  # standard deviations of the floor's steps; clearer ones count no more
STRONGEST = 8.0  # times what counts one, where edges stand out: softer rims count for less then
WIDTHS = (0.6, 1.75, 0.04)  # of the guessed width: tried from, to, and how far apart
TURN = (2, 0.6)  # samples that the middle may move from bin to bin, and what one costs
LEAST_PAIR = 4.0  # standard deviations that both edges together reach on a line; own estimate
CLEAR_PAIR = (7.0, 4.5)  # what half and nine in ten of the stretches must reach; drawn lines have
# 10 and 9 and more, bare floors 3 to 5
NEAR = (2.5, 0.06)  # blurs and widths by which a fitted edge may lie off the pair
LEAST_HEIGHT = 3.0  # standard deviations of a bin's brightness
ONE_EDGE = 0.3  # weight of one edge alone
END_WIDTHS = 0.6  # widths about the place where the pair stops, in which the end is looked for
LIKELY = 0.6  # of that reach: standard deviation of the place where the pair stops
RIVAL = 0.6  # of the sharpest fall of brightness: another place where the line may end
END_BLURS = 0.3  # of the blur: doubt of a faint end beyond its scatter; own estimate
DARKER = 0.7  # of a fall's clearness that a rise must surpass: a line lies in its own shadow mostly
END_BAND, END_PARTS, LEAST_PARTS = 0.36, 8, 4  # half widths of the middle, in parts


@dataclass(frozen=True, slots=True, eq=False)
class _Bins:
    """Short stretches of the strip; steps are the sharp ones across, 1 being the floor's noise."""

    along_mm: Vector
    across_mm: Vector
    light: Image
    noise: float
    steps: Image
    spread: Vector  # seen width over the diameter


def follow_faint(
    strip: Strip, blur_mm: float, seen: tuple[Vector, float], marked: tuple[End, End] | None
) -> tuple[tuple[End, End], Track, bool]:
    """Find ends and edges of a line that hardly differs from the floor.

    Parameters
    ----------
    strip : Strip
    blur_mm : float [mm]
    seen : ((S,) [1], float [mm])
        How much wider than its diameter the line is seen in each row; its guessed width.
    marked : (End, End) or None
        Ends that a person marked.

    Returns
    -------
    ends : (End, End)
    track : Track
    is_clear : bool
        False where the edges might be the floor's own grain.
    """
    spread, width_mm = seen
    bins = _binned(strip, blur_mm, spread)
    od_mm = _diameter(bins, strip, width_mm / float(np.median(spread)))
    middle_mm, strength = _pair_path(bins, od_mm)
    first, last = _stretch(strength)
    usual, least = np.percentile(strength[first : last + 1], (50, 10))
    is_clear = bool(usual > CLEAR_PAIR[0] and least > CLEAR_PAIR[1])
    line = (middle_mm, od_mm * bins.spread)
    ends = marked or (
        _end((strip, bins), line, (first, -1), blur_mm),
        _end((strip, bins), line, (last, +1), blur_mm),
    )
    inside = (bins.along_mm > ends[0].along_mm + 2 * blur_mm) & (
        bins.along_mm < ends[1].along_mm - 2 * blur_mm
    )
    return ends, _track(bins, (middle_mm, od_mm), inside, blur_mm), is_clear


def _binned(strip: Strip, blur_mm: float, spread: Vector) -> _Bins:
    rows = max(1, round(max(BIN_PX * strip.step_mm, LEAST_BIN_MM) / strip.step_mm))
    count = len(strip.along_mm) // rows
    light = strip.light[: count * rows].reshape(count, rows, -1)
    known = np.isfinite(light)
    total = np.where(known, light, 0.0).sum(axis=1)
    light = np.asarray(total / np.maximum(known.sum(axis=1), 1), np.float32)
    is_known = np.asarray(known.all(axis=1), np.bool_)
    sharp, slow = (
        gaussian_filter1d(light, k * blur_mm / strip.step_mm, axis=1, order=1) for k in SOFT
    )
    steps = sharp - slow
    is_covered = np.asarray(
        strip.covered[: count * rows].reshape(count, rows).any(axis=1), np.bool_
    )
    steps[~is_known | is_covered[:, None]] = 0.0
    steps = gaussian_filter1d(steps, ALONG_BINS, axis=0)
    outer = np.abs(strip.across_mm) > 1.2 * strip.width_mm
    noise = 1.4826 * float(np.median(np.abs(steps[:, outer][is_known[:, outer]]))) + 1e-6
    rough = np.diff(light[:, outer], axis=1)[is_known[:, outer][:, 1:]]
    along = strip.along_mm[: count * rows].reshape(count, rows).mean(axis=1)
    wide = spread[: count * rows].reshape(count, rows).mean(axis=1)
    inner = np.abs(strip.across_mm) < strip.width_mm
    scale = max(noise, float(np.percentile(np.abs(steps[:, inner]), 95)) / STRONGEST)
    steps = np.clip(steps / scale, -CLEAREST, CLEAREST)
    deviation = 1.4826 * float(np.median(np.abs(rough))) / 2**0.5 + 0.1
    return _Bins(along, strip.across_mm, light, deviation, steps, wide)


def _pair(bins: _Bins, od_mm: float, rows: NDArray[np.bool_] | slice) -> Image:
    """How clear both edges are if the line's middle lay at each place, (N, T)."""
    step_mm = float(bins.across_mm[1] - bins.across_mm[0])
    clear, spread = np.abs(bins.steps[rows]), bins.spread[rows]
    at = np.arange(clear.shape[1])[None]
    half = np.round(0.5 * od_mm * spread / step_mm).astype(int)[:, None]
    line = np.arange(len(clear))[:, None]
    left, right = at + half, at - half
    is_in = (right >= 0) & (left < clear.shape[1])
    both = clear[line, np.where(is_in, left, 0)] + clear[line, np.where(is_in, right, 0)]
    return np.asarray(np.where(is_in, both, 0.0), np.float32)


def _diameter(bins: _Bins, strip: Strip, guess_mm: float) -> float:
    """The diameter whose pair of edges is clearest all along."""
    inner = (bins.along_mm > bins.along_mm[0] + strip.beyond_mm) & (
        bins.along_mm < bins.along_mm[-1] - strip.beyond_mm
    )
    tried = guess_mm * np.arange(*WIDTHS)
    found = []
    for od_mm in tried:
        pair = _pair(bins, od_mm, inner)
        path = cheapest_path(-pair.T, *TURN)
        found.append(float(pair[np.arange(len(pair)), path].mean()))
    return float(tried[int(np.argmax(found))])


def _pair_path(bins: _Bins, od_mm: float) -> tuple[Vector, Vector]:
    """Offset of the middle, and how clear the edges are, in every bin."""
    pair = _pair(bins, od_mm, slice(None))
    path = cheapest_path(-pair.T, *TURN)
    return bins.across_mm[path], pair[np.arange(len(pair)), path].astype(np.float64)


def _stretch(strength: Vector) -> tuple[int, int]:
    """First and last bin of the stretch in which the edges show."""
    usual = float(np.percentile(strength, 70))
    total = np.concatenate(([0.0], np.cumsum(strength - max(LEAST_PAIR, 0.6 * usual))))
    last = int(np.argmax(total - np.minimum.accumulate(total)))
    first = int(np.argmin(total[: last + 1]))
    return first, max(last - 1, first)


def _end(
    seen: tuple[Strip, _Bins], line: tuple[Vector, Vector], where: tuple[int, int], blur_mm: float
) -> End:
    """Where the line's body stops near the bin in which its edges do, going one way."""
    (strip, bins), (middle_mm, widths_mm), (bin_, direction) = seen, line, where
    width_mm, at_mm = float(widths_mm[bin_]), float(bins.along_mm[bin_])
    reach = round(max(END_WIDTHS * width_mm, 8 * blur_mm) / strip.step_mm)
    row = int(np.argmin(np.abs(strip.along_mm - at_mm)))
    rows = row + direction * np.arange(-2 * reach, 2 * reach + 1)
    if rows.min() < 0 or rows.max() >= len(strip.along_mm):
        return End(at_mm, np.inf, is_seen=False)
    beyond = int(np.argmin(np.append(strip.seen[rows], False)))  # first that is not seen
    if beyond < 2 * reach + LEAST_BEYOND * blur_mm / strip.step_mm:
        return End(at_mm, np.inf, is_seen=False, is_cut_off=True)
    rows = rows[:beyond]
    covered = np.nonzero(strip.covered[rows[2 * reach :]])[0]
    if len(covered) and covered[0] < reach // 2:
        return End(at_mm, 0.2 * width_mm, is_seen=True, is_covered=True)
    rows = rows[: 2 * reach + covered[0]] if len(covered) else rows
    inwards = min(max(bin_ - direction * 3, 0), len(middle_mm) - 1)
    offset = strip.across_mm - middle_mm[inwards]
    band = np.nonzero(np.abs(offset) < END_BAND * width_mm)[0]
    parts = np.array_split(band, min(END_PARTS, max(1, len(band) // 2)))
    profiles = np.stack([strip.light[np.ix_(rows, part)].mean(axis=1) for part in parts])
    places = strip.step_mm * (np.arange(len(rows), dtype=np.float64) - 2 * reach)
    falls = [_fall(k * profiles, places, blur_mm, reach * strip.step_mm) for k in (1, -1)]
    sign = 1 if falls[0][2] > DARKER * falls[1][2] else -1
    start_mm, doubt_mm, _ = falls[sign < 0]
    start = np.full(len(parts), start_mm)
    place, height, _ = refine_steps(profiles.astype(np.float32), places, start, blur_mm)
    good = np.isfinite(place) & (-sign * height > bins.noise)
    if good.sum() < min(LEAST_PARTS, len(parts)):
        return End(at_mm + start_mm, 0.5 * width_mm, is_seen=True)
    found = place[good]
    middle = float(np.median(found))
    scatter = 1.4826 * float(np.median(np.abs(found - middle)))
    u = float(np.hypot(np.hypot(scatter / np.sqrt(len(found)), END_BLURS * blur_mm), doubt_mm))
    return End(float(strip.along_mm[row]) + direction * middle, u, is_seen=True)


def _fall(
    profiles: Image, places: Vector, blur_mm: float, reach_mm: float
) -> tuple[float, float, float]:
    """Where brightness falls sharply going out, how far off other such places lie, how sharply."""
    step_mm = places[1] - places[0]
    sharp, slow = (
        gaussian_filter1d(profiles, k * blur_mm / step_mm, axis=1, order=1) for k in SOFT
    )
    fall = slow - sharp
    noise = 1.4826 * np.median(np.abs(fall), axis=1, keepdims=True) + 1e-6
    fall = np.clip(fall / noise, 0.0, CLEAREST).mean(axis=0)
    fall *= np.exp(-0.5 * (places / (LIKELY * reach_mm)) ** 2) * (np.abs(places) < reach_mm)
    best = int(np.argmax(fall))
    rival = np.where(fall > RIVAL * fall[best], fall, 0.0) ** 2
    rival[np.abs(places - places[best]) < 2 * blur_mm] = 0.0
    off = np.sum(rival * (places - places[best]) ** 2) / (np.sum(rival) + fall[best] ** 2 + 1e-12)
    return float(places[best]), float(np.sqrt(off)), float(fall[best])


def _track(
    bins: _Bins, line: tuple[Vector, float], inside: NDArray[np.bool_], blur_mm: float
) -> Track:
    """Fit both edges in each bin; one alone does where the other fades."""
    middle_mm, od_mm = line[0][inside], line[1]
    light, spread = bins.light[inside], bins.spread[inside]
    edges = []
    for side in (1, -1):
        start = middle_mm + side * 0.5 * od_mm * spread
        place, height, _ = refine_steps(light, bins.across_mm, start, blur_mm)
        off = np.abs(place - start) > max(NEAR[0] * blur_mm, NEAR[1] * od_mm)
        faint = np.abs(height) < LEAST_HEIGHT * bins.noise
        edges.append(np.where(off | faint | ~np.isfinite(place), np.nan, place))
    left, right = edges
    width = (left - right) / spread
    both = np.isfinite(width)
    usual = float(np.median(width[both])) if both.any() else od_mm
    limit = max(NEAR[0] * blur_mm, NEAR[1] * od_mm)
    both &= np.abs(width - usual) < limit
    alone = [
        np.where(np.abs(one - middle_mm) < limit, one, np.nan)
        for one in (left - 0.5 * usual * spread, right + 0.5 * usual * spread)
    ]
    told = np.where(np.isfinite(alone[0]), alone[0], alone[1])
    centre = np.where(both, 0.5 * (left + right), told)
    known = np.isfinite(centre)
    weight = np.where(both, 1.0, np.where(known, ONE_EDGE, 0.0))
    spread_mm = 1.4826 * float(np.median(np.abs(width[both] - usual))) if both.any() else np.nan
    return Track(
        bins.along_mm[inside],
        np.where(known, centre, middle_mm),
        left,
        right,
        weight,
        usual * float(np.median(spread)),
        spread_mm / float(np.sqrt(max(1, both.sum()))),
    )
