"""From fixed pixels to the thread's sizes: one pure function, run once for every cause of doubt."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis, Heading
from photomeasure.thread.rest import CORNER_RATIO, Features, Play, Posture, Rest, solve

__all__ = [
    "FACE_CLOSER",
    "NAMES",
    "SIDE_TILT",
    "Causes",
    "Sizes",
    "Slopes",
    "cone_rise",
    "faced",
    "sizes",
    "with_face",
]

Vector = NDArray[np.float64]

END_GAP_MM = 0.5  # a wider gap in the outline is no longer the thread's end
# Of radius times lean: how far the round of a tipped end stands out; by scenes for tuning
END_BULGE, END_BULGE_U = 0.6, 0.4
PITCH_BY_DOUBT = 0.6  # of an edge's doubt, over the thread's length
PITCH_DRIFT = 0.0010  # of one side's pitch, by its own light
LAST_CREST = 0.65  # of a pitch: run-out seen as a crest, or a crest missed; as seen of level parts
SIDE_TILT = 1.2  # of an edge's doubt, over the thread's length; as clear and faint sides were seen
SIDE_TILT_U_MM = 0.02  # of the clearest edge, over the same length
# Of the pitch by the lines on the face. They lie deeper than the crests, so they look closer; both
# over rendered scenes kept for tuning
FACE_CLOSER, FACE_PITCH_U = 0.002, 0.006
FACE_ASTRAY = 0.03  # from the outline's: one of both is wrong, and they are not averaged
OFF_HEADING = 3.0  # of their uncertainty: crest lines that show another heading are left out
LEAST_BEFORE_RUN_OUT = 5  # turns; the last one seems 0.011 of a pitch too far in
NAMES = ("crest_diameter", "pitch", "taper_half_angle", "across_flats", "small_end", "length")


@dataclass(frozen=True, slots=True)
class Causes:
    """What is not in the picture, at its best estimate unless shifted.

    Attributes
    ----------
    corner_ratio : float
        Width over corners by across flats.
    lift_mm, lean_rad : float
        Of the axis, over what the posture says.
    outward_mm : float
        Edges lie this much farther out than seen.
    heading_rad : float or None [rad]
        Of the axis in plan, by the crest lines on the face; None where they do not tell it.
    heading_u_rad : float [rad]
    face_spacing : float or None
        Of the crest lines on the face, in the outline's pitches.
    """

    corner_ratio: float = CORNER_RATIO
    lift_mm: float = 0.0
    lean_rad: float = 0.0
    outward_mm: float = 0.0
    heading_rad: float | None = None
    heading_u_rad: float = np.inf
    face_spacing: float | None = None


def faced(causes: Causes, heading: Heading | None, spacing: float | None) -> Causes:
    """Causes with what the crest lines on the face tell: the axis' heading and the pitch."""
    if heading is not None:
        causes = replace(causes, heading_rad=heading.rad, heading_u_rad=heading.u_rad)
    return replace(causes, face_spacing=spacing)


@dataclass(frozen=True, slots=True)
class Slopes:
    """How fast the crests of either side leave the solved axis from the free end on [rad].

    Attributes
    ----------
    left, right : float
        Of the axis' direction from the free end, as the camera sees it.
    left_u, right_u : float
    """

    left: float
    right: float
    left_u: float
    right_u: float


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """Sizes of the thread, and the fit that they come from.

    Attributes
    ----------
    vector : (6,)
        In the order of `NAMES`; mm, taper in degrees; 0 where there is no hexagon.
    rest : Rest
    noise : (6,)
        Standard uncertainty by the scatter of the turns alone.
    middle_mm : float
        Where the crest diameter is taken, from the end face.
    from_end : int
        1 if the axis points from the free end into the part, else -1.
    end_mm : float
        Axial place of the end face.
    scatter_mm : float
        Of crest heights about the fitted cone.
    cone : (2,)
        Radius at the axis' place zero, and its rise along the axis.
    taper_shares : (left, right)
        How much of each side's slope is in the cone's.
    slopes : Slopes
    """

    vector: Vector
    rest: Rest
    noise: Vector
    middle_mm: float
    from_end: int
    end_mm: float
    scatter_mm: float
    cone: Vector
    taper_shares: Vector
    slopes: Slopes


def sizes(scene: Scene, features: Features, axis: Axis, posture: Posture, causes: Causes) -> Sizes:
    """Solve posture and thread for one state of the world.

    Parameters
    ----------
    scene : Scene
    features : Features
    axis : Axis
        Start.
    posture : Posture
    causes : Causes

    Returns
    -------
    Sizes
    """
    play = Play(causes.corner_ratio, causes.lift_mm, causes.lean_rad)
    rest = solve(scene, features, axis, posture, play)
    return _sized(features, rest, causes)


def _sized(features: Features, rest: Rest, causes: Causes) -> Sizes:
    from_end, outward_mm = _from_end(rest), causes.outward_mm
    along, off = from_end * rest.along_mm, rest.off_mm + outward_mm
    middle = float(along.mean())
    signs = features.turn_signs
    cone = np.column_stack([np.ones_like(along), along - middle, signs, signs * (along - middle)])
    if np.all(signs == signs[0]):
        cone = cone[:, :2]
    fit, cover, scatter = _least_squares(cone, off)
    tilts_u = _tilts_u(features, along)
    rise, shares = cone_rise(fit, tilts_u, _turned(rest, causes, from_end))
    pitch, pitch_u = with_face(*_pitch(features, along), causes.face_spacing)
    round_ = float(fit[0] * abs(np.tan(rest.axis.rise_rad)))
    end = _end_face(rest, from_end) + END_BULGE * round_
    taper = np.degrees(np.arctan(rise))
    depth = middle - end
    last = float(along.max()) - end
    vector = np.array(
        [
            2 * fit[0],
            pitch,
            taper,
            rest.across_flats_mm + 2 * outward_mm / 1.1 if rest.across_flats_mm else 0.0,
            2 * (fit[0] - rise * depth),
            last,
        ]
    )
    u_radius, u_slope = np.sqrt(cover[0, 0]), np.sqrt(2 * cover[1, 1]) * float(np.hypot(*shares))
    noise = np.array(
        [
            2 * u_radius,
            pitch_u,
            np.degrees(u_slope),
            0.0,
            2 * np.hypot(u_radius, u_slope * depth),
            float(np.hypot(LAST_CREST * pitch, END_BULGE_U * round_)),
        ]
    )
    cone_at_zero = np.array([fit[0] - rise * middle, from_end * rise])
    slopes = _slopes(fit, tilts_u, from_end)
    return Sizes(vector, rest, noise, depth, from_end, end, scatter, cone_at_zero, shares, slopes)


def _slopes(fit: Vector, u: Vector, from_end: int) -> Slopes:
    """Of both sides as seen from the free end; one that is not there is not known."""
    if len(fit) < 4:
        return Slopes(float(fit[1]), float(fit[1]), np.inf, np.inf)
    left, right = fit[1] + from_end * fit[3], fit[1] - from_end * fit[3]
    left_u, right_u = u[::from_end]
    return Slopes(float(left), float(right), float(left_u), float(right_u))


def _turned(rest: Rest, causes: Causes, from_end: int) -> tuple[float, float] | None:
    """How far left of the solved axis the crest lines see it, from the free end, and its u."""
    if causes.heading_rad is None:
        return None
    turned = causes.heading_rad - rest.axis.heading_rad
    return from_end * float((turned + np.pi / 2) % np.pi - np.pi / 2), causes.heading_u_rad


def _tilts_u(features: Features, along_mm: Vector) -> Vector:
    """How well the slope of the left and of the right side is known."""
    doubts = SIDE_TILT * np.array(features.doubts_mm)
    sides = (along_mm[features.turn_signs == sign] for sign in (1, -1))
    reach = [max(float(np.ptp(side)), 1.0) if len(side) else 1.0 for side in sides]
    return np.asarray(np.hypot(doubts, SIDE_TILT_U_MM) / np.array(reach))


def cone_rise(fit: Vector, u: Vector, turned: tuple[float, float] | None) -> tuple[float, Vector]:
    """Slope of the crests' cone: a faint side counts for less where it can.

    Parameters
    ----------
    fit : (4,) or (2,)
        Radius, mean slope of the sides and, where there are two, half their differences.
    u : (left, right)
        How well either side's slope is known.
    turned : (slope, u) or None
        By how much the axis runs farther left than supposed, as the crest lines show it.

    Returns
    -------
    rise : float
    shares : (left, right)
        Of either side's slope in it.

    Notes
    -----
    The sides' mean tells the cone and their difference the heading. Where crest lines tell the
    heading, too, each side alone tells the cone, and the clearer one decides (least squares).
    """
    if turned is None or len(fit) < 4:
        return float(fit[1]), np.full(2, 0.5)
    heading, heading_u = turned
    if abs(heading - fit[3]) > OFF_HEADING * np.hypot(heading_u, np.hypot(*u) / 2):
        return float(fit[1]), np.full(2, 0.5)
    design = np.array([[1.0, 1.0], [1.0, -1.0], [0.0, 1.0]])
    weighed = design.T / np.append(u, heading_u) ** 2
    gains = np.linalg.solve(weighed @ design, weighed)[0]
    seen = np.array([fit[1] + fit[3], fit[1] - fit[3], heading])
    return float(gains @ seen), np.asarray(gains[:2])


def _pitch(features: Features, along_mm: Vector) -> tuple[float, float]:
    """Pitch and its uncertainty; the side whose turns scatter less counts for more."""
    found = []
    for sign in np.unique(features.turn_signs):
        side = _before_run_out(features.turn_signs == sign, along_mm)
        screw = np.column_stack([features.turn_numbers[side], np.ones(side.sum())])
        run, cover, _ = _least_squares(screw, along_mm[side])
        few = 1 + 2 / max(side.sum() - 2, 1)
        doubt = features.doubts_mm[0 if sign > 0 else 1] / max(float(np.ptp(along_mm[side])), 1.0)
        drift = np.hypot(PITCH_DRIFT, PITCH_BY_DOUBT * doubt) * run[0]
        found.append((abs(float(run[0])), few * cover[0, 0] + drift**2))
    pitches, variances = np.array(found).T
    weights = 1 / variances
    return float(weights @ pitches / weights.sum()), float(weights.sum() ** -0.5)


def _before_run_out(side: NDArray[np.bool_], along_mm: Vector) -> NDArray[np.bool_]:
    """One side's turns but the last, whose groove fills on one flank, where enough are left."""
    if side.sum() < LEAST_BEFORE_RUN_OUT + 1:
        return side
    return np.asarray(side & (along_mm < along_mm[side].max()))


def with_face(pitch_mm: float, u_mm: float, spacing: float | None) -> tuple[float, float]:
    """Weigh the outline's pitch and that of the crest lines on the face.

    Parameters
    ----------
    pitch_mm, u_mm : float [mm]
        By the outline.
    spacing : float or None
        Of the lines, in the outline's pitches.

    Returns
    -------
    pitch_mm, u_mm : float [mm]
    """
    if spacing is None or abs(spacing - 1) > FACE_ASTRAY:
        return pitch_mm, u_mm
    weight = u_mm**2 / (u_mm**2 + (FACE_PITCH_U * pitch_mm) ** 2)
    off = spacing * (1 + FACE_CLOSER) - 1
    return pitch_mm * (1 + weight * off), u_mm * float(np.sqrt(1 - weight))


def _least_squares(design: Vector, seen: Vector) -> tuple[Vector, Vector, float]:
    """Robust linear fit: solution, covariance and scatter (by the median, at least 2 um)."""
    weight = np.ones(len(seen))
    for _ in range(5):
        weighed = design.T * weight
        fit = np.linalg.solve(weighed @ design, weighed @ seen)
        rest = seen - design @ fit
        free = max(1.0, len(seen) - design.shape[1])
        scatter = max(float(np.sqrt((weight * rest**2).sum() / free)), 0.002)
        weight = 1 / np.maximum(1, np.abs(rest) / (2 * scatter))
    normal = (design.T * weight) @ design
    return np.asarray(fit), np.asarray(scatter**2 * np.linalg.pinv(normal)), scatter


def _from_end(rest: Rest) -> int:
    """The free end is the one away from the hexagon, else the nearer end of the part."""
    middle = float(rest.along_mm.mean())
    if rest.hexagon_mm is not None:
        return 1 if np.mean(rest.hexagon_mm) > middle else -1
    low, high = np.percentile(rest.profile_along_mm, (1, 99))
    return 1 if middle - low < high - middle else -1


def _end_face(rest: Rest, from_end: int) -> float:
    """Axial place, counted from the free end, where the outline begins."""
    along = from_end * rest.profile_along_mm
    first = float((from_end * rest.along_mm).min())
    wide = rest.profile_off_mm > 0.6 * float(np.median(rest.off_mm))
    outward = np.sort(along[(along < first) & wide])[::-1]
    gaps = np.flatnonzero(-np.diff(np.append(first, outward)) > END_GAP_MM)
    reached = outward[: gaps[0]] if len(gaps) else outward
    return float(reached[-1]) if len(reached) else first
