"""What to say of a route in space beside its figures."""

from collections.abc import Iterable

import numpy as np

from photomeasure.route.space.course import Course
from photomeasure.route.space.model import Points, Thing

__all__ = ["warnings_of"]

FAR_MM, FAR_IN_BEND_MM = 155.0, 62.0  # the print asks for 150 and 50 mm
STRAIGHT_DEG = 6.0  # turning between two bands below which it is no bend
MISFIT = 5.0  # standard uncertainties


def warnings_of(
    things: list[Thing], course: Course, points: Points, left_out: list[str]
) -> tuple[str, ...]:
    """Say what is missing, thin or odd.

    Parameters
    ----------
    things : list of Thing
    course : Course
    points : Points
    left_out : list of str
        Names of photos that do not connect.

    Returns
    -------
    tuple of str
    """
    return (
        *(
            f"{name} was left out: it shows no card and too few bands that the others show."
            for name in left_out
        ),
        *_numbers(things, course),
        *_seen_once(things, course, points),
        *_gaps(things, course),
        *_odd(things, course),
        *_cards(course),
    )


def _orders(things: list[Thing], course: Course) -> list[int]:
    return [things[row].piece.order or 0 for row in course.rows]


def _listed(numbers: Iterable[int]) -> str:
    return ", ".join(str(number) for number in numbers)


def _numbers(things: list[Thing], course: Course) -> list[str]:
    orders = _orders(things, course)
    found = []
    seen = {thing.piece.order for thing in things if thing.is_band}
    poor = sorted(k for k in seen - set(orders) if k is not None)
    if poor:
        found.append(f"Too little is seen of band {_listed(poor)}: left out.")
    missing = [k for k in range(orders[0], orders[-1]) if k not in seen]
    if missing:
        found.append(
            f"Not seen: band {_listed(missing)}. If on the hose, the curve there is less sure."
        )
    return found


def _seen_once(things: list[Thing], course: Course, points: Points) -> list[str]:
    once = []
    for row, order in zip(course.rows, _orders(things, course), strict=True):
        if len(np.unique(points.photo[points.thing == row])) < 2:
            once.append(order)
    if not once:
        return []
    return [f"Seen in one photo only: band {_listed(once)}. Take another photo of that stretch."]


def _gaps(things: list[Thing], course: Course) -> list[str]:
    orders, at, found = _orders(things, course), course.fit.at_mm, []
    ways = course.fit.frames[:, 0]
    for k in range(len(at) - 1):
        gap = at[k + 1] - at[k]
        turn = np.rad2deg(np.arccos(np.clip(ways[k] @ ways[k + 1], -1, 1)))
        limit = FAR_MM if turn < STRAIGHT_DEG else FAR_IN_BEND_MM + 30 * (turn < 2 * STRAIGHT_DEG)
        if gap > limit:
            found.append(
                f"Bands {orders[k]} and {orders[k + 1]} are {gap:.0f} mm apart"
                + (" in a bend" if turn >= STRAIGHT_DEG else "")
                + "; wrap another between them."
            )
    return found


def _odd(things: list[Thing], course: Course) -> list[str]:
    orders, found = np.array(_orders(things, course)), []
    against = orders[course.flips < 0]
    if len(against):
        found.append(f"Band {_listed(against)}: its arrow points against the order of the bands.")
    off = np.abs(course.fit.residuals).max(axis=1) > MISFIT
    if off.any():
        found.append(
            f"Band {_listed(orders[off])} does not lie where its neighbours would have it; look "
            "whether it is wrapped snugly and square."
        )
    return found


def _cards(course: Course) -> list[str]:
    start, end = course.cards
    if start is not None and end is not None:
        return []
    names = [name for name, row in (("START", start), ("END", end)) if row is None]
    return [f"Card {' and '.join(names)} not seen: no clocking."]
