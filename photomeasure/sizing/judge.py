"""The posterior over all threads, for many readings at once.

p(thread | reading) is the prior times the likelihood of all quantities together, with their full
covariance, folded with the thread's zone. Each likelihood is a mixture: the reading as it says,
the same with twice the uncertainty (it may claim too little), and a small share for a finder's
mistake. "None of these" is a thread of any diameter, its pitch any or one of the usual ones.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special

from photomeasure.sizing.body import Body
from photomeasure.sizing.body import likelihood as body_likelihood
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.seating import likelihood as seat_likelihood
from photomeasure.sizing.zones import ANGLE_SPREAD_RAD, Floats, Member, Prior, Zones, zones

__all__ = ["Doubt", "Posterior", "QuantityName", "Readings", "judge"]

QuantityName = Literal["diameter", "pitch", "taper", "minor", "angle"]

UNDERSTATED, MISTAKEN = 0.10, 0.012  # shares of a photo's readings that are not as they claim
UNDERSTATED_FACTOR = 2.0  # on the standard uncertainty
# A finder's mistake: sd of what it is off by
MISTAKE_DIAMETER, MISTAKE_PITCH, MISTAKE_MINOR = 0.06, 0.12, 0.10  # of the value
MISTAKE_TAPER_RAD, MISTAKE_ANGLE_RAD = math.radians(1.0), math.radians(3.0)
# None of these: diameter 6 to 70 mm and pitch 0.4 to 5 mm, even in their logarithms, or with
# NONE_USUAL a pitch that other threads have too
LEAST_MOST_DIAMETER_MM, LEAST_MOST_PITCH_MM = (6.0, 70.0), (0.4, 5.0)
BEYOND = 1e-4  # of the density inside those bounds
USUAL_PITCHES_MM = (
    *(0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0),
    *(25.4 / count for count in (8, 9, 10, 11, 11.5, 12, 13, 14, 16, 18, 19, 20, 24, 27, 28)),
)
NONE_USUAL, NONE_TAPERED, NONE_55 = 0.6, 0.1, 0.15
CREST_SOFT_MM = 0.04  # how far outside its zone a part may lie without counting as a misfit
TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Doubt:
    """Shares of readings that claim too little uncertainty, and that are plain wrong."""

    understated: float = UNDERSTATED
    mistaken: float = MISTAKEN


PHOTO_DOUBT = Doubt()


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """N readings of the same quantities.

    Attributes
    ----------
    member : "external" or "internal"
    quantities : tuple of QuantityName
        What the columns are; diameter [mm] (over the crests), pitch [mm], taper [rad]
        (half-angle), minor [mm] (the root: of a port its major diameter), angle [rad].
    values : (N, M)
    covariances : (N, M, M)
    diameter_at_mm : (N,)
        Distance of the diameter's plane from the end.
    plane_known : bool
        Whether `diameter_at_mm` means anything.
    doubt : Doubt
        How far the readings are to be trusted; a photo's unless told.
    """

    member: Member
    quantities: tuple[QuantityName, ...]
    values: Floats
    covariances: Floats
    diameter_at_mm: Floats
    plane_known: bool
    doubt: Doubt = PHOTO_DOUBT

    def __post_init__(self) -> None:
        count, size = self.values.shape
        if size != len(self.quantities) or self.covariances.shape != (count, size, size):
            raise ValueError("values and covariances do not fit the quantities")
        if self.diameter_at_mm.shape != (count,):
            raise ValueError("diameter_at_mm needs one number a reading")


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What N readings say of K threads.

    Attributes
    ----------
    zones : Zones
        The K threads.
    probabilities : (N, K + 1)
        The last column is "none of these"; rows sum to 1.
    misfit_p : (N, K)
        Chance that a part of that thread reads as badly as this.
    log_evidence : (N,)
        Logarithm of the readings' density under everything together.
    """

    zones: Zones
    probabilities: Floats
    misfit_p: Floats
    log_evidence: Floats


def judge(
    readings: Readings, prior: Prior, seen: SeatLook | None = None, body: Body | None = None
) -> Posterior:
    """Weigh every thread by every reading.

    Parameters
    ----------
    readings : Readings
        N of them.
    prior : Prior
    seen : SeatLook or None
        A look at the seat; the same part's for all of them.
    body : Body or None
        What was read of the hexagon and the mouth; the same part's, too.

    Returns
    -------
    Posterior
    """
    known = zones(readings.member, plane_known=readings.plane_known)
    honest, squared = _fit(readings, known, 1.0)
    doubt = readings.doubt
    likelihood = (1 - doubt.understated - doubt.mistaken) * honest
    if doubt.understated:
        likelihood += doubt.understated * _fit(readings, known, UNDERSTATED_FACTOR)[0]
    likelihood += doubt.mistaken * _mistaken(readings, known)
    none = prior.none_of_these * _none_of_these(readings)
    joint = np.column_stack([known.prior(prior) * likelihood, none])
    if seen is not None:
        joint = joint * seat_likelihood(seen, readings.member, known.threads)
    if body is not None:
        joint = joint * body_likelihood(body, readings.member, known)
    evidence = joint.sum(axis=1, keepdims=True)
    return Posterior(
        zones=known,
        probabilities=joint / evidence,
        misfit_p=special.chdtrc(len(readings.quantities), squared),
        log_evidence=np.log(evidence[:, 0]),
    )


def _fit(readings: Readings, known: Zones, factor: float) -> tuple[Floats, Floats]:
    """Likelihood (N, K), and the squared misfit to the nearest part inside the zone (N, K)."""
    covariances = factor**2 * readings.covariances
    shape = (len(readings.values), len(known.threads))
    others = [i for i, name in enumerate(readings.quantities) if name != "diameter"]
    deviation = readings.values[:, None, others] - _middles(readings, known, others)
    total = np.broadcast_to(
        covariances[:, None][..., others, :][..., others], (*shape, len(others), len(others))
    ).copy()
    step = np.arange(len(others))
    total[..., step, step] += _variances(readings, known, others)
    inverse, determinant = _inverse(total)
    squared = np.einsum("nki,nkij,nkj->nk", deviation, inverse, deviation)
    scale = np.sqrt(determinant * (2 * math.pi) ** len(others))
    likelihood = np.exp(-squared / 2) / scale
    if "diameter" not in readings.quantities:
        return np.maximum(likelihood, TINY), squared
    index = readings.quantities.index("diameter")
    gain = np.einsum("ni,nkij->nkj", covariances[:, index, others], inverse)
    diameter = readings.values[:, [index]] - np.einsum("nkj,nkj->nk", gain, deviation)
    variance = covariances[:, [index], index] - np.einsum(
        "nkj,nj->nk", gain, covariances[:, others, index]
    )
    at_gauge = diameter - _growth_mm(readings, known)
    density = _crest_density(at_gauge, variance, known)
    return np.maximum(likelihood * density, TINY), squared + _crest_misfit(
        at_gauge, variance, known
    )


def _inverse(covariances: Floats) -> tuple[Floats, Floats]:
    """Inverses and determinants of many small covariances, the smallest in closed form."""
    size = covariances.shape[-1]
    if size not in {1, 2}:
        inverse = np.asarray(np.linalg.inv(covariances), dtype=float)
        return inverse, np.asarray(np.linalg.det(covariances), dtype=float)
    first, last = covariances[..., 0, 0], covariances[..., -1, -1]
    if size == 1:
        return 1 / covariances, first
    beside = covariances[..., 0, 1]
    determinant = first * last - beside**2
    closed = np.empty_like(covariances)
    closed[..., 0, 0], closed[..., 1, 1] = last / determinant, first / determinant
    closed[..., 0, 1] = closed[..., 1, 0] = -beside / determinant
    return closed, determinant


def _growth_mm(readings: Readings, known: Zones) -> Floats:
    """How much larger a tapered thread is at the reading's plane than at its gauge plane."""
    growth: Floats = (readings.diameter_at_mm[:, None] - known.gauge_mm) * known.slope
    return growth


def _crest_density(at_gauge: Floats, variance: Floats, known: Zones) -> Floats:
    spread = np.sqrt(variance[..., None] + known.spread_mm**2)
    normal = (at_gauge[..., None] - known.centre_mm) / spread
    density: Floats = (known.share * np.exp(-(normal**2) / 2) / spread).sum(axis=-1)
    return density / math.sqrt(2 * math.pi)


def _crest_misfit(at_gauge: Floats, variance: Floats, known: Zones) -> Floats:
    outside = np.maximum(known.low_mm - at_gauge, at_gauge - known.high_mm)
    squared: Floats = np.maximum(outside, 0) ** 2 / (variance + CREST_SOFT_MM**2)
    return squared


def _middles(readings: Readings, known: Zones, columns: list[int]) -> Floats:
    """Where each quantity lies for each thread, (N, K, len(columns))."""
    count = len(readings.values)
    middle = {
        "pitch": known.pitch_mm,
        "taper": known.taper_rad,
        "minor": known.root_mm + _growth_mm(readings, known),
        "angle": known.angle_rad,
    }
    chosen = [
        np.broadcast_to(middle[readings.quantities[i]], (count, len(known.threads)))
        for i in columns
    ]
    if not chosen:
        return np.zeros((count, len(known.threads), 0))
    return np.stack(chosen, axis=-1)


def _variances(readings: Readings, known: Zones, columns: list[int]) -> Floats:
    """How far real parts scatter about those middles, (K, len(columns))."""
    spread = {
        "pitch": known.pitch_spread_mm,
        "taper": known.taper_spread_rad,
        "minor": known.root_spread_mm,
        "angle": np.full_like(known.pitch_mm, ANGLE_SPREAD_RAD),
    }
    chosen = [spread[readings.quantities[i]] ** 2 for i in columns]
    return np.stack(chosen, axis=-1) if chosen else np.zeros((len(known.threads), 0))


def _mistaken(readings: Readings, known: Zones) -> Floats:
    """Likelihood (N, K) of a reading whose finder went wrong: broad, each quantity by itself."""
    off = {
        "pitch": MISTAKE_PITCH * known.pitch_mm,
        "taper": np.full_like(known.pitch_mm, MISTAKE_TAPER_RAD),
        "minor": MISTAKE_MINOR * known.root_mm,
        "angle": np.full_like(known.pitch_mm, MISTAKE_ANGLE_RAD),
        "diameter": MISTAKE_DIAMETER * known.low_mm,
    }
    density = np.ones((len(readings.values), len(known.threads)))
    for i, name in enumerate(readings.quantities):
        if name == "diameter":
            middle = (known.low_mm + known.high_mm) / 2 + _growth_mm(readings, known)
        else:
            middle = _middles(readings, known, [i])[..., 0]
        spread = np.sqrt(readings.covariances[:, [i], i] + off[name] ** 2)
        density = density * _normal(readings.values[:, [i]] - middle, spread)
    return density


def _none_of_these(readings: Readings) -> Floats:
    """Density (N,) of the readings for a thread in no table."""
    columns = {name: readings.values[:, i] for i, name in enumerate(readings.quantities)}
    spreads = {
        name: np.sqrt(readings.covariances[:, i, i]) for i, name in enumerate(readings.quantities)
    }
    density = np.ones(len(readings.values))
    for name, value in columns.items():
        if name == "diameter":
            density = density * _even_in_log(value, LEAST_MOST_DIAMETER_MM)
        elif name == "pitch":
            density = density * _any_pitch(value, spreads[name])
        elif name == "minor":
            density = density * _any_minor(columns, spreads)
        else:
            density = density * _any_angle(name, value, spreads[name])
    return np.maximum(density, TINY)


def _even_in_log(value: Floats, bounds: tuple[float, float]) -> Floats:
    low, high = bounds
    inside = np.clip(np.abs(value), low, high)
    density: Floats = 1 / (math.log(high / low) * inside)
    return np.where((value < low) | (value > high), BEYOND * density, density)


def _any_pitch(value: Floats, spread: Floats) -> Floats:
    usual = np.array(USUAL_PITCHES_MM)
    total = np.sqrt(spread[:, None] ** 2 + (0.001 * usual) ** 2)
    near: Floats = _normal(value[:, None] - usual, total).mean(axis=1)
    return NONE_USUAL * near + (1 - NONE_USUAL) * _even_in_log(value, LEAST_MOST_PITCH_MM)


def _any_minor(columns: dict[QuantityName, Floats], spreads: dict[QuantityName, Floats]) -> Floats:
    value = columns["minor"]
    if "diameter" not in columns or "pitch" not in columns:
        return _even_in_log(value, LEAST_MOST_DIAMETER_MM)
    depth = np.abs(columns["diameter"] - value)
    expected = 1.2 * np.abs(columns["pitch"])
    scatter = np.sqrt(spreads["minor"] ** 2 + spreads["diameter"] ** 2 + (0.1 * expected) ** 2)
    return _normal(depth - expected, scatter)


def _any_angle(name: QuantityName, value: Floats, spread: Floats) -> Floats:
    if name == "taper":
        choices = ((0.0, 1 - NONE_TAPERED), (math.atan(1 / 32), NONE_TAPERED))
        total = np.sqrt(spread**2 + math.radians(0.1) ** 2)
    else:
        choices = ((math.radians(60), 1 - NONE_55), (math.radians(55), NONE_55))
        total = np.sqrt(spread**2 + ANGLE_SPREAD_RAD**2)
    density: Floats = np.zeros_like(value)
    for middle, share in choices:
        density = density + share * _normal(value - middle, total)
    return density


def _normal(deviation: Floats, spread: Floats) -> Floats:
    density: Floats = np.exp(-((deviation / spread) ** 2) / 2) / (spread * math.sqrt(2 * math.pi))
    return density
