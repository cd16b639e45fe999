"""Entries of whole jobs for the tests, and an assembly put together from its parts."""

from copy import deepcopy
from typing import Any

from photomeasure.sizing.cut import CutLengths, cut_lengths
from photomeasure.sizing.entries import JobEntries

__all__ = [
    "Entries",
    "assembled_mm",
    "cut",
    "end",
    "entries",
    "plain",
    "q",
    "straight_job",
    "value",
]

Entries = dict[str, Any]


def q(value: float, u: float, unit: str = "mm") -> Entries:
    """Give a quantity of the contract with a normal distribution."""
    half = 1.959963984540054 * u
    return {"value": value, "u": u, "low": value - half, "high": value + half, "unit": unit}


def plain(**changes: Any) -> Entries:
    """Give a bent 1 m hose with two straight crimped ends, measured from seat to seat."""
    end = {
        "datum": "seat",
        "datum_offset": {"value": 0, "u": 0},
        "end": "straight",
        "cut_off": q(30, 0.4),
        "cut_off_to": "seat",
        "socket_depth": q(25, 0.3),
        "made": "crimped",
    }
    job: Entries = {
        "job": 1,
        "id": "test",
        "route": {"length": q(1000, 2.0), "near_straight": False},
        "slack": {"value": 20, "u": 0},
        "mock_up": {"value": 0, "u": 0},
        "ends": [deepcopy(end), deepcopy(end)],
    }
    return {**job, **changes}


def entries(document: Entries) -> JobEntries:
    """Check and type a document."""
    return JobEntries.model_validate(document)


def assembled_mm(hose_mm: Any, truth: dict[str, Any]) -> Any:
    """Length from hose end to hose end of the assembly under pressure, built from its parts.

    Nothing of the plan's formula is used: the hose between the sockets shrinks, what sits in the
    sockets does not, and each end reaches from the hose's end face to its seat.
    """
    hidden = sum(truth["depths"]) - sum(truth["backed_off"])
    between = (hose_mm - hidden) * (1 - truth["shortening"])
    ends = sum(truth["cut_offs"]) + sum(truth["backed_off"]) + sum(truth["gaps"])
    return between + hidden + ends


def cut(document: Entries) -> CutLengths:
    """Work out the cut of a document."""
    return cut_lengths(entries(document))


def end(document: Entries, index: int = 0, **changes: Any) -> Entries:
    """Give the document with entries of one end changed."""
    ends = [dict(one) for one in document["ends"]]
    ends[index] |= changes
    return {**document, "ends": ends}


def value(quantity: Any) -> float:
    """Give the value of a quantity that must be there."""
    assert quantity is not None
    return float(quantity.value)


def straight_job() -> Entries:
    """Give a straight run whose hose shortens 0 to 4 % at twice the line's pressure."""
    return plain(
        route={"length": q(1000, 2.0), "near_straight": True},
        hose={
            "working_pressure_mpa": 20,
            "shortening": {"least": 0.0, "most": 0.04, "source": "data sheet"},
        },
        line={"relief_pressure_mpa": 10},
    )
