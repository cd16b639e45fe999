"""From a port's reading to the threads it may be: bore, pitch, taper, mouth, depth and seat."""

import math
from collections.abc import Sequence
from dataclasses import replace

from photomeasure.port.reading import PortReading, Supposed
from photomeasure.sizing.body import Body
from photomeasure.sizing.match import Candidate, Match, ThreadReading, match
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.zones import Prior
from photomeasure.standards import seats_of
from photomeasure.standards.looks import looks

__all__ = ["port_match"]

HOUSED, CHAMFERED = 0.95, 0.02  # chances of an O-ring's housing that settle it
HOUSING = SeatLook("chamfer for o-ring")


def port_match(reading: PortReading, prior: Prior) -> Match:
    """Weigh the threads under either supposition of the taper, or by the bore alone.

    Parameters
    ----------
    reading : PortReading
    prior : Prior
        How common the threads are on such a machine.

    Returns
    -------
    Match
        Without a pitch none is `identified`: threads of several standards share a bore. The
        seats are those that the mouth leaves.
    """
    if reading.supposed:
        first, second = (_thread_reading(reading, one) for one in reading.supposed)
        found = match(first, prior, other=(reading.supposed[1].chance, second))
    else:
        bore = reading.bore_diameter.number
        alone = ThreadReading("internal", bore, 0.0, None, None, body=_body(reading))
        found = match(alone, prior)
    is_named = found.verdict == "identified" and reading.pitch is not None
    return replace(
        found,
        verdict=found.verdict if is_named or found.verdict != "identified" else "ambiguous",
        candidates=tuple(
            replace(one, seats=_seats_left(one, reading.housing_chance)) for one in found.candidates
        ),
    )


def _body(reading: PortReading) -> Body:
    mouth, depth = reading.mouth_diameter, reading.thread_depth
    return Body(
        mouth_mm=None if mouth is None else mouth.value,
        depth_mm=None if depth is None else depth.value,
    )


def _thread_reading(reading: PortReading, supposed: Supposed) -> ThreadReading:
    return ThreadReading(
        member="internal",
        diameter=supposed.bore_diameter.number,
        diameter_at_mm=supposed.bore_at_mm,
        pitch=supposed.pitch.number,
        taper_half_angle=supposed.taper_half_angle.number * (math.pi / 180),
        hand=reading.hand,
        misfit_p=reading.misfit_p,
        seen=HOUSING if reading.housing_chance > HOUSED else None,
        body=_body(reading),
    )


def _seats_left(candidate: Candidate, housing: float) -> tuple[str, ...]:
    """Seats of a candidate that a mouth with, or without, an O-ring's housing leaves."""
    housed = {one.seat for one in looks() if one.member == "internal" and HOUSING.fits(one)}
    has_housing = {one.name for one in seats_of(candidate.designation) if one.seat in housed}
    left: Sequence[str] = candidate.seats
    if housing > HOUSED:
        left = [name for name in left if name in has_housing]
    elif housing < CHAMFERED:
        left = [name for name in left if name not in has_housing]
    return tuple(left) or candidate.seats
