"""Which further measurement would tell most, in words of the trade."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.sizing.judge import QuantityName
from photomeasure.sizing.seating import every_look, likelihood
from photomeasure.sizing.zones import Floats, Member, Zones

__all__ = ["Asked", "settle_by"]

Indices = NDArray[np.intp]

LEAST_PROBABILITY = 0.003  # what is less likely is not worth a measurement
MOST_CANDIDATES = 6
LEAST_INFORMATION = 0.05  # of what is unknown
MOST_NAMED = 3
LOOKING = 0.75  # a look is no measurement: what both tell alike is better measured
NODES = 21  # Gauss-Hermite
# Standard uncertainties at the bench: caliper on a crest and in a bore, see the caliper room;
# pitch gauge, two caliper readings 10 mm apart, profile gauge (common practice, no source)
CREST_U_MM, BORE_U_MM = 0.03, 0.05
PITCH_U = 0.01  # of the pitch
TAPER_U_RAD, ANGLE_U_RAD = math.radians(0.25), math.radians(1.2)
# What is at hand comes first where two measurements tell about as much
PREFERENCE: Mapping[QuantityName, float] = {
    "diameter": 1.0,
    "pitch": 1.0,
    "taper": 0.93,
    "angle": 0.9,
}
NONE_SPREAD: Mapping[QuantityName, float] = {"diameter": 0.05, "pitch": 0.10}  # of the value
TAPER_BASE_MM = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """What is known when one asks for a further measurement.

    Attributes
    ----------
    member : "external" or "internal"
    zones : Zones
        K threads.
    probabilities : (K + 1,)
        The last is "none of these".
    read : mapping of QuantityName to (value, u)
        What was read already.
    """

    member: Member
    zones: Zones
    probabilities: Floats
    read: Mapping[QuantityName, tuple[float, float]]


def settle_by(asked: Asked) -> str | None:
    """Name the measurement with the greatest expected information.

    Parameters
    ----------
    asked : Asked

    Returns
    -------
    str or None
        Such as `pitch gauge: 1.5 mm or 18 to the inch`; None if none of them tells anything.
    """
    if asked.probabilities[:-1].max() < LEAST_PROBABILITY:
        return None
    chosen = np.flatnonzero(asked.probabilities >= LEAST_PROBABILITY)
    chosen = chosen[np.argsort(-asked.probabilities[chosen])][:MOST_CANDIDATES]
    weights = asked.probabilities[chosen] / asked.probabilities[chosen].sum()
    unknown = float(-(weights * np.log(weights)).sum())
    worth = {
        name: PREFERENCE[name] * _information(asked, name, chosen, weights) for name in PREFERENCE
    }
    best = max(worth, key=lambda name: worth[name])
    seen, shown = _look_information(asked, chosen, weights)
    if unknown > 0 and LOOKING * seen > max(worth[best], LEAST_INFORMATION * unknown):
        return f"look where it seals: {_either(shown)}"
    if unknown <= 0 or worth[best] < LEAST_INFORMATION * unknown:
        return None
    known = [int(index) for index in chosen if index < len(asked.zones.threads)]
    return _WORDS[best](asked, known) if known else None


def _information(asked: Asked, name: QuantityName, chosen: Indices, weights: Floats) -> float:
    """Mutual information [nat] between the thread and one more reading of the quantity."""
    middle, spread = _expected(asked, name)
    middle, spread = middle[chosen], np.hypot(spread[chosen], _bench_u(asked, name))
    nodes, share = np.polynomial.hermite_e.hermegauss(NODES)
    reading = middle[:, None] + spread[:, None] * nodes  # what each thread would read, (C, NODES)
    off = (reading[..., None] - middle) / spread
    density = np.exp(-(off**2) / 2) / spread  # (C, NODES, C): of that reading under every thread
    own = np.exp(-(nodes**2) / 2) / spread[:, None]
    ratio = np.log(own / (density @ weights))
    return float(weights @ (ratio @ share) / share.sum())


def _look_information(
    asked: Asked, chosen: Indices, weights: Floats
) -> tuple[float, tuple[str, ...]]:
    """Mutual information [nat] between the thread and a look at its seat; what each would show."""
    every = every_look(asked.member)
    chances = np.array([likelihood(one, asked.member, asked.zones.threads) for one in every])
    chances = chances[:, chosen] / chances[:, chosen].sum(axis=0)  # (looks, C)
    ratio = np.log(chances / (chances @ weights)[:, None])
    information = float((weights * chances * ratio).sum())
    shown = [every[int(i)] for i in chances.argmax(axis=0)]
    return information, tuple(
        one.place if one.form is None else f"{one.place}, {one.form}" for one in shown
    )


def _expected(asked: Asked, name: QuantityName) -> tuple[Floats, Floats]:
    """What each thread, and none of them, makes one expect: middle and sd, (K + 1,)."""
    zones = asked.zones
    reach = (zones.high_mm - zones.low_mm) / math.sqrt(12) + np.abs(zones.slope) * 2.0
    middles = {
        "diameter": (zones.low_mm + zones.high_mm) / 2,
        "pitch": zones.pitch_mm,
        "taper": zones.taper_rad,
        "angle": zones.angle_rad,
    }
    spreads = {
        "diameter": reach,
        "pitch": zones.pitch_spread_mm,
        "taper": zones.taper_spread_rad,
        "angle": np.full_like(zones.angle_rad, math.radians(0.5)),
    }
    typical = float(asked.probabilities[:-1] @ middles[name] / asked.probabilities[:-1].sum())
    # an unknown thread's taper and angle are the likeliest thread's: they tell nothing of "none"
    likeliest = int(asked.probabilities[:-1].argmax())
    known = name in NONE_SPREAD
    none_middle = typical if known else middles[name][likeliest]
    none_spread = NONE_SPREAD[name] * typical if known else spreads[name][likeliest]
    middle = np.append(middles[name], none_middle)
    spread = np.append(spreads[name], none_spread)
    if name not in asked.read:
        return middle, spread
    value, u = asked.read[name]
    if name == "diameter" and zones.slope.any():
        u = math.hypot(u, 0.3)  # it was not read at the gauge plane
    both = spread**2 + u**2
    return (middle * u**2 + value * spread**2) / both, spread * u / np.sqrt(both)


def _bench_u(asked: Asked, name: QuantityName) -> float:
    if name == "diameter":
        return CREST_U_MM if asked.member == "external" else BORE_U_MM
    if name == "pitch":
        return PITCH_U * float(asked.probabilities[:-1] @ asked.zones.pitch_mm)
    return TAPER_U_RAD if name == "taper" else ANGLE_U_RAD


def _diameter_words(asked: Asked, known: list[int]) -> str:
    where = "over the crests" if asked.member == "external" else "in the bore"
    zones = asked.zones
    return f"caliper {where}: " + _either(
        f"{zones.low_mm[i]:.2f} to {zones.high_mm[i]:.2f} mm ({zones.threads[i].designation})"
        for i in known
    )


def _pitch_words(asked: Asked, known: list[int]) -> str:
    return "pitch gauge: " + _either(
        f"{one.pitch_mm:g} mm" if one.tpi is None else f"{one.tpi:g} to the inch"
        for one in (asked.zones.threads[i] for i in known)
    )


def _taper_words(asked: Asked, known: list[int]) -> str:
    words = {
        False: "the same (parallel)",
        True: f"{TAPER_BASE_MM / 16:.1f} mm apart (taper 1:16)",
    }
    return f"caliper at the end and {TAPER_BASE_MM:g} mm further along: " + _either(
        words[asked.zones.threads[i].is_tapered] for i in known
    )


def _angle_words(asked: Asked, known: list[int]) -> str:
    return "thread angle by a profile gauge: " + _either(
        f"{math.degrees(asked.zones.angle_rad[i]):.0f}°" for i in known
    )


_WORDS: Mapping[QuantityName, Callable[[Asked, list[int]], str]] = {
    "diameter": _diameter_words,
    "pitch": _pitch_words,
    "taper": _taper_words,
    "angle": _angle_words,
}


def _either(words: Iterable[str]) -> str:
    return " or ".join(list(dict.fromkeys(words))[:MOST_NAMED])
