"""The look-alikes of threads, as JSON and as text."""

from collections.abc import Iterable
from typing import Any

from photomeasure.standards import thread, threads
from photomeasure.standards.alike import Neighbour, neighbours

__all__ = ["WARNING", "alike", "alike_lines", "cells_of"]

WARNING = (
    "Look-alikes start on each other's parts, hold by a few turns and blow out under pressure. "
    "Clean and oiled, the right part runs to the seal by fingers; running in easily is no proof. "
    "Sizes are basic ones, tapered threads' at the gauge plane; '!' marks the dangerous ones."
)
SAME = "same"


def alike(designations: Iterable[str] = ()) -> dict[str, Any]:
    """List what threads are taken for.

    Parameters
    ----------
    designations : iterable of str
        Which; none means all that ports and fittings use.

    Returns
    -------
    dict

    Raises
    ------
    UsageError
        At the first designation that no table has.
    """
    chosen = [thread(one) for one in designations] or [one for one in threads() if one.seats]
    return {
        "alike": [
            {
                "designation": one.designation,
                "neighbours": [_json(each) for each in neighbours(one.designation)],
            }
            for one in chosen
        ]
    }


def alike_lines(table: dict[str, Any]) -> list[str]:
    """Say the same for people.

    Parameters
    ----------
    table : dict
        From `alike`.

    Returns
    -------
    list of str
    """
    lines = [WARNING]
    for row in table["alike"]:
        lines.append(f"{row['designation']}:" + ("" if row["neighbours"] else " nothing near"))
        for each in row["neighbours"]:
            mark, *cells = cells_of(each)
            words = [f"crests {cells[1]}", f"pitch {cells[2]}", *filter(None, cells[3:])]
            lines.append(f"  {mark} {cells[0]}: {', '.join(words)}")
    return lines


def _json(each: Neighbour) -> dict[str, Any]:
    return {
        "designation": each.designation,
        "crest_mm": round(each.crest_mm, 4),
        "pitch_mm": round(each.pitch_mm, 4),
        "taper_differs": each.taper_differs,
        "angle_differs": each.angle_differs,
        "dangerous": bool(each.danger),
        "told_apart_by": each.danger or None,
    }


def cells_of(each: dict[str, Any]) -> tuple[str, ...]:
    """Say of one neighbour: mark, thread, crests, pitch, what else differs, what tells."""
    also = [word for word in ("taper", "angle") if each[f"{word}_differs"]]
    return (
        "!" if each["dangerous"] else " ",
        each["designation"],
        _apart(each["crest_mm"], 2),
        _apart(each["pitch_mm"], 3),
        " and ".join(also),
        f"by {each['told_apart_by']}" if each["told_apart_by"] else "",
    )


def _apart(difference_mm: float, digits: int) -> str:
    text = f"{difference_mm:+.{digits}f}"
    return SAME if float(text) == 0 else f"{text} mm"
