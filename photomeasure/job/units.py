"""The sheet in inches: lengths, pressures, heat, torque and flow, turned as they are written."""

import re
from math import ceil
from typing import Literal

__all__ = ["Units", "in_inches", "shown_mm", "sixteenths"]

Units = Literal["mm", "in"]

_MM_PER_INCH = 25.4
_PARTS = 16
_NUMBER = r"\d+(?:\.\d+)?"
_LENGTH = re.compile(
    rf"(?P<first>{_NUMBER})(?P<more>(?: ± {_NUMBER}| and {_NUMBER}| to {_NUMBER}"
    rf"| \({_NUMBER} to {_NUMBER}\))?) mm(?P<range> \({_NUMBER} to {_NUMBER}\))?(?![\w²])"
)

# What else a bench in inches reads: factor, offset, unit, decimals
_OTHERS = {
    "MPa": (145.0377, 0.0, "psi", 0),
    "°C": (1.8, 32.0, "°F", 0),
    "N·m": (0.7375621, 0.0, "lbf ft", 1),
    "L/min": (0.2641721, 0.0, "gal/min", 2),
    "m/s": (3.280840, 0.0, "ft/s", 1),
}
_OTHER = re.compile(
    rf"(?P<first>{_NUMBER})(?P<more>(?: ± | and | to ){_NUMBER})? "
    rf"(?P<unit>{'|'.join(map(re.escape, _OTHERS))})(?![\w²])"
)


def _sixteenths_of(length_mm: float) -> int:
    return ceil(length_mm / _MM_PER_INCH * _PARTS - 1e-9)


def shown_mm(mark_mm: int, units: Units) -> float:
    """Give the length of a mark as a tape in these units shows it, in inches to a sixteenth.

    Parameters
    ----------
    mark_mm : int [mm]
    units : {"mm", "in"}

    Returns
    -------
    float [mm]
    """
    return mark_mm if units == "mm" else _sixteenths_of(mark_mm) / _PARTS * _MM_PER_INCH


def sixteenths(length_mm: float) -> str:
    """Give a length on an inch tape, rounded up to a sixteenth.

    Parameters
    ----------
    length_mm : float [mm]

    Returns
    -------
    str
    """
    parts = _sixteenths_of(length_mm)
    whole, rest = divmod(parts, _PARTS)
    below = _PARTS
    while rest and rest % 2 == 0:
        rest, below = rest // 2, below // 2
    return f"{whole} {rest}/{below} in" if rest else f"{whole} in"


def in_inches(words: str, mark_mm: int | None = None) -> str:
    """Turn every length into inches, and pressure, heat, torque and flow into their like.

    Parameters
    ----------
    words : str
        A length that is to stay in millimetres has a no-break space before its unit.
    mark_mm : int or None [mm]
        The cutting mark: it turns into sixteenths, rounded up, wherever it stands.

    Returns
    -------
    str
    """
    if mark_mm is not None:
        words = re.sub(rf"(?<![\d.]){mark_mm} mm(?!\w)", sixteenths(mark_mm), words)
    words = _LENGTH.sub(_one, words).replace("in mm", "in inches")
    return _OTHER.sub(_other, words)


def _one(match: re.Match[str]) -> str:
    first, more, span = match["first"], match["more"], match["range"] or ""
    return f"{_inches(first)}{_each(more)} in{_each(span)}"


def _each(words: str) -> str:
    return re.sub(_NUMBER, lambda found: _inches(found[0]), words)


def _inches(number: str) -> str:
    """A millimetre is 0.04 in: one more decimal than written keeps what was known, and two."""
    decimals = len(number.partition(".")[2])
    return f"{float(number) / _MM_PER_INCH:.{max(2, decimals + 1)}f}"


def _other(match: re.Match[str]) -> str:
    factor, offset, unit, decimals = _OTHERS[match["unit"]]

    def turned(found: re.Match[str]) -> str:
        return f"{float(found[0]) * factor + offset:.{decimals}f}"

    said = re.sub(_NUMBER, turned, match["first"] + (match["more"] or ""))
    return f"{said} {unit}"
