"""Where the sizes of real parts of each thread lie, as mixtures of normal distributions.

A part lies inside its standard's limits, more or less evenly; very few are worn at the crest or
plated so much that they lie a little outside. Written as a mixture of normals the zone can be
folded with a reading's own covariance in closed form.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.standards import Family, Thread, threads

__all__ = ["MACHINES", "Floats", "Member", "Prior", "Zones", "zones"]

Floats = NDArray[np.float64]
Member = Literal["external", "internal"]

INSIDE = 4  # normals that make up the even zone
INSIDE_SPREAD = 0.09  # their sd over the zone's width: a quarter of it as an even box, smoothed
# Parts outside their zone (common practice, no source): share, how far off, sd [mm]. A worn part
# was made anywhere inside the zone: of five in a hundred that lost 0.06 mm one leaves it
WORN_A_LITTLE = (0.012, 0.05, 0.05)
WORN_MUCH = (0.004, 0.18, 0.10)
PLATED = (0.005, 0.03, 0.03)
PITCH_SPREAD = 0.001  # lead error of real parts over the pitch (common practice, no source)
PARALLEL_SPREAD_RAD = math.radians(0.05)
TAPER_SPREAD_RAD = math.radians(0.10)  # a gauge allows about this much, from memory
ANGLE_SPREAD_RAD = math.radians(0.5)
TURNS_BEHIND_GAUGE = 4.0  # useful thread behind the gauge plane
TURNS_INTO_PORT = 2.0  # how deep inside jaws reach when the plane is not known


@dataclass(frozen=True, slots=True)
class Prior:
    """How likely a family is before anything is measured, relative to the others.

    "This machine is inch" is `Prior(metric=0.1)`. `none_of_these` is the probability that the
    thread is in no table.
    """

    metric: float = 1.0
    unified: float = 1.0
    g: float = 1.0
    r: float = 1.0
    npt: float = 1.0
    none_of_these: float = 0.10

    def __post_init__(self) -> None:
        weights = (self.metric, self.unified, self.g, self.r, self.npt)
        if min(weights) < 0 or max(weights) <= 0 or not 0 < self.none_of_these < 1:
            raise ValueError("a prior needs weights of 0 or more and a chance between 0 and 1")

    def weight(self, family: Family) -> float:
        """Weight of a family."""
        weights = {"metric": self.metric, "unified": self.unified, "G": self.g, "NPT": self.npt}
        return weights.get(family, self.r)


# What is known of the machine; how rare the other kind is there: common practice, no source
MACHINES: Mapping[str, Prior] = {
    "any": Prior(),
    "metric": Prior(unified=0.1, npt=0.1),
    "inch": Prior(metric=0.1),
}


@dataclass(frozen=True, slots=True, eq=False)
class Zones:
    """The zones of K threads; sizes of tapered ones at the nominal gauge plane.

    Attributes
    ----------
    threads : tuple of Thread
    low_mm, high_mm : (K,)
        Limits of the crest diameter (external: major; internal: minor).
    centre_mm, spread_mm : (K, J)
        Normals of the crest diameter.
    share : (J,)
        Their weights.
    pitch_mm, taper_rad, angle_rad, root_mm : (K,)
        Middle of pitch, half-angle of taper, thread angle, root diameter.
    pitch_spread_mm, taper_spread_rad, root_spread_mm : (K,)
        Their standard deviations.
    slope, gauge_mm : (K,)
        Growth of the diameter along the axis (from the small end; into a port it shrinks), and
        where along it the nominal size lies.
    """

    threads: tuple[Thread, ...]
    low_mm: Floats
    high_mm: Floats
    centre_mm: Floats
    spread_mm: Floats
    share: Floats
    pitch_mm: Floats
    pitch_spread_mm: Floats
    taper_rad: Floats
    taper_spread_rad: Floats
    angle_rad: Floats
    root_mm: Floats
    root_spread_mm: Floats
    slope: Floats
    gauge_mm: Floats

    def prior(self, prior: Prior) -> Floats:
        """Probability of each thread before the reading, (K,); with "none" they sum to 1."""
        weights = np.array([one.commonness * prior.weight(one.family) for one in self.threads])
        known: Floats = (1 - prior.none_of_these) * weights / weights.sum()
        return known


@cache
def zones(member: Member, *, plane_known: bool) -> Zones:
    """Zones of every thread that has the member.

    Parameters
    ----------
    member : "external" or "internal"
    plane_known : bool
        Whether it is known how far from the end the diameter was taken; if not, a tapered
        thread's zone reaches over its whole length.

    Returns
    -------
    Zones
    """
    chosen = tuple(one for one in threads() if _limits(one, member) is not None)
    low, high = np.array([_crest_range(one, member, plane_known) for one in chosen]).T
    root = np.array([_root_range(one, member, plane_known) for one in chosen]).T
    centre, spread, share = _normals(low, high, member)
    tapered = np.array([one.is_tapered for one in chosen])
    pitch = np.array([one.pitch_mm for one in chosen])
    along = 1.0 if member == "external" else -1.0
    return Zones(
        threads=chosen,
        low_mm=low,
        high_mm=high,
        centre_mm=centre,
        spread_mm=spread,
        share=share,
        pitch_mm=pitch,
        pitch_spread_mm=PITCH_SPREAD * pitch,
        taper_rad=np.array([one.taper_half_angle_rad for one in chosen]),
        taper_spread_rad=np.where(tapered, TAPER_SPREAD_RAD, PARALLEL_SPREAD_RAD),
        angle_rad=np.array([one.thread_angle_rad for one in chosen]),
        root_mm=(root[0] + root[1]) / 2,
        root_spread_mm=(root[1] - root[0]) / math.sqrt(12) + 0.01,
        slope=np.array([along * one.taper if plane_known else 0.0 for one in chosen]),
        gauge_mm=np.array([_gauge_mm(one, member) for one in chosen]),
    )


def _limits(one: Thread, member: Member) -> object:
    return one.external if member == "external" else one.internal


def _gauge_mm(one: Thread, member: Member) -> float:
    return one.gauge.length_mm if one.gauge is not None and member == "external" else 0.0


def _crest_range(one: Thread, member: Member, plane_known: bool) -> tuple[float, float]:
    behind, ahead = _reach_mm(one, member, plane_known)
    if member == "external" and one.external is not None:
        return one.external.major_min_mm - ahead, one.external.major_max_mm + behind
    assert one.internal is not None
    return one.internal.minor_min_mm - ahead, one.internal.minor_max_mm + behind


def _root_range(one: Thread, member: Member, plane_known: bool) -> tuple[float, float]:
    behind, ahead = _reach_mm(one, member, plane_known)
    if member == "external" and one.external is not None:
        return one.external.minor_min_mm - ahead, one.external.minor_max_mm + behind
    assert one.internal is not None
    root = one.internal.major_min_mm  # the standards leave the root free outwards
    return root - ahead, root + 0.15 * one.pitch_mm + behind


def _reach_mm(one: Thread, member: Member, plane_known: bool) -> tuple[float, float]:
    """How much larger and smaller a tapered thread may read where the plane is not known."""
    if plane_known or one.gauge is None:
        return 0.0, 0.0
    if member == "internal":
        return 0.0, TURNS_INTO_PORT * one.pitch_mm * one.taper
    return TURNS_BEHIND_GAUGE * one.pitch_mm * one.taper, one.gauge.length_mm * one.taper


def _normals(low: Floats, high: Floats, member: Member) -> tuple[Floats, Floats, Floats]:
    width = (high - low)[:, None]
    steps = (np.arange(INSIDE) + 0.5) / INSIDE
    inside = low[:, None] + width * steps
    # wear takes from the crest: a male thread gets smaller, a port's bore larger
    worn_edge, plated_edge, sign = (low, high, -1) if member == "external" else (high, low, 1)
    outside = [
        worn_edge + sign * WORN_A_LITTLE[1],
        worn_edge + sign * WORN_MUCH[1],
        plated_edge - sign * PLATED[1],
    ]
    tails = np.array([WORN_A_LITTLE, WORN_MUCH, PLATED])
    centre = np.column_stack([inside, *outside])
    spread = np.column_stack(
        [
            np.broadcast_to(INSIDE_SPREAD * width, inside.shape),
            np.broadcast_to(tails[:, 2], (len(low), len(tails))),
        ]
    )
    rest = 1 - tails[:, 0].sum()
    return centre, spread, np.concatenate([np.full(INSIDE, rest / INSIDE), tails[:, 0]])
