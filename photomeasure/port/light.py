"""What light does to where crests are seen: a curve round the wall that all turns share.

The edge between a lit flank and a dark crest is seen a little farther up or down at the wall's
sides than at its middle. A rounded crest mirrors the mouth from higher up the more it is seen from
the side; a sharp one hardly does. Whatever else light does is left to the photo: a free curve.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.points import CrestPoints

__all__ = ["COMMON", "LightCurve", "curve_terms", "known_curve", "lit_rad", "spill_of", "wave_of"]

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

AT_RAD, LEAST_AT_RAD = float(np.radians(60.0)), float(np.radians(25.0))
LIT_SHARE = 0.85  # of the edges by their weights
KNOTS_RAD = np.radians(np.arange(-80.0, 81.0, 20.0))
WHITWORTH_PITCHES_MM = 25.4 / np.array([28.0, 19.0, 14.0, 11.0])  # BS EN ISO 228-1
LIKE_PITCH = 0.015
# By whether the pitch is Whitworth's and the thread tapered, like all that follows by scenes for
# tuning: an edge is seen farther out where turns lie close in the picture, at the sides [times the
# picture's blur]; bend at 60 degrees [pitches, deeper], middle and standard uncertainty
EDGES = {(False, False): 0.77, (True, False): 0.95, (False, True): 0.7, (True, True): 1.35}
EDGE_U_PX = 0.2
BENDS = {
    (False, False): (0.0, 0.018),
    (True, False): (-0.015, 0.05),
    (False, True): (0.0, 0.03),
    (True, True): (-0.05, 0.03),
}
LEAN_U, KNOT_U, STEP_U = 0.06, 0.01, 0.3  # pitches
CHANGES_U = (0.02, 0.03, 0.02)  # from the middle to either end of the thread
# Full light spills over the edge, farther on a rounded crest, which mirrors it, too [px]
PEAKS, SPILLS = (0.6, 0.85, 0.95, 1.0), (0.0, 0.2, 0.45, 1.0)
SHARP_SPILL_PX, ROUND_SPILL_PX, SPILL_SHARE = 0.45, 1.0, 0.6
BIN_RAD = float(np.radians(10.0))
USUAL_WAVE, WAVE_COSTS = 0.015, 8.0
BEND_OF_WAVE = 2.2  # light that waves more bends more, too
COMMON, LEAN, BEND = 4, 2, 3  # terms: so many that are no wave, the lean and the bend


@dataclass(frozen=True, slots=True, eq=False)
class LightCurve:
    """What is known beforehand of the curve: middle and standard uncertainty of each term.

    The terms are those of `curve_terms`; lean and bend are those at `at_rad`.
    """

    middle: Vector
    u: Vector
    at_rad: float

    def stretch(self, wave: float) -> float:
        """By how much more than usual light bends the curve that waves so much."""
        return max(1.0, BEND_OF_WAVE * wave / float(self.u[BEND]))

    def strain(self, light: Vector, wave: float) -> float:
        """How unlikely a curve is that waves so much (chi-squared); a lean is no wave."""
        wavier = np.full(len(light), max(1.0, wave / USUAL_WAVE))
        wavier[LEAN] = 1.0
        away = (light - self.middle) / (self.u * wavier)
        return float(away @ away + WAVE_COSTS * np.log(wavier.max()))


def known_curve(
    pitch_mm: float,
    is_tapered: bool,
    blur_px: float = 1.0,
    at_rad: float = AT_RAD,
    steps: int = 0,
) -> LightCurve:
    """What is known of the curve before the photo is looked at.

    Parameters
    ----------
    pitch_mm : float [mm]
    is_tapered : bool
    blur_px : float [px]
        Of the picture, as a standard deviation.
    at_rad : float [rad]
        How far to the sides the light reaches: what is lit less far bends as much over it.
    steps : int
        Between stretches of the wall, from a crest's one edge to its other.

    Returns
    -------
    LightCurve
    """
    is_round = bool(np.any(np.abs(pitch_mm / WHITWORTH_PITCHES_MM - 1) < LIKE_PITCH))
    bend, bend_u = BENDS[is_round, is_tapered]
    spill = ROUND_SPILL_PX if is_round else SHARP_SPILL_PX
    middles = np.zeros(7 + len(KNOTS_RAD))
    edge_px = EDGES[is_round, is_tapered] * blur_px
    middles[:4] = edge_px, -spill, 0.0, bend * (at_rad / AT_RAD) ** 2
    us = np.full(len(middles), KNOT_U)
    us[:7] = EDGE_U_PX, SPILL_SHARE * spill, LEAN_U, bend_u, *CHANGES_U
    free = np.zeros(steps)
    return LightCurve(np.concatenate([middles, free]), np.concatenate([us, free + STEP_U]), at_rad)


def lit_rad(sides_rad: Vector, weights: Vector) -> float:
    """How far to the sides the light reaches.

    Parameters
    ----------
    sides_rad : (N,) [rad]
    weights : (N,)

    Returns
    -------
    float [rad]
        Not beyond where a full curve's lean and bend are given.
    """
    order = np.argsort(np.abs(sides_rad))
    share = np.cumsum(weights[order]) / weights.sum()
    place = min(int(np.searchsorted(share, LIT_SHARE)), len(order) - 1)
    return float(np.clip(np.abs(sides_rad[order[place]]), LEAST_AT_RAD, AT_RAD))


def curve_terms(at_rad: float, crests: CrestPoints, pitch_px: Vector) -> Matrix:
    """Terms of the curve at points, (N, K) [px, outwards].

    Parameters
    ----------
    at_rad : float [rad]
        Where lean and bend are given.
    crests : CrestPoints
    pitch_px : (N,)
        How far out a line moves that lies a pitch deeper.

    Returns
    -------
    (N, K)
        Of a pixel: an edge's place, spilt light. Of a pitch: a lean, a bend, what of these changes
        with depth; hats at knots; steps between stretches.
    """
    sides_rad, turns = crests.sides_rad, crests.turns.astype(np.float64)
    share = sides_rad / at_rad
    deep = (turns - turns.mean()) / max(float(np.ptp(turns)) / 2, 1.0)
    step = KNOTS_RAD[1] - KNOTS_RAD[0]
    hats = np.maximum(1 - np.abs(sides_rad[:, None] - KNOTS_RAD) / step, 0)
    changing = (deep**2, deep * share, deep * share**2)
    steps = crests.parts[:, None] == crests.other_parts
    depths = np.column_stack([share, share**2, *changing, hats, steps]) * pitch_px[:, None]
    return np.column_stack([np.ones_like(share), crests.spills, depths])


def spill_of(peaks: Vector) -> Vector:
    """How much of full light's spill there is beside light of such a peak, (N,), 0 to 1."""
    return np.interp(peaks, PEAKS, SPILLS)


def wave_of(sides_rad: Vector, away: Vector, weights: Vector) -> float:
    """How much points on all turns lie off their lines together at the same side.

    Parameters
    ----------
    sides_rad : (N,) [rad]
    away : (N,)
    weights : (N,)

    Returns
    -------
    float
        Rms, in the unit of `away`.
    """
    bins = np.rint(sides_rad / BIN_RAD).astype(int)
    every = np.unique(bins)
    found = np.array([np.median(away[bins == one]) for one in every])
    counts = np.array([weights[bins == one].sum() for one in every])
    middle = np.average(found, weights=counts)
    return float(np.sqrt(np.average((found - middle) ** 2, weights=counts)))
