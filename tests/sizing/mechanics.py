"""Simulated mechanics: random parts inside their zones, read with random errors."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.sizing.judge import (
    MISTAKE_ANGLE_RAD,
    MISTAKE_DIAMETER,
    MISTAKE_PITCH,
    MISTAKE_TAPER_RAD,
    MISTAKEN,
    UNDERSTATED,
    UNDERSTATED_FACTOR,
    Posterior,
    QuantityName,
    Readings,
    judge,
)
from photomeasure.sizing.match import LEAST_LOOKALIKE, LEAST_MISFIT_P, SURE
from photomeasure.sizing.zones import Floats, Prior, zones
from photomeasure.standards import lookalikes_of
from tests.sizing.benches import is_near_listed

PITCHES_MM = (0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)
COUNTS = (10, 11, 12, 14, 16, 18, 19, 20, 24, 28)
FITTING = 0.35  # commonness of a bolt's thread lies below
CHUNK = 500
QUANTITIES: tuple[QuantityName, ...] = ("diameter", "pitch", "taper", "angle")


@dataclass(frozen=True)
class Photos:
    readings: Readings
    truth: NDArray[np.intp]  # (N,), K for a thread in no table


@dataclass(frozen=True)
class Judged:
    posterior: Posterior
    truth: NDArray[np.intp]
    misfit_p: Floats

    @property
    def probabilities(self) -> Floats:
        return self.posterior.probabilities

    @property
    def threads(self) -> int:
        return len(self.posterior.zones.threads)

    @property
    def best(self) -> NDArray[np.intp]:
        return np.asarray(np.argmax(self.probabilities, axis=1))

    @property
    def probability(self) -> Floats:
        return np.asarray(self.probabilities.max(axis=1))

    @property
    def hits(self) -> NDArray[np.bool_]:
        return np.asarray(np.arange(self.threads + 1) == self.truth[:, None])

    @property
    def identified(self) -> NDArray[np.bool_]:
        """The verdict's rule, for all at once."""
        names = [one.designation for one in self.posterior.zones.threads]
        alike = np.array(
            [[other in lookalikes_of(name) for other in [*names, ""]] for name in [*names, ""]]
        )
        rival = (self.probabilities * alike[self.best]).max(axis=1)
        known = self.best < self.threads
        fit = self.misfit_p[np.arange(len(self.truth)), np.minimum(self.best, self.threads - 1)]
        sure = self.probability >= SURE
        return np.asarray(known & sure & (fit >= LEAST_MISFIT_P) & (rival < LEAST_LOOKALIKE))

    def name(self, index: int) -> str:
        threads = self.posterior.zones.threads
        return threads[index].designation if index < len(threads) else "none of these"


def simulated_photos(
    count: int,
    rng: np.random.Generator,
    *,
    scale_u: float = 0.01,
    no_table: float = 0.1,
    as_common: bool = False,
) -> Photos:
    """Male threads, even over the fluid-port threads or as common as the judge supposes.

    `no_table` of them are of any diameter, clear of every listed thread.
    """
    known = zones("external", plane_known=True)
    everyday = np.array([one.commonness > FITTING for one in known.threads])
    often = known.prior(Prior()) if as_common else everyday.astype(float)
    drawn = rng.choice(len(often), count, p=often / often.sum())
    width = (known.high_mm - known.low_mm)[drawn]
    diameter = known.low_mm[drawn] + width * rng.random(count)
    worn = rng.random(count) < 0.05
    diameter = np.where(worn, diameter - rng.exponential(0.06, count), diameter)
    at_mm = rng.uniform(0, 10, count) * (known.slope[drawn] != 0)
    diameter += (at_mm - known.gauge_mm[drawn]) * known.slope[drawn]
    pitch = known.pitch_mm[drawn] * rng.normal(1, 0.0007, count)
    taper = rng.normal(known.taper_rad[drawn], math.radians(0.03))
    angle = rng.normal(known.angle_rad[drawn], math.radians(0.3))
    none = rng.random(count) < no_table
    diameter[none], pitch[none] = _of_no_table(int(none.sum()), rng)
    taper[none], at_mm[none] = 0.0, 0.0
    readings = _read(rng, (diameter, pitch, taper, angle), at_mm, scale_u)
    return Photos(readings, np.where(none, len(known.threads), drawn))


def _of_no_table(count: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    pitches = [*PITCHES_MM, *(25.4 / n for n in COUNTS)]
    diameter, pitch = np.empty(count), np.empty(count)
    for i in range(count):
        while True:
            diameter[i] = math.exp(rng.uniform(math.log(8), math.log(60)))
            pitch[i] = rng.choice(pitches)
            if not is_near_listed("external", float(diameter[i]), float(pitch[i])):
                break
    return diameter, pitch


def only(photos: Photos, count: int) -> Photos:
    """The same, of which only the first `count` quantities were read."""
    whole = photos.readings
    fewer = Readings(
        whole.member,
        whole.quantities[:count],
        whole.values[:, :count],
        whole.covariances[:, :count, :count],
        whole.diameter_at_mm,
        whole.plane_known,
    )
    return Photos(fewer, photos.truth)


def _read(
    rng: np.random.Generator, sizes: tuple[Floats, ...], at_mm: Floats, scale_u: float
) -> Readings:
    diameter, pitch, taper, angle = sizes
    count = len(diameter)
    scale = rng.normal(1, scale_u, count)
    diameter_u, pitch_u = rng.uniform(0.03, 0.08, count), rng.uniform(0.003, 0.005, count) * pitch
    values = np.column_stack(
        [
            rng.normal(diameter * scale, diameter_u),
            rng.normal(pitch * scale, pitch_u),
            rng.normal(taper, math.radians(0.25)),
            rng.normal(angle, math.radians(0.8)),
        ]
    )
    covariances = np.zeros((count, 4, 4))
    shared = scale_u * values[:, :2]
    covariances[:, :2, :2] = shared[:, :, None] * shared[:, None, :]
    covariances[:, 0, 0] += diameter_u**2
    covariances[:, 1, 1] += pitch_u**2
    covariances[:, 2, 2] = math.radians(0.25) ** 2
    covariances[:, 3, 3] = math.radians(0.8) ** 2
    return Readings("external", QUANTITIES, values, covariances, at_mm, plane_known=True)


def with_mistakes(photos: Photos, rng: np.random.Generator) -> Photos:
    """The same, of which some claim too little and some went wrong, as the judge supposes."""
    whole = photos.readings
    count = len(photos.truth)
    values = whole.values.copy()
    # twice the claimed uncertainty in all: once more the error, sqrt(3) larger
    claims_too_little = rng.random(count) < UNDERSTATED
    factor = math.sqrt(UNDERSTATED_FACTOR**2 - 1)
    more = np.linalg.cholesky(whole.covariances) @ rng.normal(size=(*values.shape, 1))
    values[claims_too_little] += factor * more[claims_too_little, :, 0]
    wrong = rng.random(count) < MISTAKEN
    off = rng.normal(size=(count, 4))[wrong]
    values[wrong, 0] *= 1 + MISTAKE_DIAMETER * off[:, 0]
    values[wrong, 1] *= 1 + MISTAKE_PITCH * off[:, 1]
    values[wrong, 2:] += off[:, 2:] * [MISTAKE_TAPER_RAD, MISTAKE_ANGLE_RAD]
    return Photos(replace(whole, values=values), photos.truth)


def judged(photos: Photos, prior: Prior | None = None) -> Judged:
    """Judge them in pieces that fit the memory."""
    pieces = [
        judge(_piece(photos.readings, start), prior or Prior())
        for start in range(0, len(photos.truth), CHUNK)
    ]
    whole = Posterior(
        zones=pieces[0].zones,
        probabilities=np.concatenate([piece.probabilities for piece in pieces]),
        misfit_p=np.concatenate([piece.misfit_p for piece in pieces]),
        log_evidence=np.concatenate([piece.log_evidence for piece in pieces]),
    )
    return Judged(whole, photos.truth, whole.misfit_p)


def _piece(readings: Readings, start: int) -> Readings:
    rows = slice(start, start + CHUNK)
    return Readings(
        readings.member,
        readings.quantities,
        readings.values[rows],
        readings.covariances[rows],
        readings.diameter_at_mm[rows],
        readings.plane_known,
    )
