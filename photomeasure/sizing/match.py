"""From a reading of a thread to the threads it may be."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from uncertainties import UFloat, covariance_matrix

from photomeasure.sizing.body import Body
from photomeasure.sizing.judge import Posterior, QuantityName, Readings
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.settle import Asked, settle_by
from photomeasure.sizing.spread import judge_spread
from photomeasure.sizing.zones import Floats, Member, Prior
from photomeasure.standards import Thread, lookalikes_of

__all__ = [
    "NONE_OF_THESE",
    "Candidate",
    "Hand",
    "Match",
    "Prior",
    "ThreadReading",
    "Verdict",
    "candidates_of",
    "match",
    "rivals_of",
    "thread_warnings",
    "verdict_of",
]

Hand = Literal["right", "left", "unknown"]
Verdict = Literal["identified", "ambiguous", "no match"]

NONE_OF_THESE = "none of these"
SURE, UNMATCHED = 0.95, 0.5  # the contract's bounds
LEAST_MISFIT_P = 0.001
# A thread that partly engages the true one is never named while the other is as likely as this
LEAST_LOOKALIKE = 0.005
LEAST_LISTED = 1e-4
WARNED_LOOKALIKE = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class ThreadReading:
    """What was measured of one thread; None is what was not.

    Attributes
    ----------
    member : "external" or "internal"
    diameter : UFloat [mm] or None
        Over the crests (external: major; internal: minor, the bore).
    diameter_at_mm : float [mm]
        Distance of that plane from the end face (external: the small end; internal: the mouth);
        0 if unknown or parallel. It counts as unknown if `taper_half_angle` is None, too.
    pitch : UFloat [mm] or None
    taper_half_angle : UFloat [rad] or None
        0 is parallel, atan(1/32) is 1:16.
    minor_diameter : UFloat [mm] or None
        The root of an external thread.
    thread_angle : UFloat [rad] or None
        Between the flanks.
    hand : "right", "left" or "unknown"
    misfit_p : float
        p-value of the reading's own fit.
    seen : SeatLook or None
        What somebody saw of the seat.
    body : Body or None
        What was read of the hexagon, the mouth and the thread's length.
    """

    member: Member
    diameter: UFloat | None
    diameter_at_mm: float
    pitch: UFloat | None
    taper_half_angle: UFloat | None
    minor_diameter: UFloat | None = None
    thread_angle: UFloat | None = None
    hand: Hand = "unknown"
    misfit_p: float = 1.0
    seen: SeatLook | None = None
    body: Body | None = None

    def __post_init__(self) -> None:
        for name, number in self.quantities().items():
            if not (math.isfinite(number.nominal_value) and math.isfinite(number.std_dev)):
                raise ValueError(f"{name} is not a finite number")

    def quantities(self) -> dict[QuantityName, UFloat]:
        """What was measured, by the judge's names."""
        every: dict[QuantityName, UFloat | None] = {
            "diameter": self.diameter,
            "pitch": self.pitch,
            "taper": self.taper_half_angle,
            "minor": self.minor_diameter,
            "angle": self.thread_angle,
        }
        return {name: number for name, number in every.items() if number is not None}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A thread that it may be; "none of these" has family None."""

    designation: str
    family: str | None
    probability: float
    seats: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Match:
    """The answer: candidates most likely first, their probabilities sum to 1."""

    verdict: Verdict
    candidates: tuple[Candidate, ...]
    settle_by: str | None
    warnings: tuple[str, ...]


_EVERYDAY = Prior()


def match(
    reading: ThreadReading,
    prior: Prior = _EVERYDAY,
    *,
    other: tuple[float, ThreadReading] | None = None,
) -> Match:
    """Weigh every thread of the tables by a reading.

    Parameters
    ----------
    reading : ThreadReading
        Its numbers share their sources; the full covariance is used.
    prior : Prior
        How likely the families are beforehand.
    other : tuple of float and ThreadReading, optional
        What the same thread reads as if it is supposed otherwise (tapered, not parallel), and the
        chance of that by the photo alone.

    Returns
    -------
    Match
        `identified` needs a probability of 0.95, a reading that fits the thread, and no likely
        thread that the true one starts on and does not hold.
    """
    posterior = _judged(reading, prior)
    probabilities = posterior.probabilities[0]
    if other is not None:
        second = _judged(other[1], prior)
        share = _share(posterior, second, other[0])
        probabilities = (1 - share) * probabilities + share * second.probabilities[0]
        if share * second.probabilities[0].max() > 0.5 * probabilities.max():
            reading, posterior = other[1], second
    best = int(probabilities.argmax())
    misfit_p = _misfit_p(reading, posterior, best)
    verdict = verdict_of(posterior.zones.threads, probabilities, misfit_p)
    read = {
        name: (float(number.nominal_value), float(number.std_dev))
        for name, number in reading.quantities().items()
    }
    asked = Asked(reading.member, posterior.zones, probabilities, read)
    return Match(
        verdict=verdict,
        candidates=candidates_of(posterior.zones.threads, probabilities),
        settle_by=None if verdict == "identified" else settle_by(asked),
        warnings=(
            *_fit_warnings(probabilities, posterior.zones.threads, best, misfit_p),
            *thread_warnings(posterior.zones.threads, probabilities),
            *_hand_warnings(reading),
        ),
    )


def _share(first: Posterior, second: Posterior, chance: float) -> float:
    """Chance of the second supposition, by the photo and by how well the tables hold either."""
    odds = math.log(chance / (1 - chance)) + float(second.log_evidence[0] - first.log_evidence[0])
    return 1 / (1 + math.exp(-max(min(odds, 50.0), -50.0)))


def _judged(reading: ThreadReading, prior: Prior) -> Posterior:
    numbers = list(reading.quantities().values())
    return judge_spread(_readings(reading), numbers, prior, reading.seen, reading.body)


def _readings(reading: ThreadReading) -> Readings:
    numbers = reading.quantities()
    count = len(numbers)
    covariance = np.array(covariance_matrix(list(numbers.values())), dtype=float)
    return Readings(
        member=reading.member,
        quantities=tuple(numbers),
        values=np.array([[number.nominal_value for number in numbers.values()]], dtype=float),
        covariances=covariance.reshape(1, count, count),
        diameter_at_mm=np.array([reading.diameter_at_mm]),
        plane_known=reading.taper_half_angle is not None or reading.diameter_at_mm != 0,
    )


def _misfit_p(reading: ThreadReading, posterior: Posterior, best: int) -> float:
    """The worse of the reading's own fit and its fit to the best thread."""
    known = len(posterior.zones.threads)
    if best == known or not reading.quantities():
        return reading.misfit_p
    return min(reading.misfit_p, float(posterior.misfit_p[0, best]))


def rivals_of(threads: tuple[Thread, ...], probabilities: Floats) -> dict[str, float]:
    """Give the probability of each thread that partly engages the most likely one.

    Parameters
    ----------
    threads : tuple of Thread
        K of them.
    probabilities : (K + 1,)
        The last is "none of these".

    Returns
    -------
    dict of str to float
    """
    best = int(probabilities.argmax())
    if best == len(threads):
        return {}
    alike = lookalikes_of(threads[best].designation)
    return {
        one.designation: float(probabilities[i])
        for i, one in enumerate(threads)
        if one.designation in alike
    }


def verdict_of(threads: tuple[Thread, ...], probabilities: Floats, misfit_p: float) -> Verdict:
    """Give the contract's verdict.

    Parameters
    ----------
    threads : tuple of Thread
        K of them.
    probabilities : (K + 1,)
        The last is "none of these".
    misfit_p : float
        Of the reading, and of the reading against the most likely thread.

    Returns
    -------
    Verdict
    """
    best = int(probabilities.argmax())
    if best == len(threads):
        return "no match" if probabilities[best] >= UNMATCHED else "ambiguous"
    rival = max(rivals_of(threads, probabilities).values(), default=0.0)
    fits = misfit_p >= LEAST_MISFIT_P and rival < LEAST_LOOKALIKE
    return "identified" if fits and probabilities[best] >= SURE else "ambiguous"


def candidates_of(threads: tuple[Thread, ...], probabilities: Floats) -> tuple[Candidate, ...]:
    """List the likely threads and "none of these", most likely first.

    Parameters
    ----------
    threads : tuple of Thread
        K of them.
    probabilities : (K + 1,)
        The last is "none of these".

    Returns
    -------
    tuple of Candidate
        Those below one in ten thousand are left out; the rest sum to 1.
    """
    none = len(threads)
    listed = [int(i) for i in np.flatnonzero(probabilities >= LEAST_LISTED) if i != none] + [none]
    total = float(probabilities[listed].sum())
    named = [
        Candidate(
            designation=threads[i].designation if i != none else NONE_OF_THESE,
            family=threads[i].family if i != none else None,
            probability=float(probabilities[i]) / total,
            seats=tuple(seat.name for seat in threads[i].seats) if i != none else (),
        )
        for i in listed
    ]
    return tuple(sorted(named, key=lambda one: -one.probability))


def _fit_warnings(
    probabilities: Floats, threads: tuple[Thread, ...], best: int, misfit_p: float
) -> list[str]:
    if misfit_p >= LEAST_MISFIT_P:
        return []
    if best == len(threads):
        return ["The reading does not fit itself: measure again."]
    likely = f"{100 * probabilities[best]:.0f} %"
    return [
        f"{threads[best].designation} is the nearest ({likely}), but the reading does not fit it: "
        "measure again, or the thread is worn or in no table."
    ]


def thread_warnings(threads: tuple[Thread, ...], probabilities: Floats) -> list[str]:
    """Say what the most likely thread is dangerously like, and what else uses it.

    Parameters
    ----------
    threads : tuple of Thread
        K of them.
    probabilities : (K + 1,)
        The last is "none of these".

    Returns
    -------
    list of str
    """
    best = int(probabilities.argmax())
    if best == len(threads):
        return []
    one = threads[best]
    alike = lookalikes_of(one.designation)
    warnings = [
        f"{name} and {one.designation} start on each other's parts and hold by a few turns only; "
        f"told apart by: {alike[name]}. Clean and oiled, the right part runs to the seal by "
        "fingers; running in easily is no proof."
        for name, probability in rivals_of(threads, probabilities).items()
        if probability >= WARNED_LOOKALIKE
    ]
    cautions = {seat.caution for seat in one.seats if "brake" in seat.caution}
    return warnings + [f"{one.designation}: {caution}." for caution in sorted(cautions)]


def _hand_warnings(reading: ThreadReading) -> list[str]:
    if reading.hand != "left":
        return []
    if reading.member == "internal":
        return ["Left-hand port: usually fuel gas. Find out what it carries before going on."]
    return ["Left-hand thread: the tables list right-hand ones; find out what it carries."]
