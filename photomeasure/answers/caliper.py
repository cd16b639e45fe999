"""Whether caliper and pitch-gauge readings agree, and which thread they tell."""

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from photomeasure.answers.candidates import answer_line, candidate_lines, hand_from_json
from photomeasure.answers.wire import quantity_from_json, sources_from_json
from photomeasure.answers.words import both_units
from photomeasure.errors import BadJobError, MissingFileError
from photomeasure.quantities import Quantity
from photomeasure.sizing.caliper import CaliperAnswer, CaliperReadings, Span, check_readings
from photomeasure.sizing.match import ThreadReading
from photomeasure.sizing.zones import MACHINES

__all__ = ["CaliperAnswer", "CaliperReadings", "Span", "caliper", "caliper_lines"]

RADIAN = 3.141592653589793 / 180
_DIAMETERS = {
    "fitting": ("diameter_at_small_end", "major_diameter"),
    "port": ("bore_diameter",),
}


def caliper(
    readings: CaliperReadings, photo: Path | None = None, machine: str = "any"
) -> CaliperAnswer:
    """Check readings against each other, the published threads and a saved photo answer.

    Parameters
    ----------
    readings : CaliperReadings
    photo : Path or None
        The saved JSON of `fitting` or `port`.
    machine : str
        "metric" or "inch" makes the other kind of thread rarer; "any" does not.

    Returns
    -------
    CaliperAnswer

    Raises
    ------
    UsageError
        If nothing was read, or a reading makes no sense.
    MissingFileError, BadJobError
        If the saved answer is missing or cannot be read.
    """
    if photo is not None:
        readings = replace(readings, photo=_saved(photo))
    return check_readings(readings, MACHINES[machine])


def caliper_lines(answer: CaliperAnswer) -> list[str]:
    """Say the answer for people.

    Parameters
    ----------
    answer : CaliperAnswer

    Returns
    -------
    list of str
    """
    lines = [answer_line(answer.verdict, answer.candidates, answer.settle_by)]
    lines.append("The readings agree." if answer.agree else "The readings do NOT agree.")
    for one in answer.readings:
        expected = f", expected {both_units(one.expected)}" if one.expected else ""
        score = "" if one.score is None else f", E_n {one.score:+.2f}"
        lines.append(f"  {one.name:12}{both_units(one.reading)}{expected}{score}")
    for suspect in answer.suspects:
        lines.append(f"  suspect: {suspect.slip} ({100 * suspect.probability:.0f} %)")
    lines += [f"  {line}" for line in candidate_lines(answer.candidates)]
    return lines + [f"Caution: {text}" for text in answer.warnings]


def _saved(path: Path) -> ThreadReading:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise MissingFileError(f"{path.name} cannot be read.", "Check its name.") from error
    except ValueError as error:
        raise _bad(path, "it is no JSON") from error
    if not isinstance(data, Mapping) or data.get("kind") not in _DIAMETERS:
        raise _bad(path, "it is no answer of `fitting` or `port`")
    return _reading(data)


def _bad(path: Path, why: str) -> BadJobError:
    return BadJobError(
        f"{path.name} cannot be used: {why}.", "Give what `photomeasure fitting --json` printed."
    )


def _reading(data: Mapping[str, Any]) -> ThreadReading:
    sources = sources_from_json(data)

    def value(name: str) -> Quantity | None:
        return quantity_from_json(name, data.get(name), data, sources)

    diameters = [found for name in _DIAMETERS[data["kind"]] if (found := value(name))]
    pitch, taper, angle = value("pitch"), value("taper_half_angle"), value("thread_angle")
    minor = value("minor_diameter") if data["kind"] == "fitting" else None
    return ThreadReading(
        member="external" if data["kind"] == "fitting" else "internal",
        diameter=diameters[0].number if diameters else None,
        diameter_at_mm=0.0,
        pitch=pitch.number if pitch else None,
        taper_half_angle=taper.number * RADIAN if taper else None,
        minor_diameter=minor.number if minor else None,
        thread_angle=angle.number * RADIAN if angle else None,
        hand=hand_from_json(data),
    )
