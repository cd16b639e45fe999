"""The thread's turns: pitch by phase, and one crest point a turn and side."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoThreadError
from photomeasure.thread.grouped import quantile, quantiles
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.slide import BINS, slid_onto
from photomeasure.thread.waves import WINDOW_TURNS, Wave, aimed_wave

__all__ = ["BINS", "LEAST_TURNS", "Followed", "Turn", "Turns", "follow", "joined"]

Vector = NDArray[np.float64]  # (N,)

LEAST_TURNS = 3
OFF_LINE = 0.10  # of a pitch: a crest lower than its neighbours by more is lead-in or damage
LEAST_LIKENESS = 0.7
EVERY_OTHER = 0.6  # of the turns: the pitch is twice as long
DEEP = 0.42  # of a pitch; a lean of 8 degrees halves a groove
TOP_SHARE, LEAST_IN_TURN = 0.92, 8  # of a turn's points: where its top is; more points are needed
LEARNING_STEPS = 6
BORROWED_STEPS = 2  # a poor side starts from the other's shape, then learns its own


@dataclass(frozen=True, slots=True)
class Turn:
    """One crest of one side.

    Attributes
    ----------
    number : int
        Counts turns of its side.
    along_mm, off_mm : float
        Middle of the crest, and the distance of its top from the axis.
    u_off_mm : float
        Scatter of the fit of this turn's outline alone.
    sign : int
        Side, as in `Side`.
    """

    number: int
    along_mm: float
    off_mm: float
    u_off_mm: float
    sign: int


@dataclass(frozen=True, slots=True, eq=False)
class Turns:
    """Usable turns of both sides and the mean shape of a turn.

    Attributes
    ----------
    turns : tuple of Turn
    pitch_mm : float
        Rough.
    shape_mm : (40,)
        Distance from the crest's top at equal steps of one pitch, the crest at index 20.
    scatter_mm : float
        Of outline points about the mean shape.
    dropped : tuple of (along, sign)
        Turns that were left out.
    has_likeness : bool
        One side is laid by the other's turns.
    """

    turns: tuple[Turn, ...]
    pitch_mm: float
    shape_mm: Vector
    scatter_mm: float
    dropped: tuple[tuple[float, int], ...]
    has_likeness: bool


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """One side's turns.

    Attributes
    ----------
    turns : tuple of Turn
    pitch_mm : float
    shape_mm : (40,)
        As in `Turns`.
    line : (slope, offset)
        Of the crests' tops over the place along the axis.
    scatter_mm : float
    dropped : tuple of (along, sign)
    laid_u_px : float or None [px]
        Standard uncertainty of the crests if the other side's turns were laid here, not followed
        one by one.
    """

    turns: tuple[Turn, ...]
    pitch_mm: float
    shape_mm: Vector
    line: Vector
    scatter_mm: float
    dropped: tuple[tuple[float, int], ...]
    laid_u_px: float | None = None

    @property
    def is_deep(self) -> bool:
        """Whether the grooves show nearly as deep as a thread seen square on."""
        return float(np.ptp(self.shape_mm)) > DEEP * self.pitch_mm


def follow(outline: Outline) -> tuple[Followed, Followed] | None:
    """Find the thread in the outline and follow it turn by turn on both sides.

    Parameters
    ----------
    outline : Outline

    Returns
    -------
    (left, right) or None
        None if no stretch of the outline is periodic.
    """
    left, right = (_within(side, outline.stretch_mm) for side in (outline.left, outline.right))
    wave = aimed_wave(replace(outline, left=left, right=right))
    if wave is None:
        return None
    sides = (left, right)
    alone = [_follow(side, wave) for side in sides]
    best = max(alone, key=lambda side: len(side.turns))
    if _is_halved(best):
        wave = replace(wave, pitch_mm=2 * best.pitch_mm, middle_mm=best.turns[-1].along_mm)
        whole = [_follow(side, wave) for side in sides]
        longer = max(whole, key=lambda side: len(side.turns))
        alone, best = (whole, longer) if len(longer.turns) >= LEAST_TURNS else (alone, best)
    if len(best.turns) < LEAST_TURNS:
        return alone[0], alone[1]
    wave = replace(wave, pitch_mm=best.pitch_mm, middle_mm=_middle(best))
    first, second = (
        one
        if one is best
        else max(one, _follow(side, wave, best.shape_mm), key=lambda way: len(way.turns))
        for one, side in zip(alone, sides, strict=True)
    )
    return first, second


def _is_halved(followed: Followed) -> bool:
    """Whether mostly every other turn shows: a shade in the grooves looks like crests between."""
    apart = np.diff([turn.number for turn in followed.turns])
    return len(apart) >= LEAST_TURNS - 1 and float(np.mean(apart == 2)) > EVERY_OTHER


def _within(side: Side, stretch_mm: tuple[float, float]) -> Side:
    first, last = np.searchsorted(side.along_mm, stretch_mm)
    return replace(side, along_mm=side.along_mm[first:last], off_mm=side.off_mm[first:last])


def joined(sides: tuple[Followed, Followed] | None, name: str) -> Turns:
    """Turns of both sides.

    Parameters
    ----------
    sides : tuple of Followed or None
    name : str
        Of the photo, for the message.

    Returns
    -------
    Turns

    Raises
    ------
    NoThreadError
        If there is no thread, or fewer than three turns of it on a side.
    """
    if sides is None:
        raise NoThreadError(
            f"{name} shows no thread along the outline of the part.",
            "Turn the thread's side to the camera, step a little nearer, keep sun and lamp off.",
        )
    fewest = min(len(side.turns) for side in sides)
    if fewest < LEAST_TURNS:
        raise NoThreadError(
            f"{name} shows {fewest} clear turns of thread on one side; {LEAST_TURNS} are needed.",
            "Show the whole thread from the side, clean, with soft light from all round.",
        )
    best = max(sides, key=lambda side: len(side.turns))
    turns = tuple(turn for side in sides for turn in side.turns)
    dropped = tuple(place for side in sides for place in side.dropped)
    has_likeness = any(side.laid_u_px is not None for side in sides)
    return Turns(turns, best.pitch_mm, best.shape_mm, best.scatter_mm, dropped, has_likeness)


def _follow(side: Side, wave: Wave, known_shape: Vector | None = None) -> Followed:
    """Grow from the clearest stretch both ways, learning the turn's shape on the way."""
    half = WINDOW_TURNS * wave.pitch_mm / 2
    line = np.zeros(2)
    pitch, origin = wave.pitch_mm, _crest_near(side, wave.pitch_mm, wave.middle_mm)
    stretch = (wave.middle_mm - half, wave.middle_mm + half)
    turns: list[Turn] = []
    dropped: list[tuple[float, int]] = []
    shape, scatter = np.zeros(BINS), np.inf
    count = 0
    for step in range(LEARNING_STEPS):
        shape, line = _mean_shape(side, pitch, origin, stretch)
        if known_shape is not None and step < BORROWED_STEPS:
            shape = known_shape
        turns, dropped, scatter = _fit_turns(side, (pitch, origin), (shape, line), stretch)
        if len(turns) < LEAST_TURNS:
            break
        is_settled = len(turns) == count and step > BORROWED_STEPS
        count = len(turns)
        numbers = np.array([turn.number for turn in turns])
        places = np.array([turn.along_mm for turn in turns])
        pitch, origin = (float(value) for value in np.polyfit(numbers, places, 1))
        stretch = (places.min() - pitch / 2, places.max() + pitch / 2)
        if is_settled:
            break
    return Followed(tuple(turns), pitch, shape, line, scatter, tuple(dropped))


def _middle(followed: Followed) -> float:
    return float(np.mean([turn.along_mm for turn in followed.turns]))


def _crest_near(side: Side, pitch: float, middle: float) -> float:
    near = np.abs(side.along_mm - middle) < WINDOW_TURNS * pitch / 2
    along, off = side.along_mm[near] - middle, side.off_mm[near]
    if len(along) < 12:
        return middle
    phase = 2 * np.pi * along / pitch
    full = np.column_stack([np.ones_like(along), along, np.cos(phase), np.sin(phase)])
    fit = np.linalg.lstsq(full, off, rcond=None)[0]
    return middle + float(np.arctan2(fit[3], fit[2])) * pitch / (2 * np.pi)


def _mean_shape(
    side: Side, pitch: float, origin: float, stretch: tuple[float, float]
) -> tuple[Vector, Vector]:
    """Median outline over one turn, top at zero, and the line (slope, offset) of the crests."""
    inside = (side.along_mm > stretch[0]) & (side.along_mm < stretch[1])
    along, off = side.along_mm[inside], side.off_mm[inside]
    turn = (along - origin) / pitch
    number = np.rint(turn).astype(int)
    numbers, tops, count = quantiles(off, number, TOP_SHARE)
    is_full = count > LEAST_IN_TURN
    if is_full.sum() < LEAST_TURNS:
        return np.zeros(BINS), np.zeros(2)
    line = _median_line(np.asarray(origin + numbers[is_full] * pitch), tops[is_full])
    rest = off - np.polyval(line, along)
    bins = np.clip(((turn - number + 0.5) * BINS).astype(int), 0, BINS - 1)
    seen, middles, _ = quantiles(rest, bins, 0.5)
    shape = np.interp(np.arange(BINS), seen, middles)
    padded = np.concatenate([shape[-2:], shape, shape[:2]])
    shape = np.convolve(padded, (0.1, 0.2, 0.4, 0.2, 0.1), "valid")
    return _centred(shape), line


def _median_line(along: Vector, tops: Vector) -> Vector:
    """Slope and offset by the median of all pairs' slopes (Theil and Sen)."""
    first, second = np.triu_indices(len(along), 1)
    slope = quantile((tops[second] - tops[first]) / (along[second] - along[first]), 0.5)
    return np.array([slope, quantile(tops, 0.5) - slope * quantile(along, 0.5)])


def _centred(shape: Vector) -> Vector:
    """Roll the shape so that the middle of its upper part stands at index 20; top at zero."""
    level = np.percentile(shape, 90) - 0.5 * np.ptp(shape)
    angles = 2 * np.pi * np.arange(BINS) / BINS
    weight = np.maximum(shape - level, 0)
    middle = np.arctan2((weight * np.sin(angles)).sum(), (weight * np.cos(angles)).sum())
    shift = middle * BINS / (2 * np.pi) - BINS / 2
    rolled = np.interp(np.arange(BINS) + shift, np.arange(-BINS, 2 * BINS), np.tile(shape, 3))
    return np.asarray(rolled - rolled.max())


def _fit_turns(
    side: Side,
    wave: tuple[float, float],
    mean: tuple[Vector, Vector],
    stretch: tuple[float, float],
) -> tuple[list[Turn], list[tuple[float, int]], float]:
    """Slide the mean shape along and up onto every turn of the side; keep those of the stretch."""
    shape, line = mean
    slid = slid_onto(side, wave, shape, line)
    tops = np.polyval(line, slid.along_mm) + slid.above_mm
    fitted = [
        Turn(int(number), float(along), float(top), float(u), side.sign)
        for number, along, top, u in zip(slid.numbers, slid.along_mm, tops, slid.u_mm, strict=True)
    ]
    is_good = (slid.likeness > LEAST_LIKENESS) & (np.abs(slid.above_mm) < OFF_LINE * wave[0])
    good = [turn for turn, good in zip(fitted, is_good, strict=True) if good]
    run = _longest_run(good, stretch)
    kept = {turn.number for turn in run}
    dropped = [
        (t.along_mm, side.sign)
        for t in fitted
        if t.number not in kept and run and run[0].number - 2 <= t.number <= run[-1].number + 2
    ]
    scatter = float(np.median([t.u_off_mm for t in run])) if run else np.inf
    return run, dropped, scatter


def _longest_run(turns: list[Turn], stretch: tuple[float, float]) -> list[Turn]:
    """The longest run with no gap wider than one turn; a part's other thread may be longer."""
    runs: list[list[Turn]] = []
    for turn in turns:
        if runs and turn.number - runs[-1][-1].number <= 2:
            runs[-1].append(turn)
        else:
            runs.append([turn])
    here = [run for run in runs if run[0].along_mm < stretch[1] and run[-1].along_mm > stretch[0]]
    return max(here, key=len, default=[])
