"""All threads of all tables, and the reading of designations."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from functools import cache

from photomeasure.errors import UsageError
from photomeasure.standards.classes import other_classes, rp_thread
from photomeasure.standards.metric import metric_threads
from photomeasure.standards.pipe import g_threads, npt_threads, r_threads, rc_threads
from photomeasure.standards.seats import seats_of
from photomeasure.standards.thread import Thread, external_json, internal_json
from photomeasure.standards.unified import inches, unified_threads

__all__ = ["listing", "thread", "threads"]


@cache
def threads() -> tuple[Thread, ...]:
    """Every thread, in the order of its tables, each with its seats."""
    plain = (
        *metric_threads(),
        *unified_threads(),
        *g_threads(),
        *r_threads(),
        *rc_threads(),
        *npt_threads(),
    )
    return tuple(replace(one, seats=seats_of(one.designation)) for one in plain)


def thread(designation: str) -> Thread:
    """Find a thread by its designation, however it is written.

    Parameters
    ----------
    designation : str
        `M18x1.5`, `m18 x 1,5`, `9/16-18`, `1-1/16-12 UN`, `BSPP 1/4`, `G 1/4"`, `1/4 NPT` …

    Returns
    -------
    Thread

    Raises
    ------
    UsageError
        If the tables have no such thread.
    """
    key = _key(designation)
    found = None if key is None else _by_key().get(key)
    if found is None:
        raise UsageError(
            f"'{designation.strip()[:40]}' is not in the thread tables.", _suggestion(designation)
        )
    return found


def listing(designations: Iterable[str] = (), *, classes: bool = False) -> dict[str, object]:
    """Give the contract's answer to `threads --json`.

    Parameters
    ----------
    designations : iterable of str
        Which threads; none means all. `Rp1/2` is answered, too.
    classes : bool
        Whether each row adds `other_classes`; one whose designation names a class does anyway.

    Returns
    -------
    dict

    Raises
    ------
    UsageError
        At the first designation that no table has.
    """
    chosen = [_row(designation, classes=classes) for designation in designations]
    if chosen:
        return {"threads": chosen}
    return {"threads": [_with_classes(one) if classes else one.as_json() for one in threads()]}


def _row(designation: str, *, classes: bool) -> dict[str, object]:
    """A listed thread, or Rp, which shares its row of the table with Rc."""
    parallel = _RP.match(designation.strip())
    if parallel is not None:
        return {**rp_thread(thread(f"Rc{parallel[1]}")).as_json(), "family": "Rp"}
    one = thread(designation)
    return _with_classes(one) if classes or _CLASS.search(designation) else one.as_json()


def _with_classes(one: Thread) -> dict[str, object]:
    others = other_classes(one)
    rows = [external_json(limits) for limits in others.external]
    rows += [internal_json(limits) for limits in others.internal]
    return {**one.as_json(), "other_classes": rows}


def _suggestion(designation: str) -> str:
    names = [one.designation for one in threads()]
    near = get_close_matches(designation.strip(), names, n=3, cutoff=0.5)
    if near:
        return f"Did you mean {' or '.join(near)}? `photomeasure threads` lists them all."
    return "Write it like M18x1.5, 9/16-18 UNF, G1/4, R1/4, Rc1/4 or 1/4-18 NPT."


@cache
def _by_key() -> Mapping[tuple[str, ...], Thread]:
    keys: dict[tuple[str, ...], Thread] = {}
    coarse: dict[tuple[str, ...], Thread] = {}
    for one in threads():
        key = _key(one.designation)
        if key is None:
            raise ValueError(f"the designation '{one.designation}' cannot be read back")
        keys[key] = one
        if one.family == "metric":  # M10 alone is its coarse pitch
            known = coarse.get(("M", key[1]))
            if known is None or known.pitch_mm < one.pitch_mm:
                coarse["M", key[1]] = one
        elif one.family == "NPT":  # the number of threads may be left out
            keys["NPT", key[1]] = one
    return {
        **{key: one for key, one in coarse.items() if one.pitch_mm == _COARSE.get(key[1])},
        **keys,
    }


_COARSE = {
    # ISO 261, coarse series
    **{"8": 1.25, "10": 1.5, "12": 1.75, "14": 2.0, "16": 2.0, "18": 2.5, "20": 2.5, "22": 2.5},
    **{"24": 3.0, "27": 3.0, "30": 3.5, "33": 3.5, "36": 4.0},
}

_CLASS = re.compile(r"NPTF|-\s*(?:[123][AB]|\d[a-hG-H]\w*)\s*$", re.IGNORECASE)
_RP = re.compile(r"^Rp\s*(\S.*)$", re.IGNORECASE)
_NUMBER = r"\d+(?:\.\d+)?"
_SIZE = rf"(?:\d+\s*[\s.-]\s*)?\d+\s*/\s*\d+|{_NUMBER}"
_INCH = r"\s*(?:\"|''|″|in(?:ch)?)?"
_METRIC = re.compile(rf"^M\s*({_NUMBER})(?:\s*[X*×-]\s*({_NUMBER}))?(?:\s*-\s*\d[A-Z]\w*)?$")
_PIPE = re.compile(
    rf"^(?:(G|BSPP|RC|BSPTF|R|BSPT)[\s-]*({_SIZE}){_INCH}|({_SIZE}){_INCH}[\s-]*(BSPP|BSPT))"
    rf"(?:\s*-\s*{_NUMBER})?(?:\s*[AB])?$"
)
_NPT = re.compile(
    rf"^(?:NPTF?[\s-]*({_SIZE}){_INCH}(?:\s*-\s*({_NUMBER}))?"
    rf"|({_SIZE}){_INCH}(?:\s*-\s*({_NUMBER}))?[\s-]*NPTF?)$"
)
_UNIFIED = re.compile(
    rf"^({_SIZE}){_INCH}\s*[-X]\s*({_NUMBER})\s*(?:TPI)?[\s-]*(?:UN[A-Z]{{0,2}}|JIC|ORFS)?"
    r"(?:\s*-\s*[123][AB])?$"
)
_PIPE_LETTERS = {"G": "G", "BSPP": "G", "R": "R", "BSPT": "R", "RC": "RC", "BSPTF": "RC"}


def _key(designation: str) -> tuple[str, ...] | None:
    text = re.sub(r"\s+", " ", designation.strip().upper().replace(",", "."))[:60]
    text = text.replace("–", "-").replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4")
    for reader in (_metric_key, _npt_key, _pipe_key, _unified_key):
        key = reader(text.strip())
        if key is not None:
            return key
    return None


def _metric_key(text: str) -> tuple[str, ...] | None:
    found = _METRIC.match(text)
    if found is None:
        return None
    diameter, pitch = found.groups()
    return ("M", f"{float(diameter):g}") + ((f"{float(pitch):g}",) if pitch else ())


def _pipe_key(text: str) -> tuple[str, ...] | None:
    found = _PIPE.match(text)
    if found is None:
        return None
    before, size_after, size_before, after = found.groups()
    return _sized(_PIPE_LETTERS[before or after], size_after or size_before)


def _npt_key(text: str) -> tuple[str, ...] | None:
    found = _NPT.match(text)
    if found is None:
        return None
    size_after, count_after, size_before, count_before = found.groups()
    return _sized("NPT", size_after or size_before, count_after or count_before)


def _unified_key(text: str) -> tuple[str, ...] | None:
    found = _UNIFIED.match(text)
    return None if found is None else _sized("UN", *found.groups())


def _sized(family: str, size: str, count: str | None = None) -> tuple[str, ...] | None:
    parts = re.sub(r"(\d)\s*[\s.-]\s*(?=\d+\s*/)", r"\1 ", size)
    try:
        value = inches(re.sub(r"\s*/\s*", "/", parts))
    except ZeroDivisionError:
        return None
    return (family, f"{value:.4f}") + ((f"{float(count):g}",) if count else ())
