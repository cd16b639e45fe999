"""The published list that scenes draw from, and sizes drawn inside the tolerance zone.

The limits come from the standards' formulae as written here, not from the program under test.
"""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from photomeasure.standards import threads
from tests.rendering.threads import ThreadSize

__all__ = ["DrawnThread", "ListedThread", "Zone", "draw_size", "draw_unlisted", "listed", "zone"]

DATA = Path(__file__).parent / "data" / "threads.csv"
LEAD_SD = 3e-4  # relative error of a cut thread's pitch; common practice, no source


@dataclass(frozen=True, slots=True)
class ListedThread:
    """One row of the list; for tapered threads `nominal_mm` is the standard's base size."""

    designation: str
    family: str
    nominal_mm: float
    pitch_mm: float
    gauge_length_mm: float
    gauge_tolerance_mm: float
    major_tolerance_mm: float
    pitch_tolerance_mm: float


@dataclass(frozen=True, slots=True)
class Zone:
    """Limits of the major and the pitch diameter; of a taper at its small end."""

    major_mm: tuple[float, float]
    pitch_diameter_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class DrawnThread:
    """A thread as made: its name (None: in no table) and its true sizes."""

    designation: str | None
    family: str
    size: ThreadSize


def _row(row: dict[str, str]) -> ListedThread:
    def number(key: str) -> float:
        return float(row[key] or 0)

    return ListedThread(
        designation=row["designation"],
        family=row["family"],
        nominal_mm=number("nominal_mm"),
        pitch_mm=number("pitch_mm") or 25.4 / number("tpi"),
        gauge_length_mm=number("gauge_length_mm"),
        gauge_tolerance_mm=number("gauge_tolerance_mm"),
        major_tolerance_mm=number("major_tolerance_mm"),
        pitch_tolerance_mm=number("pitch_tolerance_mm"),
    )


@cache
def listed() -> tuple[ListedThread, ...]:
    """Every thread that a scene may draw."""
    with DATA.open(encoding="utf-8", newline="") as lines:
        return tuple(_row(row) for row in csv.DictReader(lines))


def _metric_zone(thread: ListedThread) -> Zone:
    """Class 6g (ISO 965-1:2013: es, Td, Td2 by formula, in micrometres)."""
    d, p = thread.nominal_mm, thread.pitch_mm
    es = -(15 + 11 * p) / 1000
    td = (180 * p ** (2 / 3) - 3.15 / np.sqrt(p)) / 1000
    td2 = 90 * p**0.4 * d**0.1 / 1000
    top, middle = d + es, d - 0.649519 * p + es
    return Zone((top - td, top), (middle - td2, middle))


def _unified_zone(thread: ListedThread) -> Zone:
    """Class 2A (ASME B1.1: allowance, Td, Td2 by formula, in inches)."""
    d, p = thread.nominal_mm / 25.4, thread.pitch_mm / 25.4
    td2 = 0.0015 * d ** (1 / 3) + 0.0015 * np.sqrt(9 * p) + 0.015 * p ** (2 / 3)
    top = d - 0.3 * td2
    middle = top - 0.649519 * p
    td = 0.060 * p ** (2 / 3)
    return Zone((25.4 * (top - td), 25.4 * top), (25.4 * (middle - td2), 25.4 * middle))


def _pipe_parallel_zone(thread: ListedThread) -> Zone:
    """ISO 228-1 class A: below the basic sizes, h = 0.640327 P."""
    top, middle = thread.nominal_mm, thread.nominal_mm - 0.640327 * thread.pitch_mm
    return Zone(
        (top - thread.major_tolerance_mm, top), (middle - thread.pitch_tolerance_mm, middle)
    )


def _pipe_taper_zone(thread: ListedThread) -> Zone:
    """ISO 7-1: the gauge diameter stands at the gauge length, give or take; 1:16."""
    middle = thread.nominal_mm - thread.gauge_length_mm / 16
    half = thread.gauge_tolerance_mm / 16
    step = 0.640327 * thread.pitch_mm
    return Zone((middle - half, middle + half), (middle - step - half, middle - step + half))


def _npt_zone(thread: ListedThread) -> Zone:
    """ASME B1.20.1: E0 = D - (0.05 D + 1.1) P, one turn either way, crest 0.8 P over it.

    The crest's truncation of 0.033 P at least leaves 0.8 P between crest and root; up to 0.05 P
    more is taken off (the standard allows 0.078 P to 0.096 P in all, by pitch).
    """
    inch = 25.4
    d, p = thread.nominal_mm / inch, thread.pitch_mm / inch
    e0 = inch * (d - (0.05 * d + 1.1) * p)
    half = thread.pitch_mm / 16
    top = e0 + 0.8 * thread.pitch_mm
    return Zone((top - half - 0.1 * thread.pitch_mm, top + half), (e0 - half, e0 + half))


def zone(thread: ListedThread) -> Zone:
    """The limits of size that the standard sets for an external thread."""
    return {
        "metric": _metric_zone,
        "unified": _unified_zone,
        "G": _pipe_parallel_zone,
        "R": _pipe_taper_zone,
        "NPT": _npt_zone,
    }[thread.family](thread)


def _tapered_size(thread: ListedThread, rng: np.random.Generator) -> tuple[float, float, float]:
    """Major, pitch diameter and root (see ThreadSize) of a taper: one draw moves both."""
    low, high = zone(thread).pitch_diameter_mm
    middle = rng.uniform(low, high)
    p = thread.pitch_mm
    if thread.family == "NPT":
        crest, root = rng.uniform(0.033, 0.083, 2) * p
        return middle + 2 * (0.433013 * p - crest), middle, root
    return middle + 0.640327 * p, middle, 0.137329 * p


def _parallel_size(thread: ListedThread, rng: np.random.Generator) -> tuple[float, float, float]:
    limits, p = zone(thread), thread.pitch_mm
    major = rng.uniform(*limits.major_mm)
    middle = rng.uniform(*limits.pitch_diameter_mm)
    root = 0.137329 if thread.family == "G" else rng.uniform(0.125, 0.144)
    return major, middle, root * p


def draw_size(thread: ListedThread, is_left: bool, rng: np.random.Generator) -> DrawnThread:
    """A thread as made, inside its tolerance zone.

    Parameters
    ----------
    thread : ListedThread
    is_left : bool
    rng : np.random.Generator

    Returns
    -------
    DrawnThread
    """
    is_tapered = thread.family in {"R", "NPT"}
    major, middle, root = (_tapered_size if is_tapered else _parallel_size)(thread, rng)
    form = {"metric": "60", "unified": "60", "NPT": "npt"}.get(thread.family, "whitworth")
    size = ThreadSize(
        form=form,  # type: ignore[arg-type]
        major_mm=major,
        pitch_diameter_mm=middle,
        pitch_mm=thread.pitch_mm * (1 + rng.normal(0, LEAD_SD)),
        root_mm=root,
        is_tapered=is_tapered,
        is_left=is_left,
    )
    return DrawnThread(thread.designation, thread.family, size)


def _is_near_listed(major_mm: float, pitch_mm: float) -> bool:
    """Whether the program's tables hold an external thread like it."""
    for thread in threads():
        limits = thread.external
        if limits is None or abs(pitch_mm / thread.pitch_mm - 1) >= 0.06:
            continue
        if limits.major_min_mm - 0.45 < major_mm < limits.major_max_mm + 0.45:
            return True
    return False


def draw_unlisted(rng: np.random.Generator) -> DrawnThread:
    """A parallel 60 degree thread that is in no table: at least 0.45 mm or 6 % of pitch off."""
    while True:
        pitch = float(rng.uniform(0.95, 2.2))
        nominal = float(rng.uniform(9.5, 40))
        thread = ListedThread("", "metric", nominal, pitch, 0, 0, 0, 0)
        size = draw_size(thread, False, rng).size
        if not _is_near_listed(size.major_mm, size.pitch_mm):
            return DrawnThread(None, "none", size)
