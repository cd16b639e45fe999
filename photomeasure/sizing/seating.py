"""A look at the seat as an observation: which threads carry such a seat."""

from dataclasses import dataclass

import numpy as np

from photomeasure.sizing.zones import Floats, Member
from photomeasure.standards import Seat, Thread
from photomeasure.standards.looks import Look, looks

__all__ = ["SeatLook", "every_look", "forms_at", "likelihood", "places_of", "seats_left"]

LOOKED_WRONG = 0.03  # share of looks that take one seat for another (common practice, no source)


@dataclass(frozen=True, slots=True)
class SeatLook:
    """What somebody saw: where it seals and, where they could tell, in what form.

    `place` and `form` are words of the table of looks; `form` is None where it was not told.
    """

    place: str
    form: str | None = None

    def fits(self, look: Look) -> bool:
        """Whether a seat that looks so may have been seen."""
        return look.place == self.place and self.form in {None, look.form}


def places_of(member: Member) -> tuple[str, ...]:
    """List where a part of this kind may seal, in the table's order."""
    return tuple(dict.fromkeys(one.place for one in looks() if one.member == member))


def forms_at(member: Member, place: str) -> tuple[str, ...]:
    """List the forms that are told apart at a place; empty if nothing is."""
    found = [one.form for one in looks() if one.member == member and one.place == place]
    return tuple(dict.fromkeys(form for form in found if form))


def seats_left(seen: SeatLook, member: Member, thread: Thread) -> tuple[Seat, ...]:
    """List the seats of a thread that look like what was seen.

    Parameters
    ----------
    seen : SeatLook
    member : "external" or "internal"
    thread : Thread

    Returns
    -------
    tuple of Seat
    """
    names = {one.seat for one in looks() if one.member == member and seen.fits(one)}
    return tuple(seat for seat in thread.seats if seat.seat in names)


def likelihood(seen: SeatLook, member: Member, threads: tuple[Thread, ...]) -> Floats:
    """Give the chance of that look for each thread, and for one in no table.

    Parameters
    ----------
    seen : SeatLook
    member : "external" or "internal"
    threads : tuple of Thread
        K of them.

    Returns
    -------
    (K + 1,)

    Notes
    -----
    The seats of a thread count alike; a look is wrong now and then, and then shows any seat. A
    thread without listed seats may carry any.
    """
    every = [one for one in looks() if one.member == member]
    anything = sum(seen.fits(one) for one in every) / len(every)
    shares = [
        len(seats_left(seen, member, one)) / len(one.seats) if one.seats else anything
        for one in threads
    ]
    right: Floats = np.array([*shares, anything])
    return (1 - LOOKED_WRONG) * right + LOOKED_WRONG * max(anything, 1 / len(every))


def every_look(member: Member) -> tuple[SeatLook, ...]:
    """List what may be seen of a part of this kind, each as fully as it is told."""
    seen = [(one.place, one.form or None) for one in looks() if one.member == member]
    return tuple(SeatLook(place, form) for place, form in dict.fromkeys(seen))
