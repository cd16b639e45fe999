"""The limits of size of published threads."""

from collections.abc import Iterable
from typing import Any, cast

from photomeasure.standards import listing

__all__ = ["thread_lines", "threads"]

MM_PER_INCH = 25.4


def threads(designations: Iterable[str] = (), *, classes: bool = False) -> dict[str, Any]:
    """List threads with their limits of size, in the contract's form.

    Parameters
    ----------
    designations : iterable of str
        Which; none means all.
    classes : bool
        Whether the other usual classes are listed, too.

    Returns
    -------
    dict

    Raises
    ------
    UsageError
        At the first designation that no table has.
    """
    return cast("dict[str, Any]", listing(designations, classes=classes))


def thread_lines(table: dict[str, Any]) -> list[str]:
    """Say the same for people.

    Parameters
    ----------
    table : dict
        From `threads`.

    Returns
    -------
    list of str
    """
    return [line for row in table["threads"] for line in _lines(row)]


def _lines(row: dict[str, Any]) -> list[str]:
    pitch = f"pitch {row['pitch_mm']:.4g} mm"
    per_inch = f", {row['tpi']:g} to the inch" if row["tpi"] else ""
    taper = f", taper 1:{1 / row['taper']:.0f}" if row["taper"] else ""
    lines = [f"{row['designation']}: {pitch}{per_inch}, {row['thread_angle_deg']:g}°{taper}"]
    if external := row["external"]:
        lines.append(f"  male, over the crests {_range(external, 'major')} ({external['class']})")
    if internal := row["internal"]:
        lines.append(f"  female, bore {_range(internal, 'minor')} ({internal['class']})")
    for member, name in (("external", "male"), ("internal", "female")):
        if row[member]:
            lines.append(f"  {name}, pitch diameter {_range(row[member], 'pitch')}")
    lines += [_other_line(limits) for limits in row.get("other_classes", [])]
    if "gauge_length_mm" in row:
        lines.append(f"  sizes at the gauge plane, {row['gauge_length_mm']:.2f} mm from the end")
    if row["seats"]:
        lines.append(f"  used with: {'; '.join(row['seats'])}")
    lines.append(f"  source: {row['source']}")
    return lines


def _other_line(limits: dict[str, Any]) -> str:
    if "major_max_mm" in limits:
        crests = f"male, over the crests {_range(limits, 'major')}"
    else:
        crests = f"female, bore {_range(limits, 'minor')}"
    return f"  class {limits['class']}: {crests}; pitch diameter {_range(limits, 'pitch')}"


def _range(limits: dict[str, Any], name: str) -> str:
    low, high = limits[f"{name}_min_mm"], limits[f"{name}_max_mm"]
    inches = f"{low / MM_PER_INCH:.4f} to {high / MM_PER_INCH:.4f} in"
    return f"{low:.3f} to {high:.3f} mm, {inches}"
