"""How accurate all that stands beside diameter and pitch is: hand, hexagon, grooves, nose."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from photomeasure.answers.fitting import FittingAnswer

__all__ = ["Beside", "beside", "beside_table"]

NAMES = {
    "across_flats": "mm",
    "minor_diameter": "mm",
    "thread_angle": "deg",
    "nose_half_angle": "deg",
    "taper_half_angle": "deg",
    "thread_length": "mm",
}


@dataclass(frozen=True, slots=True)
class Beside:
    """One scene: the hand said and true, and (error, u) of every value that was given.

    `true_spanner` is the probability that was given to the spanner that truly fits, None without
    a list; `has_nose` whether there is one.
    """

    hand: str
    true_hand: str
    values: Mapping[str, tuple[float, float]]
    true_spanner: float | None
    has_nose: bool


def beside(answer: FittingAnswer, truth: Mapping[str, Any]) -> Beside:
    """Hold an answer against the truth file's `truth`."""
    values = {}
    for name in NAMES:
        quantity, real = getattr(answer, name), truth.get(name)
        if quantity is not None and real is not None:
            values[name] = (quantity.value - float(real), quantity.u)
    sizes = {one.size: one.probability for one in answer.spanner}
    return Beside(
        answer.hand,
        str(truth["hand"]),
        values,
        sizes.get(_spanner(float(truth["spanner_mm"])), 0.0) if sizes else None,
        truth["nose_half_angle"] is not None,
    )


def _spanner(size_mm: float) -> str:
    sixteenths = size_mm / 25.4 * 16
    if abs(size_mm - round(size_mm)) < 1e-6:
        return f"{round(size_mm)}mm"
    if abs(sixteenths - round(sixteenths)) > 1e-6:
        return "no spanner"
    whole, rest = divmod(round(sixteenths), 16)
    shared = int(np.gcd(rest, 16)) if rest else 1
    parts = [str(whole)] * (whole > 0) + [f"{rest // shared}/{16 // shared}"] * (rest > 0)
    return " ".join(parts) + "in"


def beside_table(scenes: Sequence[Beside]) -> str:
    """Put the figures together."""
    rows = [_hands(scenes, hand) for hand in ("right", "left")]
    for name, unit in NAMES.items():
        found = np.array([one.values[name] for one in scenes if name in one.values])
        if len(found) == 0:
            rows.append(f"{name}: never given")
            continue
        size, z = np.abs(found[:, 0]), found[:, 0] / found[:, 1]
        rows.append(
            f"{name}: given {len(found)} times, median |error| {np.median(size):.3f} {unit}, "
            f"95 % {np.percentile(size, 95):.3f} {unit}, median u {np.median(found[:, 1]):.3f} "
            f"{unit}, 95 % bands hold {np.mean(np.abs(z) < 1.96):.0%}, "
            f"mean squared normalised error {np.mean(z**2):.2f}"
        )
    listed = [one.true_spanner for one in scenes if one.true_spanner is not None]
    if listed:
        share = np.mean(np.array(listed) > 0)
        rows.append(f"spanner: the true size is listed in {share:.0%}, mean {np.mean(listed):.2f}")
    noses = sum(one.has_nose for one in scenes)
    found_noses = sum(one.has_nose and "nose_half_angle" in one.values for one in scenes)
    rows.append(f"noses: {found_noses} of {noses} found")
    return "\n".join(rows)


def _hands(scenes: Sequence[Beside], hand: str) -> str:
    said = [one.hand for one in scenes if one.true_hand == hand]
    wrong = sum(one not in {hand, "unknown"} for one in said)
    return (
        f"{hand}-hand threads: {len(said)}, told {said.count(hand)}, "
        f"unknown {said.count('unknown')}, wrong {wrong}"
    )
