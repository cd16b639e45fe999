"""The slips people make with a caliper, each as a hypothesis about the readings.

A slip says what the reading would have been without it. Every hypothesis is weighed by how well
the corrected readings fit together and fit a published thread.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from photomeasure.sizing.instruments import Instrument, Kind, Observation, observed

__all__ = ["NO_SLIP", "ROUGH", "ROUGHNESS", "Hypothesis", "hypotheses"]

INCH_MM = 25.4
SIXTY_FOURTH_MM = INCH_MM / 64
ZERO_SPREAD_MM = 0.4  # how far off a zero is when nobody set it (common practice, no source)
MISREAD = 0.05  # of the value: sd of a slip of no known kind
# Slips that are known by their size only roughly: by which factor the reading becomes what it
# should have been, and that factor's sd (common practice, no source)
ROUGHLY: Mapping[str, Mapping[Kind, tuple[float, float]]] = {
    # the first turns are chamfered; a port's chamfer opens outwards
    "lead-in measured, not the full thread": {"major": (1.06, 0.04), "bore": (0.94, 0.04)},
    # across the corners of a tilted jaw a thread is wider, a bore as well
    "caliper held askew": {"major": (0.99, 0.007), "bore": (0.99, 0.007)},
    # a hexagon is a third wider than the thread it turns
    "flats measured, not the crests": {"major": (0.76, 0.13)},
}
# How often each happens in a set of readings, as likely in each of them (common practice, no
# source)
OFTEN = {
    "inch read as millimetre": 0.01,
    "millimetre read as inch": 0.004,
    "one turn missed in a count": 0.012,
    "radius for diameter": 0.006,
    "decimal slip": 0.006,
    "1/64 in slip": 0.008,
    "zero not set": 0.012,
    "lead-in measured, not the full thread": 0.001,
    "caliper held askew": 0.001,
    "flats measured, not the crests": 0.0005,
    "misread in no known way": 0.0015,
    "photo misread": 0.01,
}
# Hands and calipers that are rougher than they should be, and by how much (common practice, no
# source)
ROUGH, ROUGHNESS = 0.10, 2.0
ALL_OF_A_KIND = 0.5  # share of slips that are repeated in every reading of a kind


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One way the readings came about.

    `observations` are the corrected ones, in the order of the readings; `log_jacobian` turns
    their density into that of the readings as given; `touched` are the indices of the readings
    that the slip concerns; `zero_spread_mm` is above 0 where an offset is common to all lengths,
    `photo_spread` where the photo's diameters are off by a share of themselves. `roughness`
    multiplies every uncertainty of hand and caliper.
    """

    slip: str | None
    prior: float
    observations: tuple[Observation, ...]
    log_jacobian: float = 0.0
    touched: tuple[int, ...] = ()
    zero_spread_mm: float = 0.0
    photo_spread: float = 0.0
    roughness: float = 1.0


NO_SLIP = None


def hypotheses(
    observations: tuple[Observation, ...], instrument: Instrument, *, with_photo: bool
) -> tuple[Hypothesis, ...]:
    """List "no slip", by a usual and by a rough hand, and every single slip.

    Parameters
    ----------
    observations : tuple of Observation
    instrument : Instrument
    with_photo : bool
        Whether a photo's values stand beside the readings.

    Returns
    -------
    tuple of Hypothesis
        "No slip" comes first, then no slip by a rough hand; the priors sum to 1.
    """
    slips = [*_all(observations, instrument)]
    if with_photo and observations:
        often = OFTEN["photo misread"]
        slips.append(Hypothesis("photo misread", often, observations, photo_spread=MISREAD))
    rest = 1 - sum(one.prior for one in slips)
    honest = max(rest, 0.5)
    first = Hypothesis(NO_SLIP, (1 - ROUGH) * honest, observations)
    rough = Hypothesis(NO_SLIP, ROUGH * honest, observations, roughness=ROUGHNESS)
    total = honest + sum(one.prior for one in slips)
    return tuple(replace(one, prior=one.prior / total) for one in (first, rough, *slips))


def _all(observations: tuple[Observation, ...], instrument: Instrument) -> Iterator[Hypothesis]:
    for touched, share in _groups(observations):
        kind = observations[touched[0]].kind
        for slip, factor, offset in _corrections(kind):
            yield _corrected(observations, touched, slip, (factor, offset, share), instrument)
        for turns in (-1, 1) if kind == "span" else ():
            if all(observations[i].turns + turns >= 1 for i in touched):
                yield _recounted(observations, touched, turns, share, instrument)
        yield _misread(observations, touched, share)
        for slip, by_kind in ROUGHLY.items():
            if kind in by_kind:
                yield _roughly(observations, touched, slip, by_kind[kind], share)
    lengths = tuple(i for i, one in enumerate(observations) if one.kind != "pitch")
    if lengths:
        often = OFTEN["zero not set"]
        yield Hypothesis("zero not set", often, observations, 0.0, lengths, ZERO_SPREAD_MM)


def _groups(observations: tuple[Observation, ...]) -> Iterator[tuple[tuple[int, ...], float]]:
    """Each reading alone, and all of a kind together, with the share of slips that are so."""
    kinds = dict.fromkeys(one.kind for one in observations)
    for kind in kinds:
        indices = tuple(i for i, one in enumerate(observations) if one.kind == kind)
        share = len(indices) / len(observations)
        if len(indices) == 1:
            yield indices, share
            continue
        yield indices, ALL_OF_A_KIND * share
        for i in indices:
            yield (i,), (1 - ALL_OF_A_KIND) * share / len(indices)


def _corrections(kind: Kind) -> Iterator[tuple[str, float, float]]:
    """Slip, factor and offset [mm] that turn the reading into what it should have been."""
    yield "inch read as millimetre", INCH_MM, 0.0
    yield "millimetre read as inch", 1 / INCH_MM, 0.0
    if kind == "pitch":
        return
    yield "decimal slip", 10.0, 0.0
    yield "decimal slip", 0.1, 0.0
    yield "1/64 in slip", 1.0, SIXTY_FOURTH_MM
    yield "1/64 in slip", 1.0, -SIXTY_FOURTH_MM
    if kind != "span":
        yield "radius for diameter", 2.0, 0.0


def _corrected(
    observations: tuple[Observation, ...],
    touched: tuple[int, ...],
    slip: str,
    correction: tuple[float, float, float],
    instrument: Instrument,
) -> Hypothesis:
    factor, offset, share = correction
    corrected = list(observations)
    for i in touched:
        one = observations[i]
        reading = factor * one.reading + offset
        corrected[i] = observed(one.kind, one.number, reading, instrument, turns=one.turns)
    often = OFTEN[slip] / (2 if slip in {"decimal slip", "1/64 in slip"} else 1)
    jacobian = len(touched) * math.log(factor)
    return Hypothesis(slip, often * share, tuple(corrected), jacobian, touched)


def _recounted(
    observations: tuple[Observation, ...],
    touched: tuple[int, ...],
    turns: int,
    share: float,
    instrument: Instrument,
) -> Hypothesis:
    slip = "one turn missed in a count"
    corrected = list(observations)
    jacobian = 0.0
    for i in touched:
        one = observations[i]
        count = one.turns + turns
        corrected[i] = observed(one.kind, one.number, one.reading, instrument, turns=count)
        jacobian += math.log(one.turns / count)
    return Hypothesis(slip, OFTEN[slip] / 2 * share, tuple(corrected), jacobian, touched)


def _misread(
    observations: tuple[Observation, ...], touched: tuple[int, ...], share: float
) -> Hypothesis:
    slip = "misread in no known way"
    loose = list(observations)
    for i in touched:
        wide = MISREAD * abs(observations[i].value)
        loose[i] = replace(observations[i], own_u=math.hypot(observations[i].own_u, wide))
    return Hypothesis(slip, OFTEN[slip] * share, tuple(loose), 0.0, touched)


def _roughly(
    observations: tuple[Observation, ...],
    touched: tuple[int, ...],
    slip: str,
    factor: tuple[float, float],
    share: float,
) -> Hypothesis:
    corrected = list(observations)
    for i in touched:
        one = observations[i]
        loose = math.hypot(factor[0] * one.own_u, factor[1] * abs(one.value))
        corrected[i] = replace(one, value=factor[0] * one.value, own_u=loose)
    jacobian = len(touched) * math.log(factor[0])
    return Hypothesis(slip, OFTEN[slip] * share, tuple(corrected), jacobian, touched)
