"""Where to put the saw: cut length, its band, and the mark that is rarely too short.

cut = (path at its longest + laid line against hose + slack - cut-offs
       - extra back-off turns x pitch of the hose thread
       - (gap - gap already in the cut-off)) / (1 - shortening),

the division on the free hose between the sockets alone. A socket backed off and a gap left make
the assembly longer, so the hose is cut shorter.
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity, Source, components
from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.sizing.terms import Term, Terms, collect

__all__ = [
    "CutLengths",
    "convention_checks",
    "cut_lengths",
    "measured_from",
    "too_little",
    "too_long",
]

_STRAIGHT_BEHIND_SOCKETS = 3.0  # outside diameters at both ends: common practice, no source

_SAMPLES = 100_000  # the 97.5 % quantile is then known to 0.8 % of the standard uncertainty
_SEED = 20_001  # same job, same answer

Value = Any  # an uncertain number, or samples (N,): the same formula serves both
Samples = NDArray[np.float64]  # (N,)


@dataclass(frozen=True, slots=True, eq=False)
class CutLengths:
    """The lengths of one hose; None while a term is missing.

    Attributes
    ----------
    cut_length : Quantity or None [mm]
        Best estimate of the hose to cut.
    cut_at : Quantity or None [mm]
        Where to put the saw: too short with a chance of 2.5 %.
    assembly_length : Quantity or None [mm]
        Datum to datum of the finished assembly, when cut at `cut_at`.
    longest_usable : Quantity or None [mm]
        The longest cut that the space takes at the shortest path.
    surplus : Quantity or None [mm]
        As entered: how much more hose than the shortest path the space takes.
    terms : tuple of (str, Term)
    missing : tuple of str
    """

    cut_length: Quantity | None
    cut_at: Quantity | None
    assembly_length: Quantity | None
    longest_usable: Quantity | None
    surplus: Quantity | None
    terms: tuple[tuple[str, Term], ...]
    missing: tuple[str, ...]


def cut_lengths(job: JobEntries, rng: np.random.Generator | None = None) -> CutLengths:
    """Work out the cut of a job.

    Parameters
    ----------
    job : JobEntries
    rng : numpy.random.Generator, optional
        For the sampling of what is not linear or not normal (JCGM 101).

    Returns
    -------
    CutLengths

    Raises
    ------
    BadJobError
        If a stored answer contradicts itself.
    """
    terms = collect(job)
    surplus = terms.found["surplus"].quantity() if "surplus" in terms.found else None
    shown = tuple(item for item in terms.found.items() if "at rear" not in item[0])
    if terms.missing:
        return CutLengths(None, None, None, None, surplus, shown, terms.missing)
    rng = np.random.default_rng(_SEED) if rng is None else rng
    spread = _Spread(terms, rng)
    length, at_mm = spread.quantity(_longest_path_cut)
    cut_at = _shifted(length, at_mm)
    made_up = at_mm + _ends_add(spread.exact, terms.extra_turns)
    longest = None
    if surplus is not None:
        longest, _ = spread.quantity(_shortest_path_cut)
    return CutLengths(
        cut_length=length,
        cut_at=cut_at,
        assembly_length=Quantity.normal(made_up + _no_number(length), "mm"),
        longest_usable=longest,
        surplus=surplus,
        terms=shown,
        missing=(),
    )


Getter = Callable[[str], Value]
Formula = Callable[[Getter, tuple[float, float]], Value]


class _Spread:
    """Evaluates the cut's formula on uncertain numbers and, where that is not exact, on samples."""

    def __init__(self, terms: Terms, rng: np.random.Generator) -> None:
        self._terms, self._rng = terms, rng
        self._samples: Mapping[str, Samples | float] | None = None

    def exact(self, key: str) -> Value:
        """Give a term as an uncertain number; a term that does not apply is nothing."""
        term = self._terms.found.get(key)
        return 0.0 if term is None else term.number

    def _sampled(self, key: str) -> Value:
        if self._samples is None:
            self._samples = self._drawn()
        return self._samples.get(key, 0.0)

    def _drawn(self) -> dict[str, Samples | float]:
        """Draw every term once; terms that share a source share its draws."""
        found = self._terms.found
        terms = {id(term): term for term in found.values()}
        users = Counter(source for term in terms.values() for source in components(term.number))
        draws: dict[Source, Samples] = {}
        drawn: dict[int, Samples | float] = {}
        for key, term in terms.items():
            if all(users[source] == 1 for source in components(term.number)):
                drawn[key] = term.sample_alone(self._rng, _SAMPLES)
            else:
                drawn[key] = term.sample(draws, self._rng, _SAMPLES)
        return {name: drawn[id(term)] for name, term in found.items()}

    def quantity(self, formula: Formula) -> tuple[Quantity, float]:
        """Evaluate a formula; give the value and its 97.5 % quantile."""
        number = formula(self.exact, self._terms.extra_turns)
        is_linear = "shortening" not in self._terms.found
        if is_linear and all(term.is_plain for term in self._terms.found.values()):
            plain = Quantity.normal(number, "mm")
            return plain, plain.high
        values = formula(self._sampled, self._terms.extra_turns)
        low, high = np.quantile(values, [0.025, 0.975])
        return Quantity(number, "mm", float(low), float(high)), float(high)


def _cut_off(get: Getter, letter: str) -> Value:
    """Published (less what lies past the seat), or seat to socket less the hose in it."""
    published = get(f"cut-off {letter}") - get(f"nut {letter}")
    return published + get(f"rear {letter}") - get(f"depth at rear {letter}")


def _ends_add(get: Getter, extra_turns: tuple[float, float]) -> Value:
    """Give what the two ends add to the hose that is cut."""
    total: Value = 0.0
    for letter, turns in zip("AB", extra_turns, strict=True):
        total = total + _cut_off(get, letter) + turns * get(f"pitch {letter}")
        total = total + get(f"gap {letter}") - get(f"gap in cut-off {letter}")
    return total


def _in_sockets(get: Getter, extra_turns: tuple[float, float]) -> Value:
    """Give the hose inside both sockets; a socket turned back lets go of some of it."""
    total: Value = 0.0
    for letter, turns in zip("AB", extra_turns, strict=True):
        total = total + get(f"depth {letter}") - turns * get(f"pitch {letter}")
    return total


def _path(get: Getter) -> Value:
    """Give the path from hose end to hose end, in the position in which it was measured."""
    path = get("route") + get("mock-up")
    for letter in "AB":
        path = path + get(f"offset {letter}") - get(f"stand-off {letter}")
    return path


def _cut(get: Getter, extra_turns: tuple[float, float], assembly: Value) -> Value:
    hidden = _in_sockets(get, extra_turns)
    free = assembly - _ends_add(get, extra_turns) - hidden
    return free / (1 - get("shortening")) + hidden


def _longest_path_cut(get: Getter, extra_turns: tuple[float, float]) -> Value:
    return _cut(get, extra_turns, _path(get) + get("longer") + get("slack"))


def _shortest_path_cut(get: Getter, extra_turns: tuple[float, float]) -> Value:
    return _cut(get, extra_turns, _path(get) - get("shorter") + get("surplus"))


def _shifted(quantity: Quantity, value: float) -> Quantity:
    shift = value - quantity.value
    return Quantity(
        quantity.number + shift, quantity.unit, quantity.low + shift, quantity.high + shift
    )


def _no_number(quantity: Quantity) -> Value:
    """Give an uncertain zero, so that a sum stays an uncertain number."""
    return quantity.number * 0.0


def measured_from(letter: str, end: EndEntry) -> str:
    """Say where the finished assembly's length is measured from at one end."""
    if end.end != "straight":
        return f"end {letter}: where the seat's axis meets the hose axis of the {end.end}° end"
    return f"end {letter}: the sealing seat of the straight end, not the nut"


def convention_checks(job: JobEntries) -> tuple[Check, ...]:
    """Ask to where each published cut-off runs: seat and nut's end differ by millimetres.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of Check
    """
    found = []
    for letter, end in zip("AB", job.ends, strict=False):
        name = f"cut-off {letter} runs to"
        if end.cut_off is None and end.seat_to_socket is not None:
            found.append(Check(name, True, "Measured on the made-up end, to the seat."))
        elif end.cut_off_to is None:
            found.append(missing(name, "whether the cut-off runs to the seat or the nut's end"))
        else:
            found.append(Check(name, True, f"To the {end.cut_off_to}, as entered."))
    return tuple(found)


def too_little(job: JobEntries, lengths: CutLengths) -> Check:
    """Check that between the sockets there is a hose at all, and straight behind both of them."""
    name = "hose between the sockets"
    if lengths.cut_length is None:
        return missing(name, "the cut")
    depths = [end.socket_depth.value for end in job.ends if end.socket_depth is not None]
    free_mm = lengths.cut_length.low - sum(depths)
    diameter_mm = job.hose.outside_diameter_mm
    lacks = [] if len(depths) == len(job.ends) else ["the sockets' hose depth"]
    lacks += [] if diameter_mm is not None else ["the hose's outside diameter"]
    least_mm = _STRAIGHT_BEHIND_SOCKETS * (diameter_mm or 0.0)
    found = f"{free_mm:.0f} mm free"
    if free_mm <= least_mm:
        return Check(
            name, False, f"{found}, more than {least_mm:.0f} mm needed: no such hose can be made."
        )
    if lacks:
        return missing(name, *lacks)
    return Check(name, True, f"{found}, at least {least_mm:.0f} mm.")


def too_long(lengths: CutLengths) -> Check:
    """Check that the hose cut at `cut_at` is not too long for the space at the shortest path."""
    name = "not too long"
    if lengths.cut_at is None:
        return missing(name, "the cut")
    if lengths.longest_usable is None:
        return missing(name, "room for surplus hose at the shortest path (surplus)")
    at, longest = lengths.cut_at.value, lengths.longest_usable
    found = (
        f"Cut at {at:.0f} mm, usable up to {longest.low:.0f} mm (best estimate "
        f"{longest.value:.0f} mm)"
    )
    if at <= longest.low:
        return Check(name, True, f"{found}.")
    if at > longest.value:
        words = (
            "too short and too long cannot both be avoided; change ends, route or measure better"
        )
        return Check(name, False, f"{found}: {words}.")
    return Check(name, None, f"{found}: too near to call; measure the route better.")
