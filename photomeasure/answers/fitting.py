"""Which male thread it is: one photo, or several of the same fitting left untouched."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from photomeasure.answers.advice import advice
from photomeasure.answers.angle import nominal_angle
from photomeasure.answers.candidates import (
    answer_line,
    candidate_lines,
    candidates_from_json,
    candidates_json,
    hand_from_json,
    if_print_is_true,
    verdict_from_json,
)
from photomeasure.answers.gauge import gauge_length_mm, moved_along
from photomeasure.answers.options import Lies, PhotoOptions
from photomeasure.answers.wire import (
    Json,
    budget_json,
    components_json,
    quantity_from_json,
    quantity_json,
    read_number,
    shown,
    sources_from_json,
    sources_json,
)
from photomeasure.answers.words import both_units
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity
from photomeasure.references.find import find_pieces
from photomeasure.sizing.match import Candidate, Match, ThreadReading, Verdict, match
from photomeasure.sizing.zones import MACHINES
from photomeasure.thread.fitting import FittingOptions
from photomeasure.thread.reading import FittingReading, FittingTrace, Hand, SpannerSize
from photomeasure.thread.several import read_fittings

__all__ = ["FittingAnswer", "fitting"]

_QUANTITIES = (
    "major_diameter",
    "diameter_at_small_end",
    "minor_diameter",
    "pitch",
    "taper_half_angle",
    "thread_angle",
    "thread_length",
    "across_flats",
    "nose_half_angle",
)


@dataclass(frozen=True, slots=True, eq=False)
class FittingAnswer:
    """What a photo tells of a male thread; lengths in mm, angles in degrees.

    `major_diameter` is over the crests, of a tapered thread at `gauge_length_mm` from the end
    face; `diameter_at_small_end` and `gauge_length_mm` are None for a parallel thread.
    """

    kind: ClassVar[str] = "fitting"

    verdict: Verdict
    major_diameter: Quantity | None
    gauge_length_mm: float | None
    diameter_at_small_end: Quantity | None
    minor_diameter: Quantity | None
    pitch: Quantity | None
    taper_half_angle: Quantity | None
    thread_angle: Quantity | None
    hand: Hand
    thread_length: Quantity | None
    across_flats: Quantity | None
    spanner: tuple[SpannerSize, ...]
    nose_half_angle: Quantity | None
    candidates: tuple[Candidate, ...]
    settle_by: str | None
    print_is_verified: bool
    warnings: tuple[str, ...]
    traces: tuple[FittingTrace, ...] = ()

    @property
    def primary(self) -> Quantity | None:
        """The value that the budget is of."""
        return self.diameter_at_small_end or self.major_diameter

    @property
    def line(self) -> str:
        """The answer in words."""
        line = answer_line(self.verdict, self.candidates, self.settle_by)
        return line if self.print_is_verified else if_print_is_true(line)

    @property
    def advice(self) -> str | None:
        """What would make it surer."""
        return advice(budget_json(self.primary))

    def quantities(self) -> dict[str, Quantity | None]:
        """All measured values by their names in the contract."""
        return {name: getattr(self, name) for name in _QUANTITIES}

    def as_json(self) -> Json:
        """Give the contract's form; every key is always there."""
        named = self.quantities()
        return {
            "kind": self.kind,
            "verdict": self.verdict,
            **{name: quantity_json(quantity) for name, quantity in named.items()},
            "gauge_length": self.gauge_length_mm,
            "hand": self.hand,
            "spanner": [{"size": one.size, "probability": one.probability} for one in self.spanner],
            "candidates": candidates_json(self.candidates),
            "settle_by": self.settle_by,
            "print_verified": self.print_is_verified,
            "budget": budget_json(self.primary),
            "components": components_json(named),
            "sources": sources_json(named),
            "advice": self.advice,
            "warnings": list(self.warnings),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Rebuild a stored answer with its correlations.

        Parameters
        ----------
        data : mapping
            From `as_json`.

        Returns
        -------
        FittingAnswer

        Raises
        ------
        BadJobError
            If it is not what `as_json` writes.
        """
        sources = sources_from_json(data)
        values = {
            name: quantity_from_json(name, data.get(name), data, sources) for name in _QUANTITIES
        }
        gauge = data.get("gauge_length")
        return cls(
            verdict=verdict_from_json(data),
            gauge_length_mm=None if gauge is None else read_number(data, "gauge_length", "it"),
            hand=hand_from_json(data),
            spanner=tuple(
                SpannerSize(str(one.get("size")), read_number(one, "probability", "a spanner"))
                for one in data.get("spanner") or ()
            ),
            candidates=candidates_from_json(data),
            settle_by=data.get("settle_by"),
            print_is_verified=data.get("print_verified") is True,
            warnings=tuple(str(text) for text in data.get("warnings") or ()),
            traces=(),
            **values,
        )

    def lines(self) -> list[str]:
        """Say the answer for people: words first, then the figures."""
        rows = [(name, both_units(value)) for name, value in self.quantities().items() if value]
        if self.gauge_length_mm is not None:
            rows.insert(1, ("gauge_length", f"{self.gauge_length_mm:.2f} mm"))
        rows.append(("hand", self.hand))
        if self.spanner:
            sizes = (f"{one.size} ({100 * one.probability:.0f} %)" for one in self.spanner)
            rows.append(("spanner", ", ".join(sizes)))
        return [
            self.line,
            *(f"  {name.replace('_', ' '):22}{text}" for name, text in rows),
            *(f"  {line}" for line in candidate_lines(self.candidates)),
            *(f"Surer: {text}" for text in [self.advice] if text),
            *(f"Caution: {text}" for text in self.warnings),
        ]


def fitting(
    photos: Sequence[Photo],
    options: PhotoOptions | None = None,
    *,
    lies: Lies = "unknown",
    spanner_mm: float | None = None,
) -> FittingAnswer:
    """Read a male thread lying on the sheet and name it.

    Parameters
    ----------
    photos : sequence of Photo
        One, or several of the same fitting left untouched.
    options : PhotoOptions
    lies : Lies
        How the fitting lies, as the user says.
    spanner_mm : float or None [mm]
        The spanner that fits the hexagon.

    Returns
    -------
    FittingAnswer

    Raises
    ------
    MeasuringError
        With what to do about it.
    """
    common = options or PhotoOptions()
    said = FittingOptions(common.bars, lies, spanner_mm)
    once = list({photo.key: photo for photo in photos}.values())
    reading = read_fittings(once, [find_pieces(photo) for photo in once], said)
    return _answer(reading, match(_thread_reading(reading), MACHINES[common.machine]))


def _thread_reading(reading: FittingReading) -> ThreadReading:
    radian = math.pi / 180
    angle = reading.thread_angle
    minor = None if reading.is_tapered else reading.minor_diameter
    return ThreadReading(
        member="external",
        diameter=reading.crest_diameter.number,
        diameter_at_mm=reading.crest_diameter_at_mm,
        pitch=reading.pitch.number,
        taper_half_angle=reading.taper_half_angle.number * radian,
        minor_diameter=minor.number if minor else None,
        thread_angle=angle.number * radian if angle else None,
        hand=reading.hand,
        misfit_p=reading.misfit_p,
    )


def _answer(reading: FittingReading, found: Match) -> FittingAnswer:
    gauge_mm = gauge_length_mm(found.candidates, reading) if reading.is_tapered else None
    major = reading.crest_diameter if gauge_mm is None else moved_along(reading, gauge_mm)
    return FittingAnswer(
        verdict=found.verdict,
        major_diameter=shown(major),
        gauge_length_mm=gauge_mm,
        diameter_at_small_end=shown(reading.diameter_at_small_end) if reading.is_tapered else None,
        minor_diameter=shown(reading.minor_diameter),
        pitch=shown(reading.pitch),
        taper_half_angle=reading.taper_half_angle,
        thread_angle=shown(nominal_angle(reading.thread_angle)),
        hand=reading.hand,
        thread_length=shown(reading.thread_length),
        across_flats=shown(reading.across_flats),
        spanner=reading.spanner,
        nose_half_angle=shown(reading.nose_half_angle),
        candidates=found.candidates,
        settle_by=found.settle_by,
        print_is_verified=reading.print_is_verified,
        warnings=(*reading.warnings, *found.warnings),
        traces=reading.traces,
    )
