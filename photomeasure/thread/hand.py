"""Right or left: the lean of the crest lines across the visible face.

The face is unrolled about the solved axis. There a helix is a straight line that shifts by one lead
a turn, while a wrong rise of the axis bends every line into the same even curve. Each angle's
row is reduced to its harmonics of the pitch; rows some degrees apart are compared at every shift,
and the lean at which they agree best is told in pitches a turn: 1 is a right-hand thread of one
start, -1 a left-hand one. Mirroring the picture turns the sign and nothing else.

A wrong heading of the axis leans all lines alike; `hands` weighs what tells them apart.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.axis import Heading
from photomeasure.thread.hands import (
    LEAN_BY_HEADING,
    SEVERAL_STARTS,
    SIDES_U,
    HandSeen,
    heading_odds,
    weighed,
)
from photomeasure.thread.look import Seen
from photomeasure.thread.values import Sizes

__all__ = [
    "LEAST_AGREEMENT",
    "CrestLean",
    "crest_lean",
    "hand_of",
    "heading_of",
    "lean_of",
]

Vector = NDArray[np.float64]  # (N,)
Waves = NDArray[np.complex128]  # (angles, harmonics)

WIDEST_DEG = 66  # from the line nearest to the camera; farther the flanks hide each other
APART_DEG = (6, 12, 20)  # rows that are compared
LEANS = np.round(np.arange(-4.0, 4.001, 0.1), 1)  # pitches a turn
RISES = np.linspace(-0.6, 0.6, 25)  # errors of the axis' rise, as a tangent
FINE_RISES = np.linspace(-0.6, 0.6, 121)
HARMONICS = 6
LOG_SPACINGS, SPACING_HARMONICS = np.linspace(-0.12, 0.12, 97), 3
NEAR_RAD = np.radians(50)  # rows beyond are too narrow to count lines on
LEAST_PX = 2.5  # a period of the finest harmonic that is used
DARK = 4.0  # grey levels: below, differences are noise
# Over rendered scenes kept for tuning, the axis' heading held against its truth
HEADING_BY_LINES_U, MOST_HEADING_U = np.radians(0.25), np.radians(0.8)
LAID_U = 0.4  # in helix angles: a faint side's crests may be laid a third of a pitch off
MANY_STARTS = 0.1
LEAST_AGREEMENT = 0.4


@dataclass(frozen=True, slots=True)
class CrestLean:
    """How the crest lines lean.

    Attributes
    ----------
    pitches_a_turn : float
        Above zero for a right-hand thread.
    agreement : float
        Of rows laid along that lean, 1 at best.
    rise_rad : float [rad]
        How much farther the axis' direction turns to the camera than the face was unrolled about.
    spacing : float
        Of the lines along the axis, in the pitches that were supposed.
    """

    pitches_a_turn: float
    agreement: float
    rise_rad: float
    spacing: float = 1.0


def hand_of(seen: Seen, best: Sizes) -> HandSeen:
    """Tell hand and starts of a solved thread from its photo.

    Parameters
    ----------
    seen : Seen
    best : Sizes

    Returns
    -------
    HandSeen
    """
    return _hand_by(lean_of(seen, best), seen, best)


def heading_of(lean: CrestLean, seen: Seen, best: Sizes) -> Heading | None:
    """Tell where the axis runs by the lean of the crest lines, once the hand is known.

    Parameters
    ----------
    lean : CrestLean
        Of the lines unrolled about the axis of `best`.
    seen : Seen
    best : Sizes

    Returns
    -------
    Heading or None
        None where the thread may have several starts, or either hand may have another heading.
    """
    told = _hand_by(lean, seen, best)
    heading = best.rest.axis.heading_rad
    if told.several_starts > MANY_STARTS:
        return None
    if told.hand == "unknown":
        u = max(np.radians(told.turned_u_deg), HEADING_BY_LINES_U)
        is_told = u < MOST_HEADING_U
        return Heading(heading + np.radians(told.turned_deg), u) if is_told else None
    off = lean.pitches_a_turn - (1 if told.hand == "right" else -1)
    turned = off / LEAN_BY_HEADING * _helix_rad(best)
    return Heading(heading + turned, HEADING_BY_LINES_U)


def _hand_by(lean: CrestLean, seen: Seen, best: Sizes) -> HandSeen:
    if lean.agreement < LEAST_AGREEMENT:
        return HandSeen(0.5, SEVERAL_STARTS)
    helix_deg = float(np.degrees(_helix_rad(best)))
    sides = (_sides_apart(seen, best), _sides_u(seen))
    return weighed(lean.pitches_a_turn, sides, helix_deg, heading_odds(best.slopes))


def _helix_rad(best: Sizes) -> float:
    """Of a single start."""
    return float(best.vector[1] / (np.pi * best.vector[0]))


def lean_of(seen: Seen, best: Sizes) -> CrestLean:
    """Lean and bend of the crest lines of a solved thread.

    Parameters
    ----------
    seen : Seen
    best : Sizes

    Returns
    -------
    CrestLean
    """
    return crest_lean(*_unrolled(seen, best), float(best.vector[1]), float(best.vector[0]) / 2)


def _sides_u(seen: Seen) -> float:
    if np.ptp(seen.turns.shape_mm) == 0:
        return np.inf  # turns that were laid on a face tell nothing of the sides
    return LAID_U if seen.turns.has_likeness else SIDES_U


def _sides_apart(seen: Seen, best: Sizes) -> float:
    """Phase of the left side's crests less the right side's, in pitches."""
    turn = np.exp(2j * np.pi * best.rest.along_mm / best.vector[1])
    signs = seen.features.turn_signs
    left, right = (turn[signs == sign].sum() for sign in (1, -1))
    return float(np.angle(left * right.conj())) / (2 * np.pi)


def crest_lean(
    angles_rad: Vector,
    along_mm: Vector,
    face: NDArray[np.float64],
    pitch_mm: float,
    radius_mm: float,
) -> CrestLean:
    """Lean of the lines of an unrolled face.

    Parameters
    ----------
    angles_rad : (A,) [rad]
        Evenly spaced; growing to the left of the axis' direction as the camera sees it.
    along_mm : (Z,) [mm]
        Evenly spaced.
    face : (A, Z)
        Grey levels.
    pitch_mm, radius_mm : float [mm]

    Returns
    -------
    CrestLean

    Notes
    -----
    A right-hand helix falls by one pitch along the axis for each turn to the left (own derivation).
    """
    light = _light(along_mm, face, pitch_mm)
    waves = _waves(along_mm, light, pitch_mm)
    unrolled = (waves, angles_rad, radius_mm / pitch_mm)
    agreement = _agreement(unrolled, LEANS, RISES)
    lean = LEANS[int(np.argmax(agreement.max(axis=1)))]
    fine = _agreement(unrolled, np.array([lean]), FINE_RISES)[0]
    return CrestLean(
        float(lean),
        float(agreement.max()),
        float(np.arctan(_peak(fine, FINE_RISES))),
        _spacing(along_mm, light[np.abs(angles_rad) < NEAR_RAD], pitch_mm),
    )


def _peak(heights: Vector, steps: Vector) -> float:
    """Where evenly spaced heights are highest, between the steps (parabola)."""
    at = int(np.clip(np.argmax(heights), 1, len(heights) - 2))
    before, here, after = heights[at - 1 : at + 2]
    curve = before - 2 * here + after
    shift = 0.5 * (before - after) / curve if curve < 0 else 0.0
    return float(steps[at] + np.clip(shift, -1, 1) * (steps[1] - steps[0]))


def _agreement(unrolled: tuple[Waves, Vector, float], leans: Vector, rises: Vector) -> Vector:
    """How well rows agree at every lean and rise, (leans, rises), 1 at best."""
    waves, angles, radius = unrolled
    orders = np.arange(1, waves.shape[1] + 1)
    step = float(angles[1] - angles[0])
    agreement, total = np.zeros((len(leans), len(rises))), 1e-12
    for apart in APART_DEG:
        rows = round(np.radians(apart) / step)
        pair = waves[:-rows] * waves[rows:].conj()
        bend = radius * (np.cos(angles[:-rows]) - np.cos(angles[rows:]))
        bent = np.exp(-2j * np.pi * rises[:, None, None] * bend[:, None] * orders)
        sums = (pair * bent).sum(axis=1)
        shift = -leans * rows * step / (2 * np.pi)
        agreement += np.real(np.exp(-2j * np.pi * shift[:, None] * orders) @ sums.T)
        total += float(np.abs(pair).sum())
    return np.asarray(agreement / total)


def _light(along: Vector, face: NDArray[np.float64], pitch: float) -> NDArray[np.float64]:
    """Logarithm of light along each row, less its mean over a turn, fading to both ends."""
    turn = max(3, round(pitch / float(along[1] - along[0])))
    light = np.log(face + DARK)
    light = light - cv2.blur(light, (turn, 1), borderType=cv2.BORDER_REPLICATE)
    return np.asarray(light * np.sqrt(np.hanning(len(along) + 2)[1:-1]))


def _orders(along: Vector, pitch: float, most: int) -> NDArray[np.int64]:
    """Harmonics of the pitch that the pixels carry."""
    return np.arange(1, max(1, min(most, int(pitch / (along[1] - along[0]) / LEAST_PX))) + 1)


def _waves(along: Vector, light: NDArray[np.float64], pitch: float) -> Waves:
    """Harmonics of the pitch in each row, high ones raised, strong rows held down."""
    orders = _orders(along, pitch, HARMONICS)
    waves = light @ np.exp(-2j * np.pi * along[:, None] / pitch * orders) * orders
    waves = waves / np.sqrt(np.hanning(len(along) + 2)[1:-1]).sum()
    size = np.linalg.norm(waves, axis=1, keepdims=True)
    return np.asarray(waves / np.sqrt(size + 1e-3 * size.max() + 1e-9))


def _spacing(along: Vector, light: NDArray[np.float64], pitch: float) -> float:
    """The period that explains most of the rows' light, in pitches."""
    rows = light / np.sqrt((light**2).sum(axis=1, keepdims=True) + 1e-9)
    shares = np.zeros(len(LOG_SPACINGS))
    for order in _orders(along, pitch, SPACING_HARMONICS):
        waves = rows @ np.exp(-2j * np.pi * order * along[:, None] / (pitch * np.exp(LOG_SPACINGS)))
        shares += (np.abs(waves) ** 2).mean(axis=0)
    return float(np.exp(_peak(shares, LOG_SPACINGS)))


def _unrolled(seen: Seen, best: Sizes) -> tuple[Vector, Vector, NDArray[np.float64]]:
    """The face over the crests' cone: angles, places along the axis, and grey levels."""
    scene, axis, places = seen.scene, best.rest.axis, best.rest.along_mm
    half = float(best.vector[1]) / 2
    along = np.arange(places.min() - half, places.max() + half, seen.outline.pixel_mm)
    angles = np.radians(np.arange(-WIDEST_DEG, WIDEST_DEG + 1.0))
    up = scene.centre_mm - axis.point_mm
    up = up - (up @ axis.direction) * axis.direction
    up = up / np.linalg.norm(up)
    left = np.cross(up, axis.direction)
    slope = best.from_end * np.tan(np.radians(best.vector[2]))
    radii = best.vector[0] / 2 + slope * (along - places.mean())
    out = np.cos(angles)[:, None] * up + np.sin(angles)[:, None] * left
    feet = axis.point_mm + along[:, None] * axis.direction
    points = feet + radii[:, None] * out[:, None, :]
    px = scene.px(points.reshape(-1, 3))
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - 3, 0)
    high = np.maximum(np.ceil(px.max(axis=0)).astype(int) + 4, low + 1)
    grey = seen.photo.grey[low[1] : high[1], low[0] : high[0]]
    maps = (px - low).astype(np.float32).reshape(*points.shape[:2], 2)
    face = cv2.remap(
        grey, maps[..., 0], maps[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return angles, along, np.asarray(face, np.float64)
