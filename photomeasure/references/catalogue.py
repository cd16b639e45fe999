"""Every print there is."""

from functools import cache

from photomeasure.references.bands import bands
from photomeasure.references.cards import cards
from photomeasure.references.collar import collar, collars
from photomeasure.references.prints import Kind, Paper, Print
from photomeasure.references.sheet import sheet

__all__ = ["all_prints", "print_of"]

_PAPERS: tuple[Paper, ...] = ("A4", "Letter")


@cache
def all_prints() -> tuple[Print, ...]:
    """Every print that a photo may show; no two pieces share a marker."""
    return tuple(build(paper) for build in (sheet, collars, cards, bands) for paper in _PAPERS)


def print_of(kind: Kind, paper: Paper, hole_mm: float | None = None) -> Print:
    """One print.

    Parameters
    ----------
    kind : {"sheet", "collar", "markers", "bands"}
    paper : {"A4", "Letter"}
    hole_mm : float, optional [mm]
        The mouth that a collar must clear; without it a collar page has all sizes.

    Returns
    -------
    Print

    Raises
    ------
    UsageError
        No collar clears that mouth.
    """
    if kind == "collar" and hole_mm is not None:
        return collar(paper, hole_mm)
    return next(p for p in all_prints() if (p.kind, p.paper) == (kind, paper))
