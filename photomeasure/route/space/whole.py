"""Whether the solved route is the whole of it, or an outer band is missing."""

import numpy as np

from photomeasure.errors import TooUncertainError
from photomeasure.quantities import Quantity
from photomeasure.route.space.budget import Measured
from photomeasure.route.space.course import Course
from photomeasure.route.space.model import Points, Thing
from photomeasure.route.space.reading import SpaceSaid

__all__ = ["demand_no_gap", "demand_sure", "demand_whole"]

NEAR_MM = 75.0  # from the outer band's edge to beside its end's card: then no band lies between;
# outermost bands 15 to 45 mm from the port, cards 20 to 45 mm beyond; common practice, no source
TWO_VIEWS, MOST_U_MM = 2, 3.0  # of the length, where an end is seen once; own estimate
MOST_GAP_MM, BEND_DEG = 300.0, 12.0  # between bands in a bend, six times what the print asks for
FAR_MM = 250.0  # bands may be 150 mm apart, and a card be 100 mm beyond the last one


def demand_whole(
    things: list[Thing], course: Course, found: Measured, said: SpaceSaid
) -> tuple[str, ...]:
    """Refuse a route of which an end is missing, and say where that cannot be told.

    Parameters
    ----------
    things : list of Thing
    course : Course
    found : Measured
    said : SpaceSaid
        Of it the first and the last band's numbers.

    Returns
    -------
    tuple of str
        What to look at.

    Raises
    ------
    TooUncertainError
        The first or last band is not placed, as far as cards and user tell.
    """
    placed = [things[row].piece.order or 0 for row in course.rows]
    read = [thing.piece.order or 0 for thing in things if thing.is_band]
    first, last = said.first_band, said.last_band
    if min(read) < placed[0] and not (first is not None and placed[0] <= first):
        raise _poor(min(read), "begins")
    if max(read) > placed[-1] and not (last is not None and last <= placed[-1]):
        raise _poor(max(read), "ends")
    return (
        *_first(placed[0], found.start_to_card, first),
        *_last(placed[-1], found.end_to_card, last),
    )


def demand_sure(things: list[Thing], course: Course, points: Points, length: Quantity) -> None:
    """Refuse a route of which an end is seen in one photo alone, if that leaves its length open.

    Parameters
    ----------
    things : list of Thing
    course : Course
    points : Points
        All that was solved from.
    length : Quantity

    Raises
    ------
    TooUncertainError
    """
    for row, what in ((course.rows[0], "begins"), (course.rows[-1], "ends")):
        views = len(np.unique(points.photo[points.thing == row]))
        if views < TWO_VIEWS and length.u > MOST_U_MM:
            raise _poor(things[row].piece.order or 0, what)


def demand_no_gap(things: list[Thing], course: Course) -> None:
    """Refuse a route that bends where no band is placed for long.

    Parameters
    ----------
    things : list of Thing
    course : Course

    Raises
    ------
    TooUncertainError
    """
    ways = course.fit.frames[:, 0]
    turns_deg = np.rad2deg(np.arccos(np.clip((ways[:-1] * ways[1:]).sum(axis=1), -1, 1)))
    gaps = np.where(turns_deg > BEND_DEG, np.diff(course.fit.at_mm), 0.0)
    widest = int(np.argmax(gaps))
    if gaps[widest] > MOST_GAP_MM:
        first, second = (things[course.rows[k]].piece.order or 0 for k in (widest, widest + 1))
        raise TooUncertainError(
            f"Between bands {first} and {second} the hose bends for {gaps[widest]:.0f} mm and no "
            "band is placed: which way it goes there is not told.",
            "Wrap bands 50 mm apart in bends, and photograph that stretch from two more sides.",
        )


def _poor(order: int, what: str) -> TooUncertainError:
    return TooUncertainError(
        f"Band {order}, where the route {what}, is seen too poorly to be placed.",
        "Take two more photos of that end, nearer, from both sides, with a card in each.",
    )


def _first(lowest: int, to_card: Quantity | None, first_band: int | None) -> tuple[str, ...]:
    if lowest <= (first_band or 1):
        return ()
    if first_band is None and to_card is not None and to_card.value < NEAR_MM:
        return (f"The route begins at band {lowest}, beside the card START; band 1 is not seen.",)
    raise TooUncertainError(
        f"Band {first_band or 1}, where the route begins, is not placed by the photos; the lowest "
        f"that is placed is band {lowest}, and the length would be too short.",
        "Take two more photos of that end, nearer, from both sides; if the first band has another "
        f"number, say it with --bands, as in {lowest}-19.",
    )


def _last(highest: int, to_card: Quantity | None, last_band: int | None) -> tuple[str, ...]:
    if last_band is not None and highest < last_band:
        raise TooUncertainError(
            f"Band {last_band}, where the route ends, is not placed by the photos; the highest "
            f"that is placed is band {highest}, and the length would be too short.",
            "Take two more photos of that end, nearer, from both sides, with a card in each.",
        )
    if last_band is not None or (to_card is not None and to_card.value < NEAR_MM):
        return ()
    if to_card is not None and to_card.value > FAR_MM:
        raise TooUncertainError(
            f"The card END lies {to_card.value:.0f} mm beyond band {highest}, the highest that is "
            "placed: a band seems to be missing, and the length would be too short.",
            "Take two more photos of that end, or say the last band's number with --bands.",
        )
    return (
        f"The route ends at band {highest}, the highest that is placed. If the hose has one beyond "
        "it, the length is too short: look, and say the last band's number with --bands.",
    )
