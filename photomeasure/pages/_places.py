"""Where in the app an open check is answered, and what comes next."""

import csv
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from photomeasure.job import CutPlan
from photomeasure.sizing.checks import Check

__all__ = ["Lack", "lacks", "place_of"]

_FOLLOWS = "="  # a lack that goes away with another one
_END = re.compile(r"\b(?:end|port|at|seat|thread|union|stud|cut-off) ([AB])\b")
_ORDER = ("thread", "ends", "line", "hose", "route", "room", "", _FOLLOWS)


@dataclass(frozen=True, slots=True)
class Lack:
    """One thing that still keeps the hose from being built, and where it is entered."""

    check: str
    words: str
    page: str
    part: str
    end: str
    is_wrong: bool


@cache
def _rows() -> tuple[dict[str, str], ...]:
    text = files(__package__).joinpath("places.csv").read_text("utf-8")
    return tuple(csv.DictReader(text.splitlines(), strict=True))


def place_of(check: str, detail: str) -> tuple[str, str]:
    """Give page and part where a check's lack is answered; empty where no page of ours does.

    Parameters
    ----------
    check, detail : str

    Returns
    -------
    tuple of str
    """
    for row in _rows():
        if check.startswith(row["check"]) and row["detail"] in detail:
            return row["page"], row["part"]
    return "", ""


def lacks(plan: CutPlan) -> tuple[Lack, ...]:
    """List what is open or wrong, in the order in which one would settle it.

    Parameters
    ----------
    plan : CutPlan

    Returns
    -------
    tuple of Lack
    """
    found = [lack for check in plan.checks if check.ok is not True for lack in _of(check)]
    own = [lack for lack in found if lack.page != _FOLLOWS] or found
    return tuple(dict.fromkeys(sorted(own, key=lambda lack: _ORDER.index(lack.page))))


def _of(check: Check) -> list[Lack]:
    if check.ok is False or not check.detail.startswith("Missing: "):
        return [_lack(check, check.detail)]
    items = check.detail.removeprefix("Missing: ").removesuffix(".").split("; ")
    return [_lack(check, item) for item in items]


def _lack(check: Check, words: str) -> Lack:
    page, part = place_of(check.name, words)
    end = _END.search(check.name) or _END.search(words)
    letter = end[1] if end else ""
    return Lack(check.name, words, page, part, letter, check.ok is False)
