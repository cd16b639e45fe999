"""The route as solved: the curve through its bands, its ends, and what is measured of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chainfit import Bands, ChainFit, fit_chain
from photomeasure.route.space.model import State, Thing, bands_edge_mm
from photomeasure.route.space.sides import Sides
from photomeasure.route.space.solve import Solved
from photomeasure.route.space.values import Ends, Spans, Values, spans, values

__all__ = ["WRAP", "Course", "course_of", "ends_of", "with_sides"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

SIDES_PRICE_MM = 500.0  # of a change of curvature by 1/mm, where sides hold the curve as well
WRAP = np.array([0.05, 0.05, 0.0025, 0.0025])  # mm and rad: how far a band's middle and way are off
# the hose's; own estimate


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The route as solved.

    Attributes
    ----------
    rows : tuple of int
        Of the state's things: the bands in order.
    cards : (start, end) row or None
    flips : (B,)
        -1 where a band's arrow points against the order.
    bands : Bands
    fit : ChainFit
    ends : Ends
    where : Spans
    values : Values
    """

    rows: tuple[int, ...]
    cards: tuple[int | None, int | None]
    flips: Vector
    bands: Bands
    fit: ChainFit
    ends: Ends
    where: Spans
    values: Values


def course_of(solved: Solved, things: list[Thing], rows: list[int], od_mm: float) -> Course:
    """Fit the curve through the bands and measure it.

    Parameters
    ----------
    solved : Solved
    things : list of Thing
        In the state's order.
    rows : list of int
        The bands that are used, in order along the route.
    od_mm : float [mm]

    Returns
    -------
    Course
    """
    state = solved.state
    points = state.thing_shift[rows]
    ways = state.thing_turn[rows][:, :, 2]
    flips = np.sign(np.sum(np.gradient(points, axis=0) * ways, axis=1))
    flips[flips == 0] = 1.0
    ways = ways * flips[:, None]
    bands = Bands(points, ways, _covariance(solved, rows, ways), WRAP)
    cards = _end_cards(things)
    ends = ends_of(state, things, rows, flips, cards)
    return _course((tuple(rows), cards, flips), bands, fit_chain(bands), (ends, od_mm))


def with_sides(course: Course, sides: Sides, od_mm: float) -> Course:
    """Fit the curve anew, to the bands and to the hose's sides between them.

    Parameters
    ----------
    course : Course
    sides : Sides
    od_mm : float [mm]

    Returns
    -------
    Course
    """
    fit = fit_chain(course.bands, SIDES_PRICE_MM, sides, course.fit.chain)
    which = (course.rows, course.cards, course.flips)
    return _course(which, course.bands, fit, (course.ends, od_mm))


def _course(
    which: tuple[tuple[int, ...], tuple[int | None, int | None], Vector],
    bands: Bands,
    fit: ChainFit,
    about: tuple[Ends, float],
) -> Course:
    ends, od_mm = about
    ends = Ends(ends.edges, fit.at_mm[[0, -1]], ends.card_axes, ends.card_middles)
    where = spans(fit.chain, ends, od_mm)
    return Course(*which, bands, fit, ends, where, values(fit.chain, ends, where))


def _covariance(solved: Solved, rows: list[int], ways: Matrix) -> NDArray[np.float64]:
    """Of each band's axis point and direction, (N, 6, 6)."""
    found = np.zeros((len(rows), 6, 6))
    for k, (row, way) in enumerate(zip(rows, ways, strict=True)):
        at = solved.state.thing_slot(row)
        own = solved.covariance[at : at + 6, at : at + 6]
        x, y, z = way
        turn = np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])  # a spin moves the direction
        slopes = np.zeros((6, 6))
        slopes[:3, 3:], slopes[3:, :3] = np.eye(3), turn
        found[k] = slopes @ own @ slopes.T
    return found


def _end_cards(things: list[Thing]) -> tuple[int | None, int | None]:
    role = {t.piece.role: k for k, t in enumerate(things) if t.piece.role}
    return role.get("start"), role.get("end")


def ends_of(
    state: State,
    things: list[Thing],
    rows: list[int] | tuple[int, ...],
    flips: Vector,
    cards: tuple[int | None, int | None],
) -> Ends:
    """Say where the outer bands' outer edges and the end cards are.

    Parameters
    ----------
    state : State
    things : list of Thing
    rows : list of int
        The bands, in order along the route.
    flips : (B,)
        -1 where a band's arrow points against the order.
    cards : (start, end) row or None

    Returns
    -------
    Ends
    """
    edges = []
    for row, flip, sign in ((rows[0], flips[0], -1.0), (rows[-1], flips[-1], 1.0)):
        half = bands_edge_mm(things[row].piece) * state.scale[state.print_row[row], 1]
        edges.append(state.thing_shift[row] + sign * flip * half * state.thing_turn[row][:, 2])
    none = np.full(3, np.nan)
    axes = [none if k is None else state.thing_turn[k][:, 2] for k in cards]
    middles = [none if k is None else state.thing_shift[k] for k in cards]
    return Ends(np.array(edges), np.zeros(2), np.array(axes), np.array(middles))
