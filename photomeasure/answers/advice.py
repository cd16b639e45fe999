"""What would make the answer surer: the budget's largest line as an order for the bench."""

from typing import Any

__all__ = ["advice"]

WORTH_SAYING = 0.4  # of the variance; below it no single cause rules

_ORDERS = (
    ("print scale", "Measure both check bars of the print with a caliper and give the readings."),
    ("print", "Measure both check bars of the print with a caliper and give the readings."),
    (
        "axis height",
        "Give the spanner size that fits the hexagon, or add a photo from another side.",
    ),
    ("rest", "Say how the fitting lies, or add a photo from another side."),
    ("focal", "Learn this phone's lens once, or lean the phone 15 to 25 degrees sideways."),
    ("lens", "Learn this phone's lens once, or lean the phone 15 to 25 degrees sideways."),
    ("centre", "Learn this phone's lens once, or take the photo with the part in its middle."),
    ("sheet pose", "Let more of the print show on all sides of the part."),
    ("camera pose", "Let more of the print show on all sides of the part."),
    ("bend", "Fix the print to a flat board with tape at its corners."),
    ("curl", "Fix the print to a flat board with tape at its corners."),
    ("edge", "Come nearer, in soft light without flash; wipe the part clean."),
    ("crest", "Come nearer, in soft light without flash; wipe the part clean."),
    ("pitch", "Let more turns of the thread show, wiped clean and in focus."),
    ("part", "The part's own error rules: measure it at two places with a caliper."),
    ("end", "Mark both ends of the line with a clear square cut."),
    ("placement", "Lay the line again along the path the hose will take, and measure once more."),
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
    label = budget[0]["source"].lower()
    return next((order for word, order in _ORDERS if word in label), None)
