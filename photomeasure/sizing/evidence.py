"""Which slip was made, if any, and which thread it is: both weighed together."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from uncertainties import UFloat, covariance_matrix

from photomeasure.sizing.body import Body
from photomeasure.sizing.fusion import Fused, fuse
from photomeasure.sizing.instruments import Instrument, Observation
from photomeasure.sizing.judge import Doubt, Posterior, QuantityName, Readings, judge
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.slips import Hypothesis, hypotheses
from photomeasure.sizing.zones import Floats, Member, Prior

__all__ = ["Judged", "PhotoValues", "Suspect", "weigh"]

LEAST_SUSPECT = 0.05  # slips less likely than this are not named
# Hypotheses whose readings contradict one another by this much more than the best's, on the
# logarithm, are dropped unjudged: a thread's fit moves it by less
HOPELESS = 45.0
# Rough hands and slips are weighed as hypotheses, so little is left over where there is no photo
HAND_DOUBT = Doubt(understated=0.0, mistaken=0.002)


@dataclass(frozen=True, slots=True, eq=False)
class PhotoValues:
    """What stands beside the caliper: a photo's numbers and where its diameter was read; looks."""

    numbers: Mapping[QuantityName, UFloat]
    diameter_at_mm: float = 0.0
    plane_known: bool = False
    seen: SeatLook | None = None
    body: Body | None = None


@dataclass(frozen=True, slots=True)
class Suspect:
    """A slip that may have been made, and in which readings."""

    slip: str
    probability: float
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """H hypotheses about slips, each with its posterior over threads.

    Attributes
    ----------
    quantities : tuple of QuantityName
    hypotheses : tuple of Hypothesis
        "No slip" first.
    chances : (H,)
        Their probabilities.
    fused : Fused
        The quantities' estimates under each.
    posterior : Posterior
        A row each.
    """

    quantities: tuple[QuantityName, ...]
    hypotheses: tuple[Hypothesis, ...]
    chances: Floats
    fused: Fused
    posterior: Posterior

    @property
    def probabilities(self) -> Floats:
        """Of the threads and "none of these", over all hypotheses, (K + 1,)."""
        mixed: Floats = self.chances @ self.posterior.probabilities
        return mixed

    @property
    def chance_of_no_slip(self) -> float:
        """Probability that every reading is as it should be."""
        honest = [one.slip is None for one in self.hypotheses]
        return float(self.chances[honest].sum())

    @property
    def likeliest(self) -> int:
        """Index of the most likely hypothesis."""
        return int(self.chances.argmax())

    @property
    def touched(self) -> frozenset[str]:
        """Names of the readings that the most likely hypothesis calls wrong; `photo` for it."""
        return frozenset(_touched(self.hypotheses[self.likeliest]))

    @property
    def chance_of_touched(self) -> float:
        """Probability that just those readings are wrong, by whatever slip."""
        alike = [frozenset(_touched(one)) == self.touched for one in self.hypotheses]
        return float(self.chances[alike].sum())

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """Slips worth naming, most likely first."""
        chances: dict[str, float] = {}
        most: dict[str, tuple[float, Hypothesis]] = {}
        for one, chance in zip(self.hypotheses, self.chances.tolist(), strict=True):
            if one.slip is None:
                continue
            chances[one.slip] = chances.get(one.slip, 0.0) + chance
            if one.slip not in most or most[one.slip][0] < chance:
                most[one.slip] = (chance, one)
        named = [
            Suspect(slip, chance, _touched(most[slip][1]))
            for slip, chance in chances.items()
            if chance >= LEAST_SUSPECT
        ]
        return tuple(sorted(named, key=lambda one: -one.probability))

    @property
    def misfit_p(self) -> float:
        """How well the most likely thread fits, under the most likely hypothesis."""
        best = int(self.probabilities.argmax())
        threads = len(self.posterior.zones.threads)
        return 1.0 if best == threads else float(self.posterior.misfit_p[self.likeliest, best])


def _touched(one: Hypothesis) -> tuple[str, ...]:
    names = tuple(one.observations[i].name for i in one.touched)
    return (*names, "photo") if one.photo_spread else names


def weigh(
    observations: tuple[Observation, ...],
    photo: PhotoValues,
    member: Member,
    instrument: Instrument,
    prior: Prior,
) -> Judged:
    """Weigh every slip and every thread.

    Parameters
    ----------
    observations : tuple of Observation
        Of the member alone; with the photo's they are at least one.
    photo : PhotoValues
    member : "external" or "internal"
    instrument : Instrument
    prior : Prior

    Returns
    -------
    Judged
    """
    named = [*(one.quantity for one in observations), *photo.numbers]
    quantities = tuple(dict.fromkeys(named))
    columns = np.array([quantities.index(name) for name in named], dtype=np.intp)
    slips = hypotheses(observations, instrument, with_photo=bool(photo.numbers))
    photo_covariance = np.array(covariance_matrix(list(photo.numbers.values())), dtype=float)
    fused = fuse(
        np.array([_values(one, photo) for one in slips]),
        _covariances(slips, photo, photo_covariance),
        columns,
    )
    beforehand = np.array([math.log(one.prior) + one.log_jacobian for one in slips])
    weights = beforehand + fused.log_agreement
    kept = np.flatnonzero(weights >= weights.max() - HOPELESS)
    kept = np.union1d([0, 1], kept)
    posterior = judge(
        Readings(
            member=member,
            quantities=quantities,
            values=fused.values[kept],
            covariances=fused.covariances[kept],
            diameter_at_mm=np.full(len(kept), photo.diameter_at_mm),
            plane_known=photo.plane_known,
            doubt=Doubt() if photo.numbers else HAND_DOUBT,
        ),
        prior,
        photo.seen,
        photo.body,
    )
    weights = weights[kept] + posterior.log_evidence
    chances = np.exp(weights - weights.max())
    hypothesised = tuple(slips[i] for i in kept)
    return Judged(quantities, hypothesised, chances / chances.sum(), fused.of(kept), posterior)


def _values(one: Hypothesis, photo: PhotoValues) -> list[float]:
    values = [each.value for each in one.observations]
    return values + [float(number.nominal_value) for number in photo.numbers.values()]


def _covariances(
    slips: tuple[Hypothesis, ...], photo: PhotoValues, photo_covariance: Floats
) -> Floats:
    """Of the readings, then the photo's numbers, under each of H hypotheses, (H, N, N)."""
    count = len(slips[0].observations)
    own = np.array([[each.own_u for each in one.observations] for one in slips])
    shared = np.array([[each.shared_u for each in one.observations] for one in slips])
    zero = np.array([_zero_mm(one) for one in slips])
    size = count + len(photo.numbers)
    covariances = np.zeros((len(slips), size, size))
    if count:
        covariances[:, :count, :count] = shared[:, :, None] * shared[:, None, :]
        covariances[:, :count, :count] += zero[:, :, None] * zero[:, None, :]
        step = np.arange(count)
        covariances[:, step, step] += own**2
        rough = np.array([one.roughness for one in slips])
        covariances[:, :count, :count] *= rough[:, None, None] ** 2
    if photo.numbers:
        off = np.array([_photo_off(one, photo) for one in slips])
        step = np.arange(count, size)
        covariances[:, count:, count:] = photo_covariance
        covariances[:, step, step] += off**2
    return covariances


def _zero_mm(one: Hypothesis) -> list[float]:
    return [
        0.0 if each.kind == "pitch" else one.zero_spread_mm / each.turns
        for each in one.observations
    ]


def _photo_off(one: Hypothesis, photo: PhotoValues) -> list[float]:
    return [
        one.photo_spread * float(number.nominal_value) * (name in {"diameter", "minor"})
        for name, number in photo.numbers.items()
    ]
