"""How long a route in space is, how it bends, and how its ends stand to each other."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.route import MOST_POINTS, RouteAnswer
from photomeasure.answers.wire import Json, quantity_json, shown
from photomeasure.answers.words import both_units
from photomeasure.errors import TooFewPhotosError, TooUncertainError
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity
from photomeasure.route.reading import Bend, FlatOptions
from photomeasure.route.space.read import LEAST_PHOTOS, read_space
from photomeasure.route.space.reading import Clearance, SpaceReading, SpaceSaid, SpaceTrace

__all__ = ["SpaceRouteAnswer", "route_in_space"]

OTHER_HOSE_MM = 1.0  # difference of diameters from which where the mock-up touches matters
_OWN = ("start_to_card", "end_to_card", "line_od", "slack")


@dataclass(frozen=True, slots=True, eq=False)
class SpaceRouteAnswer(RouteAnswer):
    """What photos tell of a route in space; lengths in mm, angles in degrees.

    `start_to_card` and `end_to_card` go from the outer bands' outer edges along the hose, outwards,
    to beside the middle of the card there; `line_od` is the diameter of what the bands go round;
    `slack` is what the hose must be longer than the path for the movement that was said.
    """

    start_to_card: Quantity | None = None
    end_to_card: Quantity | None = None
    line_od: Quantity | None = None
    traces: tuple[SpaceTrace, ...] = ()
    clearances: tuple[Clearance, ...] = ()
    slack: Quantity | None = None

    def quantities(self) -> dict[str, Quantity | None]:
        """All measured values by their names in the answer's components."""
        own = {name: getattr(self, name) for name in _OWN}
        near = {f"clearances[{k}].distance": c.distance for k, c in enumerate(self.clearances)}
        return RouteAnswer.quantities(self) | own | near

    def as_json(self) -> Json:
        """Give the contract's form; every key is always there."""
        own: dict[str, Any] = {name: quantity_json(getattr(self, name)) for name in _OWN}
        own["clearances"] = [
            {
                "name": one.name,
                "distance": quantity_json(one.distance),
                "at_mm": round(one.at_mm, 1),
                "moves_mm": one.moves_mm,
                "least": quantity_json(one.least),
            }
            for one in self.clearances
        ]
        return RouteAnswer.as_json(self) | own

    def lines(self) -> list[str]:
        """Say the answer for people: words first, then the figures."""
        base = RouteAnswer.lines(self)
        rows = [(name, both_units(getattr(self, name))) for name in _OWN]
        own = [f"  {name.replace('_', ' '):18}{text}" for name, text in rows if text != "not seen"]
        own += [
            f"  clear of {one.name}: {both_units(one.distance)}, {one.at_mm:.0f} mm along"
            + (f"; {both_units(one.least)} when all has moved" if one.moves_mm else "")
            for one in self.clearances
        ]
        last = next((k for k, text in enumerate(base) if text[:2] != "  " and k), len(base))
        return [*base[:last], *own, *base[last:]]


def route_in_space(
    loads: Sequence[Callable[[], Photo]],
    options: PhotoOptions | None = None,
    said: FlatOptions | None = None,
    tell: Callable[[str], None] | None = None,
    seen: SpaceSaid | None = None,
) -> SpaceRouteAnswer:
    """Measure a route in space from three photos or more, in any order.

    Parameters
    ----------
    loads : sequence of callable
        Each gives one photo, as often as asked, two at once.
    options : PhotoOptions
    said : FlatOptions
        Of it `line_od_mm` and `hose_od_mm`.
    tell : callable, optional
        Is told how far it has come.
    seen : SpaceSaid, optional
        The last band's number, what is marked beside the hose, and what moves.

    Returns
    -------
    SpaceRouteAnswer

    Raises
    ------
    MeasuringError
        With what to do about it.
    """
    if len(loads) < LEAST_PHOTOS:
        raise TooFewPhotosError(
            f"A route in space needs at least {LEAST_PHOTOS} photos; here {len(loads)}.",
            "Take photos all along the route, each showing two or more cards or bands.",
        )
    said = said or FlatOptions()
    od = said.line_od_mm or None
    reading = read_space(loads, (options or PhotoOptions()).bars, od, tell, seen)
    return _answer(reading, said)


def _answer(reading: SpaceReading, said: FlatOptions) -> SpaceRouteAnswer:
    if shown(reading.length) is None:
        raise TooUncertainError(
            f"The route's length would only be known to {1.96 * reading.length.u:.0f} mm.",
            "Take two more photos all along it, nearer, each showing two cards or more.",
        )
    step = max(1, len(reading.points_mm) // MOST_POINTS)
    rows = sorted({*range(0, len(reading.points_mm), step), len(reading.points_mm) - 1})
    return SpaceRouteAnswer(
        laid="space",
        length=shown(reading.length),
        hose_length=shown(reading.length),
        turning=shown_angle(reading.turning),
        bends=tuple(
            Bend(shown(bend.at), shown(bend.radius), shown(bend.angle)) for bend in reading.bends
        ),
        tightest_radius=shown(reading.tightest_radius),
        clocking=shown(reading.clocking),
        points_mm=np.asarray(reading.points_mm[rows]),
        warnings=tuple(_unique([*reading.warnings, *_hose_warnings(reading, said)])),
        start_to_card=_near(reading.start_to_card),
        end_to_card=_near(reading.end_to_card),
        line_od=shown(reading.line_od),
        traces=reading.traces,
        clearances=reading.clearances,
        slack=reading.slack,
    )


def shown_angle(quantity: Quantity | None) -> Quantity | None:
    """A sum of angles: it may be as unsure as a tenth of itself."""
    if quantity is None:
        return None
    return quantity if quantity.u <= max(5.0, 0.1 * abs(quantity.value)) else None


def _near(quantity: Quantity | None) -> Quantity | None:
    """A short distance that may be about zero: known to 5 mm is of use."""
    return quantity if quantity is not None and quantity.u <= 5.0 else None


def _hose_warnings(reading: SpaceReading, said: FlatOptions) -> list[str]:
    hose = said.hose_od_mm
    if hose is None or abs(hose - reading.line_od.value) < OTHER_HOSE_MM:
        return []
    return [
        f"The hose ({hose:.1f} mm) is not as thick as what was photographed "
        f"({reading.line_od.value:.1f} mm): where that touched something, the hose's axis will lie "
        f"{abs(hose - reading.line_od.value) / 2:.1f} mm off the one measured."
    ]


def _unique(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))
