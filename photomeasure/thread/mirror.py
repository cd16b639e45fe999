"""Where the poorer side of a thread must lie, by the turns of the better one."""

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.outline import Guide, Side, edge_strength
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import Followed

__all__ = ["mirrored"]

Image = NDArray[np.float32]
Vector = NDArray[np.float64]  # (N,)

FARTHEST_MM, SHIFT_STEP_MM = 0.8, 0.1  # of the mean distance as traced
PHASES = 16
LEANS = np.linspace(-0.08, 0.08, 17)  # twice the rough heading's error
COLUMN_STEP_MM = 0.12
RIM_MM = 0.4  # paper is looked for so far outside, cover so far inside
RIM_WEIGHT = 1.5
BEYOND_MM = (0.2, 0.35, 0.5)
LEAST_SCORE = 0.8


def mirrored(strip: Strip, better: Followed, poorer: Side) -> Guide | None:
    """Lay the better side's turns along the other side where edges and paper agree best.

    Parameters
    ----------
    strip : Strip
    better : Followed
    poorer : Side
        As traced without help: its mean distance is about right.

    Returns
    -------
    Guide or None
        None if nothing there looks like those turns.
    """
    places = np.array([turn.along_mm for turn in better.turns])
    half = better.pitch_mm / 2
    along = np.arange(places.min() - half, places.max() + half, COLUMN_STEP_MM)
    here = (poorer.along_mm > along[0]) & (poorer.along_mm < along[-1])
    if not here.any():
        return None
    apart = float(np.median(poorer.off_mm[here])) - float(_curve(better, along, 0, 0, 0).mean())
    shifts = apart + np.arange(-FARTHEST_MM, FARTHEST_MM, SHIFT_STEP_MM)
    phases = np.arange(PHASES) * better.pitch_mm / PHASES
    grid = np.stack(np.meshgrid(shifts, phases, LEANS, indexing="ij"), axis=-1).reshape(-1, 3)
    curves = np.stack([_curve(better, along, *way) for way in grid])
    scores = _scores(strip, along, curves, poorer.sign)
    best = int(np.argmax(scores))
    return Guide(along, curves[best]) if scores[best] > LEAST_SCORE else None


def _curve(better: Followed, along: Vector, shift: float, phase: float, lean: float) -> Vector:
    turn = (along - better.turns[0].along_mm - phase) / better.pitch_mm + 0.5
    bins = (turn % 1) * len(better.shape_mm)
    shape = np.interp(
        bins, np.arange(len(better.shape_mm) + 1), np.append(better.shape_mm, better.shape_mm[0])
    )
    slope, offset = better.line
    return np.asarray(slope * along + offset + shape + shift + lean * (along - along.mean()))


def _scores(strip: Strip, along: Vector, curves: Vector, sign: int) -> Vector:
    """Edge strength on each curve, none beyond it, and paper parted from cover."""
    strength = edge_strength(strip)
    column = (along - strip.along_mm[0]) / strip.pixel_mm

    def on(picture: Image, off: Vector) -> Vector:
        rows = (sign * off - strip.off_mm[0]) / strip.pixel_mm
        columns = np.broadcast_to(column, rows.shape)
        seen = cv2.remap(
            picture, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR
        )
        return np.asarray(seen.mean(axis=1), np.float64)

    parted = on(strip.bare, curves + RIM_MM) - on(strip.bare, curves - RIM_MM)
    outside = np.max([on(strength, curves + beyond) for beyond in BEYOND_MM], axis=0)
    return on(strength, curves) + RIM_WEIGHT * parted - outside
