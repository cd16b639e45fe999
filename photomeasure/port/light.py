"""What light does to where crests are seen: a curve round the wall that all turns share.

The edge between a lit flank and a dark crest is seen a little farther up or down at the wall's
sides than at its middle. A rounded crest mirrors the mouth from higher up the more it is seen from
the side; a sharp one hardly does. Whatever else light does is left to the photo: a free curve.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LightCurve", "curve_terms", "known_curve", "lit_rad", "spill_of", "wave_px"]

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

AT_RAD, LEAST_AT_RAD = float(np.radians(60.0)), float(np.radians(25.0))
LIT_SHARE = 0.85  # of the edges by their weights
KNOTS_RAD = np.radians(np.arange(-80.0, 81.0, 20.0))
WHITWORTH_PITCHES_MM = 25.4 / np.array([28.0, 19.0, 14.0, 11.0])  # BS EN ISO 228-1
LIKE_PITCH = 0.015
# Bend at 60 degrees [px]: middle and standard uncertainty, by whether the pitch is Whitworth's and
# the thread tapered; like all that follows by scenes for tuning
BENDS = {
    (False, False): (0.17, 0.17),
    (True, False): (0.3, 0.3),
    (False, True): (0.33, 0.4),
    (True, True): (0.57, 0.3),
}
LEAN_U_PX, KNOT_U_PX = 0.3, 0.05
CHANGES_U_PX = (0.12, 0.2, 0.12)  # from the middle to either end of the thread
# Full light spills over the edge, farther on a rounded crest, which mirrors it, too [px]
PEAKS, SPILLS = (0.6, 0.85, 0.95, 1.0), (0.0, 0.2, 0.45, 1.0)
SHARP_SPILL_PX, ROUND_SPILL_PX, SPILL_SHARE = 0.45, 1.0, 0.6
BIN_RAD = float(np.radians(10.0))
USUAL_WAVE_PX, WAVE_COSTS = 0.08, 8.0
BEND_OF_WAVE, BEND_OF_SPILL = 3.5, 2.0  # light that waves or spills more bends more, too


@dataclass(frozen=True, slots=True, eq=False)
class LightCurve:
    """What is known beforehand of the curve: middle and standard uncertainty of each term [px].

    The terms' lean and bend are those at `at_rad`.
    """

    middle_px: Vector
    u_px: Vector
    at_rad: float

    def stretch(self, wave_px: float, spill: float) -> float:
        """By how much more than usual light bends the curve that waves and spills so much."""
        bend_u, spill_px = float(self.u_px[1]), -float(self.middle_px[2])
        return max(1.0, BEND_OF_WAVE * wave_px / bend_u, BEND_OF_SPILL * spill_px * spill / bend_u)

    def strain(self, light_px: Vector, wave_px: float) -> float:
        """How unlikely a curve is that waves so much (chi-squared)."""
        wavier = max(1.0, wave_px / USUAL_WAVE_PX)
        away = (light_px - self.middle_px) / (self.u_px * wavier)
        return float(away @ away + WAVE_COSTS * np.log(wavier))


def known_curve(pitch_mm: float, is_tapered: bool, at_rad: float = AT_RAD) -> LightCurve:
    """What is known of the curve before the photo is looked at.

    Parameters
    ----------
    pitch_mm : float [mm]
    is_tapered : bool
    at_rad : float [rad]
        How far to the sides the light reaches: what is lit less far bends as much over it.

    Returns
    -------
    LightCurve
        Outwards positive, at the terms of `curve_terms`.
    """
    is_round = bool(np.any(np.abs(pitch_mm / WHITWORTH_PITCHES_MM - 1) < LIKE_PITCH))
    bend, bend_u = BENDS[is_round, is_tapered]
    spill = ROUND_SPILL_PX if is_round else SHARP_SPILL_PX
    middles = np.zeros(6 + len(KNOTS_RAD))
    middles[1:3] = bend * (at_rad / AT_RAD) ** 2, -spill
    us = np.full(len(middles), KNOT_U_PX)
    us[:6] = LEAN_U_PX, bend_u, SPILL_SHARE * spill, *CHANGES_U_PX
    return LightCurve(middles, us, at_rad)


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


def curve_terms(at_rad: float, sides_rad: Vector, turns: Vector, spills: Vector) -> Matrix:
    """Terms of the curve at points, (N, K).

    Parameters
    ----------
    at_rad : float [rad]
        Where lean and bend are given.
    sides_rad : (N,)
        From the far side.
    turns : (N,)
        Of the thread, from the mouth.
    spills : (N,)
        From `spill_of`.

    Returns
    -------
    (N, K)
        A lean, a bend, spilt light; what of these changes with depth; hats at knots.
    """
    share = sides_rad / at_rad
    deep = (turns - turns.mean()) / max(float(np.ptp(turns)) / 2, 1.0)
    step = KNOTS_RAD[1] - KNOTS_RAD[0]
    hats = np.maximum(1 - np.abs(sides_rad[:, None] - KNOTS_RAD) / step, 0)
    changing = (deep**2, deep * share, deep * share**2)
    return np.column_stack([share, share**2, spills, *changing, hats])


def spill_of(peaks: Vector) -> Vector:
    """How much of full light's spill there is beside light of such a peak, (N,), 0 to 1."""
    return np.interp(peaks, PEAKS, SPILLS)


def wave_px(sides_rad: Vector, away_px: Vector, weights: Vector) -> float:
    """How much points on all turns lie off their lines together at the same side.

    Parameters
    ----------
    sides_rad : (N,) [rad]
    away_px : (N,) [px]
    weights : (N,)

    Returns
    -------
    float [px]
        Rms.
    """
    bins = np.rint(sides_rad / BIN_RAD).astype(int)
    every = np.unique(bins)
    found = np.array([np.median(away_px[bins == one]) for one in every])
    counts = np.array([weights[bins == one].sum() for one in every])
    middle = np.average(found, weights=counts)
    return float(np.sqrt(np.average((found - middle) ** 2, weights=counts)))
