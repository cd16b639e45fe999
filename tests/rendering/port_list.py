"""The ports that scenes draw from, and internal threads drawn inside their tolerance zone.

The limits come from the standards' formulae as written here, not from the program under test.
"""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from photomeasure.standards import threads
from tests.rendering.port_threads import InternalThread
from tests.rendering.thread_list import LEAD_SD

__all__ = [
    "DrawnPort",
    "InternalZone",
    "ListedPort",
    "draw_port",
    "draw_unlisted_port",
    "internal_zone",
    "listed_ports",
]

DATA = Path(__file__).parent / "data" / "ports.csv"


@dataclass(frozen=True, slots=True)
class ListedPort:
    """One thread in one port standard; 0 where the standard has no such thing.

    For tapered threads `nominal_mm` is the standard's base size. `spot_face_mm` is the least
    diameter of the spot face, `cone_mm` the mouth of the O-ring's housing.
    """

    designation: str
    family: str
    nominal_mm: float
    pitch_mm: float
    minor_tolerance_mm: float
    gauge_tolerance_mm: float
    standard: str
    spot_face_mm: float
    spot_depth_mm: float
    cone_mm: float
    cone_depth_mm: float
    cone_half_deg: float
    thread_depth_mm: float


@dataclass(frozen=True, slots=True)
class InternalZone:
    """Limits of the minor and of the pitch diameter; of a taper at the mouth's plane."""

    minor_mm: tuple[float, float]
    pitch_diameter_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class DrawnPort:
    """A thread as made: its name (None: in no table), its true sizes, its port."""

    designation: str | None
    family: str
    size: InternalThread
    port: ListedPort


def _row(row: dict[str, str]) -> ListedPort:
    def number(key: str) -> float:
        return float(row[key] or 0)

    return ListedPort(
        designation=row["designation"],
        family=row["family"],
        nominal_mm=number("nominal_mm"),
        pitch_mm=number("pitch_mm") or 25.4 / number("tpi"),
        minor_tolerance_mm=number("minor_tolerance_mm"),
        gauge_tolerance_mm=number("gauge_tolerance_mm"),
        standard=row["standard"],
        spot_face_mm=number("spot_face_mm"),
        spot_depth_mm=number("spot_depth_mm"),
        cone_mm=number("cone_mm"),
        cone_depth_mm=number("cone_depth_mm"),
        cone_half_deg=number("cone_half_deg"),
        thread_depth_mm=number("thread_depth_mm"),
    )


@cache
def listed_ports() -> tuple[ListedPort, ...]:
    """Every port that a scene may draw."""
    with DATA.open(encoding="utf-8", newline="") as lines:
        return tuple(_row(row) for row in csv.DictReader(lines))


def _metric_zone(port: ListedPort) -> InternalZone:
    """Class 6H (ISO 965-1:2013: EI = 0, TD1 and TD2 by formula, in micrometres, P >= 1)."""
    d, p = port.nominal_mm, port.pitch_mm
    td1 = 230 * p**0.7 / 1000
    td2 = 1.32 * 90 * p**0.4 * d**0.1 / 1000
    minor, middle = d - 1.082532 * p, d - 0.649519 * p
    return InternalZone((minor, minor + td1), (middle, middle + td2))


def _unified_zone(port: ListedPort) -> InternalZone:
    """Class 2B (ASME B1.1: TD1 = 0.25 P - 0.4 P^2, TD2 = 1.3 Td2, in inches)."""
    d, p = port.nominal_mm / 25.4, port.pitch_mm / 25.4
    td2 = 1.3 * (0.0015 * d ** (1 / 3) + 0.0015 * np.sqrt(9 * p) + 0.015 * p ** (2 / 3))
    td1 = 0.25 * p - 0.4 * p**2
    minor, middle = d - 1.082532 * p, d - 0.649519 * p
    return InternalZone(
        (25.4 * minor, 25.4 * (minor + td1)), (25.4 * middle, 25.4 * (middle + td2))
    )


def _pipe_parallel_zone(port: ListedPort) -> InternalZone:
    """ISO 228-1: above the basic sizes, h = 0.640327 P."""
    minor = port.nominal_mm - 2 * 0.640327 * port.pitch_mm
    middle = port.nominal_mm - 0.640327 * port.pitch_mm
    top = middle + _G_PITCH_TOLERANCE_MM[round(25.4 / port.pitch_mm)]
    return InternalZone((minor, minor + port.minor_tolerance_mm), (middle, top))


# by threads to the inch, ISO 228-1 table 1 (memory)
_G_PITCH_TOLERANCE_MM = {28: 0.107, 19: 0.125, 14: 0.142, 11: 0.180}


def _pipe_taper_zone(port: ListedPort) -> InternalZone:
    """ISO 7-1: the gauge plane stands at the mouth, give or take; 1:16."""
    half, step = port.gauge_tolerance_mm / 16, 0.640327 * port.pitch_mm
    minor, middle = port.nominal_mm - 2 * step, port.nominal_mm - step
    return InternalZone((minor - half, minor + half), (middle - half, middle + half))


def _npt_zone(port: ListedPort) -> InternalZone:
    """ASME B1.20.1: E1 at the mouth, one turn either way; crests cut by 0.033 P to 0.083 P."""
    middle = _NPT_E1_IN[port.designation] * 25.4
    half, p = port.pitch_mm / 16, port.pitch_mm
    least, most = 0.866025 * p - 2 * 0.083 * p, 0.866025 * p - 2 * 0.033 * p
    return InternalZone(
        (middle - most - half, middle - least + half), (middle - half, middle + half)
    )


# pitch diameter at the gauge plane, ASME B1.20.1 table 2 (memory)
_NPT_E1_IN = {
    "1/8-27 NPT": 0.37360,
    "1/4-18 NPT": 0.49163,
    "3/8-18 NPT": 0.62701,
    "1/2-14 NPT": 0.77843,
    "3/4-14 NPT": 0.98887,
    "1-11.5 NPT": 1.23863,
    "1 1/4-11.5 NPT": 1.58338,
}


def internal_zone(port: ListedPort) -> InternalZone:
    """The limits of size that the standard sets for an internal thread."""
    return {
        "metric": _metric_zone,
        "unified": _unified_zone,
        "G": _pipe_parallel_zone,
        "Rc": _pipe_taper_zone,
        "NPT": _npt_zone,
    }[port.family](port)


def _tapered(port: ListedPort, rng: np.random.Generator) -> tuple[float, float, float]:
    """Minor, pitch and major diameter of a taper: one draw moves all."""
    middle, p = rng.uniform(*internal_zone(port).pitch_diameter_mm), port.pitch_mm
    if port.family == "NPT":
        crest, root = rng.uniform(0.033, 0.083, 2) * p
        return middle - 0.866025 * p + 2 * crest, middle, middle + 0.866025 * p - 2 * root
    return middle - 0.640327 * p, middle, middle + 0.640327 * p


def _parallel(port: ListedPort, rng: np.random.Generator) -> tuple[float, float, float]:
    limits = internal_zone(port)
    minor, middle = rng.uniform(*limits.minor_mm), rng.uniform(*limits.pitch_diameter_mm)
    if port.family == "G":
        return minor, middle, middle + 0.640327 * port.pitch_mm
    # the root stands clear of the nominal size by the tool's own tolerance
    return minor, middle, port.nominal_mm + rng.uniform(0.01, 0.06) * port.pitch_mm


def draw_port(port: ListedPort, is_left: bool, rng: np.random.Generator) -> DrawnPort:
    """A port's thread as made, inside its tolerance zone.

    Parameters
    ----------
    port : ListedPort
    is_left : bool
    rng : np.random.Generator

    Returns
    -------
    DrawnPort
    """
    is_tapered = port.family in {"Rc", "NPT"}
    minor, middle, major = (_tapered if is_tapered else _parallel)(port, rng)
    form = {"metric": "60", "unified": "60", "NPT": "npt"}.get(port.family, "whitworth")
    size = InternalThread(
        form=form,  # type: ignore[arg-type]
        minor_mm=float(minor),
        pitch_diameter_mm=float(middle),
        pitch_mm=float(port.pitch_mm * (1 + rng.normal(0, LEAD_SD))),
        major_mm=float(major),
        is_tapered=is_tapered,
        is_left=is_left,
    )
    return DrawnPort(port.designation, port.family, size, port)


def _is_near_listed(minor_mm: float, pitch_mm: float) -> bool:
    """Whether the program's tables hold an internal thread like it."""
    for thread in threads():
        limits = thread.internal
        if limits is None or abs(pitch_mm / thread.pitch_mm - 1) >= 0.06:
            continue
        if limits.minor_min_mm - 0.45 < minor_mm < limits.minor_max_mm + 0.45:
            return True
    return False


def draw_unlisted_port(is_left: bool, rng: np.random.Generator) -> DrawnPort:
    """A parallel 60 degree thread that is in no table: at least 0.45 mm or 6 % of pitch off."""
    while True:
        pitch, nominal = float(rng.uniform(0.95, 2.2)), float(rng.uniform(9.5, 40))
        if not _is_near_listed(nominal - 1.082532 * pitch, pitch):
            break
    depth = float(rng.uniform(9, 18))
    port = ListedPort("", "metric", nominal, pitch, 0, 0, "", 0, 0, 0, 0, 0, depth)
    return DrawnPort(None, "none", draw_port(port, is_left, rng).size, port)
