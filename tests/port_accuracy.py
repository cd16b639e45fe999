"""How accurate ports are read over rendered photographs with known truth.

    python -m tests.port_accuracy DIR [DIR ...]

reads every `port_*.jpg` in each DIR (truth beside it), with the bar readings that the truth file
gives, prints a line a scene and a table; `port_*_1.jpg` and `port_*_2.jpg` are one port's photos.
"""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.port import PortAnswer, port
from photomeasure.errors import MeasuringError
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity
from photomeasure.scene import BarReading


@dataclass(frozen=True, slots=True)
class PortOutcome:
    """One scene: what was said, and how far off the figures are (pitch relative)."""

    name: str
    truth: str
    tilt_deg: float
    said: str
    hand: str
    bore_error_mm: float | None = None
    bore_u_mm: float | None = None
    pitch_error: float | None = None
    pitch_u: float | None = None
    round_it: tuple[tuple[str, float, float], ...] = ()  # mouth, recess, depth: name, error, u [mm]


# The same pitch, and bores that overlap: the thread angle alone tells them apart
ALIKE = ({"Rc1/2", "1/2-14 NPT"}, {"Rc3/4", "3/4-14 NPT"})
BOTH = "rightly both"


def _said(answer: PortAnswer, designation: str | None) -> str:
    if answer.verdict == "ambiguous":
        first = {one.designation for one in answer.candidates[:2]}
        sure = sum(one.probability for one in answer.candidates[:2]) >= 0.95
        return BOTH if designation in first and first in ALIKE and sure else "ambiguous"
    if answer.verdict != "identified":
        return answer.verdict
    name = answer.candidates[0].designation
    return "rightly" if name == designation else f"wrongly: {name}"


def _hand(answer: PortAnswer, truth: str) -> str:
    if answer.hand == "unknown":
        return "unknown"
    return "right" if answer.hand == truth else "wrong"


def _round_it(answer: PortAnswer, scene: dict[str, Any]) -> tuple[tuple[str, float, float], ...]:
    """Errors of what stands round the thread, where it is there and was seen."""
    truth = scene["truth"]
    recess = truth["spot_face_diameter"] if scene["clears_spot_face"] else None
    named = (
        ("mouth", answer.mouth_diameter, truth["mouth_diameter"]),
        ("counterbore", answer.counterbore_diameter, truth["counterbore_diameter"] or 0.0),
        ("recess", answer.spot_face_diameter, recess or 0.0),
        ("depth", answer.thread_depth, truth["thread_depth"]),
    )
    return tuple((name, seen.value - true, seen.u) for name, seen, true in named if seen)


def _error(quantity: Quantity | None, truth: float) -> tuple[float | None, float | None]:
    return (None, None) if quantity is None else (quantity.value - truth, quantity.u)


def port_outcome(pictures: Sequence[Path]) -> PortOutcome:
    """Measure a rendered port by its photographs and hold the answer against its truth."""
    scene: dict[str, Any] = json.loads(pictures[0].with_suffix(".json").read_text("utf-8"))
    truth, bars = scene["truth"], scene["print"]["bars"]
    named = (pictures[0].stem, str(truth["designation"]), float(scene["view"]["tilt_deg"]))
    options = PhotoOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])})
    try:
        answer = port([load_photo(picture) for picture in pictures], options)
    except MeasuringError as error:
        return PortOutcome(*named, f"refused: {error.code}", "none")
    bore = _error(answer.bore_diameter, truth["bore_diameter"])
    pitch = _error(answer.pitch, truth["pitch"])
    relative = [None if one is None else one / truth["pitch"] for one in pitch]
    said = _said(answer, truth["designation"])
    hand = _hand(answer, truth["hand"])
    return PortOutcome(*named, said, hand, *bore, *relative, _round_it(answer, scene))


def _line(name: str, errors: list[float], us: list[float], unit: str) -> str:
    size, z = np.abs(errors), np.array(errors) / np.array(us)
    return (
        f"{name}: median |error| {np.median(size):.3f} {unit}, 95 % {np.percentile(size, 95):.3f} "
        f"{unit}, median u {np.median(us):.3f} {unit}, 95 % bands hold "
        f"{np.mean(np.abs(z) < 1.96):.0%}, mean squared normalised error {np.mean(z**2):.2f}"
    )


def port_table(outcomes: list[PortOutcome]) -> str:
    """Put the figures of all ports together."""
    listed = [one for one in outcomes if one.truth != "None"]
    rows = [f"{len(outcomes)} ports, {len(listed)} of them in the tables"]
    for word in ("rightly", "wrongly", "ambiguous", "no match", "refused"):
        count = sum(one.said.startswith(word) for one in outcomes)
        rows.append(f"{word}: {count} ({count / len(outcomes):.0%})")
    both = sum(one.said == BOTH for one in outcomes)
    rows.append(f"of the right ones both of two that the thread angle alone tells apart: {both}")
    hands = [one.hand for one in outcomes if one.hand != "none"]
    rows.append(
        "hand: " + ", ".join(f"{w} {hands.count(w)}" for w in ("right", "wrong", "unknown"))
    )
    bores = [(one.bore_error_mm, one.bore_u_mm) for one in outcomes]
    pitches = [(one.pitch_error, one.pitch_u) for one in outcomes]
    for name, pairs, factor, unit in (("bore", bores, 1, "mm"), ("pitch", pitches, 100, "%")):
        known = [(factor * e, factor * u) for e, u in pairs if e is not None and u is not None]
        if known:
            rows.append(_line(name, [e for e, _ in known], [u for _, u in known], unit))
    for name in ("mouth", "counterbore", "recess", "depth"):
        seen = [(e, u) for one in outcomes for other, e, u in one.round_it if other == name]
        if seen:
            words = f"{name} (seen {len(seen)} times)"
            rows.append(_line(words, [e for e, _ in seen], [u for _, u in seen], "mm"))
    return "\n".join(rows)


def _ports(folders: list[str]) -> list[list[Path]]:
    """The photos of every port."""
    pictures = sorted(path for folder in folders for path in Path(folder).glob("port_*.jpg"))
    keyed = groupby(pictures, key=lambda path: path.with_name("_".join(path.stem.split("_")[:2])))
    return [list(group) for _, group in keyed]


def main(folders: list[str]) -> None:
    """Print a line a scene, then the table; and the table of what was shot at 40 to 50 degrees."""
    ports = _ports(folders)
    if not ports:
        sys.exit(f"There is no port_*.jpg in {', '.join(folders)}.")
    outcomes = []
    for pictures in ports:
        outcomes.append(port_outcome(pictures))
        print(outcomes[-1], flush=True)
    print(port_table(outcomes))
    asked = [one for one in outcomes if 40 <= one.tilt_deg <= 50]
    if asked and len(asked) < len(outcomes):
        print("of these at 40 to 50 degrees:\n" + port_table(asked))


if __name__ == "__main__":
    main(sys.argv[1:])
