"""The parts that can be joined: seats, generic adapters, hose ends, and the user's own shelf."""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, Self

from photomeasure.errors import NoPlanError, TableError

__all__ = [
    "Adapter",
    "Face",
    "HoseEnd",
    "Seat",
    "Sex",
    "adapters",
    "hose_ends",
    "read_shelf",
    "seat_named",
    "seats",
]

Sex = Literal["female", "male"]


@dataclass(frozen=True, slots=True)
class Seat:
    """One way to seal, and what that asks for at the bench."""

    name: str
    aliases: tuple[str, ...]
    seals_on: str
    sealing: str
    seal: str
    source: str
    checked: str


@dataclass(frozen=True, slots=True)
class Face:
    """What a part shows to its mate: seat, thread and sex."""

    seat: str
    thread: str
    sex: Sex

    def __str__(self) -> str:
        return f"{self.sex} {self.thread}, {self.seat}"


@dataclass(frozen=True, slots=True)
class Adapter:
    """A generic adapter by its standards: face `a` screws to the port's side, `b` to the hose's."""

    name: str
    a: Face
    b: Face
    form: str
    stud_length_mm: float | None
    stand_off_mm: float | None
    pressure_mpa: float | None
    material: str
    price: float | None
    standard: str
    source: str
    checked: str
    on_shelf: bool = False

    @classmethod
    def from_row(cls, row: Mapping[str, str], *, on_shelf: bool) -> Self:
        """Read one row of the table or of the user's shelf."""
        return cls(
            name=_filled(row, "name"),
            a=_face(row, "a"),
            b=_face(row, "b"),
            form=_one_of(row, "form", ("straight", "45", "90")),
            stud_length_mm=_number(row, "stud_length_mm"),
            stand_off_mm=_number(row, "stand_off_mm"),
            pressure_mpa=_number(row, "pressure_mpa"),
            material=row.get("material") or "",
            price=_number(row, "price"),
            standard=row.get("standard") or "",
            source=_filled(row, "source"),
            checked=_filled(row, "checked"),
            on_shelf=on_shelf,
        )


@dataclass(frozen=True, slots=True)
class HoseEnd:
    """The face of a hose end of one dash size."""

    dash: int
    face: Face
    standard: str
    source: str
    checked: str


def _filled(row: Mapping[str, str], key: str) -> str:
    value = (row.get(key) or "").strip()
    if not value:
        raise ValueError(f"'{key}' is empty")
    return value


def _one_of(row: Mapping[str, str], key: str, allowed: tuple[str, ...]) -> str:
    value = _filled(row, key)
    if value not in allowed:
        raise ValueError(f"'{key}' is '{value}', not one of {', '.join(allowed)}")
    return value


def _number(row: Mapping[str, str], key: str) -> float | None:
    text = (row.get(key) or "").strip()
    if not text:
        return None
    value = float(text)
    if not 0 <= value < float("inf"):
        raise ValueError(f"'{key}' is {text}")
    return value


def _face(row: Mapping[str, str], side: str) -> Face:
    sex: Sex = "female" if _one_of(row, f"{side}_sex", ("female", "male")) == "female" else "male"
    name = _filled(row, f"{side}_seat")
    seat = _seat_or_none(name)
    if seat is None:
        raise ValueError(f"'{name}' is no seat that is known here")
    return Face(seat.name, _filled(row, f"{side}_thread"), sex)


@cache
def seats() -> tuple[Seat, ...]:
    """All seats that are known here."""
    return tuple(
        Seat(
            name=row["seat"],
            aliases=tuple(row["aliases"].split("|")),
            seals_on=row["seals_on"],
            sealing=row["sealing"],
            seal=row["seal"],
            source=row["source"],
            checked=row["checked"],
        )
        for row in _rows("seats.csv")
    )


def _rows(name: str) -> list[dict[str, str]]:
    text = files(__package__).joinpath("data", name).read_text("utf-8")
    return list(csv.DictReader(text.splitlines(), strict=True))


def _seat_or_none(name: str) -> Seat | None:
    wanted = name.strip().casefold()
    for seat in seats():
        if wanted in (seat.name.casefold(), *seat.aliases):
            return seat
    return None


def seat_named(name: str) -> Seat:
    """Find a seat by its name or one of its other names.

    Raises
    ------
    NoPlanError
        If the name is not known.
    """
    seat = _seat_or_none(name)
    if seat is None:
        known = ", ".join(seat.name for seat in seats())
        raise NoPlanError(f"'{name}' is no seat that is known here.", f"Take one of: {known}.")
    return seat


def _read(lines: Iterable[str], file: str, *, on_shelf: bool) -> tuple[Adapter, ...]:
    found: list[Adapter] = []
    try:
        found.extend(
            Adapter.from_row(row, on_shelf=on_shelf) for row in csv.DictReader(lines, strict=True)
        )
    except (ValueError, TypeError, csv.Error) as error:
        line = len(found) + 2
        raise TableError(f"{file}, line {line}: {error}.", "Mend the row.") from error
    return tuple(found)


@cache
def adapters() -> tuple[Adapter, ...]:
    """Give the table of generic adapters that comes with the program."""
    text = files(__package__).joinpath("data", "adapters.csv").read_text("utf-8")
    return _read(text.splitlines(), "adapters.csv", on_shelf=False)


def read_shelf(text: str, file: str = "shelf.csv") -> tuple[Adapter, ...]:
    """Read the user's own adapters from a CSV of the same form as the program's table.

    Raises
    ------
    TableError
        With file and line at the first bad row.
    """
    return _read(text.lstrip("\ufeff").splitlines(), file, on_shelf=True)


@cache
def hose_ends() -> tuple[HoseEnd, ...]:
    """Give the hose ends' faces by dash size."""
    return tuple(
        HoseEnd(
            dash=int(row["dash"]),
            face=Face(seat_named(row["seat"]).name, row["thread"], "female"),
            standard=row["standard"],
            source=row["source"],
            checked=row["checked"],
        )
        for row in _rows("hose_ends.csv")
    )
