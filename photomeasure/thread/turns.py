"""The thread's turns: pitch by phase, and one crest point a turn and side."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import theilslopes

from photomeasure.errors import NoThreadError
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.waves import WINDOW_TURNS, Wave, aimed_wave

__all__ = ["BINS", "LEAST_TURNS", "Followed", "Turn", "Turns", "follow", "joined"]

Vector = NDArray[np.float64]  # (N,)

LEAST_TURNS = 3
BINS = 40
OFF_LINE = 0.10  # of a pitch: a crest lower than its neighbours by more is lead-in or damage
LEAST_LIKENESS = 0.7
DEEP = 0.42  # of a pitch; a lean of 8 degrees halves a groove
LEARNING_STEPS = 6
SLIDES = 4
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
        turns, dropped, scatter = _fit_turns(side, (pitch, origin), shape, line)
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
    tops = [
        (origin + n * pitch, float(np.percentile(off[number == n], 92)))
        for n in np.unique(number)
        if np.sum(number == n) > 8
    ]
    if len(tops) < LEAST_TURNS:
        return np.zeros(BINS), np.zeros(2)
    slope, offset, _, _ = theilslopes([top for _, top in tops], [place for place, _ in tops])
    line = np.array([slope, offset])
    rest = off - np.polyval(line, along)
    bins = np.clip(((turn - number + 0.5) * BINS).astype(int), 0, BINS - 1)
    shape = np.array(
        [np.median(rest[bins == b]) if np.any(bins == b) else np.nan for b in range(BINS)]
    )
    shape = np.interp(np.arange(BINS), np.flatnonzero(~np.isnan(shape)), shape[~np.isnan(shape)])
    padded = np.concatenate([shape[-2:], shape, shape[:2]])
    shape = np.convolve(padded, (0.1, 0.2, 0.4, 0.2, 0.1), "valid")
    return _centred(shape), np.asarray(line)


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
    side: Side, wave: tuple[float, float], shape: Vector, line: Vector
) -> tuple[list[Turn], list[tuple[float, int]], float]:
    """Slide the mean shape along and up onto every turn of the side."""
    pitch, origin = wave
    first = int(np.ceil((side.along_mm.min() - origin) / pitch))
    last = int(np.floor((side.along_mm.max() - origin) / pitch))
    fitted: list[tuple[Turn, float, float]] = []
    for number in range(first, last + 1):
        found = _fit_turn(side, (number, origin + number * pitch, pitch), shape, line)
        if found is not None:
            fitted.append(found)
    good = [
        t
        for t, likeness, height in fitted
        if likeness > LEAST_LIKENESS and abs(height) < OFF_LINE * pitch
    ]
    run = _longest_run(good)
    kept = {turn.number for turn in run}
    dropped = [
        (t.along_mm, side.sign)
        for t, _, _ in fitted
        if t.number not in kept and run and run[0].number - 2 <= t.number <= run[-1].number + 2
    ]
    scatter = float(np.median([t.u_off_mm for t in run])) if run else np.inf
    return run, dropped, scatter


def _longest_run(turns: list[Turn]) -> list[Turn]:
    """The longest stretch of turns with no gap wider than one turn."""
    runs: list[list[Turn]] = []
    for turn in turns:
        if runs and turn.number - runs[-1][-1].number <= 2:
            runs[-1].append(turn)
        else:
            runs.append([turn])
    return max(runs, key=len, default=[])


def _fit_turn(
    side: Side, turn: tuple[int, float, float], shape: Vector, line: Vector
) -> tuple[Turn, float, float] | None:
    number, middle, pitch = turn
    first, last = np.searchsorted(side.along_mm, (middle - 0.5 * pitch, middle + 0.5 * pitch))
    if last - first < 8:
        return None
    along = side.along_mm[first:last]
    rest = side.off_mm[first:last] - np.polyval(line, along)
    shift, height = 0.0, 0.0
    grid = (np.arange(-BINS, 2 * BINS) - BINS / 2) / BINS * pitch
    tiled = np.tile(shape, 3)
    slopes = np.gradient(tiled, grid)
    weight = np.ones_like(along)
    for _ in range(SLIDES):
        place = along - middle - shift
        model = np.interp(place, grid, tiled)
        slope = np.interp(place, grid, slopes)
        residual = rest - model - height
        spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-4
        weight = 1 / np.maximum(1, np.abs(residual) / (2 * spread))
        design = np.column_stack([-slope, np.ones_like(along)])
        normal = (design.T * weight) @ design + 1e-9 * np.eye(2)
        change = np.linalg.solve(normal, design.T @ (weight * residual))
        shift += float(np.clip(change[0], -0.1 * pitch, 0.1 * pitch))
        height += float(change[1])
    place = along - middle - shift
    model = np.interp(place, grid, tiled)
    if abs(shift) > 0.3 * pitch or np.ptp(model) <= 0:
        return None
    residual = rest - model - height
    variance = float(np.average(residual**2, weights=weight))
    cover = variance * np.linalg.inv(normal) * 2.0
    likeness = 1 - variance / max(float(np.var(model)), 1e-9)
    top = float(np.polyval(line, middle + shift)) + height
    return (
        Turn(
            number,
            middle + shift,
            top,
            float(np.sqrt(cover[1, 1])),
            side.sign,
        ),
        likeness,
        height,
    )
