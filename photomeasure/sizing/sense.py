"""Entries that contradict each other, the standard or all practice: an open check names them."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from math import dist

from pydantic import BaseModel

from photomeasure.sizing.checks import Check, interval, missing
from photomeasure.sizing.entries import HoseEntry, JobEntries, LineEntry, Measured, RouteEntry
from photomeasure.sizing.hose_class import HoseFigure, hose_figures

__all__ = ["claim_check", "likely_check", "route_check", "size_check"]

_DASH_MM = 25.4 / 16
_ROUNDED_MM = 0.35  # bores are said to half a millimetre
_WALL_MM = 1.0  # no hose has a thinner wall: own choice
# How far below its dash a bore may lie, in sixteenths, up to which dash; MIL-H-8794's sizes,
# read in AC 43.13-1B, table 9-3 (SAE 100R5 and PTFE hose run undersize alike)
_UNDERSIZE = ((6, 1.0), (24, 2.0), (64, 3.0))
_HIGHER = ("working_pressure_mpa", "burst_pressure_mpa", "temperature_max_c")
_LOWER = ("bend_radius_mm",)
_NEARLY = 0.02  # of the standard's figure: psi rounded to MPa
_MOST_PEAK = 2.0  # of the relief: own choice; a valve that answers late lets less through
_POINTS_OFF = 0.05  # share by which the drawn line may be shorter or longer than the length
_STRAY_DEG = 10.0  # by which the bends may sum up to more than the whole turning


def size_check(hose: HoseEntry, joined_dash: int | None) -> Check:
    """Check that dash, bore and outside diameter are of one hose, and that both ends take it.

    Parameters
    ----------
    hose : HoseEntry
    joined_dash : int or None
        The size to which the adapters come down.

    Returns
    -------
    Check
    """
    name = "hose size"
    dash, bore, outside = hose.dash, hose.inside_diameter_mm, hose.outside_diameter_mm
    if not (hose.kind or hose.standard or hose.data_sheet):
        return missing(name, "which hose: what is printed along it, its standard or data sheet")
    if dash is None:
        so_far = "" if joined_dash is None else f" (both ends come down to -{joined_dash})"
        return missing(name, f"the hose's size in sixteenths{so_far}")
    if bore is None or outside is None:
        return missing(name, "the hose's bore and outside diameter")
    under = next((by for up_to, by in _UNDERSIZE if dash <= up_to), 0.0)
    least, most = (dash - under) * _DASH_MM - _ROUNDED_MM, dash * _DASH_MM + 2 * _ROUNDED_MM
    if not least <= bore <= most:
        usual = f"a -{dash} hose has {least + _ROUNDED_MM:.1f} to {dash * _DASH_MM:.1f} mm"
        return missing(name, f"which is true: size -{dash} or a bore of {bore:g} mm ({usual})")
    if outside < bore + 2 * _WALL_MM:
        return missing(name, f"which is true: bore {bore:g} mm or outside {outside:g} mm")
    return Check(name, True, f"-{dash}, bore {bore:g} mm, outside {outside:g} mm.")


def claim_check(hose: HoseEntry) -> tuple[Check, ...]:
    """Ask for the data sheet of a hose that is said to be better than its standard.

    Parameters
    ----------
    hose : HoseEntry
        As entered.

    Returns
    -------
    tuple of Check
        Empty where nothing is claimed.
    """
    if hose.standard is None:
        return ()
    figures = hose_figures(hose.standard, hose.dash)
    claims = [claim for one in figures if (claim := _claim(one, hose)) is not None]
    if not claims:
        return ()
    name, words = "better than its standard", ", and ".join(claims)
    if not hose.data_sheet:
        return (missing(name, f"the data sheet that says so: {words}"),)
    return (Check(name, True, f"By its data sheet ({hose.data_sheet}): {words}."),)


def _claim(one: HoseFigure, hose: HoseEntry) -> str | None:
    """Say an entry beside the standard's figure where it promises more."""
    entered = getattr(hose, one.figure, None)
    if not isinstance(entered, int | float) or isinstance(one.value, str) or not one.is_confirmed:
        return None
    above = one.figure in _HIGHER and entered > one.value * (1 + _NEARLY)
    below = one.figure in _LOWER and entered < one.value * (1 - _NEARLY)
    if not (above or below):
        return None
    return f"{one.words} by {hose.standard}, {entered:g} entered"


@dataclass(frozen=True, slots=True)
class _Likely:
    """The widest range in which an entry is believed, and how both are said."""

    path: tuple[str, ...]
    least: float
    most: float
    words: str
    usual: str


@cache
def _likely() -> tuple[_Likely, ...]:
    text = files(__package__).joinpath("data", "likely.csv").read_text("utf-8")
    return tuple(
        _Likely(
            tuple(row["entry"].split(".")),
            float(row["least"]),
            float(row["most"]),
            row["words"],
            row["usual"],
        )
        for row in csv.DictReader(text.splitlines(), strict=True)
    )


def likely_check(job: JobEntries) -> tuple[Check, ...]:
    """Ask again for what no practice knows: a slip of the decimal point passes nowhere.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of Check
        Empty where nothing is out of all proportion.
    """
    name = "figures of a likely size"
    odd = [
        f"which is true: {one.words.format(end=letter, value=f'{value:g}')} (usual: {one.usual})"
        for one in _likely()
        for letter, value in _figures(job, one.path)
        if not one.least <= value <= one.most
    ]
    odd += _odd_peak(job.line)
    odd += [
        f"which is true: end {letter} crimped, or with turns or a gap of a screwed one"
        for letter, end in zip("AB", job.ends, strict=False)
        if end.made == "crimped" and (end.back_off_turns or (end.gap and end.gap.value))
    ]
    return (missing(name, *odd),) if odd else ()


def _odd_peak(line: LineEntry) -> list[str]:
    peak, relief = line.peak_pressure_mpa, line.relief_pressure_mpa
    if peak is None or relief is None or line.kind == "cylinder" or peak <= _MOST_PEAK * relief:
        return []
    return [f"which is true: a peak of {peak:g} MPa or a relief of {relief:g} MPa"]


def _figures(job: JobEntries, path: tuple[str, ...]) -> Iterator[tuple[str, float]]:
    """Give an entry's figure, with the letter of its end."""
    if path[0] == "ends":
        for letter, end in zip("AB", job.ends, strict=False):
            yield from ((letter, value) for value in _figure(end, path[2:]))
    else:
        yield from (("", value) for value in _figure(job, path))


def _figure(at: BaseModel, path: tuple[str, ...]) -> list[float]:
    found: object = at
    for step in path:
        found = getattr(found, step, None)
    if isinstance(found, Measured):
        return [found.value]
    return [float(found)] if isinstance(found, int | float) else []


def route_check(route: RouteEntry | None) -> tuple[Check, ...]:
    """Check that a route's length, line, bends and turning are of one route.

    Parameters
    ----------
    route : RouteEntry or None

    Returns
    -------
    tuple of Check
        Empty where there is nothing to compare.
    """
    if route is None or not (route.bends or route.points):
        return ()
    name = "route agrees with itself"
    odd = [*_odd_bends(route), *_odd_line(route)]
    if odd:
        return (missing(name, *odd),)
    return (Check(name, True, "Its length, its bends and its turning are of one route."),)


def _odd_bends(route: RouteEntry) -> Iterator[str]:
    bends, length_mm = route.bends or [], route.length.value
    for bend in bends:
        if not 0 <= bend.at.value <= length_mm:
            lies = f"a bend {bend.at.value:.0f} mm along a route of {length_mm:.0f} mm"
            yield f"which is true: {lies}"
        if bend.radius.value <= 0 or bend.angle.value <= 0:
            yield f"a bend of radius {bend.radius.value:g} mm and {bend.angle.value:g}°"
    total = sum(bend.angle.value for bend in bends)
    if bends and route.turning is not None and interval(route.turning)[1] < total - _STRAY_DEG:
        turns = f"{route.turning.value:.0f}° of turning in all, or bends of {total:.0f}°"
        yield f"which is true: {turns}"


def _odd_line(route: RouteEntry) -> Iterator[str]:
    points, length_mm = route.points or [], route.length.value
    drawn_mm = sum(dist(one, other) for one, other in pairwise(points))
    if len(points) > 1 and abs(drawn_mm - length_mm) > _POINTS_OFF * length_mm:
        yield f"which is true: a length of {length_mm:.0f} mm, or a line of {drawn_mm:.0f} mm"
