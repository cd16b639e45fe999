"""Hand and starts of a thread, weighed: lean of its lines, phase between its sides, their slopes.

A wrong heading of the axis leans all crest lines alike. It also shifts the crests of one side
against those of the other, which else stand half a pitch apart whatever the hand, and it makes one
side of the crests' cone seem steeper and the other flatter than the thread is, parallel or 1:16.
So all three are weighed together, over every heading, both tapers and one to four starts.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.reading import Hand
from photomeasure.thread.values import Slopes

__all__ = [
    "LEAN_BY_HEADING",
    "LIKELY_STARTS",
    "SEVERAL_STARTS",
    "SIDES_U",
    "HandSeen",
    "heading_odds",
    "weighed",
]

Vector = NDArray[np.float64]  # (N,)

# Fitted to rendered scenes kept for tuning, the axis' heading held against its truth
LEAN_BY_HEADING = 0.85  # mean cosine over the face
LEAN_U, LEAN_OUTLIERS, LEANS_SPAN = 0.15, 0.01, 8.0
SIDES_U, SIDES_OUTLIERS = 0.12, 0.15
BETWEEN_SIDES = 0.09  # asin(R / d) at the usual distance; by it the hand moves the sides
SLOPES_U_DEG, SLOPES_OUTLIERS, ASTRAY_U_DEG = 0.12, 0.08, 1.5  # a side in shade runs anywhere
WIDEST_DEG = 6.0
HEADINGS_DEG = np.linspace(-WIDEST_DEG, WIDEST_DEG, 601)
TAPERS_DEG = ((0.0, 0.7), (1.7899, 0.3))  # half angles, and how likely they are beforehand
SEVERAL_STARTS = 0.005  # beforehand, for each of two, three and four
SURE, LIKELY_STARTS = 0.985, 0.9


@dataclass(frozen=True, slots=True)
class HandSeen:
    """What lines and sides tell together.

    Attributes
    ----------
    right : float
        Probability of a right-hand thread.
    several_starts : float
        Probability of more than one start.
    turned_deg, turned_u_deg : float [deg]
        How much farther left than supposed the axis runs, whatever the hand.
    """

    right: float
    several_starts: float
    turned_deg: float = 0.0
    turned_u_deg: float = np.inf

    @property
    def is_neither(self) -> bool:
        """Whether lines were seen, and yet tell no hand: something of axis or pitch is wrong."""
        return self.hand == "unknown" and bool(np.isfinite(self.turned_u_deg))

    @property
    def hand(self) -> Hand:
        """Right or left where that is sure."""
        if max(self.right, 1 - self.right) < SURE:
            return "unknown"
        return "right" if self.right > 0.5 else "left"


def heading_odds(slopes: Slopes) -> Vector:
    """How likely it is that the axis runs farther left than supposed, by its crests' cone.

    Parameters
    ----------
    slopes : Slopes

    Returns
    -------
    (601,)
        At `HEADINGS_DEG`, to any scale.
    """
    sides = (
        (slopes.left, slopes.left_u, 1),
        (slopes.right, slopes.right_u, -1),
    )
    odds = np.zeros(len(HEADINGS_DEG))
    for taper, chance in TAPERS_DEG:
        both = np.full(len(HEADINGS_DEG), chance)
        for slope, u, way in sides:
            u_deg = float(np.hypot(min(np.degrees(u), WIDEST_DEG), SLOPES_U_DEG))
            off = np.degrees(slope) - taper - way * HEADINGS_DEG
            clear = (1 - SLOPES_OUTLIERS) * _bell(off, u_deg)
            both = both * (clear + SLOPES_OUTLIERS * _bell(off, ASTRAY_U_DEG + u_deg))
        odds += both
    return odds


def weighed(
    pitches_a_turn: float, sides: tuple[float, float], helix_deg: float, odds: Vector
) -> HandSeen:
    """Weigh lean and sides over every heading, hand and number of starts.

    Parameters
    ----------
    pitches_a_turn : float
    sides : (apart, u)
        Crests left of the axis' direction less those on the right, in pitches, modulo 1; and
        how well that is known, in helix angles of heading.
    helix_deg : float [deg]
        Of a single start.
    odds : (601,)
        Of headings, as of `heading_odds`.

    Returns
    -------
    HandSeen
    """
    turned = HEADINGS_DEG / helix_deg
    found, headings = {}, np.zeros(len(HEADINGS_DEG))
    for starts in (1, 2, 3, 4):
        chance = SEVERAL_STARTS if starts > 1 else 1 - 3 * SEVERAL_STARTS
        for hand in (1, -1):
            off = pitches_a_turn - hand * starts - LEAN_BY_HEADING * turned
            lean = (1 - LEAN_OUTLIERS) * _bell(off, LEAN_U) + LEAN_OUTLIERS / LEANS_SPAN
            gap = np.pi * (sides[0] - starts / 2) + turned - hand * starts * BETWEEN_SIDES
            gap = (gap + np.pi / 2) % np.pi - np.pi / 2
            apart = (1 - SIDES_OUTLIERS) * _bell(gap, sides[1]) + SIDES_OUTLIERS / np.pi
            likely = chance * odds * lean * apart
            found[starts, hand] = float(likely.sum())
            headings += likely
    headings /= headings.sum()
    total = sum(found.values())
    right = sum(value for (_, hand), value in found.items() if hand > 0)
    one = found[1, 1] + found[1, -1]
    mean = float(headings @ HEADINGS_DEG)
    u = float(np.sqrt(headings @ (HEADINGS_DEG - mean) ** 2))
    return HandSeen(right / total, 1 - one / total, mean, u)


def _bell(off: Vector, u: float) -> Vector:
    return np.asarray(np.exp(-0.5 * (off / u) ** 2) / (u * np.sqrt(2 * np.pi)))
