"""What the eye sees of each seat: where it seals, on the male and on the female part."""

from dataclasses import dataclass
from functools import cache

from photomeasure.standards.tables import read_table

__all__ = ["Look", "looks"]


@dataclass(frozen=True, slots=True)
class Look:
    """How one seat looks on one of its two parts.

    `member` is the thread that is looked at: "external" or "internal". `place` is where it seals,
    `form` what tells it from others that seal there; empty where nothing else does.
    """

    seat: str
    member: str
    place: str
    form: str
    source: str
    checked: str

    def __post_init__(self) -> None:
        if self.member not in {"external", "internal"} or not self.place or not self.source:
            raise ValueError("a look needs a member, a place and a source")


@cache
def looks() -> tuple[Look, ...]:
    """Every row of the table of looks."""
    return read_table("looks", lambda row: Look(**row))
