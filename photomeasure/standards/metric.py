"""Metric threads: basic sizes by ISO 724, limits 6g and 6H by ISO 965-1.

The printed tables of ISO 965-1 rule; its formulas, rounded to the R40 series, are kept beside them
because they explain the tables and check the typing. They differ in a few places (the internal
pitch diameter of M16x1.5: printed 190, by formula 180).
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TypeVar

from photomeasure.standards.tables import read_table
from photomeasure.standards.thread import ExternalLimits, InternalLimits, Thread

__all__ = [
    "CrestTolerance",
    "Deviations",
    "FlankTolerance",
    "crest_formula_um",
    "crest_tolerances",
    "deviations",
    "flank_formula_um",
    "flank_of",
    "flank_tolerances",
    "metric_threads",
    "r40",
]

Row = TypeVar("Row")

ANGLE_60 = math.radians(60)
PITCH_LINE = 0.6495190528  # (3/4) H / P: basic major less basic pitch diameter, ISO 68-1
MINOR_LINE = 1.0825317547  # (5/4) H / P
SHARP_ROOT = 0.616  # pitch diameter less deepest root over P: root rounded to 0.125 P, ISO 965-1
FLAT_ROOT = 0.4330127019  # H / 2 / P: root at the basic minor diameter

_R40 = (
    *(1.0, 1.06, 1.12, 1.18, 1.25, 1.32, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9, 2.0, 2.12, 2.24, 2.36),
    *(2.5, 2.65, 2.8, 3.0, 3.15, 3.35, 3.55, 3.75, 4.0, 4.25, 4.5, 4.75, 5.0, 5.3, 5.6, 6.0),
    *(6.3, 6.7, 7.1, 7.5, 8.0, 8.5, 9.0, 9.5),
)


@dataclass(frozen=True, slots=True)
class CrestTolerance:
    """What ISO 965-1 prints for one pitch, position g, grade 6 [um]."""

    pitch_mm: float
    g_deviation_um: float
    major_tolerance_um: float
    minor_tolerance_um: float


@dataclass(frozen=True, slots=True)
class FlankTolerance:
    """What ISO 965-1 prints for one pitch and range of major diameters, grade 6 [um]."""

    major_above_mm: float
    major_up_to_mm: float
    pitch_mm: float
    external_pitch_tolerance_um: float
    internal_pitch_tolerance_um: float


@dataclass(frozen=True, slots=True)
class Deviations:
    """What ISO 965-1 prints for one pitch: positions e and f of external threads [um]."""

    pitch_mm: float
    e_deviation_um: float
    f_deviation_um: float


@cache
def deviations() -> Mapping[float, Deviations]:
    """Deviations e and f by pitch [mm]."""
    return {row.pitch_mm: row for row in read_table("metric_deviations", _of_numbers(Deviations))}


@cache
def crest_tolerances() -> Mapping[float, CrestTolerance]:
    """Deviation g, Td and TD1 by pitch [mm]."""
    table = read_table("metric_crest_tolerances", _of_numbers(CrestTolerance))
    return {row.pitch_mm: row for row in table}


@cache
def flank_tolerances() -> tuple[FlankTolerance, ...]:
    """Td2 and TD2 by pitch and major diameter."""
    return read_table("metric_flank_tolerances", _of_numbers(FlankTolerance))


def _of_numbers(kind: Callable[..., Row]) -> Callable[[Mapping[str, str]], Row]:
    def build(row: Mapping[str, str]) -> Row:
        numbers = {name: float(text) for name, text in row.items() if name not in _WORDS}
        return kind(**numbers)

    return build


_WORDS = {"source", "checked"}


@cache
def metric_threads() -> tuple[Thread, ...]:
    """Every metric thread of the table, with its limits 6g and 6H."""
    return read_table("metric", _thread)


def _thread(row: Mapping[str, str]) -> Thread:
    major, pitch = float(row["major_diameter_mm"]), float(row["pitch_mm"])
    pitch_diameter = round(major - PITCH_LINE * pitch, 3)
    minor = round(major - MINOR_LINE * pitch, 3)
    return Thread(
        designation=row["designation"],
        family="metric",
        pitch_mm=pitch,
        tpi=None,
        thread_angle_rad=ANGLE_60,
        taper=0.0,
        major_diameter_mm=major,
        pitch_diameter_mm=pitch_diameter,
        minor_diameter_mm=minor,
        external=_external(major, pitch_diameter, pitch),
        internal=_internal(major, pitch_diameter, minor, pitch),
        gauge=None,
        commonness=float(row["commonness"]),
        source=row["source"],
        checked=row["checked"],
    )


def _external(major: float, pitch_diameter: float, pitch: float) -> ExternalLimits:
    crest, flank = crest_tolerances()[pitch], flank_of(major, pitch)
    major_max = major + crest.g_deviation_um / 1000
    pitch_max = pitch_diameter + crest.g_deviation_um / 1000
    pitch_min = pitch_max - flank.external_pitch_tolerance_um / 1000
    return ExternalLimits(
        tolerance_class="6g",
        major_max_mm=major_max,
        major_min_mm=major_max - crest.major_tolerance_um / 1000,
        pitch_max_mm=pitch_max,
        pitch_min_mm=pitch_min,
        minor_max_mm=pitch_max - FLAT_ROOT * pitch,
        minor_min_mm=pitch_min - SHARP_ROOT * pitch,
    )


def _internal(major: float, pitch_diameter: float, minor: float, pitch: float) -> InternalLimits:
    crest, flank = crest_tolerances()[pitch], flank_of(major, pitch)
    return InternalLimits(
        tolerance_class="6H",
        minor_min_mm=minor,
        minor_max_mm=minor + crest.minor_tolerance_um / 1000,
        pitch_min_mm=pitch_diameter,
        pitch_max_mm=pitch_diameter + flank.internal_pitch_tolerance_um / 1000,
        major_min_mm=major,
    )


def flank_of(major_mm: float, pitch_mm: float) -> FlankTolerance:
    """Find the printed pitch-diameter tolerances.

    Parameters
    ----------
    major_mm, pitch_mm : float [mm]

    Returns
    -------
    FlankTolerance
    """
    for row in flank_tolerances():
        if row.major_above_mm < major_mm <= row.major_up_to_mm and row.pitch_mm == pitch_mm:
            return row
    raise KeyError(f"no pitch-diameter tolerance for {major_mm:g} x {pitch_mm:g}")


def r40(value: float) -> float:
    """Nearest of the R40 preferred numbers (ISO 3)."""
    decade = 10.0 ** math.floor(math.log10(value))
    numbers = [decade * number for number in (*_R40, 10.0)]
    return min(numbers, key=lambda number: abs(math.log(number / value)))


def crest_formula_um(pitch_mm: float) -> tuple[float, float, float]:
    """Formulas of ISO 965-1 behind the crest table.

    Parameters
    ----------
    pitch_mm : float [mm]
        1 mm or more.

    Returns
    -------
    tuple of float [um]
        Deviation g (not rounded), then Td and TD1 of grade 6, rounded to R40.

    Notes
    -----
    es = -(15 + 11 P); Td = 180 P^(2/3) - 3.15 / sqrt(P); TD1 = 230 P^0.7 for P >= 1 mm
    (ISO 965-1:1998, clause 13).
    """
    major = 180 * pitch_mm ** (2 / 3) - 3.15 / math.sqrt(pitch_mm)
    return -(15 + 11 * pitch_mm), r40(major), r40(230 * pitch_mm**0.7)


def flank_formula_um(row: FlankTolerance) -> tuple[float, float]:
    """Formulas of ISO 965-1 behind the pitch-diameter tables.

    Parameters
    ----------
    row : FlankTolerance
        Its range of diameters and pitch.

    Returns
    -------
    tuple of float [um]
        Td2 and TD2 of grade 6, rounded to R40.

    Notes
    -----
    Td2 = 90 P^0.4 d^0.1 with d the geometric mean of the range; TD2 = 1.32 Td2
    (ISO 965-1:1998, clause 13).
    """
    mean_mm = math.sqrt(row.major_above_mm * row.major_up_to_mm)
    external = 90 * row.pitch_mm**0.4 * mean_mm**0.1
    return r40(external), r40(1.32 * external)
