"""Where the thread's crest lines are seen, to a fraction of a pixel."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.port.light import spill_of
from photomeasure.port.mouth import Circle
from photomeasure.port.path import SAMPLES, edge_path
from photomeasure.port.points import CrestPoints
from photomeasure.port.view import PortView
from photomeasure.port.wall import DARK, Stripes, helix_depth_mm, is_seen

__all__ = ["crest_points"]

Vector = NDArray[np.float64]
Grid = NDArray[np.float64]  # (angles, depths)

SIDE_STEP_RAD = np.radians(2.0)
ACROSS_BLUR = 1.6  # samples
ALONG_BLUR = 2.0  # steps of the side
BEFORE, AFTER = 12, 6  # samples about where the logarithm of light falls steepest
SHARP_POWER = 2.0
LIT, LIT_PERCENTILE, LEAST_LIT, LIT_POWER = 0.6, 90, 0.05, 1.0
LEAST_RISE = 0.9  # over the mean of all falls
LEAST_CLEAR = 0.35  # share of a turn's points that are clear, so far to the sides
CLEAR_RAD, LEAST_LINES = float(np.radians(60.5)), 6


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
    light: Grid


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Edges of all turns: at which angle each is, where [samples], weight, light, turn."""

    lines: NDArray[np.int64]
    at: Vector
    sharps: Vector
    peaks: Vector
    turns: NDArray[np.int64]


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
    sides = np.arange(-half_rad, half_rad + 1e-9, SIDE_STEP_RAD)
    rough = _sheared(view, stripes, mouth, sides, np.zeros_like(sides))
    path = edge_path(sides, rough.rises, rough.is_seen)
    offsets = path.offsets * stripes.pitch_mm / SAMPLES
    wall = _sheared(view, stripes, mouth, sides, offsets)
    blurs = _blur_samples(view, stripes, wall)
    found, clear = _every_turn(wall, path.phase, round(window * SAMPLES), blurs)
    lines, peaks = found.lines, found.peaks
    levels = np.interp(found.at, np.arange(len(wall.levels_mm)), wall.levels_mm)
    helix = helix_depth_mm(sides[lines], stripes.pitch_mm, stripes.hand)
    points = stripes.bore.points(view.far_rad + sides[lines], levels + offsets[lines] - helix)
    return CrestPoints(
        px=view.scene.px(points),
        turns=found.turns,
        parts=path.parts[lines],
        sides_rad=sides[lines],
        weights=found.sharps * _lit(peaks),
        spills=spill_of(peaks),
        clear=clear,
        depth_mm=float(wall.levels_mm[path.phase % len(wall.levels_mm)]),
    )


def _every_turn(wall: _Sheared, phase: int, half: int, blurs: Vector) -> tuple[_Found, Vector]:
    """Edges of all turns that are clear, and how clear each turn is."""
    shares, every = [], []
    for turn in range(len(wall.levels_mm) // SAMPLES):
        middle = phase + turn * SAMPLES
        if middle + half + 2 > len(wall.levels_mm):
            break
        lines, falls, share = _edge_line(wall, middle, half)
        shares.append(share)
        if share >= LEAST_CLEAR:
            found = (lines, *_steepest(wall, lines, falls, blurs), np.full(len(lines), turn))
            every.append(found)
    if not every:
        none = np.empty(0)
        return _Found(none.astype(int), none, none, none, none.astype(int)), np.array(shares)
    return _Found(*(np.concatenate(parts) for parts in zip(*every, strict=True))), np.array(shares)


def _sheared(
    view: PortView, stripes: Stripes, mouth: Circle, sides: Vector, offsets_mm: Vector
) -> _Sheared:
    step = stripes.pitch_mm / SAMPLES
    deepest = 1.08 * (stripes.bore.radius_mm + mouth.radius_mm) / np.tan(max(view.slant_rad, 0.2))
    levels = np.arange(0.0, deepest, step)
    helix = helix_depth_mm(sides, stripes.pitch_mm, stripes.hand)
    depths = levels + (offsets_mm - helix)[:, None]
    angles = np.broadcast_to((view.far_rad + sides)[:, None], depths.shape)
    points = stripes.bore.points(angles, depths)
    light = view.light(points)
    tone = np.log(light + DARK)
    # dark lies behind a crest, not before
    rises = np.maximum(-np.gradient(_smooth(tone), axis=1), 0.0)
    seen = is_seen(view, points, mouth) & (depths > 0)
    rises = np.where(seen, rises, 0.0)
    usual = float(np.mean(rises[seen])) if seen.any() else 1.0
    return _Sheared(sides, levels, depths, rises / max(usual, 1e-4), seen, _smooth(light))


def _smooth(grid: Grid) -> Grid:
    return np.asarray(
        cv2.GaussianBlur(grid, (0, 0), sigmaX=ACROSS_BLUR, sigmaY=ALONG_BLUR), np.float64
    )


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
    place = top[lines]
    before, here, after = (part[lines, place + k] for k in (-1, 0, 1))
    shift = 0.5 * (before - after) / np.minimum(before - 2 * here + after, -1e-9)
    middle_seen = seen & (np.abs(wall.sides_rad) <= CLEAR_RAD)
    count = int(middle_seen.sum())
    share = float((good & middle_seen).sum()) / count if count >= LEAST_LINES else 0.0
    return lines, low + place + np.clip(shift, -1, 1), share


def _steepest(
    wall: _Sheared, lines: NDArray[np.int64], falls: Vector, blurs: Vector
) -> tuple[Vector, Vector, Vector]:
    """Where light itself falls steepest near where its logarithm does [samples], weight, peak.

    Notes
    -----
    A flank in hard light is a hundred times brighter than the crest beside it: light's logarithm
    falls steepest far down in the edge's blur, a tenth of a pitch too deep.
    """
    reach = np.arange(-BEFORE, AFTER + 1)
    at = np.clip(np.rint(falls).astype(int)[:, None] + reach, 1, wall.light.shape[1] - 2)
    fall = wall.light[lines[:, None], at - 1] - wall.light[lines[:, None], at + 1]
    top = np.clip(np.argmax(fall, axis=1), 1, len(reach) - 2)
    rows = np.arange(len(fall))
    before, here, after = (fall[rows, top + k] for k in (-1, 0, 1))
    shift = 0.5 * (before - after) / np.minimum(before - 2 * here + after, -1e-9)
    light = wall.light[lines[:, None], at]
    step = light[:, : BEFORE + 1].max(axis=1) - light[:, BEFORE - 1 :].min(axis=1)
    sharp = 1.25 * np.hypot(blurs[lines], ACROSS_BLUR) * here / np.maximum(step, 1e-6)
    places = at[rows, top] + np.clip(shift, -1, 1)
    return places, np.clip(sharp, 0.05, 1.0) ** SHARP_POWER, light[:, : BEFORE + 1].max(axis=1)


def _lit(peaks: Vector) -> Vector:
    """How far an edge counts by the light beside it: in the dark, crests shine, not flanks."""
    usual = LIT * float(np.percentile(peaks, LIT_PERCENTILE)) if len(peaks) else 1.0
    return np.asarray(np.clip(peaks / usual, LEAST_LIT, 1.0) ** LIT_POWER)


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
