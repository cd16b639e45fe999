"""Which female port it is, by a slanted photo through the collar stuck round it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from photomeasure.answers.advice import advice
from photomeasure.answers.candidates import (
    answer_line,
    candidate_lines,
    candidates_from_json,
    candidates_json,
    hand_from_json,
    if_print_is_true,
    verdict_from_json,
)
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.port_match import port_match
from photomeasure.answers.wire import (
    Json,
    budget_json,
    components_json,
    quantity_from_json,
    quantity_json,
    shown,
    sources_from_json,
    sources_json,
)
from photomeasure.answers.words import both_units
from photomeasure.photo import Photo
from photomeasure.port.port import PortOptions
from photomeasure.port.reading import Hand, PortReading, PortTrace
from photomeasure.port.several import read_ports
from photomeasure.quantities import Quantity
from photomeasure.sizing.match import Candidate, Match, Verdict
from photomeasure.sizing.zones import MACHINES

__all__ = ["PortAnswer", "port"]

_QUANTITIES = (
    "bore_diameter",
    "major_diameter",
    "minor_diameter",
    "pitch",
    "taper_half_angle",
    "thread_angle",
    "mouth_diameter",
    "counterbore_diameter",
    "spot_face_diameter",
    "thread_depth",
)
_TAPERED_DEG = 0.9  # half of 1:16's 1.79 degrees


@dataclass(frozen=True, slots=True, eq=False)
class PortAnswer:
    """What a photo tells of a port; lengths in mm, angles in degrees.

    `bore_diameter` is over the internal crests, of a tapered thread at the mouth;
    `minor_diameter` repeats it. `mouth_diameter` is the chamfer's outer edge, which of an O-ring's
    housing is the `counterbore_diameter`; `spot_face_diameter` is that of the recess round both.
    """

    kind: ClassVar[str] = "port"

    verdict: Verdict
    bore_diameter: Quantity | None
    major_diameter: Quantity | None
    minor_diameter: Quantity | None
    pitch: Quantity | None
    taper_half_angle: Quantity | None
    thread_angle: Quantity | None
    mouth_diameter: Quantity | None
    counterbore_diameter: Quantity | None
    spot_face_diameter: Quantity | None
    thread_depth: Quantity | None
    hand: Hand
    candidates: tuple[Candidate, ...]
    settle_by: str | None
    print_is_verified: bool
    warnings: tuple[str, ...]
    traces: tuple[PortTrace, ...] = ()

    @property
    def primary(self) -> Quantity | None:
        """The value that the budget is of."""
        return self.bore_diameter

    @property
    def line(self) -> str:
        """The answer in words."""
        line = answer_line(self.verdict, self.candidates, self.settle_by)
        return line if self.print_is_verified else if_print_is_true(line)

    @property
    def advice(self) -> str | None:
        """What would make it surer."""
        if self.pitch is None:
            return "Lean the phone 40 to 50° from square on, so that the thread is seen."
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
            "hand": self.hand,
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
        PortAnswer

        Raises
        ------
        BadJobError
            If it is not what `as_json` writes.
        """
        sources = sources_from_json(data)
        values = {
            name: quantity_from_json(name, data.get(name), data, sources) for name in _QUANTITIES
        }
        return cls(
            verdict=verdict_from_json(data),
            hand=hand_from_json(data),
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
        rows.append(("hand", self.hand))
        return [
            self.line,
            *(f"  {name.replace('_', ' '):22}{text}" for name, text in rows),
            *(f"  {line}" for line in candidate_lines(self.candidates)),
            *(f"Surer: {text}" for text in [self.advice] if text),
            *(f"Caution: {text}" for text in self.warnings),
        ]


def port(
    photos: Sequence[Photo], options: PhotoOptions | None = None, *, piece: str | None = None
) -> PortAnswer:
    """Read the port that a collar is stuck round, and name it.

    Parameters
    ----------
    photos : sequence of Photo
        One, or several of the same port, which are taken together.
    options : PhotoOptions
    piece : str or None
        The collar to use, if several are seen.

    Returns
    -------
    PortAnswer

    Raises
    ------
    MeasuringError
        With what to do about it.
    """
    common = options or PhotoOptions()
    reading = read_ports(photos, PortOptions(bars=common.bars, piece=piece))
    return _answer(reading, port_match(reading, MACHINES[common.machine]))


def _answer(reading: PortReading, found: Match) -> PortAnswer:
    taper = reading.taper_half_angle
    is_tapered = taper is not None and taper.value > _TAPERED_DEG
    bore = shown(reading.bore_at_mouth if is_tapered else reading.bore_diameter)
    return PortAnswer(
        verdict=found.verdict,
        bore_diameter=bore,
        major_diameter=None,
        minor_diameter=bore,
        pitch=shown(reading.pitch),
        taper_half_angle=shown(taper),
        thread_angle=None,
        mouth_diameter=shown(reading.mouth_diameter),
        counterbore_diameter=shown(reading.counterbore_diameter),
        spot_face_diameter=shown(reading.spot_face_diameter),
        thread_depth=shown(reading.thread_depth),
        hand=reading.hand,
        candidates=found.candidates,
        settle_by=found.settle_by,
        print_is_verified=reading.print_is_verified,
        warnings=(*reading.left_open, *reading.warnings, *found.warnings),
        traces=reading.traces,
    )
