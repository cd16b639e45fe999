"""Unified inch threads: limits 2A and 2B by the formulas of ASME B1.1."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache

from photomeasure.standards.metric import (
    ANGLE_60,
    FLAT_ROOT,
    MINOR_LINE,
    PITCH_LINE,
    SHARP_ROOT,
)
from photomeasure.standards.tables import read_table
from photomeasure.standards.thread import ExternalLimits, InternalLimits, Thread

__all__ = ["UnifiedLimits", "unified_limits_in", "unified_threads"]

MM = 25.4
_ENGAGED_BY_DIAMETER = {"UNC", "UNF"}  # the others: nine pitches (ASME B1.1, 5.8.1)


@dataclass(frozen=True, slots=True)
class UnifiedLimits:
    """Limits of size, classes 2A and 2B [in], rounded as the standard prints them."""

    major_max: float
    major_min: float
    external_pitch_max: float
    external_pitch_min: float
    minor_min: float
    minor_max: float
    internal_pitch_min: float
    internal_pitch_max: float


def unified_limits_in(major_in: float, tpi: float, series: str, grade: int = 2) -> UnifiedLimits:
    """Limits of size of one unified thread.

    Parameters
    ----------
    major_in : float [in]
        Basic major diameter, a quarter of an inch or more.
    tpi : float [1/in]
        Threads to the inch.
    series : str
        UNC, UNF, UN, UNEF or UNS: sets the length of engagement.
    grade : int
        Class 1, 2 or 3: A outside, B inside.

    Returns
    -------
    UnifiedLimits [in]

    Notes
    -----
    ASME B1.1: Td2(2A) = 0.0015 cbrt(D) + 0.0015 sqrt(LE) + 0.015 cbrt(P^2), LE = D for UNC and
    UNF, else 9 P; 1A 1.5, 3A 0.75, 1B 1.95, 2B 1.3, 3B 0.975 times that; allowance 0.3 Td2(2A),
    none for 3A; Td = 0.060 cbrt(P^2), 0.090 for 1A; TD1 = 0.25 P - 0.4 P^2, of 3B
    0.05 cbrt(P^2) + 0.03 P / D - 0.002, but not less than 0.23 P - 1.5 P^2 (13 threads or more) or
    0.12 P, nor more than 0.394 P. Td2 is rounded to six decimals, each tolerance and size then to
    0.0001 in before it is used, the minor diameter at the end to 0.001 in (the most of 3B: 0.0001).
    """
    pitch = 1 / tpi
    engaged = major_in if series in _ENGAGED_BY_DIAMETER else 9 * pitch
    td2 = 0.0015 * math.cbrt(major_in) + 0.0015 * math.sqrt(engaged) + 0.015 * pitch ** (2 / 3)
    td2 = _rounded(td2, 6)
    allowance = 0.0 if grade == _CLOSE else _rounded(0.3 * td2)
    td = _rounded((0.090 if grade == 1 else 0.060) * pitch ** (2 / 3))
    basic_pitch = _rounded(major_in - PITCH_LINE * pitch)
    minor = major_in - MINOR_LINE * pitch
    external, internal = _FLANKS[grade]
    return UnifiedLimits(
        major_max=major_in - allowance,
        major_min=major_in - allowance - td,
        external_pitch_max=basic_pitch - allowance,
        external_pitch_min=basic_pitch - allowance - _rounded(external * td2),
        minor_min=_rounded(minor, 3),
        minor_max=_minor_max(minor, major_in, tpi, grade),
        internal_pitch_min=basic_pitch,
        internal_pitch_max=basic_pitch + _rounded(internal * td2),
    )


_CLOSE = 3
_FLANKS = {1: (1.5, 1.95), 2: (1.0, 1.3), 3: (0.75, 0.975)}  # tolerance over Td2(2A): A, B
_FINE_TPI = 13


def _minor_max(minor_in: float, major_in: float, tpi: float, grade: int) -> float:
    pitch = 1 / tpi
    if grade != _CLOSE:
        return _rounded(minor_in + 0.25 * pitch - 0.4 * pitch**2, 3)
    wide = 0.05 * pitch ** (2 / 3) + 0.03 * pitch / major_in - 0.002
    least = 0.23 * pitch - 1.5 * pitch**2 if tpi >= _FINE_TPI else 0.12 * pitch
    return _rounded(_rounded(minor_in) + _rounded(min(max(wide, least), 0.394 * pitch)))


def _rounded(value: float, digits: int = 4) -> float:
    step = Decimal(1).scaleb(-digits)
    return float(Decimal(repr(round(value, 8))).quantize(step, ROUND_HALF_UP))


@cache
def unified_threads() -> tuple[Thread, ...]:
    """Every unified thread of the table, with its limits 2A and 2B."""
    return read_table("unified", _thread)


def inches(text: str) -> float:
    """Read a size such as `1 1/16` or `0.675` [in]."""
    return float(sum(Fraction(part) for part in text.split()))


def _thread(row: Mapping[str, str]) -> Thread:
    major, tpi = inches(row["major_diameter_in"]), float(row["tpi"])
    limits = unified_limits_in(major, tpi, row["series"])
    return Thread(
        designation=row["designation"],
        family="unified",
        pitch_mm=MM / tpi,
        tpi=tpi,
        thread_angle_rad=ANGLE_60,
        taper=0.0,
        major_diameter_mm=major * MM,
        pitch_diameter_mm=limits.internal_pitch_min * MM,
        minor_diameter_mm=(major - MINOR_LINE / tpi) * MM,
        external=_external(limits, MM / tpi),
        internal=_internal(limits, major),
        gauge=None,
        commonness=float(row["commonness"]),
        source=row["source"],
        checked=row["checked"],
    )


def _external(limits: UnifiedLimits, pitch_mm: float) -> ExternalLimits:
    return ExternalLimits(
        tolerance_class="2A",
        major_max_mm=limits.major_max * MM,
        major_min_mm=limits.major_min * MM,
        pitch_max_mm=limits.external_pitch_max * MM,
        pitch_min_mm=limits.external_pitch_min * MM,
        minor_max_mm=limits.external_pitch_max * MM - FLAT_ROOT * pitch_mm,
        minor_min_mm=limits.external_pitch_min * MM - SHARP_ROOT * pitch_mm,
    )


def _internal(limits: UnifiedLimits, major_in: float) -> InternalLimits:
    return InternalLimits(
        tolerance_class="2B",
        minor_min_mm=limits.minor_min * MM,
        minor_max_mm=limits.minor_max * MM,
        pitch_min_mm=limits.internal_pitch_min * MM,
        pitch_max_mm=limits.internal_pitch_max * MM,
        major_min_mm=major_in * MM,
    )
