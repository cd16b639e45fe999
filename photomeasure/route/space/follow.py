"""The curve through the bands drawn to the hose's own sides, where photos show them."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from photomeasure.errors import TooUncertainError
from photomeasure.route.space.course import Course, course_of, with_sides
from photomeasure.route.space.greys import Views
from photomeasure.route.space.mend import righted
from photomeasure.route.space.model import Points, State, Thing, bands_edge_mm
from photomeasure.route.space.outline import Stretch, sides_in
from photomeasure.route.space.sides import Sides, joined
from photomeasure.route.space.solve import Known, Solved
from photomeasure.route.space.vary import Variation, doubted

__all__ = ["Basis", "Look", "followed", "look_in"]

Look = Callable[[Stretch], Sides]

REACHES_MM = (6.0, 1.5)  # of each look, to either side of the curve so far
BESIDE_BAND_MM = 1.5  # not looked at beside a band's edges
AT_ONCE = 2  # photos
LEAST_SIDES = 5
FALSE = 4.0  # standard uncertainties: such sides are of something else
MOST_FALSE = 0.35  # share of the sides, beyond which none is believed
WORSE = 1.5  # times as far off as without sides may the bands lie, and by
SLACK = 0.5  # standard uncertainties


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """A solve, what it was solved from, and the things in the state's order."""

    solved: Solved
    points: Points
    known: Known
    things: list[Thing]


def followed(
    basis: Basis, rows: list[int], look_of: Callable[[State], Look] | None
) -> tuple[Solved, Course]:
    """Fit the curve to bands and sides; solve again where a band does not fit them.

    Parameters
    ----------
    basis : Basis
    rows : list of int
        Of the bands that are used, in order along the route.
    look_of : callable or None
        Gives a way to look for sides with the cameras of a state; None to go by bands alone.

    Returns
    -------
    solved : Solved
    course : Course

    Raises
    ------
    TooUncertainError
        The bands do not lie in order.
    """
    solved = basis.solved
    course = _followed(solved, basis.things, rows, look_of)
    other = righted(solved, basis.points, basis.known, course)
    if other is None:
        return solved, course
    return other, _followed(other, basis.things, rows, look_of)


def _followed(
    solved: Solved, things: list[Thing], rows: list[int], look_of: Callable[[State], Look] | None
) -> Course:
    course = course_of(solved, things, rows, 2 * solved.state.bare_radius_mm)
    if look_of is None:
        return course
    return drawn_to_sides(solved, things, course, look_of(solved.state))


def drawn_to_sides(solved: Solved, things: list[Thing], course: Course, look: Look) -> Course:
    """Fit the curve to the bands and the hose's sides between them.

    Parameters
    ----------
    solved : Solved
    things : list of Thing
        In the state's order.
    course : Course
        Through the bands alone.
    look : callable
        Gives the sides that are seen along a stretch.

    Returns
    -------
    Course
        The same where the hose does not stand out, or where what stands out is not it.
    """
    vary, found = Variation(solved, things, course), course
    od_mm = 2 * solved.state.bare_radius_mm
    for reach in REACHES_MM:
        sides = look(_stretch(things, found, reach))
        if len(sides.photo) < LEAST_SIDES:
            return course
        found = with_sides(course, doubted(vary, solved.covariance, sides), od_mm)
        found = _without_false(course, found, od_mm)
    return found if _is_believed(course, found) else course


def _stretch(things: list[Thing], course: Course, reach_mm: float) -> Stretch:
    chain, at = course.fit.chain, course.fit.at_mm
    feet = chain.feet(course.ends.edges, course.ends.near_mm)
    if feet[1] <= feet[0]:
        raise TooUncertainError(
            "As the photos place them, the last band lies before the first.",
            "Take two more photos of each end, from both sides, with a card in each.",
        )
    half = np.array([bands_edge_mm(things[row].piece) for row in course.rows]) + BESIDE_BAND_MM
    bands = np.stack([at - half, at + half], axis=1)
    return Stretch(chain, (float(feet[0]), float(feet[1])), bands, reach_mm)


def look_in(views: Sequence[Callable[[], Views]], state: State) -> Look:
    """Give a way to look for the hose's sides in photos.

    Parameters
    ----------
    views : sequence of callable
        Brightness (height, width) and hue, half as large, of each of the state's photos.
    state : State

    Returns
    -------
    callable
    """

    def look(stretch: Stretch) -> Sides:
        with ThreadPoolExecutor(AT_ONCE) as pool:
            parts = pool.map(
                lambda photo: sides_in(views[photo](), photo, state, stretch), range(len(views))
            )
            return joined(list(parts))

    return look


def _without_false(course: Course, found: Course, od_mm: float) -> Course:
    """Leave out what lies far off the curve, and fit again."""
    true = np.abs(found.fit.side_residuals) < FALSE
    if true.all() or true.mean() < 1 - MOST_FALSE:
        return found
    return with_sides(course, found.fit.sides.of(true), od_mm)


def _is_believed(course: Course, found: Course) -> bool:
    """Whether sides agree with each other, and with the bands about as well as bands alone."""
    false = np.abs(found.fit.side_residuals) > FALSE
    before, after = (np.median(np.abs(one.fit.residuals)) for one in (course, found))
    return bool(false.mean() <= MOST_FALSE and after <= WORSE * before + SLACK)
