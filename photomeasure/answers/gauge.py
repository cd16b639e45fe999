"""The gauge plane of a tapered thread: where its nominal size is, and its diameter there."""

import math
from collections.abc import Sequence

from uncertainties import umath

from photomeasure.quantities import Quantity
from photomeasure.sizing.match import Candidate
from photomeasure.standards import thread
from photomeasure.thread.reading import FittingReading

__all__ = ["gauge_length_mm", "moved_along"]


def gauge_length_mm(candidates: Sequence[Candidate], reading: FittingReading) -> float:
    """Say how far from the end face a tapered thread's diameter is given.

    Parameters
    ----------
    candidates : sequence of Candidate
        Most likely first.
    reading : FittingReading

    Returns
    -------
    float [mm]
        Of the first tapered candidate; half the thread if there is none.
    """
    for one in candidates:
        gauge = thread(one.designation).gauge if one.family is not None else None
        if gauge is not None:
            return gauge.length_mm
    if reading.thread_length is None:
        return reading.crest_diameter_at_mm
    return reading.thread_length.value / 2


def moved_along(reading: FittingReading, at_mm: float) -> Quantity:
    """Diameter of the crest cone at another place along the axis.

    Parameters
    ----------
    reading : FittingReading
    at_mm : float [mm]
        From the end face.

    Returns
    -------
    Quantity [mm]
        Its interval keeps the shape of the read diameter's.
    """
    read = reading.crest_diameter
    slope = 2 * umath.tan(reading.taper_half_angle.number * (math.pi / 180))
    number = read.number + slope * (at_mm - reading.crest_diameter_at_mm)
    stretch = number.std_dev / read.u
    return Quantity(
        number,
        read.unit,
        number.nominal_value - stretch * (read.value - read.low),
        number.nominal_value + stretch * (read.high - read.value),
    )
