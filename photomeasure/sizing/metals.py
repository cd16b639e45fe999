"""Metals that meet in the port: aluminium threads gall, strip and corrode beside steel."""

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.connection import Connection
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.sizing.shelf import Adapter
from photomeasure.standards import thread

__all__ = ["SOFT", "metal_checks"]

SOFT = "aluminium"
_BY_STANDARD = "O-ring port"  # its stud's length is the standard's own
_DIAMETERS_INSOFT = 1.5  # thread engaged, over its diameter: common practice, from memory


def metal_checks(job: JobEntries, connection: Connection | None) -> tuple[Check, ...]:
    """Check the metals of each port and the adapter in it.

    Parameters
    ----------
    job : JobEntries
    connection : Connection or None

    Returns
    -------
    tuple of Check
        Empty while the adapters are not known; nothing for a port that takes no stud.
    """
    if connection is None:
        return ()
    return tuple(
        _metals(f"metals at end {letter}", end, chain.adapters[0])
        for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        if chain.adapters and end.sex != "male"
    )


def _metals(name: str, end: EndEntry, stud: Adapter) -> Check:
    port, part = end.port_material, end.adapter_material or stud.material or None
    if port is None or part is None:
        return missing(name, "what the port and the adapter are made of (steel, aluminium, …)")
    words = f"{part} into {port}"
    if SOFT not in (port, part):
        return Check(name, True, f"{words}: no soft thread.")
    if end.torque is None and stud.a.seat != "taper thread":
        return missing(name, f"{words}: the torque for the softer metal, from the part's own table")
    short = _too_short(end, stud)
    if short is not None:
        return Check(name, False, f"{words}: {short}")
    care = "oil the thread or it galls; look for white rust later"
    return Check(name, True, f"{words}: {care}.")


def _too_short(end: EndEntry, stud: Adapter) -> str | None:
    """Say that too little thread engages, where no port standard sets its length."""
    length_mm = end.stud_length_mm if stud.stud_length_mm is None else stud.stud_length_mm
    if stud.a.seat in (_BY_STANDARD, "taper thread") or length_mm is None:
        return None
    engaged = length_mm if end.port_depth is None else min(length_mm, end.port_depth.value)
    need = _DIAMETERS_INSOFT * thread(stud.a.thread).major_diameter_mm
    if engaged >= need:
        return None
    return (
        f"{engaged:.0f} mm of thread engage, {need:.0f} mm are needed in a soft thread (one and a "
        "half diameters; common practice)."
    )
