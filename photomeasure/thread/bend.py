"""Which way the part rests, by the bend of the crest lines on its face.

Unrolled about the right axis the crest lines run straight; about one that rises too little or too
much they bend, evenly to both sides, by the radius times the tangent of the error. So the face
tells how far a posture's axis leans wrong, whatever the outline says.
"""

from dataclasses import dataclass, replace

import numpy as np

from photomeasure.errors import MeasuringError
from photomeasure.photo import Photo
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis, Heading
from photomeasure.thread.budget import lean_u_rad
from photomeasure.thread.hand import LEAST_AGREEMENT, heading_of, lean_of
from photomeasure.thread.look import Seen, look
from photomeasure.thread.rest import Features, Posture
from photomeasure.thread.values import SIDE_TILT, Causes, Sizes, sizes

__all__ = ["Lean", "by_crest_lines", "leaned", "looked"]

# Over rendered scenes kept for tuning: of the bend, and of a tipped posture's own lean
U_RAD, TIPPED_U_RAD = np.radians(1.2), np.radians(1.8)
BEND_U_RAD = 0.016  # of a rise by the bend of the crest lines; over the same scenes
MOST_BENT = 3.0  # of their uncertainty: the lines, or what touches, are taken for others
CLEAR_AGREEMENT = 0.85  # of lines that are surely the thread's
SURE = 0.9  # of a posture that need not be weighed again where the lines run straight
ASTRAY, FAINTER = 3.0, 2.0  # of its uncertainty; of the clearer side's
LOOK_AGAIN_RAD, SURE_HEADING_RAD = np.radians(0.35), np.radians(0.3)
SLIP, SLIP_RANGE_RAD = 0.05, np.radians(60.0)


def looked(photo: Photo, scene: Scene, sheet: FoundPiece) -> Seen:
    """Look; and again along the crest lines' heading, where a side was laid that runs against it.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    sheet : FoundPiece

    Returns
    -------
    Seen
    """
    seen = by_crest_lines(look(photo, scene, sheet))
    off = _off_heading_rad(seen)
    if off < LOOK_AGAIN_RAD or seen.heading is None or not seen.turns.has_likeness:
        return seen
    try:
        again = by_crest_lines(look(photo, scene, sheet, seen.heading.rad))
    except MeasuringError:
        return seen
    is_better = _off_heading_rad(again) < off and again.is_aimed_at >= seen.is_aimed_at
    return again if is_better else seen


def _off_heading_rad(seen: Seen) -> float:
    """How far the axis by both sides' crests runs from that by the crest lines, if they tell it."""
    if seen.heading is None or seen.heading.u_rad > SURE_HEADING_RAD:
        return 0.0
    turned = seen.heading.rad - _tried(seen, seen.posture).rest.axis.heading_rad
    return abs(float((turned + np.pi / 2) % np.pi - np.pi / 2))


def by_crest_lines(seen: Seen) -> Seen:
    """Weigh the postures once more, by how straight they make the crest lines.

    Parameters
    ----------
    seen : Seen

    Returns
    -------
    Seen
    """
    tried = {seen.posture: _tried(seen, seen.posture)}
    best = tried[seen.posture]
    lean = lean_of(seen, best)
    if lean.agreement < LEAST_AGREEMENT:
        return seen
    up = seen.scene.centre_mm - best.rest.axis.point_mm
    seen = replace(seen, features=_widened(seen.features, best, heading_of(lean, seen, best)))
    seen = replace(
        seen,
        bent_rise_rad=_bent_rise_rad(best.rest.axis, up, lean.rise_rad),
        is_bent_clearly=lean.agreement > CLEAR_AGREEMENT,
        heading=heading_of(lean, seen, _tried(seen, seen.posture)),
        face_spacing=lean.spacing if np.ptp(seen.turns.shape_mm) > 0 else None,
    )
    if seen.chances[seen.posture] > SURE and abs(lean.rise_rad) < U_RAD:
        return seen
    tried |= {posture: _tried(seen, posture) for posture in seen.chances if posture not in tried}
    chances = {
        posture: chance
        * _fit(_turned(best.rest.axis, tried[posture].rest.axis, up), lean.rise_rad, posture)
        for posture, chance in seen.chances.items()
    }
    total = sum(chances.values())
    chances = {posture: chance / total for posture, chance in chances.items()}
    return replace(seen, chances=chances, posture=max(chances, key=chances.__getitem__))


def _widened(features: Features, best: Sizes, heading: Heading | None) -> Features:
    """A side that runs otherwise than the clear one and the heading say is doubted by as much."""
    if heading is None:
        return features
    one, u = best.slopes, np.array([best.slopes.left_u, best.slopes.right_u])
    turned = (heading.rad - best.rest.axis.heading_rad + np.pi / 2) % np.pi - np.pi / 2
    off = abs((one.left - one.right) / 2 - turned)
    faint = int(u.argmax() if best.from_end > 0 else 1 - u.argmax())
    if off < ASTRAY * np.hypot(heading.u_rad, np.hypot(*u) / 2) or u.max() < FAINTER * u.min():
        return features
    doubts = list(features.doubts_mm)
    doubts[faint] = max(doubts[faint], off * float(np.ptp(best.rest.along_mm)) / SIDE_TILT)
    return replace(features, doubts_mm=(doubts[0], doubts[1]))


@dataclass(frozen=True, slots=True)
class Lean:
    """What is added to a posture's own rise, and how well their sum is known [rad]."""

    rad: float
    u_rad: float


def leaned(seen: Seen, posture: Posture) -> Lean:
    """Weigh a posture's own rise and that by the bend of the crest lines.

    Parameters
    ----------
    seen : Seen
    posture : Posture

    Returns
    -------
    Lean
    """
    u = lean_u_rad(posture)
    if seen.bent_rise_rad is None:
        return Lean(0.0, u)
    off = seen.bent_rise_rad - _tried(seen, posture).rest.axis.rise_rad
    if abs(off) > MOST_BENT * np.hypot(u, BEND_U_RAD):
        return Lean(off, 2 * BEND_U_RAD) if seen.is_bent_clearly else Lean(0.0, u)
    gain = u**2 / (u**2 + BEND_U_RAD**2)
    return Lean(float(gain * off), float(np.sqrt(gain) * BEND_U_RAD))


def _bent_rise_rad(axis: Axis, up: np.ndarray, turned_rad: float) -> float:
    """The rise at which an axis would turn so much farther to the camera."""
    step = 0.01
    by_step = _turned(axis, replace(axis, rise_rad=axis.rise_rad + step), up)
    return axis.rise_rad + turned_rad * step / by_step


def _tried(seen: Seen, posture: Posture) -> Sizes:
    return sizes(seen.scene, seen.features, seen.axis, posture, Causes())


def _turned(here: Axis, there: Axis, up: np.ndarray) -> float:
    """How much farther one axis turns to the camera than another [rad]."""
    across = up - (up @ here.direction) * here.direction
    return float(np.arcsin(there.direction @ across / np.linalg.norm(across)))


def _fit(turned_rad: float, seen_rad: float, posture: Posture) -> float:
    u = U_RAD if posture == "flat" else np.hypot(U_RAD, TIPPED_U_RAD)
    near = np.exp(-0.5 * ((turned_rad - seen_rad) / u) ** 2) / (u * np.sqrt(2 * np.pi))
    return float((1 - SLIP) * near + SLIP / SLIP_RANGE_RAD)
