"""Which port and end standards use which thread, and which threads are taken for one another."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from photomeasure.standards.tables import read_table
from photomeasure.standards.thread import Seat

__all__ = ["Lookalike", "lookalikes", "lookalikes_of", "seats", "seats_of"]


@dataclass(frozen=True, slots=True)
class Lookalike:
    """Two threads that start on one another and do not hold."""

    designation: str
    lookalike: str
    told_apart_by: str
    source: str
    checked: str


@cache
def seats() -> tuple[Seat, ...]:
    """Every row of the table of seats."""
    return read_table("seats", lambda row: Seat(**row))


@cache
def seats_of(designation: str) -> tuple[Seat, ...]:
    """Seats that use the thread."""
    return tuple(seat for seat in seats() if seat.designation == designation)


@cache
def lookalikes() -> tuple[Lookalike, ...]:
    """Every pair that screws together for a few turns and then blows out."""
    return read_table("lookalikes", lambda row: Lookalike(**row))


@cache
def lookalikes_of(designation: str) -> Mapping[str, str]:
    """Threads taken for this one, each with what tells them apart."""
    pairs = {
        pair.lookalike: pair.told_apart_by
        for pair in lookalikes()
        if pair.designation == designation
    }
    pairs |= {
        pair.designation: pair.told_apart_by
        for pair in lookalikes()
        if pair.lookalike == designation
    }
    return pairs
