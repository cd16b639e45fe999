"""What would make the answer surer: the budget's largest line as an order for the bench."""

from typing import Any

__all__ = ["advice"]

WORTH_SAYING = 0.4  # of the variance; below it no single cause rules

_MORE_PRINT = "Let more of the print show on all sides, and lean the phone a little sideways."
_NEARER = "Come nearer, in soft light without flash; wipe the part clean."
_EVENLY = "Light it evenly from all sides: an edge is lost in shade or glare."
_SECOND = "Add a photo from the part's other side, and touch nothing in between."
_ORDERS = (
    ("print scale", "Measure both check bars of the print with a caliper and give the readings."),
    ("sheet pose", _MORE_PRINT),
    ("axis height", _SECOND),
    ("axis lean", _SECOND),
    ("left edge", _EVENLY),
    ("right edge", _EVENLY),
    ("light round the wall", _EVENLY),
    ("posture", "Lay the part so that it rests on a whole flat of its hexagon."),
    ("hexagon", "Lay the part so that it rests on a whole flat of its hexagon."),
    ("shade", _NEARER),
    ("edge bias", _NEARER),
    ("crest rounding", _NEARER),
    ("edge", _NEARER),
    ("pitch fit", "Let more turns of the thread show, wiped clean and in focus."),
    ("taper fit", "Let more turns of the thread show, wiped clean and in focus."),
    ("line fit", "Use tape with clean edges that stands out from the floor."),
    ("line edge bias", "Use tape with clean edges that stands out from the floor."),
    ("line start", "Cut both ends of the line square, and keep them in the open."),
    ("line end", "Cut both ends of the line square, and keep them in the open."),
    ("print above the floor", "Lay the prints close on the floor, on nothing thick."),
    ("photo geometry", "Take more photos, nearer and from both sides, each with two cards in it."),
    ("band wrap", "Wrap the bands snugly and square to the hose."),
    ("curve between bands", "Wrap more bands where the hose bends."),
    ("line height", "Press the line flat on to the floor."),
)


def advice(budget: list[dict[str, Any]]) -> str | None:
    """Say what to do about the largest cause of uncertainty.

    Parameters
    ----------
    budget : list of dict
        From `budget_json`, the largest share first.

    Returns
    -------
    str or None
        None if no cause rules or nothing simple helps against it.
    """
    if not budget or budget[0]["share"] < WORTH_SAYING:
        return None
    cause = budget[0]["source"]
    return next((order for word, order in _ORDERS if cause.startswith(word)), None)
