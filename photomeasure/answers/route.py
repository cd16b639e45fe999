"""How long a route is, and how it bends."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from photomeasure.answers.advice import advice
from photomeasure.answers.options import Laid, PhotoOptions
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
from photomeasure.answers.words import band, both_units
from photomeasure.errors import BadJobError, MeasuringError, TooUncertainError
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity
from photomeasure.references.find import find_pieces
from photomeasure.references.prints import FoundPiece
from photomeasure.route.flat import read_flat
from photomeasure.route.reading import Bend, FlatOptions, RouteReading, RouteTrace
from photomeasure.scene import solve_scenes

__all__ = ["RouteAnswer", "route"]

MOST_POINTS = 400
DISAGREE = 3.0  # standard uncertainties of the difference between two photos' lengths
LEAST_CORNERS = 6  # of a piece; own estimate
_QUANTITIES = ("length", "hose_length", "turning", "tightest_radius", "clocking")
_OF_A_BEND = ("at", "radius", "angle")


@dataclass(frozen=True, slots=True, eq=False)
class RouteAnswer:
    """What photos tell of a route; lengths in mm, angles in degrees.

    `length` is along the middle of what was photographed, `hose_length` of the hose that will
    follow it. `points_mm` (N, 3) is in the frame of the first reference.
    """

    kind: ClassVar[str] = "route"

    laid: Laid
    length: Quantity | None
    hose_length: Quantity | None
    turning: Quantity | None
    bends: tuple[Bend, ...]
    tightest_radius: Quantity | None
    clocking: Quantity | None
    points_mm: NDArray[np.float64]
    warnings: tuple[str, ...]
    trace: RouteTrace | None = None

    @property
    def line(self) -> str:
        """The answer in words."""
        return f"Route {band(self.length)} long, {_count(len(self.bends), 'bend')}"

    @property
    def advice(self) -> str | None:
        """What would make it surer."""
        return advice(budget_json(self.length))

    def quantities(self) -> dict[str, Quantity | None]:
        """All measured values by their names in the answer's components."""
        named: dict[str, Quantity | None] = {name: getattr(self, name) for name in _QUANTITIES}
        for number, bend in enumerate(self.bends):
            named |= {f"bends[{number}].{what}": getattr(bend, what) for what in _OF_A_BEND}
        return named

    def as_json(self) -> Json:
        """Give the contract's form; every key is always there."""
        named = self.quantities()
        return {
            "kind": self.kind,
            "laid": self.laid,
            **{name: quantity_json(named[name]) for name in _QUANTITIES},
            "bends": [
                {what: quantity_json(getattr(bend, what)) for what in _OF_A_BEND}
                for bend in self.bends
            ],
            "clearances": [],
            "points": np.round(self.points_mm, 3).tolist(),
            "budget": budget_json(self.length),
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
        RouteAnswer

        Raises
        ------
        BadJobError
            If it is not what `as_json` writes.
        """
        sources = sources_from_json(data)
        try:
            points = np.array(data.get("points") or np.empty((0, 3)), dtype=float).reshape(-1, 3)
            bends = tuple(
                Bend(
                    **{
                        what: quantity_from_json(
                            f"bends[{number}].{what}", bend[what], data, sources
                        )
                        for what in _OF_A_BEND
                    }
                )
                for number, bend in enumerate(data.get("bends") or ())
            )
        except (KeyError, TypeError, ValueError) as error:
            raise BadJobError(
                f"The stored route cannot be read: {error}.", "Measure the route again."
            ) from error
        return cls(
            laid="space" if data.get("laid") == "space" else "flat",
            bends=bends,
            points_mm=points,
            warnings=tuple(str(text) for text in data.get("warnings") or ()),
            trace=None,
            **{
                name: quantity_from_json(name, data.get(name), data, sources)
                for name in _QUANTITIES
            },
        )

    def lines(self) -> list[str]:
        """Say the answer for people: words first, then the figures."""
        rows = [(name, both_units(getattr(self, name))) for name in _QUANTITIES]
        rows = [row for row in rows if row[1] != "not seen"]
        for number, bend in enumerate(self.bends, start=1):
            text = f"{band(bend.angle)}, radius {both_units(bend.radius)}, at {band(bend.at)}"
            rows.append((f"bend {number}", text))
        return [
            self.line,
            *(f"  {name.replace('_', ' '):18}{text}" for name, text in rows),
            *(f"Surer: {text}" for text in [self.advice] if text),
            *(f"Caution: {text}" for text in self.warnings),
        ]


def route(
    photos: Sequence[Photo],
    options: PhotoOptions | None = None,
    said: FlatOptions | None = None,
) -> RouteAnswer:
    """Measure a route laid flat, from one photo or from several of the same line.

    Parameters
    ----------
    photos : sequence of Photo
        Each shows the whole line, and a reference that another one shows too.
    options : PhotoOptions
    said : FlatOptions
        What the user says of line and hose; points are pixels of the first photo.

    Returns
    -------
    RouteAnswer

    Raises
    ------
    MeasuringError
        With what to do about it.
    """
    found = [_usable(find_pieces(photo)) for photo in photos]
    scenes = solve_scenes(photos, found, (options or PhotoOptions()).bars)
    said, key = said or FlatOptions(), "+".join(photo.key for photo in photos)
    readings, names, refusals = [], [], []
    for number, (photo, scene, pieces) in enumerate(zip(photos, scenes, found, strict=True)):
        own = said if number == 0 else replace(said, points_px=())
        try:
            readings.append(read_flat(photo, scene, pieces, own, shared_key=key))
            names.append(photo.name)
        except MeasuringError as error:
            refusals.append((photo, error))
    if not readings:
        raise refusals[0][1]
    told = [text for photo in photos for text in photo.warnings]
    told += [f"{photo.name} is not used: {error.message}" for photo, error in refusals]
    told += [text for text in [scenes[0].scale.caution] if text]
    _refuse_contradiction([reading.length for reading in readings], names)
    return _answer(_joined(readings), told)


def _refuse_contradiction(lengths: Sequence[Quantity], names: Sequence[str]) -> None:
    """Refuse photos that cannot show the same line: their mean would be neither's length."""
    best = min(lengths, key=lambda length: length.u)
    for length, name in zip(lengths, names, strict=True):
        if _differ(length, best):
            other = names[list(lengths).index(best)]
            raise TooUncertainError(
                f"The photos disagree on the length: {length.value:.0f} mm in {name}, "
                f"{best.value:.0f} mm in {other}.",
                "Measure each by itself, look which drawn line is right, and leave the other out.",
            )


def _joined(readings: Sequence[RouteReading]) -> RouteReading:
    """Give the surest photo's reading, its lengths and turning averaged with the others'."""
    best = min(readings, key=lambda reading: reading.length.u)
    if len(readings) == 1:
        return best
    return replace(
        best,
        length=_mean([one.length for one in readings]) or best.length,
        hose_length=_mean([one.hose_length for one in readings]),
        turning=_mean([one.turning for one in readings]),
        warnings=tuple(text for one in readings for text in one.warnings),
    )


def _differ(one: Quantity, other: Quantity) -> bool:
    """Whether two readings of one thing differ by more than their own doubts allow."""
    difference = one.number - other.number
    return bool(abs(difference.nominal_value) > DISAGREE * difference.std_dev)


def _mean(quantities: Sequence[Quantity | None]) -> Quantity | None:
    """Weighted mean that keeps every source; None if some photo does not tell."""
    known = [one for one in quantities if one is not None]
    if len(known) < len(quantities):
        return None
    weights = [one.u**-2 for one in known]
    total = sum(w * one.number for w, one in zip(weights, known, strict=True)) / sum(weights)
    return Quantity.normal(total, known[0].unit)


def _usable(pieces: tuple[FoundPiece, ...]) -> tuple[FoundPiece, ...]:
    """Leave out pieces of which so few corners show that they have no sure pose."""
    sure = tuple(piece for piece in pieces if len(piece.corner_ids) >= LEAST_CORNERS)
    return sure or pieces


def _answer(reading: RouteReading, told: Sequence[str]) -> RouteAnswer:
    step = max(1, len(reading.points_mm) // MOST_POINTS)
    return RouteAnswer(
        laid="flat",
        length=shown(reading.length),
        hose_length=shown(reading.hose_length),
        turning=shown(reading.turning),
        bends=tuple(
            Bend(shown(bend.at), shown(bend.radius), shown(bend.angle)) for bend in reading.bends
        ),
        tightest_radius=shown(reading.tightest_radius),
        clocking=None,
        points_mm=reading.points_mm[_kept(len(reading.points_mm), step)],
        warnings=tuple(_unique([*told, *reading.warnings])),
        trace=reading.trace,
    )


def _kept(count: int, step: int) -> list[int]:
    """Every so many points, and the last."""
    rows = list(range(0, count, step))
    return rows if rows[-1] == count - 1 else [*rows, count - 1]


def _unique(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
