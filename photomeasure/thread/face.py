"""Turns by the stripes on a thread's face, where a lean hides the grooves in its outline.

A barrel is a stretch in which both sides of the outline run straight. Its face is unrolled on the
axis, and the pitch is the period of the stripes along it. The crests touch the outline all along.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.photo import Photo
from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis
from photomeasure.thread.grouped import quantiles
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.turns import BINS, LEAST_TURNS, Followed, Turn
from photomeasure.thread.waves import PITCHES_MM

__all__ = ["face_sides", "striped_places"]

Vector = NDArray[np.float64]  # (N,)
Image = NDArray[np.float64]  # (bands, columns)

BARREL_MM, STEP_MM = 6.0, 0.5  # shortest, and the step of the search
STRAIGHT_MM, STRAIGHT_SHARE = 0.25, 75  # of the outline's points, within this of a line
LEAST_SEEN = 0.6  # of the outline
MOST_TURNED, MOST_TAPER = 0.2, 0.09  # slope of a rough axis; of the sides against each other
JOINED = 0.02  # slopes that differ by less belong to one barrel
BANDS_RAD = np.radians(np.arange(-48.0, 49.0, 4.0))
LINES_PER_BAND, LINE_RAD = 5, np.radians(0.8)
TREND_MM = 1.6  # standard deviation of the smoothing that takes slow shades out
GROWTH_MM, GROWTH_TURNS, GOES_ON = 8.0, 2.5, 0.6  # beyond the straight stretch
LEAST_LEVELS = 0.7  # of 255: noise of a band
LEAST_PERIODS = 3.5
AIM_MM = 12.0  # the thread nearer to the middle of the photo is meant
WINDOW_MM, WINDOW_STEP_MM, WINDOW_PERIODS = 8.0, 2.0, 3.4  # where another thread is looked for
CLEAR_SHARE = 0.5  # of the wander there that a thread's stripes explain
LEAST_IN_WINDOW = 20  # points of either side
LONGER = 0.7  # power of a stretch's length: short ones with clear stripes lie in long ones
LEAST_SHARE = 0.2  # of the wander along the face that the stripes explain, with two harmonics
HALVES = 0.8  # a doubled pitch has all waves of the true one among its own
FINER = np.linspace(0.97, 1.03, 121)
TOP_SHARE = 0.92  # quantile of the outline over one pitch: its crest's top
LEAST_OF_TURN = 0.4  # of a whole pitch's points
ON_LINE_MM = 0.04  # tops of one thread's crests; more and they lie on its chamfer, or off its edge
UNSURE_U_PX = 2.0  # of a side whose crests do not line up


@dataclass(frozen=True, slots=True)
class Barrel:
    """A stretch whose sides run straight.

    Attributes
    ----------
    from_mm, to_mm : float
    slope, radius_mm : float
        Of the cone, its radius at place zero.
    turned, shift_mm : float
        Slope of the middle line against the axis, and its offset.
    """

    from_mm: float
    to_mm: float
    slope: float
    radius_mm: float
    turned: float
    shift_mm: float


def face_sides(photo: Photo, scene: Scene, seen: Outline) -> tuple[Followed, Followed] | None:
    """Lay turns along the sides by the stripes on the face between them.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    seen : Outline

    Returns
    -------
    (left, right) or None
        None if no straight stretch shows stripes.
    """
    threads = _threads(photo, scene, seen)
    if not threads:
        return None

    def aimed_share(one: tuple[Barrel, float, float]) -> float:
        off = (one[0].from_mm + one[0].to_mm) / 2 - seen.aim_mm
        long = (one[0].to_mm - one[0].from_mm) ** LONGER
        return float(one[2] * long * np.exp(-((off / AIM_MM) ** 2)))

    barrel, pitch, _ = max(threads, key=aimed_share)
    left, right = (_laid(side, barrel, pitch) for side in (seen.left, seen.right))
    return left, right


def striped_places(
    photo: Photo, scene: Scene, seen: Outline, known: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Windows along the part that clearly show a thread's stripes, beside what is known.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    seen : Outline
    known : sequence of (from, to) [mm]
        What is not looked at again.

    Returns
    -------
    list of (from, to) [mm]
    """
    pitches = PITCHES_MM[PITCHES_MM < WINDOW_MM / WINDOW_PERIODS]
    found = []
    for window in _windows(seen, known):
        face, along = _unrolled(photo, scene, seen, window)
        core = (along > window.from_mm) & (along < window.to_mm)
        if _explained(face[:, core], along[core], pitches).max() > CLEAR_SHARE:
            found.append((window.from_mm, window.to_mm))
    return found


def _windows(seen: Outline, known: Sequence[tuple[float, float]]) -> list[Barrel]:
    """Short stretches of the part that lie off what is known, taken for barrels."""
    sides = (seen.left, seen.right)
    along = np.concatenate([side.along_mm for side in sides])
    found = []
    for start in np.arange(along.min(), along.max() - WINDOW_MM, WINDOW_STEP_MM):
        stop = float(start) + WINDOW_MM
        off = [_stretch(side, start, stop)[1] for side in sides]
        shared = [min(stop, last) - max(start, first) for first, last in known]
        if min(len(one) for one in off) < LEAST_IN_WINDOW or max(shared) > WINDOW_STEP_MM:
            continue
        left, right = (float(np.median(one)) for one in off)
        found.append(Barrel(float(start), stop, 0.0, (left + right) / 2, 0.0, (left - right) / 2))
    return found


def _threads(photo: Photo, scene: Scene, seen: Outline) -> list[tuple[Barrel, float, float]]:
    """Straight stretches with stripes, their pitch, and the share that it explains."""
    striped = [(barrel, *_stripes(photo, scene, seen, barrel)) for barrel in _barrels(seen)]
    return [one for one in striped if one[2] > LEAST_SHARE]


def _barrels(seen: Outline) -> list[Barrel]:
    """Longest stretches in which both sides run straight, apart from each other."""
    if min(len(side.along_mm) for side in (seen.left, seen.right)) == 0:
        return []
    low = max(float(side.along_mm.min()) for side in (seen.left, seen.right))
    high = min(float(side.along_mm.max()) for side in (seen.left, seen.right))
    found: list[Barrel] = []
    for start in np.arange(low, high - BARREL_MM, STEP_MM):
        barrel = _barrel(seen, start, start + BARREL_MM)
        if barrel is None:
            continue
        last = found[-1] if found else None
        joined = _barrel(seen, last.from_mm, barrel.to_mm) if last is not None else None
        if last is not None and joined is not None and barrel.from_mm < last.to_mm:
            found[-1] = joined
        else:
            found.append(barrel)
    return found


def _stretch(side: Side, start: float, stop: float) -> tuple[Vector, Vector]:
    inside = (side.along_mm > start) & (side.along_mm < stop)
    return side.along_mm[inside], side.off_mm[inside]


def _line(along: Vector, off: Vector) -> tuple[Vector, Vector]:
    """Straight line that a few points off it do not pull, and what is left."""
    line = np.polyfit(along, off, 1)
    for _ in range(3):
        rest = np.abs(off - np.polyval(line, along))
        near = rest <= max(2.5 * float(np.median(rest)), 1e-3)
        line = np.polyfit(along[near], off[near], 1)
    return np.asarray(line), np.asarray(off - np.polyval(line, along))


def _barrel(seen: Outline, start: float, stop: float) -> Barrel | None:
    lines = []
    for side in (seen.left, seen.right):
        along, off = _stretch(side, start, stop)
        if len(along) < LEAST_SEEN * (stop - start) / seen.pixel_mm:
            return None
        line, rest = _line(along, off)
        if np.percentile(np.abs(rest), STRAIGHT_SHARE) > STRAIGHT_MM:
            return None
        lines.append(line)
    (left, left_at), (right, right_at) = lines
    turned, slope = (left - right) / 2, (left + right) / 2
    if abs(turned) > MOST_TURNED or abs(slope) > MOST_TAPER:
        return None
    return Barrel(
        start,
        stop,
        float(slope),
        float(left_at + right_at) / 2,
        float(turned),
        float(left_at - right_at) / 2,
    )


def _stripes(photo: Photo, scene: Scene, seen: Outline, barrel: Barrel) -> tuple[float, float]:
    """Pitch and the share of the face's wander that it explains."""
    face, along = _unrolled(photo, scene, seen, barrel)
    core = (along > barrel.from_mm) & (along < barrel.to_mm)
    pitches = PITCHES_MM[(barrel.to_mm - barrel.from_mm) / PITCHES_MM > LEAST_PERIODS]
    if len(pitches) == 0:
        return 0.0, 0.0
    shares = _explained(face[:, core], along[core], pitches)
    pitch, share = _whole(pitches, shares)
    for _ in range(2):
        wide = _striped(face, along, core, (pitch, share))
        fine = pitch * FINER
        pitch = float(fine[int(np.argmax(_explained(face[:, wide], along[wide], fine)))])
    return pitch, share


def _whole(pitches: Vector, shares: Vector) -> tuple[float, float]:
    """The pitch that explains most, and its share; half of it, if that does nearly as well."""
    best = int(np.argmax(shares))
    half = int(np.argmin(np.abs(pitches - pitches[best] / 2)))
    near = slice(max(half - 1, 0), half + 2)
    if pitches[best] > 2 * pitches[0] and shares[near].max() > HALVES * shares[best]:
        best = near.start + int(np.argmax(shares[near]))
    return float(pitches[best]), float(shares[best])


def _striped(
    face: Image, along: Vector, core: NDArray[np.bool_], wave: tuple[float, float]
) -> NDArray[np.bool_]:
    """The core and what goes on with the same stripes on either side."""
    (pitch, share), step = wave, along[1] - along[0]
    first, last = (int(i) for i in np.flatnonzero(core)[[0, -1]])
    length, move = round(GROWTH_TURNS * pitch / step), max(1, round(pitch / 4 / step))

    def goes_on(start: int) -> bool:
        part = slice(start, start + length)
        found = _explained(face[:, part], along[part], np.array([pitch]))[0]
        return bool(found > GOES_ON * share)

    while first - move >= 0 and goes_on(first - move):
        first -= move
    while last + move < len(along) and goes_on(last + move - length):
        last += move
    wide = np.zeros(len(along), np.bool_)
    wide[first : last + 1] = True
    return wide


def _unrolled(photo: Photo, scene: Scene, seen: Outline, barrel: Barrel) -> tuple[Image, Vector]:
    """Brightness of the face along bands, its trend taken out, (bands, columns)."""
    along = np.arange(barrel.from_mm - GROWTH_MM, barrel.to_mm + GROWTH_MM, seen.pixel_mm)
    lines = np.arange(LINES_PER_BAND) - (LINES_PER_BAND - 1) / 2
    angles = (BANDS_RAD[:, None] + LINE_RAD * lines).ravel()
    axis: Axis = seen.axis
    up = scene.centre_mm - axis.point_mm
    up = up - (up @ axis.direction) * axis.direction
    up /= np.linalg.norm(up)
    left = np.cross(up, axis.direction)
    middle = (
        axis.point_mm
        + along[:, None] * axis.direction
        + (barrel.shift_mm + barrel.turned * along)[:, None] * left
    )
    radius = barrel.radius_mm + barrel.slope * along
    outward = np.cos(angles)[:, None] * up + np.sin(angles)[:, None] * left
    points = middle[None] + radius[None, :, None] * outward[:, None, :]
    px = scene.px(points.reshape(-1, 3)).astype(np.float32)
    grey = cv2.remap(
        photo.grey,
        px[:, 0].reshape(len(angles), -1),
        px[:, 1].reshape(len(angles), -1),
        cv2.INTER_LINEAR,
    )
    bands = grey.reshape(len(BANDS_RAD), LINES_PER_BAND, -1).mean(axis=1).astype(np.float64)
    return np.asarray(bands - gaussian_filter1d(bands, TREND_MM / seen.pixel_mm, axis=1)), along


def _explained(face: Image, along: Vector, pitches: Vector) -> Vector:
    """Mean share of each band's wander that a pitch and two harmonics explain, (pitches,)."""
    window = np.hanning(len(along) + 2)[1:-1]
    window = window / window.sum()
    power = (face**2 @ window)[:, None] + LEAST_LEVELS**2
    shares = np.zeros(len(pitches))
    for harmonic in (1, 2, 3):
        waves = np.exp(2j * np.pi * harmonic * along[:, None] / pitches)
        amplitude = 2 * np.abs((face * window) @ waves)
        shares += (amplitude**2 / 2 / power).mean(axis=0)
    return shares


def _laid(side: Side, barrel: Barrel, pitch: float) -> Followed:
    """Turns at even steps along one side, as far as the tops of its crests line up."""
    along, tops = _tops(side, barrel, pitch)
    line, on = _lined_up(along, tops)
    numbers = np.arange(int((barrel.to_mm - barrel.from_mm) / pitch))
    if on.sum() < LEAST_TURNS:
        line, rest = _line(*_stretch(side, barrel.from_mm, barrel.to_mm))
        scatter, u_px = 1.4826 * float(np.median(np.abs(rest))), UNSURE_U_PX
    else:
        scatter, u_px = float(np.std(tops[on] - np.polyval(line, along[on]))), None
        first, last = (along[on][[0, -1]] - barrel.from_mm) / pitch - 0.5
        numbers = numbers[(numbers > first - 1) & (numbers < last + 1)]
    places = barrel.from_mm + (numbers + 0.5) * pitch
    turns = tuple(
        Turn(int(n), float(a), float(np.polyval(line, a)), scatter, side.sign)
        for n, a in zip(numbers, places, strict=True)
    )
    return Followed(turns, pitch, np.zeros(BINS), line, scatter, (), u_px)


def _tops(side: Side, barrel: Barrel, pitch: float) -> tuple[Vector, Vector]:
    """Where the outline is farthest from the axis in each pitch along it, and how far."""
    along, off = _stretch(side, barrel.from_mm, barrel.to_mm)
    number = ((along - barrel.from_mm) / pitch).astype(np.int64)
    numbers, tops, count = quantiles(off, number, TOP_SHARE)
    enough = count > LEAST_OF_TURN * count.max()
    places = [
        along[(number == n) & (off >= top)].mean()
        for n, top in zip(numbers[enough], tops[enough], strict=True)
    ]
    return np.array(places), tops[enough]


def _lined_up(along: Vector, tops: Vector) -> tuple[Vector, NDArray[np.bool_]]:
    """The line with most tops on it and fewest beyond, as chamfer and lost edges lie below."""
    first, second = np.triu_indices(len(along), 2)
    if len(first) == 0:
        return np.zeros(2), np.zeros(len(along), np.bool_)
    slope = (tops[second] - tops[first]) / (along[second] - along[first])
    off = tops - tops[first, None] - slope[:, None] * (along - along[first, None])
    on = np.abs(off) < ON_LINE_MM
    score = on.sum(axis=1) - (off >= ON_LINE_MM).sum(axis=1) - np.abs(slope)
    score[np.abs(slope) > MOST_TURNED + MOST_TAPER] = 0
    best = on[int(np.argmax(score))]
    return np.polyfit(along[best], tops[best], 1), best
