"""Spanner sizes, and how much smaller than its spanner a hexagon may be."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from photomeasure.quantities import parse_length_mm
from photomeasure.standards.tables import Checked, checked, read_table

__all__ = ["FlatsTolerance", "Spanner", "flats_tolerance", "spanners"]

USES = ("fitting", "bolt", "rare")


@dataclass(frozen=True, slots=True)
class Spanner:
    """One size of spanner, metric or inch.

    Attributes
    ----------
    designation : str
        "24mm", "15/16in".
    size_mm : float
        Nominal width across flats.
    use : str
        "fitting": usual on hydraulic fittings; "bolt": on bolts; "rare": neither.
    source : str
    checked : Checked
    """

    designation: str
    size_mm: float
    use: str
    source: str
    checked: Checked


@dataclass(frozen=True, slots=True)
class FlatsTolerance:
    """How much smaller than nominal a hexagon of up to a size is made, all from zero down."""

    up_to_mm: float
    it13_mm: float
    it14_mm: float
    it15_mm: float
    source: str
    checked: Checked


@cache
def spanners() -> tuple[Spanner, ...]:
    """Every size, metric first."""
    return read_table("spanners", _spanner)


def flats_tolerance(size_mm: float) -> FlatsTolerance:
    """Tolerances of a nominal width across flats.

    Parameters
    ----------
    size_mm : float [mm]

    Returns
    -------
    FlatsTolerance
        That of the largest sizes for whatever is beyond the table.
    """
    return next((one for one in _tolerances() if size_mm <= one.up_to_mm), _tolerances()[-1])


@cache
def _tolerances() -> tuple[FlatsTolerance, ...]:
    return read_table("spanner_tolerances", _tolerance)


def _spanner(row: Mapping[str, str]) -> Spanner:
    if row["use"] not in USES:
        raise ValueError(f"use is '{row['use']}'")
    name = row["designation"]
    return Spanner(name, parse_length_mm(name), row["use"], row["source"], checked(row))


def _tolerance(row: Mapping[str, str]) -> FlatsTolerance:
    finer, usual, coarser = (float(row[f"it{grade}_mm"]) for grade in (13, 14, 15))
    if not 0 < finer < usual < coarser:
        raise ValueError("the grades must widen")
    up_to = float(row["up_to_mm"])
    return FlatsTolerance(up_to, finer, usual, coarser, row["source"], checked(row))
