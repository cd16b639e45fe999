"""The weld-on way: the wall of the tube that an end is welded to."""

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.entries import JobEntries, TubeEntry
from photomeasure.sizing.hose import peak_pressure_mpa

__all__ = ["hoop_pressure_mpa", "tube_checks"]


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
    thin = max(0.0, tube.wall.value - 2 * tube.wall.u)
    carries = hoop_pressure_mpa(tube.outside_diameter.value, thin, tube.allowable_mpa)
    words = f"carries {carries:.1f} MPa at its thinnest ({tube.by}), the line sees {peak_mpa:g} MPa"
    return Check(name, carries >= peak_mpa, f"The tube {words}.")
