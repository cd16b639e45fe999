"""Entries as people say them: read with or without a unit, and said back in both."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from photomeasure.errors import UsageError
from photomeasure.job.units import Units
from photomeasure.quantities import parse_value

__all__ = ["UNITS_OF", "read_entry", "say_entry"]

_PLUS_MINUS = re.compile(r"^(?P<value>.+?)\s*(?:±|\+/-|\+-|\+−)\s*(?P<half>.+)$")
_LAST_FIGURE = re.compile(r"^[^.,/]*(?:[.,](?P<decimals>\d*)|/\s*(?P<below>\d+))?")
_UNIT = re.compile(r"[a-zA-Z\"″]+\s*$")
_MONTH = re.compile(r"(?:(\d{4})\s*[-/.]\s*(\d{1,2})|(\d{1,2})\s*[-/.]\s*(\d{4}))")
_BEND_BY_HAND = (10.0, 5.0)  # mm and degrees that a bend read with a rule may be off: own choice
_YES_NO = MappingProxyType({"yes": True, "no": False})


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of figure: the unit that is stored, and those of people who use mm or inches."""

    stored: str
    mm: str
    inch: str

    def bare(self, units: Units) -> str:
        """Give the unit of a figure that stands alone."""
        return self.mm if units == "mm" else self.inch


UNITS_OF: Mapping[str, _Kind] = MappingProxyType(
    {
        "mm": _Kind("mm", "mm", "in"),
        "length": _Kind("mm", "mm", "in"),
        "exactly": _Kind("mm", "mm", "in"),
        "pressure": _Kind("MPa", "bar", "psi"),
        "celsius": _Kind("°C", "°C", "°F"),
        "flow": _Kind("L/min", "L/min", "gal/min"),
        "torque": _Kind("N*m", "N·m", "lbf ft"),
        "viscosity": _Kind("mm²/s", "mm²/s", "mm²/s"),
        "density": _Kind("kg/m³", "kg/m³", "lb/ft³"),
    }
)


def read_entry(kind: str, text: str, units: Units) -> Any:
    """Read what was typed for one entry.

    Parameters
    ----------
    kind : str
        Of the table of entries.
    text : str
    units : {"mm", "in"}
        What a bare figure means.

    Returns
    -------
    any
        As the job's file holds it; None for nothing.

    Raises
    ------
    UsageError
        If it cannot be understood.
    """
    text = text.strip()
    if not text:
        return None
    return _READERS[kind](text, units) if kind in _READERS else _figure(kind, text, units)


def _figure(kind: str, text: str, units: Units) -> float:
    of = UNITS_OF[kind]
    return parse_value(text, bare=of.bare(units), unit=of.stored)


def _words(text: str, units: Units) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()]


def _yes_no(text: str, units: Units) -> bool:
    return _YES_NO[text]


def _number(text: str, units: Units) -> float:
    return parse_value(text, bare="dimensionless", unit="dimensionless")


def _count(text: str, units: Units) -> int:
    value = _number(text.removeprefix("-"), units)
    if value != int(value):
        raise UsageError(f"'{text}' is no whole number.", "Write it like 6.")
    return int(value)


def _share(text: str, units: Units) -> float:
    return _number(text.removesuffix("%").strip(), units) / 100


def _month(text: str, units: Units) -> str:
    match = _MONTH.fullmatch(text)
    year, month = (match[1] or match[4], match[2] or match[3]) if match else ("", "0")
    if not 1 <= int(month) <= 12:
        raise UsageError(f"'{text}' is no month.", "Write it like 2025-03.")
    return f"{year}-{int(month):02d}"


def _three(text: str, units: Units, kind: str) -> list[float]:
    parts = [part for part in re.split(r"[;\s]+|,\s+", text) if part]
    if len(parts) != 3:
        raise UsageError(f"'{text}' is not three figures.", "Write them like 400; 0; 120.")
    if kind == "place":
        return [_figure("mm", part, units) for part in parts]
    return [_number(part, units) for part in parts]


def _bends(text: str, units: Units) -> list[dict[str, Any]]:
    """Read `200, 90, 45; 560, 120, 90`: how far along, radius, angle of each bend; or `none`."""
    if text.casefold() in ("none", "0"):
        return []
    return [_bend(part, units) for part in text.split(";") if part.strip()]


def _bend(text: str, units: Units) -> dict[str, Any]:
    parts = [part for part in re.split(r",\s+|\s+", text.strip().rstrip("°")) if part]
    if len(parts) != 3:
        raise UsageError(
            f"'{text.strip()}' is not three figures.",
            "Write each bend like 200, 90, 45: along the path, radius, degrees.",
        )
    at, radius = (_figure("mm", part, units) for part in parts[:2])
    half_mm, half_deg = _BEND_BY_HAND
    return {
        "at": {"value": at, "u": half_mm / 3**0.5, "shape": "rectangular"},
        "radius": {"value": radius, "u": half_mm / 3**0.5, "shape": "rectangular"},
        "angle": {
            "value": _number(parts[2], units),
            "u": half_deg / 3**0.5,
            "unit": "deg",
            "shape": "rectangular",
        },
    }


def _exactly(text: str, units: Units) -> dict[str, Any]:
    return {"value": _figure("mm", text, units), "u": 0.0}


def _length(text: str, units: Units) -> dict[str, Any]:
    """Read `27 ± 0.5`; without a sign it may be off by one of the last figure written."""
    match = _PLUS_MINUS.match(text)
    value_text, half_text = (match["value"], match["half"]) if match else (text, "")
    if match and not _UNIT.search(value_text) and (unit := _UNIT.search(half_text)):
        value_text += f" {unit[0]}"
    if match and not _UNIT.search(half_text) and (unit := _UNIT.search(value_text)):
        half_text += f" {unit[0]}"
    value = _figure("mm", value_text, units)
    half = _figure("mm", half_text, units) if match else _last_figure(text, value, units)
    if half < 0:
        raise UsageError(f"'{half_text}' is below zero.", "Give the most that it can be off.")
    return {"value": value, "u": half / 3**0.5, "shape": "rectangular"}  # JCGM 100, 4.3.7


def _last_figure(text: str, value: float, units: Units) -> float:
    if value == 0:
        return 0.0
    found = _LAST_FIGURE.match(text)
    unit = _UNIT.search(text)
    said = f" {unit[0]}" if unit else ""
    if found and found["below"]:
        return _figure("mm", f"1/{2 * int(found['below'])}{said}", units)
    decimals = len(re.sub(r"\D.*", "", found["decimals"] or "")) if found else 0
    return _figure("mm", f"{10.0**-decimals:.{decimals}f}{said}", units)


_READERS: Mapping[str, Callable[[str, Units], Any]] = {
    "text": lambda text, units: text,
    "choice": lambda text, units: text,
    "words": _words,
    "yesno": _yes_no,
    "number": _number,
    "count": _count,
    "share": _share,
    "month": _month,
    "place": lambda text, units: _three(text, units, "place"),
    "direction": lambda text, units: _three(text, units, "direction"),
    "bends": _bends,
    "exactly": _exactly,
    "length": _length,
}


def say_entry(kind: str, value: Any, units: Units) -> str:
    """Say an entry of the job's file so that it can be typed again.

    Parameters
    ----------
    kind : str
    value : any
    units : {"mm", "in"}

    Returns
    -------
    str
    """
    if value is None:
        return ""
    if kind in _SAYERS:
        return _SAYERS[kind](value, units)
    return _said(kind, value, units) if kind in UNITS_OF else _plain(value)


def _said_bends(bends: Any, units: Units) -> str:
    """Say bends as they are typed, lengths in the page's unit."""
    unit = UNITS_OF["mm"].bare(units)
    said = [
        ", ".join(
            [
                *(_rounded(_turned(bend[key]["value"], "mm", unit), 5) for key in ("at", "radius")),
                _rounded(bend["angle"]["value"], 4),
            ]
        )
        for bend in bends
    ]
    return "; ".join(said) or "none"


def _plain(value: Any) -> str:
    return _rounded(value, 6) if isinstance(value, float) else str(value)


def _rounded(value: float, figures: int) -> str:
    """Write a figure to so many digits, never with a power of ten."""
    if not value:
        return "0"
    decimals = max(0, figures - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if decimals else text


def _said(kind: str, value: Any, units: Units) -> str:
    of = UNITS_OF[kind]
    unit = of.bare(units)
    if isinstance(value, str):
        return value  # typed into the file by hand, with its ±
    if not isinstance(value, Mapping):
        figures = 5 if unit == "mm" else 4
        return f"{_rounded(_turned(value, of.stored, unit), figures)} {unit}"
    middle = _turned(value["value"], of.stored, unit)
    half = _turned(value.get("u", 0.0), of.stored, unit) * 3**0.5
    if not half:
        return f"{middle:.{1 if units == 'mm' else 3}f} {unit}"
    decimals = max(0, 1 - math.floor(math.log10(half)))  # two figures of the doubt
    return f"{middle:.{decimals}f} ± {half:.{decimals}f} {unit}"


def _turned(value: float, stored: str, wanted: str) -> float:
    return parse_value(f"{value:.12f}", bare=stored, unit=wanted)


_SAYERS: Mapping[str, Callable[[Any, Units], str]] = {
    "yesno": lambda value, units: "yes" if value else "no",
    "share": lambda value, units: _rounded(100 * value, 6),
    "words": lambda value, units: ", ".join(_plain(one) for one in value),
    "place": lambda value, units: "; ".join(_plain(one) for one in value),
    "direction": lambda value, units: "; ".join(_plain(one) for one in value),
    "bends": _said_bends,
}
