"""Where the poorer side of a thread must lie, by the turns of the better one."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.folded import folded_way
from photomeasure.thread.outline import Guide, Side, edge_strength
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import Followed, Turn

__all__ = ["Likeness", "mirrored"]

Image = NDArray[np.float32]
Vector = NDArray[np.float64]  # (N,)

FARTHEST_MM, SHIFT_STEP_MM = 0.8, 0.1  # of the mean distance as traced
PHASES = 16
LEANS = np.linspace(-0.08, 0.08, 9)  # twice the rough heading's error
COLUMN_STEP_MM = 0.12
RIM_MM = 0.4  # paper is looked for so far outside, cover so far inside
RIM_WEIGHT = 1.5
BEYOND_MM = (0.2, 0.35, 0.5)
LEAST_SCORE = 0.5
SURE_U_PX, UNSURE_U_PX = 1.5, 2.0  # as seen over rendered scenes kept for tuning
LEAST_FOLDED = 5  # turns
LEAST_GAIN, SURE_GAIN = -0.05, 0.01  # of a folded turn's shape over a straight edge
FINER = np.linspace(-0.8, 0.8, 9)  # of a step
LIKENESS_U_MM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Likeness:
    """The better side's turns laid along the poorer side.

    Attributes
    ----------
    guide : Guide
    followed : Followed
        The turns as they lie there, as one rigid pattern.
    is_sure : bool
        Whether paper clearly ends there.
    """

    guide: Guide
    followed: Followed
    is_sure: bool


def mirrored(strip: Strip, better: Followed, poorer: Side) -> Likeness | None:
    """Lay the better side's turns along the other side where paper, or edges, agree best.

    Parameters
    ----------
    strip : Strip
    better : Followed
    poorer : Side
        As traced without help: its mean distance is about right.

    Returns
    -------
    Likeness or None
        None if nothing there looks like those turns.
    """
    places = np.array([turn.along_mm for turn in better.turns])
    half = better.pitch_mm / 2
    along = np.arange(places.min() - half, places.max() + half, COLUMN_STEP_MM)
    here = (poorer.along_mm > along[0]) & (poorer.along_mm < along[-1])
    if not here.any():
        return None
    apart = float(np.median(poorer.off_mm[here])) - float(_curve(better, along, 0, 0, 0).mean())
    fold = _by_fold(strip, better, (along, apart), poorer.sign)
    if fold is not None and fold.is_sure:
        return fold
    edges = _by_edges(strip, better, (along, apart), poorer.sign)
    if fold is None or edges is None:
        return edges
    return replace(fold, guide=edges.guide)


def _by_fold(
    strip: Strip, better: Followed, where: tuple[Vector, float], sign: int
) -> Likeness | None:
    if not better.is_deep or len(better.turns) < LEAST_FOLDED:
        return None
    along, apart = where
    fold = folded_way(strip, better, sign, apart)
    if fold.gain < LEAST_GAIN:
        return None
    way = (fold.shift_mm, fold.phase_mm, fold.lean)
    return _laid(better, along, way, (sign, fold.gain > SURE_GAIN))


def _by_edges(
    strip: Strip, better: Followed, where: tuple[Vector, float], sign: int
) -> Likeness | None:
    along, apart = where
    wide = (
        apart + np.arange(-FARTHEST_MM, FARTHEST_MM, SHIFT_STEP_MM),
        np.arange(PHASES) * better.pitch_mm / PHASES,
        LEANS,
    )
    strength = edge_strength(strip)
    score, way = _best(strip, strength, (better, along, sign), wide)
    if score < LEAST_SCORE:
        return None
    steps = (SHIFT_STEP_MM, better.pitch_mm / PHASES, float(LEANS[1] - LEANS[0]))
    fine = tuple(w + step * FINER for w, step in zip(way, steps, strict=True))
    _, way = _best(strip, strength, (better, along, sign), fine)
    return _laid(better, along, way, (sign, False))


def _laid(
    better: Followed, along: Vector, way: tuple[float, float, float], where: tuple[int, bool]
) -> Likeness:
    """Laid on the side of that sign, surely or not."""
    sign, is_sure = where
    u_px = SURE_U_PX if is_sure else UNSURE_U_PX
    guide = Guide(along, _curve(better, along, *way))
    moved = _moved(better, way, float(along.mean()), sign)
    return Likeness(guide, replace(moved, laid_u_px=u_px), is_sure)


def _best(
    strip: Strip,
    strength: Image,
    pattern: tuple[Followed, Vector, int],
    ways: tuple[Vector, ...],
) -> tuple[float, tuple[float, float, float]]:
    """Best of all combinations of shift, phase and lean."""
    better, along, sign = pattern
    grid = np.stack(np.meshgrid(*ways, indexing="ij"), axis=-1).reshape(-1, 3)
    curves = np.concatenate([_curves(better, along, some) for some in np.array_split(grid, 8)])
    scores = _scores(strip, strength, (along, curves), sign)
    best = int(np.argmax(scores))
    shift, phase, lean = (float(value) for value in grid[best])
    return float(scores[best]), (shift, phase, lean)


def _moved(
    better: Followed, way: tuple[float, float, float], middle_mm: float, sign: int
) -> Followed:
    shift, phase, lean = way
    slope, offset = better.line
    line = np.array([slope + lean, offset + shift - lean * middle_mm])
    turns = tuple(
        Turn(
            turn.number,
            turn.along_mm + phase,
            float(np.polyval(line, turn.along_mm + phase)),
            LIKENESS_U_MM,
            sign,
        )
        for turn in better.turns
    )
    return replace(better, turns=turns, line=line, dropped=())


def _curve(better: Followed, along: Vector, shift: float, phase: float, lean: float) -> Vector:
    return np.asarray(_curves(better, along, np.array([[shift, phase, lean]]))[0])


def _curves(better: Followed, along: Vector, ways: Vector) -> Vector:
    """Distance from the axis at each place for each (shift, phase, lean), (ways, places)."""
    shift, phase, lean = (column[:, None] for column in ways.T)
    turn = (along - better.turns[0].along_mm - phase) / better.pitch_mm + 0.5
    closed = np.append(better.shape_mm, better.shape_mm[0])
    shape = np.interp((turn % 1) * len(better.shape_mm), np.arange(len(closed)), closed)
    slope, offset = better.line
    return np.asarray(slope * along + offset + shape + shift + lean * (along - along.mean()))


def _scores(strip: Strip, strength: Image, curves: tuple[Vector, Vector], sign: int) -> Vector:
    """Edge strength on each curve, none beyond it, and paper parted from cover."""
    along, off = curves
    column = ((along - strip.along_mm[0]) / strip.pixel_mm).astype(np.float32)

    def on(picture: Image, beyond_mm: float) -> Vector:
        rows = ((sign * (off + beyond_mm) - strip.off_mm[0]) / strip.pixel_mm).astype(np.float32)
        columns = np.broadcast_to(column, rows.shape)
        return np.asarray(cv2.remap(picture, columns, rows, cv2.INTER_LINEAR).mean(axis=1))

    parted = on(strip.bare, RIM_MM) - on(strip.bare, -RIM_MM)
    outside = np.max([on(strength, beyond) for beyond in BEYOND_MM], axis=0)
    return np.asarray(on(strength, 0.0) + RIM_WEIGHT * parted - outside)
