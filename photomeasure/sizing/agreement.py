"""E_n scores: each reading against what the other readings, or the photo, make one expect."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats
from uncertainties import UFloat, covariance_matrix

from photomeasure.quantities import COVERAGE_95, Quantity, Source, measured
from photomeasure.sizing.fusion import fuse
from photomeasure.sizing.instruments import Observation
from photomeasure.sizing.slips import ROUGH, ROUGHNESS

__all__ = ["CheckedReading", "all_agree", "best_of", "checked_readings"]

FALSE_ALARMS = 0.002  # of honest sets of readings, however many readings they have
# Height of the thread on diameter over the pitch: from 1.0825 at 60 degrees to 1.28 at 55 (ISO 724,
# ISO 228-1). The crests of a mating pair stand closer by both tolerances: 0.88 for M16x1.5 in the
# middle of its zones, 1.05 for G1/2
OWN_DEPTH, MATING_DEPTH, DEPTH_U = 1.22, 0.95, 0.12


@dataclass(frozen=True, slots=True, eq=False)
class CheckedReading:
    """A reading, what the others make one expect, and their E_n score.

    `expected` and `score` are None where nothing else speaks of it.
    """

    name: str
    reading: Quantity
    expected: Quantity | None
    score: float | None


def checked_readings(
    observations: Sequence[Observation], photo: Mapping[str, UFloat]
) -> tuple[CheckedReading, ...]:
    """Score every reading.

    Parameters
    ----------
    observations : sequence of Observation
    photo : mapping of kind to UFloat [mm]
        What a photo says of `major`, `minor`, `bore`, `pitch`.

    Returns
    -------
    tuple of CheckedReading
        In the order of the readings.
    """
    numbers = [one.number_with_sources() for one in observations]
    return tuple(
        _checked(one, numbers[i], _expected(i, observations, numbers, photo))
        for i, one in enumerate(observations)
    )


def all_agree(checked: Sequence[CheckedReading]) -> bool:
    """Whether no score is beyond what so many honest readings would show."""
    scores = [abs(one.score) for one in checked if one.score is not None]
    if not scores:
        return True
    return _chance_beyond(max(scores)) * len(scores) >= FALSE_ALARMS


def _chance_beyond(score: float) -> float:
    """Chance that honest readings, one in ten by a rough hand, score beyond this."""
    deviation = score * COVERAGE_95
    usual, rough = stats.norm.sf([deviation, deviation / ROUGHNESS])
    return 2 * float((1 - ROUGH) * usual + ROUGH * rough)


def best_of(numbers: Sequence[UFloat]) -> UFloat | None:
    """Combine several values of one quantity by their covariance.

    Parameters
    ----------
    numbers : sequence of UFloat [same unit]

    Returns
    -------
    UFloat [same unit] or None
        None if there are none.
    """
    if len(numbers) < 2:
        return numbers[0] if numbers else None
    covariance = np.array(covariance_matrix(list(numbers)), dtype=float)
    covariance += np.eye(len(numbers)) * 1e-12  # two copies of one photo value
    values = np.array([number.nominal_value for number in numbers])
    fused = fuse(values[None], covariance[None], np.zeros(len(numbers), dtype=np.intp))
    return sum(
        float(weight) * number for weight, number in zip(fused.weights[0, 0], numbers, strict=True)
    )


def _checked(one: Observation, number: UFloat, expected: UFloat | None) -> CheckedReading:
    correction = one.value * one.turns - one.reading
    reading = number * one.turns - correction
    quantity = Quantity.normal(reading, "mm")
    if expected is None:
        return CheckedReading(one.name, quantity, None, None)
    expected = expected * one.turns - correction
    difference = reading - expected
    score = float(difference.nominal_value / (COVERAGE_95 * max(difference.std_dev, 1e-9)))
    return CheckedReading(one.name, quantity, Quantity.normal(expected, "mm"), score)


def _expected(
    index: int,
    observations: Sequence[Observation],
    numbers: Sequence[UFloat],
    photo: Mapping[str, UFloat],
) -> UFloat | None:
    """What the others say: of the same quantity, else through the depth of the thread."""
    others: dict[str, list[UFloat]] = {kind: [number] for kind, number in photo.items()}
    for i, one in enumerate(observations):
        if i != index:
            others.setdefault(_quantity(one), []).append(numbers[i])
    wanted = _quantity(observations[index])
    if wanted in others:
        return best_of(others[wanted])
    known = {kind: best_of(values) for kind, values in others.items()}
    return _through_the_depth(wanted, known)


def _quantity(one: Observation) -> str:
    return "pitch" if one.kind == "span" else one.kind


def _through_the_depth(wanted: str, known: Mapping[str, UFloat | None]) -> UFloat | None:
    pitch = known.get("pitch")
    if pitch is None:
        return None
    for other, depth, sign in _RELATIONS.get(wanted, ()):
        number = known.get(other)
        if number is not None:
            return number + sign * pitch * measured(depth, {_DEPTH: DEPTH_U})
    return None


_DEPTH = Source("thread depth", "depth of thread over pitch", "answer", "caliper")
_RELATIONS: Mapping[str, tuple[tuple[str, float, int], ...]] = {
    "major": (("minor", OWN_DEPTH, 1), ("bore", MATING_DEPTH, 1)),
    "minor": (("major", OWN_DEPTH, -1),),
    "bore": (("major", MATING_DEPTH, -1),),
}
