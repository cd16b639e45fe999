"""Every print there is."""

from functools import cache

from photomeasure.errors import NotBuiltYetError
from photomeasure.references.prints import Kind, Paper, Print
from photomeasure.references.sheet import sheet

__all__ = ["all_prints", "print_of"]

_PAPERS: tuple[Paper, ...] = ("A4", "Letter")


@cache
def all_prints() -> tuple[Print, ...]:
    """Every print that a photo may show; no two share a marker."""
    return tuple(sheet(paper) for paper in _PAPERS)


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
    """
    for print_ in all_prints():
        if (print_.kind, print_.paper) == (kind, paper):
            return print_
    raise NotBuiltYetError(f"The {kind} print is not drawn yet.", "Use the sheet for now.")
