"""How accurate the readings are over rendered photographs with known truth.

    python -m tests.accuracy [--spanner] [--lies] DIR [DIR ...]

reads every `fitting_*.json` and `route_*.json` in each DIR (the truths that
`python -m tests.rendering` puts beside its pictures, one or two a fitting), with the bar readings
given there, and prints a table of each kind.
With `--spanner` and `--lies` the spanner that fits, and how the part lies, are said too.
`--plot=FILE.png` draws the fittings' errors against the tilt of their axes.
"""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from photomeasure.answers.candidates import Candidate
from photomeasure.answers.fitting import fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.errors import MeasuringError
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity
from photomeasure.scene import BarReading
from tests.route.accuracy import route_outcome, route_table
from tests.thread.accuracy import Beside, beside, beside_table
from tests.thread.residuals import Residual, residual_plot

UNLIKELY = 0.025


@dataclass(frozen=True, slots=True)
class Outcome:
    """One scene: what was said, and how far off the figures are."""

    name: str
    said: str  # rightly, wrongly, ambiguous, no match, refused
    diameter_error_mm: float | None = None
    diameter_u_mm: float | None = None
    pitch_error: float | None = None
    pitch_u: float | None = None
    beside: Beside | None = None


def _error(quantity: Quantity, truth: float) -> float:
    return quantity.value - truth


# threads that differ by flank angle alone where they overlap (ASME B1.20.1 and ISO 7-1, table 1;
# G1/16 and 5/16-28 by ISO 228-1 and ASME B1.1): naming both is all that diameter and pitch can do
BY_ANGLE = (
    {"R1/2", "1/2-14 NPT"},
    {"R3/4", "3/4-14 NPT"},
    {"G1/16", "5/16-28 UN"},
)


def _told_by_angle_alone(candidates: Sequence[Candidate], truth: str) -> bool:
    likely = {one.designation for one in candidates if one.probability > UNLIKELY}
    return truth in likely and likely in BY_ANGLE


def pictures_of(truth: Path) -> list[Path]:
    """The pictures that a truth file belongs to: one, or both of a pair."""
    pair = [truth.with_name(f"{truth.stem}_{number}.jpg") for number in (1, 2)]
    return pair if pair[0].exists() else [truth.with_suffix(".jpg")]


def outcome(picture: Path, said_too: Sequence[str] = ()) -> Outcome:
    """Measure one rendered scene, named by its truth or only picture; hold it against its truth."""
    scene: dict[str, Any] = json.loads(picture.with_suffix(".json").read_text("utf-8"))
    truth, bars = scene["truth"], scene["print"]["bars"]
    read = {"": BarReading(bars["x_read_mm"], bars["y_read_mm"])} if bars["x_read_mm"] else {}
    options = PhotoOptions(read)
    try:
        answer = fitting(
            [load_photo(one) for one in pictures_of(picture)],
            options,
            lies=scene["rest"]["lies"] if "--lies" in said_too else "unknown",
            spanner_mm=truth["spanner_mm"] if "--spanner" in said_too else None,
        )
    except MeasuringError as error:
        return Outcome(picture.stem, f"refused: {error.code}")
    said = answer.verdict
    if said == "ambiguous" and _told_by_angle_alone(answer.candidates, truth["designation"]):
        said = "rightly (but for the thread angle)"
    if said == "identified":
        is_right = answer.candidates[0].designation == truth["designation"]
        said = "rightly" if is_right else f"wrongly: {answer.candidates[0].designation}"
    is_tapered = answer.diameter_at_small_end is not None
    diameter = answer.diameter_at_small_end or answer.major_diameter
    if diameter is None or answer.pitch is None or is_tapered != (truth["taper_half_angle"] > 0):
        return Outcome(picture.stem, said, beside=beside(answer, truth))
    real = truth["diameter_at_small_end"] if is_tapered else truth["major_diameter"]
    return Outcome(
        picture.stem,
        said,
        _error(diameter, real),
        diameter.u,
        _error(answer.pitch, truth["pitch"]) / truth["pitch"],
        answer.pitch.u / truth["pitch"],
        beside(answer, truth),
    )


def _line(name: str, errors: list[float], us: list[float], unit: str) -> str:
    size, z = np.abs(errors), np.array(errors) / np.array(us)
    covered = float(np.mean(np.abs(z) < 1.96))
    return (
        f"{name}: median |error| {np.median(size):.3f} {unit}, 95 % {np.percentile(size, 95):.3f} "
        f"{unit}, median u {np.median(us):.3f} {unit}, 95 % bands hold {covered:.0%}, "
        f"mean squared normalised error {np.mean(z**2):.2f}"
    )


def fitting_table(outcomes: list[Outcome]) -> str:
    """Put the figures of all fittings together."""
    measured = [one for one in outcomes if one.diameter_error_mm is not None]
    rows = [f"{len(outcomes)} scenes, {len(measured)} with both sizes"]
    for word in ("rightly", "wrongly", "ambiguous", "no match", "refused"):
        count = sum(one.said.startswith(word) for one in outcomes)
        rows.append(f"{word}: {count} ({count / len(outcomes):.0%})")
    if measured:
        diameters = [one.diameter_error_mm or 0.0 for one in measured]
        us = [one.diameter_u_mm or 1.0 for one in measured]
        rows.append(_line("diameter", diameters, us, "mm"))
        pitches = [100 * (one.pitch_error or 0.0) for one in measured]
        rows.append(_line("pitch", pitches, [100 * (one.pitch_u or 1.0) for one in measured], "%"))
    return "\n".join(rows)


def main(arguments: list[str]) -> None:
    """Print a line a scene, then the tables."""
    folders = [one for one in arguments if not one.startswith("--")]
    said_too = [one for one in arguments if one.startswith("--")]
    plots = [one.partition("=")[2] for one in said_too if one.startswith("--plot=")]
    fittings, routes = [], []
    residuals: list[Residual] = []
    for truth in sorted(path for folder in folders for path in Path(folder).glob("*.json")):
        if truth.stem.startswith("fitting_"):
            fittings.append(outcome(truth, said_too))
            residuals += _residuals(fittings[-1], json.loads(truth.read_text("utf-8")))
            print(fittings[-1], flush=True)
        elif truth.stem.startswith("route_"):
            routes.append(route_outcome(truth.with_suffix(".jpg")))
            print(routes[-1], flush=True)
    if not fittings and not routes:
        sys.exit(f"There is no fitting_*.json and no route_*.json in {', '.join(folders)}.")
    if fittings:
        print(fitting_table(fittings))
        print(beside_table([one.beside for one in fittings if one.beside]))
    for file in plots:
        cv2.imwrite(file, residual_plot(residuals))
    if routes:
        print(route_table(routes))


def _residuals(one: Outcome, truth: dict[str, Any]) -> list[Residual]:
    """Nothing, or one row of the plot."""
    figures = (one.diameter_error_mm, one.diameter_u_mm, one.pitch_error, one.pitch_u)
    if None in figures:
        return []
    error_mm, u_mm, pitch, pitch_u = (float(figure or 0.0) for figure in figures)
    return [
        Residual(
            abs(truth["rest"]["axis_tilt_deg"]),
            bool(truth["truth"]["taper_half_angle"]),
            error_mm,
            u_mm,
            100 * pitch,
            100 * pitch_u,
        )
    ]


if __name__ == "__main__":
    main(sys.argv[1:])
