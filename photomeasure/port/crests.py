"""Points on the thread's crest lines, to a fraction of a pixel."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.port.mouth import Circle
from photomeasure.port.view import PortView
from photomeasure.port.wall import DARK, Stripes, helix_depth_mm, is_seen

__all__ = ["CrestPoints", "crest_points"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]
Grid = NDArray[np.float64]  # (angles, depths)

SIDE_STEP_RAD = np.radians(2.0)
SAMPLES = 40  # a pitch
ACROSS_BLUR = 1.6  # samples
ALONG_BLUR = 2.0  # steps of the side
LEAST_RISE = 0.9  # over the mean of all falls
LEAST_CLEAR = 0.35  # share of a turn's points that are clear


@dataclass(frozen=True, slots=True, eq=False)
class CrestPoints:
    """Points on crest lines.

    Attributes
    ----------
    px : (N, 2)
    turns : (N,)
        Number of the turn that each is on, from the mouth.
    sides_rad : (N,)
        Where on the wall, from the far side.
    clear : (T,)
        Share of each turn's points that is clear, 0 where nothing of it can be seen.
    depth_mm : float
        Of turn 0 at the far side.
    """

    px: Points2
    turns: NDArray[np.int64]
    sides_rad: Vector
    clear: Vector
    depth_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Sheared:
    """The wall with its stripes laid level.

    `depths_mm` (A, D) are true, `levels_mm` (D,) those at the far side; `rises` (A, D) says how
    steep light is there, over its middle.
    """

    sides_rad: Vector
    levels_mm: Vector
    depths_mm: Grid
    rises: Grid
    is_seen: NDArray[np.bool_]
    tone: Grid


def crest_points(
    view: PortView, stripes: Stripes, mouth: Circle, half_rad: float, window: float
) -> CrestPoints:
    """Find the steepest edge of every turn at every angle.

    Parameters
    ----------
    view : PortView
    stripes : Stripes
        Where they are, roughly.
    mouth : Circle
    half_rad : float [rad]
        How far to either side of the far wall.
    window : float
        How far from where it should be an edge is looked for, in pitches.

    Returns
    -------
    CrestPoints
    """
    wall = _sheared(view, stripes, mouth, np.arange(-half_rad, half_rad + 1e-9, SIDE_STEP_RAD))
    phase = _sharpest_phase(wall)
    shift = _true_edge_shift(view, stripes, wall, phase)
    half = round(window * SAMPLES)
    rows, turns, sides, clear = [], [], [], []
    for turn in range(len(wall.levels_mm) // SAMPLES):
        middle = phase + turn * SAMPLES
        if middle + half + 2 > len(wall.levels_mm):
            break
        lines, places, share = _edge_line(wall, middle, half)
        clear.append(share)
        if share < LEAST_CLEAR:
            continue
        level = np.interp(places + shift[lines], np.arange(len(wall.levels_mm)), wall.levels_mm)
        rows.append(level)
        sides.append(wall.sides_rad[lines])
        turns.append(np.full(len(lines), turn))
    if not rows:
        none = np.empty(0)
        return CrestPoints(np.empty((0, 2)), none.astype(int), none, np.array(clear), 0.0)
    side = np.concatenate(sides)
    depth = np.concatenate(rows) - helix_depth_mm(side, stripes.pitch_mm, stripes.hand)
    px = view.scene.px(stripes.bore.points(view.far_rad + side, depth))
    first = float(wall.levels_mm[phase % len(wall.levels_mm)])
    return CrestPoints(px, np.concatenate(turns), side, np.array(clear), first)


def _sheared(view: PortView, stripes: Stripes, mouth: Circle, sides: Vector) -> _Sheared:
    step = stripes.pitch_mm / SAMPLES
    deepest = 1.08 * (stripes.bore.radius_mm + mouth.radius_mm) / np.tan(max(view.slant_rad, 0.2))
    levels = np.arange(0.0, deepest, step)
    depths = levels - helix_depth_mm(sides, stripes.pitch_mm, stripes.hand)[:, None]
    angles = np.broadcast_to((view.far_rad + sides)[:, None], depths.shape)
    points = stripes.bore.points(angles, depths)
    tone = np.log(view.light(points) + DARK)
    smooth = np.asarray(
        cv2.GaussianBlur(tone, (0, 0), sigmaX=ACROSS_BLUR, sigmaY=ALONG_BLUR), np.float64
    )
    rises = np.maximum(-np.gradient(smooth, axis=1), 0.0)  # dark lies behind a crest, not before
    seen = is_seen(view, points, mouth) & (depths > 0)
    rises = np.where(seen, rises, 0.0)
    usual = float(np.mean(rises[seen])) if seen.any() else 1.0
    return _Sheared(sides, levels, depths, rises / max(usual, 1e-4), seen, smooth)


def _sharpest_phase(wall: _Sheared) -> int:
    """Where in a turn the steepest edge lies, in samples."""
    turns = wall.rises.shape[1] // SAMPLES
    folded = wall.rises[:, : turns * SAMPLES].reshape(-1, turns, SAMPLES)
    seen = wall.is_seen[:, : turns * SAMPLES].reshape(folded.shape)
    capped = np.minimum(folded, 6.0)
    mean = capped.sum(axis=(0, 1)) / np.maximum(seen.sum(axis=(0, 1)), 1)
    return int(np.argmax(mean))


def _edge_line(wall: _Sheared, middle: int, half: int) -> tuple[NDArray[np.int64], Vector, float]:
    """Which angles show an edge near a level, where [samples], and which share that is."""
    low = max(middle - half, 1)
    part = wall.rises[:, low : middle + half + 1]
    seen = wall.is_seen[:, low : middle + half + 1].all(axis=1)
    top = np.argmax(part, axis=1)
    inner = (top > 0) & (top < part.shape[1] - 1)
    peak = part[np.arange(len(part)), top]
    good = seen & inner & (peak > LEAST_RISE)
    lines = np.flatnonzero(good)
    at = top[lines]
    before, here, after = (part[lines, at + k] for k in (-1, 0, 1))
    shift = 0.5 * (before - after) / np.minimum(before - 2 * here + after, -1e-9)
    share = len(lines) / max(int(seen.sum()), 1) if seen.sum() >= 6 else 0.0
    return lines, low + at + np.clip(shift, -1, 1), share


def _true_edge_shift(view: PortView, stripes: Stripes, wall: _Sheared, phase: int) -> Vector:
    """How far each angle's crest edge lies from its steepest place, in samples, (A,).

    Notes
    -----
    Behind the crest lies a dark line. Where it is narrower than the picture's blur its two edges
    seem farther apart than they are: of a line of no width by twice the blur. Its middle stays.
    """
    turns = wall.tone.shape[1] // SAMPLES
    whole = slice(0, turns * SAMPLES)
    cells = wall.is_seen[:, whole].reshape(-1, turns, SAMPLES)
    seen = np.asarray(cells.all(axis=2, keepdims=True), np.float64)
    tone = wall.tone[:, whole].reshape(-1, turns, SAMPLES)
    tone = (tone - tone.mean(axis=2, keepdims=True)) * seen
    folded = tone.sum(axis=1) / np.maximum(seen.sum(axis=1), 1)
    folded = cv2.GaussianBlur(
        np.roll(folded, SAMPLES // 4 - phase, axis=1), (0, 0), 0.5, sigmaY=2.0
    )
    slope = np.gradient(folded, axis=1)
    reach = SAMPLES // 6
    falls = (
        SAMPLES // 4
        - reach
        + np.argmin(slope[:, SAMPLES // 4 - reach : SAMPLES // 4 + reach + 1], axis=1)
    )
    widths = np.array(
        [
            2 + np.argmax(line[fall + 2 : fall + 2 + SAMPLES // 2])
            for line, fall in zip(slope, falls, strict=True)
        ],
        dtype=np.float64,
    )
    blur = np.hypot(_blur_samples(view, stripes, wall), ACROSS_BLUR)
    true = blur * np.interp(widths / blur, *_seen_widths())
    shift = (widths - true) / 2
    return _smooth_trend(wall.sides_rad, shift)


def _smooth_trend(sides_rad: Vector, shift: Vector) -> Vector:
    """A parabola through most of the shifts: the blur's effect grows smoothly to either side."""
    kept = np.ones(len(shift), bool)
    trend = np.full_like(shift, float(np.median(shift)))
    for _ in range(3):
        if kept.sum() < 6:
            break
        curve = np.polyfit(sides_rad[kept], shift[kept], 2)
        trend = np.asarray(np.polyval(curve, sides_rad), np.float64)
        off = np.abs(shift - trend)
        kept = off < 2.5 * max(float(np.median(off)), 0.2)
    return np.asarray(trend)


def _blur_samples(view: PortView, stripes: Stripes, wall: _Sheared) -> Vector:
    """Blur of the picture across the crest lines at each angle, in samples, (A,)."""
    step = stripes.pitch_mm / SAMPLES
    depth = np.full_like(wall.sides_rad, float(wall.levels_mm.mean()))
    angle = view.far_rad + wall.sides_rad
    here = view.scene.px(stripes.bore.points(angle, depth))
    down = view.scene.px(stripes.bore.points(angle, depth + step)) - here
    along = view.scene.px(stripes.bore.points(angle + 1e-3, depth)) - here
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.abs(down[:, 0] * along[:, 1] - down[:, 1] * along[:, 0])
    return np.asarray(view.found.blur_px / np.maximum(across, 1e-3))


@cache
def _seen_widths() -> tuple[Vector, Vector]:
    """Distance of the steepest places of a dark line, and its true width, in blurs."""
    true = np.linspace(0.01, 8.0, 161)
    x = np.linspace(0.0, 6.0, 1201)
    seen = []
    for width in true:
        rise = np.exp(-((x - width / 2) ** 2) / 2) - np.exp(-((x + width / 2) ** 2) / 2)
        seen.append(2 * x[int(np.argmax(rise))])
    return np.array(seen), true
