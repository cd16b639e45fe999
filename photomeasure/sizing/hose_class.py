"""What the standard printed on a hose promises, where no data sheet was entered.

An entry always wins. Only figures that a formula, a second source or the standard's own published
scope bear out are filled in; what one memory alone says is told as a hint and used for nothing.
"""

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from photomeasure.errors import TableError
from photomeasure.sizing.entries import HoseEntry

__all__ = [
    "FromStandard",
    "HoseFigure",
    "duty_of",
    "from_standard",
    "hose_figures",
    "hose_standards",
    "read_classes",
]

# Entries of the hose that a standard can fill: in words, unit
_FILLS: Mapping[str, tuple[str, str]] = {
    "working_pressure_mpa": ("working pressure", " MPa"),
    "working_pressure_to_c": ("up to", " °C"),
    "burst_pressure_mpa": ("burst", " MPa"),
    "temperature_max_c": ("highest temperature", " °C"),
    "bend_radius_mm": ("least bend radius", " mm"),
    "bend_radius_to": ("to the", " of the bend"),
    "outside_diameter_mm": ("outside diameter at most", " mm"),
    "inside_diameter_mm": ("nominal bore", " mm"),
    "fluids": ("fluid", ""),
    "liner": ("liner of", ""),
}
# A figure that only goes with another, which must come from the standard as well
_WITH = {
    "working_pressure_to_c": "working_pressure_mpa",
    "burst_pressure_mpa": "working_pressure_mpa",
    "bend_radius_to": "bend_radius_mm",
}
_ALIAS, _DUTY, _FACTOR, _PER_DASH = "as", "duty", "burst_factor", "bore_per_dash_mm"
_TEXT = {_ALIAS, _DUTY, "fluids", "liner", "bend_radius_to"}
_CHECKED = {"read", "formula", "second source", "memory"}


@dataclass(frozen=True, slots=True)
class HoseFigure:
    """One figure of a standard, with where it comes from and how it was checked."""

    figure: str
    value: float | str
    source: str
    checked: str

    @property
    def is_confirmed(self) -> bool:
        """Whether more than one memory bears it out."""
        return self.checked != "memory"

    @property
    def words(self) -> str:
        """The figure as it is told."""
        label, unit = _FILLS[self.figure]
        value = self.value if isinstance(self.value, str) else f"{self.value:.3g}"
        return f"{label} {value}{unit}"

    def as_json(self) -> dict[str, str | float]:
        """Give the contract's form; `figure` is the entry of the hose that it stands for."""
        return {
            "figure": self.figure,
            "value": self.value,
            "source": self.source,
            "checked": self.checked,
        }


@dataclass(frozen=True, slots=True)
class FromStandard:
    """The hose with what its standard adds, the figures added, and what to look up."""

    hose: HoseEntry
    filled: tuple[HoseFigure, ...]
    notes: tuple[str, ...]


def hose_standards() -> tuple[str, ...]:
    """Give the standards of hoses that the table knows, as they are printed on the hose."""
    return tuple(dict.fromkeys(standard for standard, _ in _table()))


def hose_figures(standard: str, dash: int | None) -> tuple[HoseFigure, ...]:
    """Give what a standard promises of one size; what holds for all sizes too.

    Parameters
    ----------
    standard : str
    dash : int or None

    Returns
    -------
    tuple of HoseFigure
        Empty if the standard is not known.
    """
    own = [
        *_table().get((standard, None), ()),
        *(_table().get((standard, dash), ()) if dash else ()),
    ]
    alias = next((str(one.value) for one in own if one.figure == _ALIAS), None)
    known = {one.figure: one for one in own}
    taken = hose_figures(alias, dash) if alias is not None else ()
    doubtful = [HoseFigure(one.figure, one.value, one.source, "memory") for one in taken]
    merged = {one.figure: one for one in doubtful} | {name: known[name] for name in known}
    merged.pop(_ALIAS, None)
    return tuple(_derived(merged, dash))


def duty_of(hose: HoseEntry) -> str | None:
    """Say for which line the hose's standard is written: `pressure`, `return`, or None for any."""
    figures = hose_figures(hose.standard or "", hose.dash)
    return next((str(one.value) for one in figures if one.figure == _DUTY), None)


def from_standard(hose: HoseEntry) -> FromStandard:
    """Fill what was not entered from the hose's standard.

    Parameters
    ----------
    hose : HoseEntry

    Returns
    -------
    FromStandard
        Its hose is the same where no standard was entered.
    """
    if hose.standard is None:
        return FromStandard(hose, (), ())
    where = hose.standard if hose.dash is None else f"{hose.standard}, dash {hose.dash}"
    figures = hose_figures(hose.standard, hose.dash)
    if not figures:
        known = ", ".join(hose_standards())
        note = f"{where}: no figures known here; take them from its data sheet (known: {known})."
        return FromStandard(hose, (), (note,))
    told = list(_FILLS)
    lacking = [one for one in figures if _is_lacking(one, hose)]
    lacking.sort(key=lambda one: told.index(one.figure))
    filled = tuple(one for one in lacking if _may_fill(one, lacking))
    update: dict[str, Any] = {one.figure: _as_entered(one) for one in filled}
    return FromStandard(
        hose.model_copy(update=update),
        filled,
        tuple(_notes(where, filled, [one for one in lacking if one not in filled])),
    )


def _is_lacking(one: HoseFigure, hose: HoseEntry) -> bool:
    return one.figure in _FILLS and getattr(hose, one.figure) is None


def _may_fill(one: HoseFigure, lacking: list[HoseFigure]) -> bool:
    """Only confirmed figures, and what qualifies a figure only along with that figure."""
    if not one.is_confirmed:
        return False
    leader = _WITH.get(one.figure)
    return leader is None or any(other.figure == leader and other.is_confirmed for other in lacking)


def _as_entered(one: HoseFigure) -> object:
    return [str(one.value)] if one.figure == "fluids" else one.value


def _notes(where: str, filled: tuple[HoseFigure, ...], rest: list[HoseFigure]) -> Iterator[str]:
    if filled:
        told = ", ".join(one.words for one in filled)
        sources = "; ".join(dict.fromkeys(one.source for one in filled))
        yield (
            f"From the standard printed on the hose, {where}, not from its data sheet: {told}. "
            f"By: {sources}."
        )
    doubtful = [one.words for one in rest if not one.is_confirmed]
    if doubtful:
        yield (
            f"{where}: {', '.join(doubtful)} would be usual, from memory and used for nothing: "
            "look at the hose's data sheet."
        )


def _derived(figures: dict[str, HoseFigure], dash: int | None) -> Iterator[HoseFigure]:
    """Turn the burst factor into a pressure and the size into a bore."""
    factor, working = figures.pop(_FACTOR, None), figures.get("working_pressure_mpa")
    per_dash = figures.pop(_PER_DASH, None)
    yield from figures.values()
    if factor is not None and working is not None:
        burst = float(factor.value) * float(working.value)
        both = factor if working.is_confirmed else working
        yield HoseFigure("burst_pressure_mpa", burst, factor.source, both.checked)
    if per_dash is not None and dash is not None:
        bore = float(per_dash.value) * dash
        yield HoseFigure("inside_diameter_mm", bore, per_dash.source, per_dash.checked)


@cache
def _table() -> Mapping[tuple[str, int | None], tuple[HoseFigure, ...]]:
    text = files(__package__).joinpath("data", "hose_classes.csv").read_text("utf-8")
    return read_classes(text)


def read_classes(text: str) -> Mapping[tuple[str, int | None], tuple[HoseFigure, ...]]:
    """Read a table of hose standards: figures by standard and dash, dash None for all sizes.

    Parameters
    ----------
    text : str
        The CSV.

    Returns
    -------
    mapping

    Raises
    ------
    TableError
        With the line of the first bad row.
    """
    found: dict[tuple[str, int | None], list[HoseFigure]] = {}
    for number, row in enumerate(csv.DictReader(text.splitlines(), strict=True), start=2):
        try:
            key = (row["standard"], int(row["dash"]) if row["dash"] else None)
            found.setdefault(key, []).append(_figure(row))
        except (KeyError, TypeError, ValueError) as error:
            words = f"hose_classes.csv, line {number}: {error}."
            raise TableError(words, "Mend the row.") from error
    return {key: tuple(figures) for key, figures in found.items()}


def _figure(row: Mapping[str, str]) -> HoseFigure:
    if not row["source"] or row["checked"] not in _CHECKED:
        raise ValueError("no source, or not said how it was checked")
    name = row["figure"]
    if name not in {*_FILLS, *_TEXT, _FACTOR, _PER_DASH}:
        raise ValueError(f"'{name}' is no figure of a hose")
    if name in _TEXT:
        return HoseFigure(name, row["value"], row["source"], row["checked"])
    value = float(row["value"])
    if not value > 0:
        raise ValueError(f"{name} is {value:g}")
    return HoseFigure(name, value, row["source"], row["checked"])
