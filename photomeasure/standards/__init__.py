"""Published threads and seats: tables as data, formulas as code."""

from photomeasure.standards.catalogue import listing, thread, threads
from photomeasure.standards.seats import Lookalike, lookalikes, lookalikes_of, seats, seats_of
from photomeasure.standards.thread import (
    ExternalLimits,
    Family,
    GaugePlane,
    InternalLimits,
    Seat,
    Thread,
)

__all__ = [
    "ExternalLimits",
    "Family",
    "GaugePlane",
    "InternalLimits",
    "Lookalike",
    "Seat",
    "Thread",
    "listing",
    "lookalikes",
    "lookalikes_of",
    "seats",
    "seats_of",
    "thread",
    "threads",
]
