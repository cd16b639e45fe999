"""The terms of the cut: every length that enters it, as an uncertain number with its sources."""

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr
from uncertainties import UFloat

from photomeasure.errors import BadJobError
from photomeasure.quantities import COVERAGE_95, Quantity, Source, components, measured
from photomeasure.sizing.entries import (
    EndEntry,
    JobEntries,
    Measured,
    RouteEntry,
    Shape,
    Shortening,
)
from photomeasure.sizing.hose import is_ptfe, peak_pressure_mpa
from photomeasure.sizing.path import near_straight

__all__ = ["Term", "Terms", "collect"]

Samples = NDArray[np.float64]  # (N,)

# A hose does not lie quite as the tape, rod or old hose did: up to 5 mm (common practice).
_USUAL_DATUM = Measured(value=0.0, u=1.0 / math.sqrt(3), shape="rectangular")  # likewise, 1 mm
_USUAL_MOCK_UP = Measured(value=0.0, u=5.0 / math.sqrt(3), shape="rectangular")


@dataclass(frozen=True, slots=True, eq=False)
class Term:
    """One length (or fraction) that enters the cut.

    `low_scale` and `high_scale` stretch the normal distribution on either side so that it meets
    the entry's own 95 % interval.
    """

    label: str
    number: UFloat
    unit: str = "mm"
    shape: Shape = "normal"
    low_scale: float = 1.0
    high_scale: float = 1.0

    @property
    def is_plain(self) -> bool:
        """Say whether it is normal, so that a closed form is exact."""
        near = math.isclose(self.low_scale, 1, abs_tol=1e-3)
        return self.shape == "normal" and near and math.isclose(self.high_scale, 1, abs_tol=1e-3)

    def quantity(self) -> Quantity:
        """Give the term with its own interval."""
        value, u = self.number.nominal_value, self.number.std_dev
        if self.shape == "rectangular":
            half = 0.95 * math.sqrt(3) * u
            return Quantity(self.number, self.unit, value - half, value + half)
        low = value - COVERAGE_95 * u * self.low_scale
        return Quantity(self.number, self.unit, low, value + COVERAGE_95 * u * self.high_scale)

    def sample_alone(self, rng: np.random.Generator, n: int) -> Samples | float:
        """Draw values of a term that shares no source with another: one draw serves.

        Parameters
        ----------
        rng : numpy.random.Generator
        n : int

        Returns
        -------
        (N,) or float [same unit]
            A plain number for a term that is exactly known.
        """
        middle, u = float(self.number.nominal_value), float(self.number.std_dev)
        if not u:
            return middle
        if self.shape == "rectangular":
            return middle + math.sqrt(3) * u * (2 * rng.random(n) - 1)
        deviation = u * rng.standard_normal(n)
        if self.is_plain:
            return middle + deviation
        return middle + np.where(deviation < 0, self.low_scale, self.high_scale) * deviation

    def sample(self, draws: dict[Source, Samples], rng: np.random.Generator, n: int) -> Samples:
        """Draw values; a source that another term has drawn already is shared with it.

        Parameters
        ----------
        draws : dict of Source to (N,) [1]
            Standard-normal draws so far; grows.
        rng : numpy.random.Generator
        n : int

        Returns
        -------
        (N,) [same unit]
        """
        deviation: Samples = np.zeros(n)
        for source, part in components(self.number).items():
            if source not in draws:
                draws[source] = rng.standard_normal(n)
            deviation += part * draws[source]
        middle, u = float(self.number.nominal_value), float(self.number.std_dev)
        if self.shape == "rectangular" and u > 0:
            return middle + math.sqrt(3) * u * (2 * _below(deviation / u) - 1)
        return middle + np.where(deviation < 0, self.low_scale, self.high_scale) * deviation


@dataclass(frozen=True, slots=True, eq=False)
class Terms:
    """What was found of the cut's terms, by key, and what is missing."""

    found: Mapping[str, Term]
    missing: tuple[str, ...]
    extra_turns: tuple[float, float]
    lacks_datum: bool


def collect(job: JobEntries) -> Terms:
    """Gather every term of the cut from a job's entries.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    Terms

    Raises
    ------
    BadJobError
        If a stored answer's components do not make up its uncertainty.
    """
    gatherer = _Gatherer(job)
    gatherer.route()
    for letter, end in zip("AB", job.ends, strict=False):
        gatherer.datum(letter, end)
        gatherer.cut_off(letter, end)
        gatherer.back_off(letter, end)
        gatherer.gap(letter, end)
    gatherer.whole()
    gatherer.shortening()
    turns = tuple(gatherer.extra_turns.get(letter, 0.0) for letter in "AB")
    return Terms(
        found=gatherer.found,
        missing=tuple(gatherer.missing),
        extra_turns=(turns[0], turns[1]),
        lacks_datum=gatherer.lacks_datum,
    )


class _Gatherer:
    """Collects terms; what a term needs and nobody entered goes on the list of missing things."""

    def __init__(self, job: JobEntries) -> None:
        self.job = job
        self.found: dict[str, Term] = {}
        self.missing: list[str] = []
        self.extra_turns: dict[str, float] = {}
        self.lacks_datum = len(job.ends) < 2 or job.route is None

    def take(self, key: str, label: str, entry: Measured | None) -> bool:
        """Add an entry as a term of its own source; say whether it was there."""
        if entry is not None:
            source = Source(key, label, "answer", self.job.id)
            self.found[key] = _term(label, measured(entry.value, {source: entry.u}), entry)
        return entry is not None

    def route(self) -> None:
        """Take the route's length with its own sources."""
        if len(self.job.ends) < 2:
            self.missing.append("both ends of the hose")
        if self.job.route is None:
            self.missing.append("the route's length")
        else:
            self.found["route"] = _route_term(self.job.route, self.job.id)

    def datum(self, letter: str, end: EndEntry) -> None:
        """Bridge from where the route was measured to where the hose end begins."""
        need = _datum_lacks(letter, end)
        if need is not None:
            self.missing.append(need)
            self.lacks_datum = True
            return
        if end.datum == "port face":
            self.take(f"stand-off {letter}", f"adapter stand-off, end {letter}", end.stand_off)
        else:
            label = f"{end.datum} to the hose end, end {letter}"
            self.take(f"offset {letter}", label, end.datum_offset or _USUAL_DATUM)

    def cut_off(self, letter: str, end: EndEntry) -> None:
        """Take the cut-off allowance as published, or as measured on a made-up end."""
        if end.end != "straight" and end.cut_off_to in ("seat", "nut end"):
            self.missing.append(
                f"cut-off of end {letter} to where its axes cross: an angled end is never "
                "reckoned to its seat"
            )
            return
        if self.take(f"cut-off {letter}", f"cut-off allowance, end {letter}", end.cut_off):
            self._nut_end(letter, end)
            self.take(f"depth {letter}", f"socket's hose depth, end {letter}", end.socket_depth)
            return
        rear = self.take(f"rear {letter}", f"seat to socket, end {letter}", end.seat_to_socket)
        depth = self.take(f"depth {letter}", f"socket's hose depth, end {letter}", end.socket_depth)
        if rear and depth:
            self.found[f"depth at rear {letter}"] = self.found[f"depth {letter}"]
        else:
            self.missing.append(f"cut-off allowance of end {letter}")

    def _nut_end(self, letter: str, end: EndEntry) -> None:
        if end.cut_off_to != "nut end":
            return
        label = f"nut's end past the seat, end {letter}"
        if not self.take(f"nut {letter}", label, end.nut_past_seat):
            self.missing.append(f"how far the nut's end stands past the seat, end {letter}")

    def back_off(self, letter: str, end: EndEntry) -> None:
        """Take the back-off turns beyond those that the cut-off already holds."""
        if end.back_off_turns is None:
            if self._is_screwed(end) and not is_ptfe(self.job.hose):
                self.missing.append(f"turns that the socket of end {letter} is backed off")
            return
        if end.back_off_in_cut_off is None:
            self.missing.append(f"back-off turns already in the cut-off of end {letter}")
            return
        extra = end.back_off_turns - end.back_off_in_cut_off
        if not extra:
            return
        self.extra_turns[letter] = extra
        label = f"hose thread pitch, end {letter}"
        if not self.take(f"pitch {letter}", label, end.hose_thread_pitch):
            self.missing.append(f"pitch of the socket's coarse hose thread, end {letter}")

    def gap(self, letter: str, end: EndEntry) -> None:
        """Take the gap between socket and nipple beyond the one the cut-off already holds."""
        if not self.take(f"gap {letter}", f"gap left, end {letter}", end.gap):
            if self._is_screwed(end):
                self.missing.append(f"gap left between socket and nipple of end {letter}")
            return
        label = f"gap in the cut-off, end {letter}"
        if not self.take(f"gap in cut-off {letter}", label, end.gap_in_cut_off):
            self.missing.append(f"gap already in the cut-off of end {letter}")

    def _is_screwed(self, end: EndEntry) -> bool:
        """Whether back-off and gap must be said: not where a made-up end was measured."""
        return end.made == "screw-together" and end.cut_off is not None

    def whole(self) -> None:
        """Take what belongs to the hose as a whole: slack, movement, room."""
        if not self.take("slack", "slack", self.job.slack):
            self.missing.append("slack that is not yet in the route (0 mm if none)")
        self.take("mock-up", "laid line against the hose", self.job.mock_up or _USUAL_MOCK_UP)
        if self.job.movement is not None:
            self.take("longer", "path at its longest", self.job.movement.longer)
            self.take("shorter", "path at its shortest", self.job.movement.shorter)
        self.take("surplus", "room for surplus", self.job.surplus)

    def shortening(self) -> None:
        """Take the shortening under pressure, for a near-straight hose alone."""
        if self.job.route is None:
            return
        straight = near_straight(self.job.route)
        if straight is None:
            self.missing.append("whether the run is near-straight")
        if not straight:
            return
        share = _pressure_share(self.job)
        if share is None:
            self.missing.append("line and hose pressure, for the shortening of a straight hose")
            return
        entry = self.job.hose.shortening or _usual_shortening()
        self.found["shortening"] = _shortening_term(entry, share, self.job.id)
        self.missing.extend(
            f"socket's hose depth of end {letter}, for the shortening of the free hose"
            for letter in "AB"
            if f"depth {letter}" not in self.found
        )


def _below(deviate: Samples) -> Samples:
    """Probability below a standard-normal deviate, (N,): it makes a uniform of it."""
    return np.asarray(ndtr(deviate), dtype=np.float64)


def _datum_lacks(letter: str, end: EndEntry) -> str | None:
    """Say what an end's datum lacks, or None."""
    if end.datum is None:
        return f"datum of end {letter}: seat, port face, band edge or axes cross"
    if end.end != "straight" and end.datum != "axes cross":
        return (
            f"datum of end {letter}: a {end.end}° end starts where its axes cross, so lay the line "
            "anew to that point"
        )
    if end.end == "straight" and end.datum == "axes cross":
        return f"datum of end {letter}: a straight end has no crossing axes; measure to the seat"
    if end.datum == "band edge" and end.datum_offset is None:
        return f"distance from the band edge to the seat, end {letter}"
    if end.datum == "port face" and end.stand_off is None:
        return f"stand-off of the fitted adapter from the port face, end {letter}"
    return None


def _term(label: str, number: UFloat, entry: Measured) -> Term:
    if entry.shape == "rectangular" or entry.u == 0:
        return Term(label, number, entry.unit, entry.shape)
    half = COVERAGE_95 * entry.u
    low = 1.0 if entry.low is None else (entry.value - entry.low) / half
    high = 1.0 if entry.high is None else (entry.high - entry.value) / half
    return Term(label, number, entry.unit, "normal", low, high)


def _route_term(route: RouteEntry, job_id: str) -> Term:
    name = "length" if route.hose_length is None else "hose_length"
    entry = route.length if route.hose_length is None else route.hose_length
    if not entry.u > 0:
        raise BadJobError(
            "The route's length has no uncertainty.", "Say how far off it may be: u above zero."
        )
    parts = route.components.get(name)
    if not parts:
        source = Source("route", "route length", "answer", job_id)
        return _term("route", measured(entry.value, {source: entry.u}), entry)
    number = measured(entry.value, {_source(route, id_): part for id_, part in parts.items()})
    if not math.isclose(number.std_dev, entry.u, rel_tol=0.01):
        raise BadJobError(
            f"The parts of the route's {name} make u = {number.std_dev:.4g}, "
            f"it says {entry.u:.4g}.",
            "Measure the route again and save the new answer.",
        )
    return _term("route", number, entry)


def _source(route: RouteEntry, id_: str) -> Source:
    entry = route.sources.get(id_)
    if entry is None:
        raise BadJobError(
            f"The route's length names the source '{id_}', which is not listed.",
            "Measure the route again and save the new answer.",
        )
    own_id = id_.removesuffix(f" @ {entry.key}")
    return Source(own_id, entry.label or own_id, entry.scope, entry.key)


def _pressure_share(job: JobEntries) -> float | None:
    """Pressure of the line as a share of the hose's full rating, at most 1."""
    peak, rating = peak_pressure_mpa(job.line), job.hose.working_pressure_mpa
    return None if peak is None or rating is None else min(1.0, peak / rating)


@cache
def _usual_shortening() -> Shortening:
    text = files(__package__).joinpath("data", "length_change.csv").read_text("utf-8")
    row = next(csv.DictReader(text.splitlines(), strict=True))
    return Shortening(least=float(row["least"]), most=float(row["most"]), source=row["source"])


def _shortening_term(entry: Shortening, share: float, job_id: str) -> Term:
    middle, half = (entry.most + entry.least) / 2 * share, (entry.most - entry.least) / 2 * share
    source = Source("shortening", "hose shortening", "answer", job_id)
    number = measured(middle, {source: half / math.sqrt(3)})
    return Term("hose shortening", number, "", "rectangular")
