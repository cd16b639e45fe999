"""The weld-on way: the wall of the tube that an end is welded to."""

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.entries import JobEntries, TubeEntry
from photomeasure.sizing.hose import peak_pressure_mpa

__all__ = ["NO_ADAPTER", "hoop_pressure_mpa", "tube_checks", "weld_words"]

_FLARE = (
    "First without heat: flare the tube (37° with nut and sleeve) or fit a 24° cutting-ring end, "
    "on seamless, round, clean steel tube of listed outside diameter and wall, straight behind the "
    "end."
)
_NB = "\N{NO-BREAK SPACE}"  # a length that stays in millimetres on a sheet in inches
_MEASURE = (
    "Cut the old tube square; measure its outside diameter and wall (photo or caliper): 5/16 in "
    f"and 8{_NB}mm, 3/8 in and 10{_NB}mm, 1/2 in and 12{_NB}mm, 5/8 in and 16{_NB}mm look alike. "
    "The wall must carry the relief pressure."
)
_WELD = (
    "Weld on only if no flare will do, by a competent person. Off the machine, or battery off and "
    "fuel and hoses away. Oil drained and cleaned off first: it burns. No chlorinated cleaner "
    "before heat: poison gas. Strip zinc and cadmium plating: poison fumes; cadmium-free filler.",
    "Nut and sleeve on the tube first, O-rings and hose off, both ends open. Weldable low-carbon "
    "steel, no free-machining steel, no plated adapter of unknown steel.",
    "Let the tube sit in the end's counterbore so that the joint is supported; tack, then braze or "
    "weld. Never weld on pump, gear or valve body.",
    "Flux and scale out. Proof-test the joint before it goes back on the machine.",
)

NO_ADAPTER = (_FLARE, _MEASURE, *_WELD)


def weld_words(job: JobEntries) -> tuple[str, ...]:
    """Give the steps of the weld-on way, with the tube's figures; nothing where there is no tube.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of str
    """
    tubes = [
        f"{letter}: {tube.outside_diameter.value:g} mm outside, wall {tube.wall.value:g} mm "
        f"({tube.by})"
        for letter, end in zip("AB", job.ends, strict=False)
        if (tube := end.tube) is not None
    ]
    if not tubes:
        return ()
    return (f"{_MEASURE} Here {'; '.join(tubes)}.", *_WELD)


def hoop_pressure_mpa(outside_mm: float, wall_mm: float, allowable_mpa: float) -> float:
    """Pressure that a tube's wall carries.

    Parameters
    ----------
    outside_mm : float [mm]
    wall_mm : float [mm]
    allowable_mpa : float [MPa]
        Stress that the steel may carry, from its standard.

    Returns
    -------
    float [MPa]

    Notes
    -----
    Barlow: 2 · stress · wall / outside diameter.
    """
    return 2 * allowable_mpa * wall_mm / outside_mm


def tube_checks(job: JobEntries) -> tuple[Check, ...]:
    """Check the wall of each tube that is to be welded; nothing where none was entered.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of Check
    """
    peak = peak_pressure_mpa(job.line)
    return tuple(
        _tube(f"tube wall {letter}", end.tube, peak)
        for letter, end in zip("AB", job.ends, strict=False)
        if end.tube is not None
    )


def _tube(name: str, tube: TubeEntry, peak_mpa: float | None) -> Check:
    if peak_mpa is None:
        return missing(name, "the highest pressure that the line sees")
    wall_mm, outside_mm = tube.wall.value, tube.outside_diameter.value
    if 2 * wall_mm >= outside_mm:
        return missing(name, f"which is true: wall {wall_mm:g} mm or outside {outside_mm:g} mm")
    thin = max(0.0, tube.wall.value - 2 * tube.wall.u)
    carries = hoop_pressure_mpa(outside_mm, thin, tube.allowable_mpa)
    words = f"carries {carries:.1f} MPa at its thinnest ({tube.by}), the line sees {peak_mpa:g} MPa"
    return Check(name, carries >= peak_mpa, f"The tube {words}.")
