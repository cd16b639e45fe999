"""A side where the shade's edge was taken for the part's, and where the part ends inside it.

A lamp beside the lens draws a narrow shade along one side. Its outer edge is as strong as a part's,
but softer, as no lamp is a point. The bed's dots go on in the shade, up to the part: over the
length of the thread they tell its rim to some two pixels.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d
from scipy.special import ndtr

from photomeasure.edges import linear_light
from photomeasure.photo import Photo
from photomeasure.scene import Scene
from photomeasure.thread.axis import contour_points
from photomeasure.thread.doubt import side_doubt_mm
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.paper import OFF_BED, OpenPaper
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import Followed

__all__ = ["Pictured", "out_of_shade"]

Array = NDArray[np.float64]
Vector = NDArray[np.float64]  # (N,)
Sides = tuple[Followed, Followed] | None

CORE_BLURS, FULL_BLURS = 0.75, 5.0  # from the edge
# of light's change; a sharp edge has 0.55 in its core, one twice as soft 0.34
SOFT_CORE, SOFTISH_CORE = 0.29, 0.325  # surely a shade's; one if the dots say so
SHARPER = 1.3  # the other side's core: a picture out of focus is soft on both
PATH_SMOOTH = 3.0  # points
LEAST_POINTS = 20
LEAST_CONTRAST = 0.1  # of the paper's light, across the edge
INSIDE_MM, OUTSIDE_MM = 1.6, 1.8  # of the crests as traced, where dots are looked for
SURELY_OUT_MM = 0.35
BLOCK_MM = 1.2  # along: what changes slower than from dot to dot is no dot
COLOUR_BLUR_PX = 1.5
NOISE_BLUR_PX = 0.8
DARK = 0.004  # of full light: below it colour is noise
INK_FLOOR = 0.02  # mean square of ink that tells nothing
DEEPEST_MM, FARTHEST_MM = 1.4, 0.6  # of the rim, inside and outside of the crests as traced
SHIFT_STEP_PX = 0.25
ROWS = 3
MOSTLY = 0.8
LEAST_SHARE = 0.1  # of what ink takes from blue, by its logarithm
WORST_FIT = 0.04  # of the dots' mean square
INWARD_BIAS_PX = -1.5  # in shade as dark as the part; beside lit paper 0.5. Scenes for tuning
LEAST_SHADE_PX = 3.5
DOTS_U_PX, AGREED_U_PX, UNTOLD_U_PX = 2.0, 1.5, 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Pictured:
    """A photo of which scene and open paper are known, and its part straightened.

    Attributes
    ----------
    photo : Photo
    scene : Scene
    paper : OpenPaper
    strip : Strip
    """

    photo: Photo
    scene: Scene
    paper: OpenPaper
    strip: Strip


def out_of_shade(pictured: Pictured, seen: Outline, sides: Sides) -> tuple[Outline, Sides]:
    """Move a side that lies on a shade's soft edge to where the bed's dots end.

    Parameters
    ----------
    pictured : Pictured
    seen : Outline
    sides : (left, right) or None

    Returns
    -------
    seen, sides
        As given where no edge is a shade's.
    """
    if sides is None or not all(side.turns for side in sides):
        return seen, sides
    both = (seen.left, seen.right)
    blur = seen.blur_mm
    cores = [_core(pictured.strip, side, one, blur) for side, one in zip(both, sides, strict=True)]
    soft = int(np.argmin(cores))
    if not cores[soft] < SOFTISH_CORE:
        return seen, sides
    is_sure = cores[soft] < SOFT_CORE and cores[1 - soft] > SHARPER * cores[soft]
    inward = _dots_rim_mm(pictured, both[soft].sign, sides[soft])
    if not is_sure and (inward is None or inward < LEAST_SHADE_PX * seen.pixel_mm):
        return seen, sides
    side, moved = _moved(pictured.strip, both[soft], sides[soft], inward)
    if soft == 0:
        return replace(seen, left=side), (moved, sides[1])
    return replace(seen, right=side), (sides[0], moved)


def _moved(
    strip: Strip, side: Side, one: Followed, inward_mm: float | None
) -> tuple[Side, Followed]:
    pixel = strip.pixel_mm
    if inward_mm is None:
        return side, replace(one, laid_u_px=UNTOLD_U_PX)
    if inward_mm < LEAST_SHADE_PX * pixel:
        doubt_px = max(AGREED_U_PX, side_doubt_mm(strip, side, one) / pixel)
        return side, replace(one, laid_u_px=doubt_px)
    turns = tuple(replace(turn, off_mm=turn.off_mm - inward_mm) for turn in one.turns)
    line = one.line - np.array([0.0, inward_mm])
    nearer = replace(side, off_mm=side.off_mm - inward_mm)
    return nearer, replace(one, turns=turns, line=line, laid_u_px=DOTS_U_PX)


def _stretch_mm(one: Followed) -> tuple[float, float]:
    places = [turn.along_mm for turn in one.turns]
    return min(places) - one.pitch_mm / 2, max(places) + one.pitch_mm / 2


def _core(strip: Strip, side: Side, one: Followed, blur_mm: float) -> float:
    """How much of light's change across a side's edge lies in its core; infinite if unknown."""
    first, last = np.searchsorted(side.along_mm, _stretch_mm(one))
    if last - first < LEAST_POINTS:
        return float(np.inf)
    points = np.column_stack([side.along_mm, side.off_mm])[first:last]
    along, out = np.gradient(gaussian_filter1d(points, PATH_SMOOTH, axis=0), axis=0).T
    normal = np.column_stack([-out, along]) / (np.hypot(along, out) + 1e-9)[:, None]
    reach = blur_mm * np.array([-FULL_BLURS, -CORE_BLURS, CORE_BLURS, FULL_BLURS])
    places = points[:, None] + reach[:, None] * normal[:, None]
    columns = (places[..., 0] - strip.along_mm[0]) / strip.pixel_mm
    rows = (side.sign * places[..., 1] - strip.off_mm[0]) / strip.pixel_mm
    light = cv2.remap(
        strip.light,
        columns.astype(np.float32),
        rows.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).mean(axis=2)
    core, full = np.median(light[:, 2] - light[:, 1]), np.median(light[:, 3] - light[:, 0])
    if full < LEAST_CONTRAST * np.median(light[:, 3]):
        return float(np.inf)
    return float(core / full)


def _dots_rim_mm(pictured: Pictured, sign: int, one: Followed) -> float | None:
    """How far inside the crests as traced the dots end; None where they do not tell."""
    pixel = pictured.strip.pixel_mm
    along = np.arange(*_stretch_mm(one), pixel)
    beyond = np.arange(-INSIDE_MM, OUTSIDE_MM, pixel)
    places = np.array([turn.along_mm for turn in one.turns])
    crests = np.polyfit(places, [turn.off_mm for turn in one.turns], 1)
    off = np.polyval(crests, along)[:, None] + beyond
    ink, tone = _inked(pictured, np.broadcast_to(along[:, None], off.shape), sign * off)
    follows, is_on_bed = _follows(ink, tone, pixel)
    if is_on_bed[beyond > SURELY_OUT_MM].mean() < MOSTLY or not is_on_bed[beyond < 0].any():
        return None
    shifts = np.arange(-DEEPEST_MM, FARTHEST_MM, SHIFT_STEP_PX * pixel)
    gap = beyond[None, :, None] - shifts[:, None, None] - one.shape_mm
    open_ = ndtr(gap / (COLOUR_BLUR_PX * pixel)).mean(axis=2)[:, is_on_bed]  # (shifts, places)
    seen = follows[is_on_bed]
    share = (open_ @ seen) / (open_**2).sum(axis=1)
    misfit = ((seen - share[:, None] * open_) ** 2).sum(axis=1) / (seen @ seen + 1e-12)
    best = int(misfit.argmin())
    if misfit[best] > WORST_FIT or share[best] < LEAST_SHARE:
        return None
    return float(-shifts[best]) - INWARD_BIAS_PX * pixel


def _inked(pictured: Pictured, along: Array, off: Array) -> tuple[Array, Array]:
    """Ink printed, below zero off the bed, and blue over green light, both of along's shape."""
    scene, photo = pictured.scene, pictured.photo
    px = scene.px(contour_points(scene, pictured.strip.axis, along.ravel(), off.ravel()))
    ink = pictured.paper.ink_at(scene.sheet_mm(px)).reshape(along.shape)
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - 2, 0)
    high = np.maximum(np.ceil(px.max(axis=0)).astype(int) + 3, low + 1)
    window = photo.colour[low[1] : high[1], low[0] : high[0], :2]
    maps = (px - low).astype(np.float32).reshape(*along.shape, 2)
    stored = cv2.remap(window, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR)
    light = cv2.GaussianBlur(linear_light(np.asarray(stored)), (0, 0), NOISE_BLUR_PX)
    logs = np.log(light + DARK)
    return np.asarray(ink, np.float64), np.asarray(logs[..., 0] - logs[..., 1], np.float64)


def _follows(ink: Array, tone: Array, pixel_mm: float) -> tuple[Vector, NDArray[np.bool_]]:
    """How much the tone falls with ink along each row beside the part, and where bed is."""

    def from_dot_to_dot(values: Array) -> Array:
        block = max(round(BLOCK_MM / pixel_mm), 3)
        return np.asarray(values - uniform_filter1d(values, block, axis=0, mode="nearest"))

    dots, change = from_dot_to_dot(np.maximum(ink, 0)), from_dot_to_dot(tone)
    both = uniform_filter1d(-(dots * change).mean(axis=0), ROWS)
    own = uniform_filter1d((dots**2).mean(axis=0), ROWS)
    return both / (own + INK_FLOOR), ink.min(axis=0) > OFF_BED / 2
