"""Metals that meet in the port: aluminium threads gall, strip and corrode beside steel."""

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.connection import Connection
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.sizing.shelf import Adapter
from photomeasure.standards import thread

__all__ = ["is_soft", "metal_checks"]

_SOFT = "aluminium"
_HARD = ("stainless steel", "steel", "cast iron", "ductile iron", "brass")
_ALSO_SOFT = ("aluminium", "aluminum", "alloy")  # longer words hold them too: die-cast aluminium
_BY_STANDARD = "O-ring port"  # its stud's length is the standard's own
_DIAMETERS_IN_SOFT = 1.5  # thread engaged, over its diameter: common practice, from memory


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
    kinds = _kind(part), _kind(port)
    strange = [metal for metal, kind in zip((part, port), kinds, strict=True) if kind is None]
    if strange:
        return missing(name, f"what metal '{strange[0]}' is: steel, iron, brass or aluminium")
    words = f"{part} into {port}"
    if _SOFT not in kinds:
        return Check(name, True, f"{words}: no soft thread.")
    if end.torque is None and stud.a.seat != "taper thread":
        return missing(name, f"{words}: the torque for the softer metal, from the part's own table")
    short = _too_short(end, stud)
    if short is not None:
        return Check(name, False, f"{words}: {short}")
    care = "oil the thread or it galls; look for white rust later"
    return Check(name, True, f"{words}: {care}.")


def is_soft(metal: str) -> bool:
    """Say whether a metal is one whose threads gall and strip."""
    return _kind(metal) == _SOFT


def _kind(metal: str) -> str | None:
    """Give a metal's kind, or None for one that is not known: it may be soft."""
    said = metal.casefold()
    if any(word in said for word in _ALSO_SOFT):
        return _SOFT
    return next((hard for hard in _HARD if hard in said), None)


def _too_short(end: EndEntry, stud: Adapter) -> str | None:
    """Say that too little thread engages, where no port standard sets its length."""
    length_mm = end.stud_length_mm if stud.stud_length_mm is None else stud.stud_length_mm
    if stud.a.seat in (_BY_STANDARD, "taper thread") or length_mm is None:
        return None
    engaged = length_mm if end.port_depth is None else min(length_mm, end.port_depth.value)
    need = _DIAMETERS_IN_SOFT * thread(stud.a.thread).major_diameter_mm
    if engaged >= need:
        return None
    return (
        f"{engaged:.0f} mm of thread engage, {need:.0f} mm are needed in a soft thread (one and a "
        "half diameters; common practice)."
    )
