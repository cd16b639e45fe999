"""What a caliper and a pitch gauge read, and how well."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from uncertainties import UFloat

from photomeasure.quantities import Source, measured
from photomeasure.sizing.judge import QuantityName

__all__ = ["Instrument", "Kind", "Observation", "observed"]

Kind = Literal["major", "minor", "bore", "pitch", "span"]

# Standard uncertainties [mm] (common practice, no source): the hand's repeatability on crests, in
# a root with the jaws' tips, in a bore, and across crests for a span; what all lengths of one
# caliper share (zero, scale, tilt)
HAND_MM = {"major": 0.02, "minor": 0.08, "bore": 0.03, "span": 0.08}
SHARED_MM = 0.015
PITCH_GAUGE = 0.007  # of the pitch: a leaf further off lets light through over several threads
USUAL_STEP_MM = 0.02  # of the caliper, if it is not said
FLAT_U = 0.3  # of the correction for the inside jaws' flats
UNKNOWN_FLAT_MM = 1.0  # flats are even between 0 and this if they are not said


@dataclass(frozen=True, slots=True)
class Instrument:
    """The caliper: `resolution_mm` its step, `jaw_flat_mm` the flats of its inside jaws."""

    resolution_mm: float | None = None
    jaw_flat_mm: float | None = None

    @property
    def step_u_mm(self) -> float:
        """Standard uncertainty of rounding to the step."""
        return (self.resolution_mm or USUAL_STEP_MM) / math.sqrt(12)

    def flat_mm(self, bore_mm: float) -> tuple[float, float]:
        """How much too small a bore reads because flats chord the circle, and its u.

        Parameters
        ----------
        bore_mm : float [mm]

        Returns
        -------
        tuple of float [mm]

        Notes
        -----
        Two flats of width f in a bore D: f^2 / (2 D) (own derivation, for f much below D).
        """
        if self.jaw_flat_mm is not None:
            short = self.jaw_flat_mm**2 / (2 * bore_mm)
            return short, FLAT_U * short
        mean = UNKNOWN_FLAT_MM**2 / 3 / (2 * bore_mm)
        return mean, mean * math.sqrt(9 / 5 - 1)  # f even between 0 and the bound


@dataclass(frozen=True, slots=True)
class Observation:
    """One reading as an estimate of one quantity of the thread.

    `value` is the estimate [mm]; `own_u` is its own standard uncertainty, `shared_u` what moves
    with the caliper's other lengths. `turns` is N of a span, else 1.
    """

    kind: Kind
    number: int
    reading: float
    turns: int
    value: float
    own_u: float
    shared_u: float

    @property
    def name(self) -> str:
        """As the answer names it: `major 1`."""
        return f"{self.kind} {self.number}"

    @property
    def quantity(self) -> QuantityName:
        """Which quantity of the judge it estimates."""
        if self.kind in {"pitch", "span"}:
            return "pitch"
        return "minor" if self.kind == "minor" else "diameter"

    def number_with_sources(self) -> UFloat:
        """Give the estimate with its named sources.

        Returns
        -------
        UFloat [mm]
        """
        own = Source(f"caliper reading {self.name}", f"caliper, {self.name}", "answer", "caliper")
        shared = Source("caliper", "caliper zero and scale", "answer", "caliper")
        return measured(self.value, dict(self._parts(own, shared)))

    def _parts(self, own: Source, shared: Source) -> Iterator[tuple[Source, float]]:
        yield own, self.own_u
        if self.shared_u:
            yield shared, self.shared_u


def observed(
    kind: Kind, number: int, reading: float, instrument: Instrument, *, turns: int = 1
) -> Observation:
    """Turn a reading into an estimate.

    Parameters
    ----------
    kind : Kind
    number : int
        Counts the readings of that kind, from 1.
    reading : float [mm]
        As read; of a span the length over `turns` pitches.
    instrument : Instrument
    turns : int

    Returns
    -------
    Observation
    """
    if kind == "pitch":
        return Observation(kind, number, reading, 1, reading, PITCH_GAUGE * abs(reading), 0.0)
    own = math.hypot(HAND_MM[kind], instrument.step_u_mm)
    value, shared = reading, SHARED_MM
    if kind == "bore":
        short, short_u = instrument.flat_mm(max(abs(reading), 1.0))
        value, own = reading + short, math.hypot(own, short_u)
    return Observation(kind, number, reading, turns, value / turns, own / turns, shared / turns)
