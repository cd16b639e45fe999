"""How accurate the reading of fittings is over rendered photographs with known truth.

    python -m tests.accuracy DIR

reads every `fitting_*.jpg` in DIR (made by `python -m tests.rendering fitting`, truth beside it),
with the bar readings that the truth file gives, and prints one table.
"""

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from photomeasure.answers.fitting import fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.errors import MeasuringError
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity
from photomeasure.scene import BarReading


@dataclass(frozen=True, slots=True)
class Outcome:
    """One scene: what was said, and how far off the figures are."""

    name: str
    said: str  # rightly, wrongly, ambiguous, no match, refused
    diameter_error_mm: float | None = None
    diameter_u_mm: float | None = None
    pitch_error: float | None = None
    pitch_u: float | None = None


def _error(quantity: Quantity, truth: float) -> float:
    return quantity.value - truth


def outcome(picture: Path) -> Outcome:
    """Measure one rendered photograph and hold the answer against its truth."""
    scene: dict[str, Any] = json.loads(picture.with_suffix(".json").read_text("utf-8"))
    truth, bars = scene["truth"], scene["print"]["bars"]
    options = PhotoOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])})
    try:
        answer = fitting([load_photo(picture)], options)
    except MeasuringError as error:
        return Outcome(picture.stem, f"refused: {error.code}")
    said = answer.verdict
    if said == "identified":
        is_right = answer.candidates[0].designation == truth["designation"]
        said = "rightly" if is_right else f"wrongly: {answer.candidates[0].designation}"
    is_tapered = answer.diameter_at_small_end is not None
    diameter = answer.diameter_at_small_end or answer.major_diameter
    if diameter is None or answer.pitch is None or is_tapered != (truth["taper_half_angle"] > 0):
        return Outcome(picture.stem, said)
    real = truth["diameter_at_small_end"] if is_tapered else truth["major_diameter"]
    return Outcome(
        picture.stem,
        said,
        _error(diameter, real),
        diameter.u,
        _error(answer.pitch, truth["pitch"]) / truth["pitch"],
        answer.pitch.u / truth["pitch"],
    )


def _line(name: str, errors: list[float], us: list[float], unit: str) -> str:
    size, z = np.abs(errors), np.array(errors) / np.array(us)
    covered = float(np.mean(np.abs(z) < 1.96))
    return (
        f"{name}: median |error| {np.median(size):.3f} {unit}, 95 % {np.percentile(size, 95):.3f} "
        f"{unit}, median u {np.median(us):.3f} {unit}, 95 % bands hold {covered:.0%}, "
        f"mean squared normalised error {np.mean(z**2):.2f}"
    )


def main(folder: str) -> None:
    """Print a line a scene, then the table."""
    outcomes = []
    for picture in sorted(Path(folder).glob("fitting_*.jpg")):
        outcomes.append(outcome(picture))
        print(outcomes[-1], flush=True)
    if not outcomes:
        sys.exit(f"There is no fitting_*.jpg in {folder}.")
    measured = [one for one in outcomes if one.diameter_error_mm is not None]
    print(f"{len(outcomes)} scenes, {len(measured)} with both sizes")
    for word in ("rightly", "wrongly", "ambiguous", "no match", "refused"):
        count = sum(one.said.startswith(word) for one in outcomes)
        print(f"{word}: {count} ({count / len(outcomes):.0%})")
    if not measured:
        return
    diameters = [one.diameter_error_mm or 0.0 for one in measured]
    print(_line("diameter", diameters, [one.diameter_u_mm or 1.0 for one in measured], "mm"))
    pitches = [100 * (one.pitch_error or 0.0) for one in measured]
    print(_line("pitch", pitches, [100 * (one.pitch_u or 1.0) for one in measured], "%"))


if __name__ == "__main__":
    main(sys.argv[1])
