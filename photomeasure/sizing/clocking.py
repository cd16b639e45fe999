"""Setting the angle between two angled ends: how far the made-up joint can still be turned."""

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.entries import EndEntry, JobEntries

__all__ = ["setting_check", "setting_words", "turn_available_deg"]

_FULL_TURN_DEG = 360.0


def turn_available_deg(gap_mm: float, least_gap_mm: float, nipple_pitch_mm: float) -> float:
    """How far a made-up end can still be turned to set its angle, by tightening only.

    Parameters
    ----------
    gap_mm : float [mm]
        Between socket and nipple now.
    least_gap_mm : float [mm]
        The end maker's least gap.
    nipple_pitch_mm : float [mm]
        Pitch of the nipple's thread; not the hose thread's.

    Returns
    -------
    float [deg]

    Notes
    -----
    360° x (gap - least gap) / pitch; every turn shortens the assembly by one pitch.
    """
    return max(0.0, _FULL_TURN_DEG * (gap_mm - least_gap_mm) / nipple_pitch_mm)


def _needs_setting(job: JobEntries) -> bool:
    return (
        len(job.ends) == 2
        and all(end.end != "straight" for end in job.ends)
        and any(end.made == "screw-together" for end in job.ends)
    )


def _last(job: JobEntries) -> tuple[str, EndEntry]:
    """Give the end whose nipple sets the angle: the second where it is screwed, else the first."""
    index = 1 if job.ends[1].made == "screw-together" else 0
    return "AB"[index], job.ends[index]


def setting_check(job: JobEntries) -> tuple[Check, ...]:
    """Check that any angle can be reached; nothing where no angle needs setting.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of Check
    """
    if not _needs_setting(job):
        return ()
    letter, end = _last(job)
    name = f"angle can be set at end {letter}"
    gap, least, pitch = end.gap_when_setting, end.least_gap, end.nipple_thread_pitch_mm
    if gap is None or least is None or pitch is None:
        named = (
            ("gap before the angle is set", gap),
            ("the end maker's least gap", least),
            ("pitch of the nipple's thread", pitch),
        )
        return (missing(name, *(words for words, value in named if value is None)),)
    turn = turn_available_deg(gap.value, least.value, pitch)
    words = f"{turn:.0f}° to turn, from a gap of {gap.value:g} mm to {least.value:g} mm"
    if turn < _FULL_TURN_DEG:
        return (Check(name, False, f"{words}: less than a turn, not every angle can be had."),)
    return (Check(name, True, f"{words}, by tightening only."),)


def setting_words(job: JobEntries) -> str | None:
    """Say how the angle is set, or None where none needs setting.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    str or None
    """
    if not _needs_setting(job):
        return None
    letter, end = _last(job)
    pitch = end.nipple_thread_pitch_mm
    shorter = "the nipple's pitch" if pitch is None else f"{pitch:g} mm"
    return (
        f"Set the angle at end {letter} by tightening only, without pressure, then close the gap "
        "by whole turns to within the end maker's figures: so the angle stays. Each turn shortens "
        f"the assembly by {shorter}."
    )
