"""Entries that contradict each other or the standard: an open check that names both."""

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.entries import HoseEntry
from photomeasure.sizing.hose_class import HoseFigure, hose_figures

__all__ = ["claim_check", "size_check"]

_DASH_MM = 25.4 / 16
_ROUNDED_MM = 0.35  # bores are said to half a millimetre
_WALL_MM = 1.0  # no hose has a thinner wall: own choice
# How far below its dash a bore may lie, in sixteenths, up to which dash; MIL-H-8794's sizes,
# read in AC 43.13-1B, table 9-3 (SAE 100R5 and PTFE hose run undersize alike)
_UNDERSIZE = ((6, 1.0), (24, 2.0), (64, 3.0))
_HIGHER = ("working_pressure_mpa", "burst_pressure_mpa", "temperature_max_c")
_LOWER = ("bend_radius_mm",)
_NEARLY = 0.02  # of the standard's figure: psi rounded to MPa


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
