"""Speed and pressure drop of the oil in the hose at the pump's flow."""

import math

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.entries import HoseEntry, LineEntry, RouteEntry
from photomeasure.sizing.hose import flow_speed_m_per_s

__all__ = ["flow_check", "friction_factor", "pressure_drop_mpa", "reynolds"]

_TURBULENT_FROM = 2040.0  # Avila et al., Science 333 (2011) 192: onset of turbulence in a pipe
_MOST_SPEED_M_PER_S = {"pressure": 6.0, "cylinder": 6.0, "return": 3.0, "feed": 1.2}
# The speeds: common practice, no source.
_MOST_SHARE = 0.1  # of the relief pressure lost in the hose: own choice, for a warning in words
_STEPS = 60


def reynolds(speed_m_per_s: float, bore_mm: float, viscosity_mm2_per_s: float) -> float:
    """Reynolds number of a round bore.

    Parameters
    ----------
    speed_m_per_s : float [m/s]
    bore_mm : float [mm]
    viscosity_mm2_per_s : float [mm²/s]

    Returns
    -------
    float [1]
    """
    return speed_m_per_s * bore_mm * 1000 / viscosity_mm2_per_s


def friction_factor(reynolds_number: float) -> float:
    """Darcy's friction factor of a smooth bore.

    Parameters
    ----------
    reynolds_number : float [1]

    Returns
    -------
    float [1]

    Notes
    -----
    64 / Re below 2040 (Hagen and Poiseuille); above it Prandtl's law of the smooth pipe,
    1 / sqrt(f) = 2 log10(Re sqrt(f) / 2.51), solved by repetition.
    """
    if reynolds_number < _TURBULENT_FROM:
        return 64 / reynolds_number
    inverse_root = 8.0
    for _ in range(_STEPS):
        inverse_root = 2 * math.log10(reynolds_number / (2.51 * inverse_root))
    return inverse_root**-2


def pressure_drop_mpa(
    length_mm: float, flow_l_per_min: float, bore_mm: float, oil: LineEntry
) -> float | None:
    """Pressure that the oil loses along a hose without its ends.

    Parameters
    ----------
    length_mm : float [mm]
    flow_l_per_min : float [L/min]
    bore_mm : float [mm]
    oil : LineEntry
        Its viscosity and density are used.

    Returns
    -------
    float [MPa] or None
        None while viscosity or density is not known.

    Notes
    -----
    Darcy and Weisbach: f · L / D · rho · v² / 2. Bends and ends come on top.
    """
    if oil.viscosity_mm2_per_s is None or oil.density_kg_per_m3 is None:
        return None
    speed = flow_speed_m_per_s(flow_l_per_min, bore_mm)
    factor = friction_factor(reynolds(speed, bore_mm, oil.viscosity_mm2_per_s))
    return factor * length_mm / bore_mm * oil.density_kg_per_m3 * speed**2 / 2 / 1e6


def flow_check(line: LineEntry, hose: HoseEntry, route: RouteEntry | None) -> Check:
    """Hold the oil's speed against common practice, and tell the pressure drop.

    Parameters
    ----------
    line : LineEntry
    hose : HoseEntry
    route : RouteEntry or None

    Returns
    -------
    Check
    """
    name = "flow"
    flow, bore, kind = line.flow_l_per_min, hose.inside_diameter_mm, line.kind
    if flow is None or bore is None or kind is None:
        return missing(name, *_lacks(line, hose))
    speed, most = flow_speed_m_per_s(flow, bore), _MOST_SPEED_M_PER_S[kind]
    usual = f"(common practice: up to {most:g} m/s)"
    words = f"{flow:g} L/min through {bore:g} mm: {speed:.1f} m/s {usual}"
    if speed > most:
        return Check(name, False, f"{words}: take a wider hose.")
    drop = None if route is None else pressure_drop_mpa(route.length.value, flow, bore, line)
    if drop is None:
        return missing(name, *_lacks(line, hose), *([] if route else ["the route's length"]))
    return Check(name, True, f"{words}; drop {_drop_words(drop, line)}.")


def _lacks(line: LineEntry, hose: HoseEntry) -> list[str]:
    named = (
        ("the pump's flow", line.flow_l_per_min),
        ("the hose's bore", hose.inside_diameter_mm),
        ("the kind of line", line.kind),
        ("the oil's viscosity at the coldest start", line.viscosity_mm2_per_s),
        ("the oil's density", line.density_kg_per_m3),
    )
    return [words for words, value in named if value is None]


def _drop_words(drop_mpa: float, line: LineEntry) -> str:
    relief = line.relief_pressure_mpa
    words = f"{drop_mpa:.3f} MPa in the hose"
    if relief is not None and drop_mpa > _MOST_SHARE * relief:
        return f"{words}, more than a tenth of the relief pressure: a wider hose loses less"
    return words
