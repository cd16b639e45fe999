"""What a thread's photo tells beside its sizes: hand, hexagon, grooves and nose."""

from dataclasses import dataclass, replace

import numpy as np

from photomeasure.quantities import Quantity, Source, measured
from photomeasure.thread.flanks import Grooves, grooves
from photomeasure.thread.hand import hand_of
from photomeasure.thread.hands import LIKELY_STARTS
from photomeasure.thread.hexagon import Hexagon, hexagon
from photomeasure.thread.look import Seen
from photomeasure.thread.nose import Nose, nose
from photomeasure.thread.reading import FittingReading
from photomeasure.thread.rest import CORNER_RATIO, CORNER_RATIO_U
from photomeasure.thread.values import Causes, Sizes, sizes

__all__ = ["Known", "known", "scale_u", "snapped", "with_extras"]


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is taken for known before the sizes are solved.

    Attributes
    ----------
    causes : Causes
    corner_ratio_u : float
    hexagon : Hexagon or None
    warnings : tuple of str
    """

    causes: Causes
    corner_ratio_u: float
    hexagon: Hexagon | None
    warnings: tuple[str, ...]


def known(seen: Seen, spanner_mm: float | None, warnings: tuple[str, ...]) -> Known:
    """Snap the hexagon to spanner sizes, which tells the ratio of its corners to its flats.

    Parameters
    ----------
    seen : Seen
    spanner_mm : float or None [mm]
    warnings : tuple of str
        Said so far.

    Returns
    -------
    Known
    """
    rough = sizes(seen.scene, seen.features, seen.axis, seen.posture, Causes())
    flats = (rough.rest.across_flats_mm, rough.rest.aside_rad)
    return snapped(flats, scale_u(seen), spanner_mm, warnings)


def snapped(
    flats: tuple[float | None, float],
    relative_u: float,
    spanner_mm: float | None,
    warnings: tuple[str, ...],
) -> Known:
    """Snap a width across flats, as seen with the usual corners.

    Parameters
    ----------
    flats : (float or None, float) [mm, rad]
        None where no hexagon is seen; and how far from upright it was seen, across the axis.
    relative_u : float
        Of the paper's scale.
    spanner_mm : float or None [mm]
    warnings : tuple of str
        Said so far.

    Returns
    -------
    Known
    """
    flats_mm, aside_rad = flats
    if flats_mm is None:
        told = ("No hexagon is seen: the spanner's size is not used.",) if spanner_mm else ()
        return Known(Causes(), CORNER_RATIO_U, None, (*warnings, *told))
    one = hexagon(flats_mm * CORNER_RATIO, relative_u, spanner_mm, aside_rad)
    told = ("The spanner given does not fit the hexagon seen: left out.",)
    return Known(
        Causes(corner_ratio=one.corner_ratio),
        one.corner_ratio_u,
        one,
        (*warnings, *(told if one.is_contradicted else ())),
    )


def scale_u(seen: Seen) -> float:
    """Relative uncertainty of the print's scale, x and y together."""
    return float(np.sqrt((seen.scene.scale.root**2).sum() / 2))


def with_extras(reading: FittingReading, seen: Seen, best: Sizes, knowns: Known) -> FittingReading:
    """Add all that is not diameter, pitch, length and taper.

    Parameters
    ----------
    reading : FittingReading
    seen : Seen
    best : Sizes
    knowns : Known

    Returns
    -------
    FittingReading
    """
    hand = hand_of(seen, best)
    warnings = [*reading.warnings, *knowns.warnings]
    if hand.several_starts > LIKELY_STARTS:
        warnings.append("The crest lines lean like those of a thread of several starts.")
    if hand.is_neither:
        warnings.append("The crest lines lean like neither a right- nor a left-hand thread's.")
    one, key = knowns.hexagon, seen.photo.key
    deep = grooves(seen, best, hand.hand, reading.is_tapered)
    cone = nose(seen, best)
    return replace(
        reading,
        minor_diameter=_minor(reading, deep, key) if deep else None,
        thread_angle=_thread_angle(deep, key) if deep else None,
        nose_half_angle=_nose_angle(cone, key) if cone else None,
        hand=hand.hand if seen.is_aimed_at else "unknown",
        across_flats=_flats(one, key) if one else None,
        spanner=one.spanners if one else (),
        misfit_p=0.0 if hand.is_neither else reading.misfit_p,
        warnings=tuple(warnings),
    )


def _minor(reading: FittingReading, deep: Grooves, key: str) -> Quantity:
    """The crest diameter, or that at the small end, less twice the grooves' depth."""
    crests = reading.diameter_at_small_end or reading.crest_diameter
    source = Source("groove depth", "how far light reaches into the grooves", "photo", key)
    depth = measured(2 * deep.depth_mm, {source: 2 * deep.depth_u_mm})
    return Quantity.normal(crests.number - depth, "mm")


def _thread_angle(deep: Grooves, key: str) -> Quantity | None:
    if deep.angle_deg is None or deep.angle_u_deg is None:
        return None
    source = Source("flanks", "how straight the flanks are seen", "photo", key)
    return Quantity.normal(measured(deep.angle_deg, {source: deep.angle_u_deg}), "deg")


def _nose_angle(cone: Nose, key: str) -> Quantity:
    source = Source("cone", "where the cone's edge is seen", "photo", key)
    return Quantity.normal(measured(cone.half_angle_deg, {source: cone.u_deg}), "deg")


def _flats(one: Hexagon, key: str) -> Quantity:
    source = Source("spanner", "which spanner fits, and how its hexagon was made", "photo", key)
    number = measured(one.across_flats_mm, {source: one.u_mm})
    return Quantity(number, "mm", one.low_mm, one.high_mm)
