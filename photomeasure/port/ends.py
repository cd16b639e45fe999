"""Where a thread begins below the mouth and where it ends, as far as the photo shows."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.fit import Fitted
from photomeasure.port.view import PortView
from photomeasure.port.wall import is_seen

__all__ = ["HOUSING_BEFOREHAND", "ThreadEnds", "housing_chance", "thread_ends"]

Flags = NDArray[np.bool_]

CLEAR_SHARE = 0.5  # of the usual clear share of a turn: less is no thread any more
BEYOND = 1.8  # pitches of wall that must be seen below the last turn to call it the last
STEP_MM, DEEPEST_MM = 0.1, 90.0
# Housing of an O-ring against a plain chamfer, in pitches: how much wider than the bore all round,
# and how much deeper the crests begin than they do behind a chamfer of so much (ISO 6149-1 and
# ISO 11926-1 from memory; spread by scenes for tuning)
WIDE_HOUSING, WIDE_CHAMFER = (1.05, 0.12), (0.75, 0.25)
CHAMFER_SLOPE = 0.8  # depth of a chamfer over its width: 45 to 60 degrees
DEEP_HOUSING, DEEP_CHAMFER = (1.7, 0.45), (0.3, 0.45)
HOUSING_BEFOREHAND = 0.35  # of ports; common practice, no source


@dataclass(frozen=True, slots=True)
class ThreadEnds:
    """Depths below the mouth at the far wall.

    Attributes
    ----------
    first_mm, last_mm : float
        Of the first and the last crest that is clear.
    last_turns : float
        The last crest's turn from the fit's middle turn.
    is_end_seen : bool
        Whether wall without thread is seen below the last crest.
    """

    first_mm: float
    last_mm: float
    last_turns: float
    is_end_seen: bool


def thread_ends(view: PortView, fitted: Fitted) -> ThreadEnds:
    """Follow the crests from the first clear turn to the last.

    Parameters
    ----------
    view : PortView
    fitted : Fitted

    Returns
    -------
    ThreadEnds
    """
    clear, used = fitted.features.crests.clear, np.unique(fitted.features.crests.turns)
    pitch, middle = fitted.solution.value("pitch"), fitted.features.middle_turn
    top = fitted.solution.value("first depth") - fitted.solution.value("mouth depth")
    is_thread = clear >= CLEAR_SHARE * float(np.median(clear[used]))
    first, last = _longest_run(is_thread)
    first_mm, last_mm = (float(top + (turn - middle) * pitch) for turn in (first, last))
    seen_mm = _seen_to_mm(view, fitted, max(first_mm, 0.0))
    return ThreadEnds(first_mm, last_mm, last - middle, seen_mm > last_mm + BEYOND * pitch)


def _longest_run(flags: Flags) -> tuple[int, int]:
    """First and last place of the longest stretch that is true."""
    edges = np.diff(np.concatenate([[False], flags, [False]]).astype(int))
    starts, stops = np.flatnonzero(edges > 0), np.flatnonzero(edges < 0)
    top = int(np.argmax(stops - starts))
    return int(starts[top]), int(stops[top]) - 1


def _seen_to_mm(view: PortView, fitted: Fitted, first_mm: float) -> float:
    """How deep below the mouth the far wall is seen past the mouth's and the first crest's edge."""
    mouth_mm, bore = fitted.solution.value("mouth depth"), fitted.stripes.bore
    depths = np.arange(0.0, DEEPEST_MM, STEP_MM)
    points = bore.points(np.full_like(depths, view.far_rad), depths)
    centre, edge = view.scene.centre_mm, mouth_mm + first_mm
    share = (centre[2] + edge) / (centre[2] - points[:, 2])
    crossing = centre + share[:, None] * (points - centre)
    past = np.hypot(crossing[:, 0] - bore.x_mm, crossing[:, 1] - bore.y_mm) < bore.radius_mm
    seen = is_seen(view, points, fitted.mouth) & (past | (depths < edge))
    return float(depths[seen].max(initial=0.0)) - mouth_mm


def housing_chance(fitted: Fitted, ends: ThreadEnds) -> float:
    """How likely the mouth is the cone in which an O-ring sits, not a chamfer.

    Parameters
    ----------
    fitted : Fitted
    ends : ThreadEnds

    Returns
    -------
    float
    """
    value, pitch = fitted.solution.value, fitted.solution.value("pitch")
    at_mouth = value("radius") + value("narrowing") * (value("first depth") - value("mouth depth"))
    wide = (value("mouth radius") - at_mouth) / pitch
    deep = ends.first_mm / pitch - CHAMFER_SLOPE * wide
    odds = np.log(HOUSING_BEFOREHAND / (1 - HOUSING_BEFOREHAND))
    odds += _log_normal(wide, *WIDE_HOUSING) - _log_normal(wide, *WIDE_CHAMFER)
    odds += _log_normal(min(deep, DEEP_HOUSING[0]), *DEEP_HOUSING)
    odds -= _log_normal(max(deep, DEEP_CHAMFER[0]), *DEEP_CHAMFER)
    return float(1 / (1 + np.exp(-odds)))


def _log_normal(value: float, middle: float, spread: float) -> float:
    return float(-0.5 * ((value - middle) / spread) ** 2 - np.log(spread))
