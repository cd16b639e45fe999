"""Which male thread is this? One photo, or several of the same fitting left untouched."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from photomeasure.answers.advice import advice
from photomeasure.answers.candidates import (
    answer_line,
    candidate_lines,
    candidates_from_json,
    candidates_json,
    hand_from_json,
    verdict_from_json,
)
from photomeasure.answers.wire import (
    Json,
    budget_json,
    components_json,
    quantity_from_json,
    quantity_json,
    read_number,
    sources_from_json,
    sources_json,
)
from photomeasure.answers.words import both_units
from photomeasure.quantities import Quantity
from photomeasure.sizing.match import Candidate, Verdict
from photomeasure.thread.reading import FittingTrace, Hand, SpannerSize

__all__ = ["FittingAnswer"]

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
    warnings: tuple[str, ...]
    traces: tuple[FittingTrace, ...] = ()

    @property
    def primary(self) -> Quantity | None:
        """The value that the budget is of."""
        return self.diameter_at_small_end or self.major_diameter

    @property
    def line(self) -> str:
        """The answer in words."""
        return answer_line(self.verdict, self.candidates, self.settle_by)

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
            warnings=tuple(str(text) for text in data.get("warnings") or ()),
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
