"""The nearest neighbours of each thread: what tells them apart, and by how much."""

import math
from dataclasses import dataclass
from functools import cache

from photomeasure.standards.catalogue import thread, threads
from photomeasure.standards.seats import lookalikes_of
from photomeasure.standards.thread import Thread

__all__ = ["Neighbour", "neighbours", "turns_until_jammed"]

NEAR = 2.5  # units of difference; beyond it nothing is taken for the other
# What one unit of difference is: as much as a quick look with caliper and gauge may be off
CREST_UNIT_MM, PITCH_UNIT = 0.35, 0.05
TAPER_UNITS, ANGLE_UNITS = 1.0, 0.3  # that hardly anybody looks at
MOST = 5


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A thread that may be taken for another.

    Attributes
    ----------
    designation : str
    crest_mm, pitch_mm : float [mm]
        How much larger its basic major diameter and its pitch are; of a tapered one at the
        gauge plane.
    taper_differs, angle_differs : bool
    danger : str
        What tells them apart, where they screw together for a few turns and then blow out; else
        empty.
    """

    designation: str
    crest_mm: float
    pitch_mm: float
    taper_differs: bool
    angle_differs: bool
    danger: str


@cache
def neighbours(designation: str) -> tuple[Neighbour, ...]:
    """List what a thread is taken for, the dangerous ones first, then the nearest.

    Parameters
    ----------
    designation : str

    Returns
    -------
    tuple of Neighbour

    Raises
    ------
    UsageError
        If the tables have no such thread.
    """
    one = thread(designation)
    dangers = lookalikes_of(one.designation)
    others = [
        (other.designation not in dangers, _units_apart(one, other), other)
        for other in threads()
        if other.designation != one.designation
    ]
    near = sorted(
        (each for each in others if not each[0] or each[1] <= NEAR), key=lambda each: each[:2]
    )
    kept = near[: max(MOST, len(dangers))]
    return tuple(_neighbour(one, other, dangers.get(other.designation, "")) for *_, other in kept)


def _units_apart(one: Thread, other: Thread) -> float:
    return math.hypot(
        (other.major_diameter_mm - one.major_diameter_mm) / CREST_UNIT_MM,
        (other.pitch_mm / one.pitch_mm - 1) / PITCH_UNIT,
        TAPER_UNITS * (one.is_tapered != other.is_tapered),
        ANGLE_UNITS * _angles_differ(one, other),
    )


def _angles_differ(one: Thread, other: Thread) -> bool:
    return abs(one.thread_angle_rad - other.thread_angle_rad) > math.radians(1)


def _neighbour(one: Thread, other: Thread, danger: str) -> Neighbour:
    return Neighbour(
        other.designation,
        other.major_diameter_mm - one.major_diameter_mm,
        other.pitch_mm - one.pitch_mm,
        one.is_tapered != other.is_tapered,
        _angles_differ(one, other),
        danger,
    )


def turns_until_jammed(male: Thread, female: Thread) -> float:
    """Work out how many turns a male part runs into a foreign port before the flanks jam.

    Parameters
    ----------
    male : Thread
        With an external member.
    female : Thread
        With an internal member.

    Returns
    -------
    float
        0 if it does not start or if its crests find nothing to hold; infinite if nothing stops it.

    Notes
    -----
    Loosest parts inside both limits: a clearance c on the pitch diameter lets the flanks shift by
    c tan(angle / 2) along the axis; each turn uses up the difference of the pitches, and of a
    tapered male part c falls by taper times pitch (own derivation).
    """
    if male.external is None or female.internal is None:
        return 0.0
    ahead = male.gauge.length_mm * male.taper if male.gauge is not None else 0.0
    clearance = female.internal.pitch_max_mm - (male.external.pitch_min_mm - ahead)
    overlap = male.external.major_max_mm - female.internal.minor_min_mm
    if clearance <= 0 or overlap <= 0:
        return 0.0
    slope = math.tan(min(male.thread_angle_rad, female.thread_angle_rad) / 2)
    a_turn = abs(male.pitch_mm - female.pitch_mm) + slope * male.taper * male.pitch_mm
    return clearance * slope / a_turn if a_turn > 0 else math.inf
