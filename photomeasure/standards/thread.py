"""A thread as its standard describes it: sizes, limits of size, taper, gauge plane, seats."""

import math
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "ExternalLimits",
    "Family",
    "GaugePlane",
    "InternalLimits",
    "Seat",
    "Thread",
    "external_json",
    "internal_json",
]

Family = Literal["metric", "unified", "G", "R", "Rc", "NPT"]

_TAPER_STEP = 1e-12


@dataclass(frozen=True, slots=True)
class ExternalLimits:
    """Limits of size of an external thread [mm].

    Of a tapered one they are at the nominal gauge plane, and hold how far the real plane may lie
    from it (by the taper).
    `minor` bounds where the root may lie: from the sharpest root a tool leaves to the flattest.
    """

    tolerance_class: str
    major_max_mm: float
    major_min_mm: float
    pitch_max_mm: float
    pitch_min_mm: float
    minor_max_mm: float
    minor_min_mm: float

    def __post_init__(self) -> None:
        _ascending(self.major_min_mm, self.major_max_mm)
        _ascending(self.pitch_min_mm, self.pitch_max_mm)
        _ascending(self.minor_min_mm, self.minor_max_mm)
        _ascending(self.pitch_max_mm, self.major_max_mm)
        _ascending(self.minor_max_mm, self.pitch_max_mm)


@dataclass(frozen=True, slots=True)
class InternalLimits:
    """Limits of size of an internal thread [mm]; of a tapered one at its mouth."""

    tolerance_class: str
    minor_min_mm: float
    minor_max_mm: float
    pitch_min_mm: float
    pitch_max_mm: float
    major_min_mm: float

    def __post_init__(self) -> None:
        _ascending(self.minor_min_mm, self.minor_max_mm)
        _ascending(self.pitch_min_mm, self.pitch_max_mm)
        _ascending(self.minor_min_mm, self.pitch_min_mm)


@dataclass(frozen=True, slots=True)
class GaugePlane:
    """Where a tapered thread has its nominal size.

    `length_mm` is from the small end of the external thread; the internal thread has it at its
    mouth. `external_tolerance_mm`, `internal_tolerance_mm`: how far the plane may lie along the
    axis, either way.
    """

    length_mm: float
    external_tolerance_mm: float
    internal_tolerance_mm: float


@dataclass(frozen=True, slots=True)
class Seat:
    """One port or end standard that uses a thread."""

    designation: str
    seat: str
    standard: str
    size: str
    caution: str
    source: str
    checked: str

    @property
    def name(self) -> str:
        """In one line, as an answer lists it; what no second source confirmed says so."""
        size = f", {self.size}" if self.size else ""
        doubt = "; not confirmed" if self.checked == "memory" else ""
        return f"{self.seat} ({self.standard}{size}{doubt})"


@dataclass(frozen=True, slots=True)
class Thread:
    """One thread of one standard.

    `major_diameter_mm`, `pitch_diameter_mm`, `minor_diameter_mm` are the basic sizes; of a
    tapered thread at the gauge plane. `taper` is on diameter (0.0625 for 1:16). `commonness` says
    how often it is met on fluid ports, relative to the others (judgement, not a standard).
    """

    designation: str
    family: Family
    pitch_mm: float
    tpi: float | None
    thread_angle_rad: float
    taper: float
    major_diameter_mm: float
    pitch_diameter_mm: float
    minor_diameter_mm: float
    external: ExternalLimits | None
    internal: InternalLimits | None
    gauge: GaugePlane | None
    commonness: float
    source: str
    checked: str
    seats: tuple[Seat, ...] = ()

    def __post_init__(self) -> None:
        _ascending(0.0, self.pitch_mm)
        _ascending(self.pitch_mm, self.minor_diameter_mm)
        _ascending(self.minor_diameter_mm, self.pitch_diameter_mm)
        _ascending(self.pitch_diameter_mm, self.major_diameter_mm)
        _ascending(0.0, self.commonness)
        if self.external is None and self.internal is None:
            raise ValueError("neither an external nor an internal thread")
        if self.is_tapered != (self.gauge is not None):
            raise ValueError("a tapered thread, and only such, has a gauge plane")

    @property
    def is_tapered(self) -> bool:
        """Whether its diameter grows along the axis."""
        return self.taper > _TAPER_STEP

    @property
    def taper_half_angle_rad(self) -> float:
        """Angle of the crest cone to the axis [rad]; 0 if parallel."""
        return math.atan(self.taper / 2)

    def as_json(self) -> dict[str, object]:
        """Give the contract's row of `threads --json`."""
        row: dict[str, object] = {
            "designation": self.designation,
            "family": self.family,
            "pitch_mm": _rounded(self.pitch_mm, 6),
            "tpi": None if self.tpi is None else _whole(self.tpi),
            "thread_angle_deg": _whole(_rounded(math.degrees(self.thread_angle_rad), 9)),
            "taper": _whole(self.taper),
            "external": external_json(self.external),
            "internal": internal_json(self.internal),
            "seats": [seat.name for seat in self.seats],
            "source": self.source,
        }
        if self.gauge is not None:
            row["gauge_length_mm"] = _rounded(self.gauge.length_mm, 4)
            row["gauge_tolerance_mm"] = _rounded(self._gauge_tolerance_mm(self.gauge), 4)
        return row

    def _gauge_tolerance_mm(self, gauge: GaugePlane) -> float:
        return gauge.internal_tolerance_mm if self.external is None else gauge.external_tolerance_mm


def external_json(limits: ExternalLimits | None) -> dict[str, object] | None:
    """Give the contract's `external`.

    Parameters
    ----------
    limits : ExternalLimits or None

    Returns
    -------
    dict or None
    """
    if limits is None:
        return None
    return {
        "class": limits.tolerance_class,
        "major_max_mm": _rounded(limits.major_max_mm, 5),
        "major_min_mm": _rounded(limits.major_min_mm, 5),
        "pitch_max_mm": _rounded(limits.pitch_max_mm, 5),
        "pitch_min_mm": _rounded(limits.pitch_min_mm, 5),
    }


def internal_json(limits: InternalLimits | None) -> dict[str, object] | None:
    """Give the contract's `internal`.

    Parameters
    ----------
    limits : InternalLimits or None

    Returns
    -------
    dict or None
    """
    if limits is None:
        return None
    return {
        "class": limits.tolerance_class,
        "minor_min_mm": _rounded(limits.minor_min_mm, 5),
        "minor_max_mm": _rounded(limits.minor_max_mm, 5),
        "pitch_min_mm": _rounded(limits.pitch_min_mm, 5),
        "pitch_max_mm": _rounded(limits.pitch_max_mm, 5),
    }


def _rounded(value: float, digits: int) -> float:
    return round(value, digits)


def _whole(value: float) -> float | int:
    return int(value) if value == int(value) else value


def _ascending(low: float, high: float) -> None:
    if not (math.isfinite(low) and math.isfinite(high) and 0 <= low < high):
        raise ValueError(f"{low:g} is not below {high:g}")
