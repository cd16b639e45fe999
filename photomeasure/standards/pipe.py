"""Pipe threads: G (ISO 228-1), R and Rc (ISO 7-1), NPT (ASME B1.20.1)."""

import math
from collections.abc import Mapping
from functools import cache

from photomeasure.standards.metric import ANGLE_60
from photomeasure.standards.tables import read_table
from photomeasure.standards.thread import ExternalLimits, GaugePlane, InternalLimits, Thread
from photomeasure.standards.unified import MM, inches

__all__ = ["g_threads", "npt_threads", "r_threads", "rc_threads"]

ANGLE_55 = math.radians(55)
TAPER = 1 / 16
# Whitworth root: rounded, cut 0.640327 P deep; a worn or a fresh tool leaves it a little off
# (common practice, no source)
WHITWORTH_FLAT, WHITWORTH_SHARP = 0.60, 0.68
NPT_H = 0.8660254038  # sharp height over pitch; the taper changes it by 0.03 % only
NPT_TRUNCATION_MIN = 0.033  # of the pitch, ASME B1.20.1, 2.4


@cache
def g_threads() -> tuple[Thread, ...]:
    """Parallel pipe threads where the seal is elsewhere."""
    return read_table("pipe_parallel", _g_thread)


def _g_thread(row: Mapping[str, str]) -> Thread:
    tpi = float(row["tpi"])
    major, pitch_diameter, minor = (float(row[f"{name}_diameter_mm"]) for name in _CIRCLES)
    flank = float(row["pitch_tolerance_mm"])
    pitch_mm = MM / tpi
    return Thread(
        designation=row["designation"],
        family="G",
        pitch_mm=pitch_mm,
        tpi=tpi,
        thread_angle_rad=ANGLE_55,
        taper=0.0,
        major_diameter_mm=major,
        pitch_diameter_mm=pitch_diameter,
        minor_diameter_mm=minor,
        external=ExternalLimits(
            tolerance_class="A",
            major_max_mm=major,
            major_min_mm=major - float(row["major_tolerance_mm"]),
            pitch_max_mm=pitch_diameter,
            pitch_min_mm=pitch_diameter - flank,
            minor_max_mm=pitch_diameter - WHITWORTH_FLAT * pitch_mm,
            minor_min_mm=pitch_diameter - flank - WHITWORTH_SHARP * pitch_mm,
        ),
        internal=InternalLimits(
            tolerance_class="ISO 228-1",
            minor_min_mm=minor,
            minor_max_mm=minor + float(row["minor_tolerance_mm"]),
            pitch_min_mm=pitch_diameter,
            pitch_max_mm=pitch_diameter + flank,
            major_min_mm=major,
        ),
        gauge=None,
        commonness=float(row["commonness"]),
        source=row["source"],
        checked=row["checked"],
    )


_CIRCLES = ("major", "pitch", "minor")


@cache
def r_threads() -> tuple[Thread, ...]:
    """Tapered external threads that seal on the thread."""
    return read_table("pipe_taper", lambda row: _taper_55("R", row))


@cache
def rc_threads() -> tuple[Thread, ...]:
    """Tapered internal threads that seal on the thread."""
    return read_table("pipe_taper", lambda row: _taper_55("Rc", row))


def _taper_55(member: str, row: Mapping[str, str]) -> Thread:
    tpi = float(row["tpi"])
    gauge = GaugePlane(
        length_mm=float(row["gauge_length_mm"]),
        external_tolerance_mm=float(row["external_gauge_tolerance_mm"]),
        internal_tolerance_mm=float(row["internal_gauge_tolerance_mm"]),
    )
    circles = tuple(float(row[f"{name}_diameter_mm"]) for name in ("gauge", *_CIRCLES[1:]))
    return Thread(
        designation=f"{member}{row['size']}",
        family="R" if member == "R" else "Rc",
        pitch_mm=MM / tpi,
        tpi=tpi,
        thread_angle_rad=ANGLE_55,
        taper=TAPER,
        major_diameter_mm=circles[0],
        pitch_diameter_mm=circles[1],
        minor_diameter_mm=circles[2],
        external=_r_external(circles, gauge, MM / tpi) if member == "R" else None,
        internal=_rc_internal(circles, gauge) if member == "Rc" else None,
        gauge=gauge,
        commonness=float(row["commonness"]),
        source=row["source"],
        checked=row["checked"],
    )


def _r_external(circles: tuple[float, ...], gauge: GaugePlane, pitch_mm: float) -> ExternalLimits:
    major, pitch_diameter, _ = circles
    swing = gauge.external_tolerance_mm * TAPER
    return ExternalLimits(
        tolerance_class="ISO 7-1",
        major_max_mm=major + swing,
        major_min_mm=major - swing,
        pitch_max_mm=pitch_diameter + swing,
        pitch_min_mm=pitch_diameter - swing,
        minor_max_mm=pitch_diameter + swing - WHITWORTH_FLAT * pitch_mm,
        minor_min_mm=pitch_diameter - swing - WHITWORTH_SHARP * pitch_mm,
    )


def _rc_internal(circles: tuple[float, ...], gauge: GaugePlane) -> InternalLimits:
    major, pitch_diameter, minor = circles
    swing = gauge.internal_tolerance_mm * TAPER
    return InternalLimits(
        tolerance_class="ISO 7-1",
        minor_min_mm=minor - swing,
        minor_max_mm=minor + swing,
        pitch_min_mm=pitch_diameter - swing,
        pitch_max_mm=pitch_diameter + swing,
        major_min_mm=major - swing,
    )


@cache
def npt_threads() -> tuple[Thread, ...]:
    """American taper pipe threads, external and internal."""
    return read_table("npt", _npt_thread)


def _npt_thread(row: Mapping[str, str]) -> Thread:
    tpi = float(row["tpi"])
    pitch_mm = MM / tpi
    # crest and root lie between the least and the deepest truncation, from the pitch line
    full = (NPT_H - 2 * NPT_TRUNCATION_MIN) * pitch_mm
    blunt = NPT_H * pitch_mm - 2 * float(row["truncation_max_in"]) * MM
    pitch_diameter = inches(row["pitch_diameter_at_gauge_in"]) * MM
    return Thread(
        designation=row["designation"],
        family="NPT",
        pitch_mm=pitch_mm,
        tpi=tpi,
        thread_angle_rad=ANGLE_60,
        taper=TAPER,
        major_diameter_mm=pitch_diameter + full,
        pitch_diameter_mm=pitch_diameter,
        minor_diameter_mm=pitch_diameter - full,
        external=_npt_external(pitch_diameter, full, blunt, pitch_mm * TAPER),
        internal=_npt_internal(pitch_diameter, full, blunt, pitch_mm * TAPER),
        gauge=GaugePlane(
            length_mm=inches(row["gauge_length_in"]) * MM,
            external_tolerance_mm=pitch_mm,  # one turn either way, ASME B1.20.1, 8
            internal_tolerance_mm=pitch_mm,
        ),
        commonness=float(row["commonness"]),
        source=row["source"],
        checked=row["checked"],
    )


def _npt_external(pitch_diameter: float, full: float, blunt: float, swing: float) -> ExternalLimits:
    return ExternalLimits(
        tolerance_class="NPT",
        major_max_mm=pitch_diameter + full + swing,
        major_min_mm=pitch_diameter + blunt - swing,
        pitch_max_mm=pitch_diameter + swing,
        pitch_min_mm=pitch_diameter - swing,
        minor_max_mm=pitch_diameter - blunt + swing,
        minor_min_mm=pitch_diameter - full - swing,
    )


def _npt_internal(pitch_diameter: float, full: float, blunt: float, swing: float) -> InternalLimits:
    return InternalLimits(
        tolerance_class="NPT",
        minor_min_mm=pitch_diameter - full - swing,
        minor_max_mm=pitch_diameter - blunt + swing,
        pitch_min_mm=pitch_diameter - swing,
        pitch_max_mm=pitch_diameter + swing,
        major_min_mm=pitch_diameter + blunt - swing,
    )
