"""The other usual classes of a thread: closer, wider and plated fits, dry-seal and Rp.

The judge weighs threads by their usual class alone, as a caliper cannot tell classes apart; these
are for the person, and the test, with a handbook.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from photomeasure.standards.metric import crest_tolerances, deviations, flank_of, r40
from photomeasure.standards.thread import ExternalLimits, InternalLimits, Thread
from photomeasure.standards.unified import unified_limits_in

__all__ = ["OtherClasses", "other_classes", "rp_thread"]

MM = 25.4
# ISO 965-1, clause 13: tolerance grades over grade 6 (Td, TD1), and over Td2 of grade 6 (Td2, TD2)
CREST_GRADE = {4: 0.63, 5: 0.8, 6: 1.0, 7: 1.25, 8: 1.6}
EXTERNAL_FLANK_GRADE = {4: 0.63, 5: 0.8, 6: 1.0, 8: 1.6}
INTERNAL_FLANK_GRADE = {4: 0.85, 5: 1.06, 6: 1.32, 7: 1.7}
# Classes recommended by ISO 965-1 beside 6g and 6H: name, flank grade, crest grade, position.
METRIC_EXTERNAL = (
    *(("4h", 4, 4, "h"), ("6h", 6, 6, "h"), ("4g6g", 4, 6, "g"), ("5g6g", 5, 6, "g")),
    *(("8g", 8, 8, "g"), ("6f", 6, 6, "f"), ("6e", 6, 6, "e")),
)
METRIC_INTERNAL = (
    *(("4H", 4, 4, "H"), ("5H", 5, 5, "H"), ("7H", 7, 7, "H")),
    ("6G", 6, 6, "G"),
)
# ASME B1.20.3, table 1: crest and root truncation over the pitch, least and most, by threads to
# the inch
NPTF_CREST = {27: (0.049, 0.094), 18: (0.047, 0.078), 14: (0.036, 0.060), 11.5: (0.040, 0.060)}
NPTF_ROOT = {27: (0.094, 0.140), 18: (0.078, 0.109), 14: (0.060, 0.085), 11.5: (0.060, 0.090)}
SHARP_HEIGHT = math.sqrt(3) / 2  # of the pitch, at 60 degrees
RP_TURNS = 1.25  # ISO 7-1, table 1: the internal gauge plane's tolerance in turns


@dataclass(frozen=True, slots=True)
class OtherClasses:
    """Limits of a thread's other usual classes; empty where it has none."""

    external: tuple[ExternalLimits, ...] = ()
    internal: tuple[InternalLimits, ...] = ()


def other_classes(one: Thread) -> OtherClasses:
    """Limits of size of the classes beside the usual one.

    Parameters
    ----------
    one : Thread
        Of the tables.

    Returns
    -------
    OtherClasses
        Metric 4h, 6h, 4g6g, 5g6g, 8g, 6f, 6e and 4H, 5H, 7H, 6G; unified 1A, 3A and 1B, 3B (1A
        and 1B of UNC and UNF only); NPTF of NPT; Rp of Rc.
    """
    if one.family == "metric":
        return OtherClasses(tuple(_metric_external(one)), tuple(_metric_internal(one)))
    if one.family == "unified":
        return _unified(one)
    if one.family == "NPT":
        return _dryseal(one)
    if one.family == "Rc":
        return OtherClasses(internal=(_rp_limits(one),))
    return OtherClasses()


def rp_thread(rc: Thread) -> Thread:
    """Give the parallel internal thread for a tapered external R (ISO 7-1).

    Parameters
    ----------
    rc : Thread
        The tapered internal one of that size.

    Returns
    -------
    Thread
    """
    return replace(
        rc,
        designation=rc.designation.replace("Rc", "Rp"),
        taper=0.0,
        gauge=None,
        internal=_rp_limits(rc),
        seats=(),
    )


def _metric_external(one: Thread) -> Iterator[ExternalLimits]:
    assert one.external is not None
    crest = crest_tolerances()[one.pitch_mm]
    flank_um = flank_of(one.major_diameter_mm, one.pitch_mm).external_pitch_tolerance_um
    usual = one.external
    wide = deviations()[one.pitch_mm]
    shifts_um = {"e": wide.e_deviation_um, "f": wide.f_deviation_um}
    shifts_um |= {"g": crest.g_deviation_um, "h": 0.0}
    for name, flank_grade, crest_grade, position in METRIC_EXTERNAL:
        shift = shifts_um[position] / 1000
        major_max = one.major_diameter_mm + shift
        pitch_max = one.pitch_diameter_mm + shift
        flank = r40(EXTERNAL_FLANK_GRADE[flank_grade] * flank_um) / 1000
        yield ExternalLimits(
            tolerance_class=name,
            major_max_mm=major_max,
            major_min_mm=major_max
            - r40(CREST_GRADE[crest_grade] * crest.major_tolerance_um) / 1000,
            pitch_max_mm=pitch_max,
            pitch_min_mm=pitch_max - flank,
            minor_max_mm=usual.minor_max_mm + pitch_max - usual.pitch_max_mm,
            minor_min_mm=usual.minor_min_mm + pitch_max - flank - usual.pitch_min_mm,
        )


def _metric_internal(one: Thread) -> Iterator[InternalLimits]:
    assert one.internal is not None
    crest = crest_tolerances()[one.pitch_mm]
    flank = flank_of(one.major_diameter_mm, one.pitch_mm)
    for name, flank_grade, crest_grade, position in METRIC_INTERNAL:
        shift = -crest.g_deviation_um / 1000 if position == "G" else 0.0
        flank_um = (  # 6H as printed: the table rules over the formula
            flank.internal_pitch_tolerance_um
            if flank_grade == 6
            else r40(INTERNAL_FLANK_GRADE[flank_grade] * flank.external_pitch_tolerance_um)
        )
        minor_min = one.internal.minor_min_mm + shift
        pitch_min = one.pitch_diameter_mm + shift
        yield InternalLimits(
            tolerance_class=name,
            minor_min_mm=minor_min,
            minor_max_mm=minor_min
            + r40(CREST_GRADE[crest_grade] * crest.minor_tolerance_um) / 1000,
            pitch_min_mm=pitch_min,
            pitch_max_mm=pitch_min + flank_um / 1000,
            major_min_mm=one.major_diameter_mm + shift,
        )


def _unified(one: Thread) -> OtherClasses:
    assert one.external is not None
    assert one.internal is not None
    assert one.tpi is not None
    series = one.designation.split()[-1]
    grades = (1, 3) if series in {"UNC", "UNF"} else (3,)
    external, internal = [], []
    for grade in grades:
        limits = unified_limits_in(one.major_diameter_mm / MM, one.tpi, series, grade)
        pitch_max, pitch_min = limits.external_pitch_max * MM, limits.external_pitch_min * MM
        external.append(
            ExternalLimits(
                tolerance_class=f"{grade}A",
                major_max_mm=limits.major_max * MM,
                major_min_mm=limits.major_min * MM,
                pitch_max_mm=pitch_max,
                pitch_min_mm=pitch_min,
                minor_max_mm=one.external.minor_max_mm + pitch_max - one.external.pitch_max_mm,
                minor_min_mm=one.external.minor_min_mm + pitch_min - one.external.pitch_min_mm,
            )
        )
        internal.append(
            InternalLimits(
                tolerance_class=f"{grade}B",
                minor_min_mm=limits.minor_min * MM,
                minor_max_mm=limits.minor_max * MM,
                pitch_min_mm=limits.internal_pitch_min * MM,
                pitch_max_mm=limits.internal_pitch_max * MM,
                major_min_mm=one.major_diameter_mm,
            )
        )
    return OtherClasses(tuple(external), tuple(internal))


def _dryseal(one: Thread) -> OtherClasses:
    """NPTF: the sizes of NPT, crests and roots cut so that they meet and seal."""
    assert one.external is not None
    assert one.internal is not None
    assert one.tpi is not None
    crest = [SHARP_HEIGHT - 2 * cut for cut in NPTF_CREST[one.tpi]]
    root = [SHARP_HEIGHT - 2 * cut for cut in NPTF_ROOT[one.tpi]]
    pitch, swing = one.pitch_mm, one.pitch_mm * one.taper  # a turn either way
    middle = one.pitch_diameter_mm
    external = replace(
        one.external,
        tolerance_class="NPTF",
        major_max_mm=middle + crest[0] * pitch + swing,
        major_min_mm=middle + crest[1] * pitch - swing,
        minor_max_mm=middle - root[1] * pitch + swing,
        minor_min_mm=middle - root[0] * pitch - swing,
    )
    internal = replace(
        one.internal,
        tolerance_class="NPTF",
        minor_min_mm=middle - crest[0] * pitch - swing,
        minor_max_mm=middle - crest[1] * pitch + swing,
        major_min_mm=middle + root[1] * pitch - swing,
    )
    return OtherClasses((external,), (internal,))


def _rp_limits(rc: Thread) -> InternalLimits:
    """Parallel, of the gauge plane's sizes; what Rc allows along the axis is here on diameter."""
    swing = RP_TURNS * rc.pitch_mm * rc.taper
    return InternalLimits(
        tolerance_class="Rp",
        minor_min_mm=rc.minor_diameter_mm - swing,
        minor_max_mm=rc.minor_diameter_mm + swing,
        pitch_min_mm=rc.pitch_diameter_mm - swing,
        pitch_max_mm=rc.pitch_diameter_mm + swing,
        major_min_mm=rc.major_diameter_mm - swing,
    )
