"""What stands round a thread as an observation: hexagon's flats, mouth's circle, thread's depth.

None names a thread, but a hexagon is larger than the thread it turns, a mouth's chamfer opens a
little wider than the thread behind it, and a wide thread is cut deeper than a narrow one.
"""

import math
from dataclasses import dataclass

import numpy as np

from photomeasure.sizing.zones import Floats, Member, Zones

__all__ = ["Body", "likelihood"]

# Flats over the crests of the male thread (common practice, no source): from a plug's or an
# adapter's hexagon just over its thread to an elbow's or a reducing adapter's large one
FLATS_MIDDLE, FLATS_SPREAD = 1.32, 0.18  # of the ratio; sd of its logarithm
LEAST_FLATS = 1.02
# Mouth's outer circle less the thread's root diameter, over the pitch (common practice, no source)
MOUTH_MIDDLE, MOUTH_SPREAD = 0.5, 0.9
LEAST_MOUTH = 0.2  # pitches below it: a mouth is not narrower than its thread
# Length of full thread in a port or on a stud, over the root of the diameter in mm: about 12 mm of
# M14, 22 mm of M42 (common practice, no source); sd of its logarithm
DEPTH_MIDDLE, DEPTH_SPREAD = 3.3, 0.25
STRAY_DEPTH = 0.15  # share of threads cut far deeper, or through
STRAY = 0.05  # share of bodies that are otherwise: flanges, bosses, counterbores taken for mouths
STRAY_FLATS, STRAY_MOUTH = 1.0, 12.0  # sd of the logarithm, and in pitches
READ_U_MM = 0.15  # of a caliper across worn or painted flats, or on a chamfer's edge


@dataclass(frozen=True, slots=True)
class Body:
    """Readings of the body, None if not taken.

    Width across flats, outer circle of the mouth, and the length of full thread in a port or on a
    male part.
    """

    across_flats_mm: float | None = None
    mouth_mm: float | None = None
    depth_mm: float | None = None


def likelihood(body: Body, member: Member, zones: Zones) -> Floats:
    """Density of the body's readings for each thread, and for one in no table.

    Parameters
    ----------
    body : Body
    member : "external" or "internal"
    zones : Zones
        K threads.

    Returns
    -------
    (K + 1,)
        Relative to what "none of these" makes one expect, which is 1.
    """
    ratio = np.ones(len(zones.threads) + 1)
    major = zones.high_mm if member == "external" else zones.root_mm
    if body.across_flats_mm is not None:
        ratio[:-1] *= _flats_ratio(body.across_flats_mm, major)
    if body.mouth_mm is not None and member == "internal":
        ratio[:-1] *= _mouth_ratio(body.mouth_mm, major, zones.pitch_mm)
    if body.depth_mm is not None:
        ratio[:-1] *= _depth_ratio(body.depth_mm, major)
    return ratio


def _flats_ratio(flats_mm: float, major_mm: Floats) -> Floats:
    """Density over that of a stray body, both over the logarithm."""
    possible = _above(flats_mm, LEAST_FLATS * major_mm)
    off = np.log(flats_mm / major_mm / FLATS_MIDDLE)
    usual = possible * np.exp(-((off / FLATS_SPREAD) ** 2) / 2) / FLATS_SPREAD
    found: Floats = STRAY + (1 - STRAY) * usual * STRAY_FLATS
    return found


def _mouth_ratio(mouth_mm: float, root_mm: Floats, pitch_mm: Floats) -> Floats:
    spread = np.hypot(MOUTH_SPREAD, READ_U_MM / pitch_mm)
    off = (mouth_mm - root_mm) / pitch_mm - MOUTH_MIDDLE
    possible = _above(mouth_mm, root_mm - LEAST_MOUTH * pitch_mm)
    usual = possible * np.exp(-((off / spread) ** 2) / 2) / spread
    found: Floats = STRAY + (1 - STRAY) * usual * STRAY_MOUTH / math.sqrt(2 * math.pi)
    return found


def _depth_ratio(depth_mm: float, major_mm: Floats) -> Floats:
    """Density over that of a thread of any depth, both over the logarithm (its sd is 1)."""
    off = np.log(depth_mm / (DEPTH_MIDDLE * np.sqrt(major_mm)))
    usual = np.exp(-((off / DEPTH_SPREAD) ** 2) / 2) / DEPTH_SPREAD
    found: Floats = STRAY_DEPTH + (1 - STRAY_DEPTH) * usual
    return found


def _above(read_mm: float, least_mm: Floats) -> Floats:
    """Chance that a reading of that size is of something not below the least."""
    short = (least_mm - read_mm) / READ_U_MM
    chance: Floats = 1 / (1 + np.exp(np.clip(short, -50, 50)))
    return chance
