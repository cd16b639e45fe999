"""Simulated mechanics with a caliper: random parts inside their limits, instruments, slips."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from photomeasure.sizing.caliper import CaliperReadings, Span
from photomeasure.sizing.judge import (
    LEAST_MOST_DIAMETER_MM,
    LEAST_MOST_PITCH_MM,
    NONE_USUAL,
    UNDERSTATED,
    UNDERSTATED_FACTOR,
    USUAL_PITCHES_MM,
)
from photomeasure.sizing.match import NONE_OF_THESE
from photomeasure.sizing.zones import Member, zones
from photomeasure.standards import Thread

FITTING = 0.35  # commonness of a bolt's thread lies below
WORN, NO_TABLE = 0.05, 0.1
# A part of no table is at least this far outside each listed thread's limits or off its pitch
APART_MM, APART_PITCH = 0.45, 0.06
COARSEST = 4.0  # diameters over the pitch: no thread is coarser (M6x1 has 6; common practice)
# Steps of calipers [mm]: digital, dial (0.001 in), vernier 1/50 and 1/20
STEPS_MM: Mapping[str, float] = {"0.01": 0.01, "thou": 0.0254, "1/50": 0.02, "1/20": 0.05}
# DIN 862 allows 0.02 to 0.03 mm up to 100 mm, from memory; the hand adds its own on each reading
INSTRUMENT_MM = 0.012
HAND_MM = {"major": 0.02, "minor": 0.08, "bore": 0.03, "span": 0.08}
# How well a leaf's fit is seen, and from which share of the pitch on light shows
GAUGE_HAND, GAUGE_LIGHT = 0.005, 0.012
ZERO_MM = (0.2, 0.6)  # how far off a zero is that nobody set
SLIPS = (
    "inch read as millimetre",
    "one turn missed in a count",
    "radius for diameter",
    "decimal slip",
    "1/64 in slip",
    "zero not set",
)


@dataclass(frozen=True)
class Bench:
    """One mechanic's readings, the slip that is in them, and what the part is."""

    readings: CaliperReadings
    slip: str | None
    truth: str
    member: Member
    is_worn: bool


@dataclass(frozen=True)
class Part:
    """What lies on the bench: crest and root diameters and pitch [mm]."""

    truth: str
    member: Member
    crest_mm: float
    root_mm: float
    pitch_mm: float
    is_worn: bool


def benches(
    count: int,
    rng: np.random.Generator,
    *,
    slips: float = 0.05,
    as_supposed: bool = False,
    as_common: bool = False,
) -> list[Bench]:
    """Parallel threads of fluid ports, half of them male.

    `as_common`: all threads, tapered ones held anywhere along their cone too, as common as the
    judge supposes. `as_supposed`: so, but one in ten of no table, and hands that are twice as
    rough one time in ten.
    """
    drawn = []
    for _ in range(count):
        member: Member = "external" if rng.random() < 0.5 else "internal"
        if as_supposed and rng.random() < NO_TABLE:
            part = _of_no_table(member, rng)
        else:
            part = _of_a_table(
                _any_of(member, rng, as_common=as_supposed or as_common), member, rng
            )
        rough = UNDERSTATED_FACTOR if as_supposed and rng.random() < UNDERSTATED else 1.0
        drawn.append(_bench(part, rng, slips, rough))
    return drawn


def _any_of(member: Member, rng: np.random.Generator, *, as_common: bool) -> Thread:
    known = zones(member, plane_known=True).threads
    often = np.array(
        [
            one.commonness if as_common else float(one.commonness > FITTING and not one.is_tapered)
            for one in known
        ]
    )
    return known[int(rng.choice(len(known), p=often / often.sum()))]


def _of_a_table(one: Thread, member: Member, rng: np.random.Generator) -> Part:
    is_worn = bool(rng.random() < WORN)
    wear_mm = rng.exponential(0.06) if is_worn else 0.0
    if member == "external":
        assert one.external is not None
        crest = rng.uniform(one.external.major_min_mm, one.external.major_max_mm) - wear_mm
        root = rng.uniform(one.external.minor_min_mm, one.external.minor_max_mm)
    else:
        assert one.internal is not None
        crest = rng.uniform(one.internal.minor_min_mm, one.internal.minor_max_mm) + wear_mm
        root = one.internal.major_min_mm
    if one.is_tapered:  # nobody says where along the cone the caliper was held
        known = zones(member, plane_known=False)
        i = known.threads.index(one)
        shift = rng.uniform(known.low_mm[i], known.high_mm[i]) - crest
        crest, root = crest + shift, root + shift
    return Part(one.designation, member, crest, root, one.pitch_mm, is_worn)


def is_near_listed(member: Member, crest_mm: float, pitch_mm: float) -> bool:
    """Whether it is too like a listed thread to count as one of no table.

    The rule of the rendered photographs: a part inside a thread's limits is that thread.
    """
    known = zones(member, plane_known=True)
    outside_mm = np.maximum(known.low_mm - crest_mm, crest_mm - known.high_mm)
    beside = np.abs(pitch_mm / known.pitch_mm - 1)
    return bool(((outside_mm < APART_MM) & (beside < APART_PITCH)).any())


def _of_no_table(member: Member, rng: np.random.Generator) -> Part:
    while True:
        crest = math.exp(rng.uniform(*np.log(LEAST_MOST_DIAMETER_MM)))
        pitch = float(rng.choice(USUAL_PITCHES_MM))
        if rng.random() > NONE_USUAL:
            pitch = math.exp(rng.uniform(*np.log(LEAST_MOST_PITCH_MM)))
        if pitch < crest / COARSEST and not is_near_listed(member, crest, pitch):
            break
    root = max(crest - 1.2 * pitch * (1 + 0.1 * rng.normal()), 1.0)
    return Part(NONE_OF_THESE, member, crest, root, pitch, is_worn=False)


def _bench(part: Part, rng: np.random.Generator, slips: float, rough: float) -> Bench:
    step = float(rng.choice(list(STEPS_MM.values())))
    flat_mm = float(rng.uniform(0.2, 1.0))
    zero_mm = rough * rng.normal(0, INSTRUMENT_MM)
    read = _read(part, rng, rough)
    if "bore" in read:  # flats chord the circle
        read["bore"] = [math.sqrt(bore**2 - flat_mm**2) for bore in read["bore"]]
    read = {kind: [length + zero_mm for length in lengths] for kind, lengths in read.items()}
    turns = int(rng.integers(4, 11))
    if rng.random() < 0.7:
        read["span"] = [turns * part.pitch_mm + zero_mm + rough * rng.normal(0, HAND_MM["span"])]
    possible = [slip for slip in SLIPS if "span" in read or "turn" not in slip]
    slip = str(rng.choice(possible)) if rng.random() < slips else None
    counted = turns + (int(rng.choice([-1, 1])) if slip == "one turn missed in a count" else 0)
    if slip not in {None, "one turn missed in a count"}:
        _spoil(read, str(slip), rng)
    told = {kind: tuple(round(x / step) * step for x in read[kind]) for kind in read}
    readings = CaliperReadings(
        major_mm=told.get("major", ()),
        minor_mm=told.get("minor", ()),
        bore_mm=told.get("bore", ()),
        pitch_mm=_leaf(part, rng) if "span" not in told or rng.random() < 0.8 else (),
        spans=tuple(Span(length, counted) for length in told.get("span", ())),
        resolution_mm=step,
    )
    if part.member == "internal" and rng.random() < 0.5:
        readings = replace(readings, jaw_flat_mm=flat_mm)
    return Bench(readings, slip, part.truth, part.member, part.is_worn)


def _read(part: Part, rng: np.random.Generator, rough: float) -> dict[str, list[float]]:
    """Crests two or three times, the root of every second male thread."""
    kind = "major" if part.member == "external" else "bore"
    count = int(rng.integers(2, 4))
    read = {kind: list(rng.normal(part.crest_mm, rough * HAND_MM[kind], count))}
    if part.member == "external" and rng.random() < 0.5:
        read["minor"] = [rng.normal(part.root_mm, rough * HAND_MM["minor"])]
    return read


def _leaf(part: Part, rng: np.random.Generator) -> tuple[float, ...]:
    """The pitch gauge's best leaf; none if light shows under all of them."""
    leaves = np.array(USUAL_PITCHES_MM)
    seen = part.pitch_mm * (1 + GAUGE_HAND * rng.normal())
    best = float(leaves[np.abs(leaves / seen - 1).argmin()])
    return (best,) if abs(best / seen - 1) < GAUGE_LIGHT else ()


def _spoil(read: dict[str, list[float]], slip: str, rng: np.random.Generator) -> None:
    if slip == "zero not set":
        offset = float(rng.choice([-1, 1]) * rng.uniform(*ZERO_MM))
        for kind, lengths in read.items():
            read[kind] = [length + offset for length in lengths]
        return
    # any reading is as likely to be spoilt; a radius is read for a diameter only
    every = [kind for kind, lengths in read.items() for _ in lengths]
    kind = str(rng.choice([one for one in every if slip != "radius for diameter" or one != "span"]))
    sign = float(rng.choice([-1, 1]))
    spoilt: Mapping[str, Callable[[float], float]] = {
        "inch read as millimetre": lambda length: length / 25.4,
        "radius for diameter": lambda length: length / 2,
        "decimal slip": lambda length: length * 10**sign,
        "1/64 in slip": lambda length: length + sign * 25.4 / 64,
    }
    # made once, or in every reading of the kind alike
    touched = len(read[kind]) if rng.random() < 0.5 else 1
    read[kind] = [
        spoilt[slip](length) if i < touched else length for i, length in enumerate(read[kind])
    ]
