"""Lengths on paper in inches: what the sheet says in millimetres, turned into inches as written."""

import re
from math import ceil
from typing import Literal

__all__ = ["Units", "in_inches", "sixteenths"]

Units = Literal["mm", "in"]

_MM_PER_INCH = 25.4
_PARTS = 16
_NUMBER = r"\d+(?:\.\d+)?"
_LENGTH = re.compile(
    rf"(?P<first>{_NUMBER})(?P<more>(?: ± {_NUMBER}| and {_NUMBER}| to {_NUMBER}"
    rf"| \({_NUMBER} to {_NUMBER}\))?) mm(?P<range> \({_NUMBER} to {_NUMBER}\))?(?![\w²])"
)


def sixteenths(length_mm: float) -> str:
    """Give a length on an inch tape, rounded up to a sixteenth.

    Parameters
    ----------
    length_mm : float [mm]

    Returns
    -------
    str
    """
    parts = ceil(length_mm / _MM_PER_INCH * _PARTS - 1e-9)
    whole, rest = divmod(parts, _PARTS)
    below = _PARTS
    while rest and rest % 2 == 0:
        rest, below = rest // 2, below // 2
    return f"{whole} {rest}/{below} in" if rest else f"{whole} in"


def in_inches(words: str, mark_mm: int | None = None) -> str:
    """Turn every length in millimetres into inches, to at least as many figures.

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
    return _LENGTH.sub(_one, words).replace("in mm", "in inches")


def _one(match: re.Match[str]) -> str:
    first, more, span = match["first"], match["more"], match["range"] or ""
    return f"{_inches(first)}{_each(more)} in{_each(span)}"


def _each(words: str) -> str:
    return re.sub(_NUMBER, lambda found: _inches(found[0]), words)


def _inches(number: str) -> str:
    """A millimetre is 0.04 in: one more decimal than written keeps what was known, and two."""
    decimals = len(number.partition(".")[2])
    return f"{float(number) / _MM_PER_INCH:.{max(2, decimals + 1)}f}"
