"""From a solved arrangement of bands and cards to values with named sources."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.reading import Bend
from photomeasure.route.space.chainfit import Bands, ChainFit, fit_chain, moved
from photomeasure.route.space.model import State, Thing, bands_edge_mm
from photomeasure.route.space.solve import Solved
from photomeasure.route.space.values import Ends, Spans, Values, spans, values

__all__ = [
    "DRAWS",
    "WRAP",
    "Course",
    "Measured",
    "Moved",
    "Variation",
    "course_of",
    "measure",
    "root_of",
]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

WRAP = np.array([0.1, 0.1, 0.005, 0.005])  # mm and rad: how far a band's middle and way are off
# the hose's; own estimate
EDGE_MM = 0.15  # how well a band's edge is cut; own estimate
DRAWS = 64
TURNING = 1  # its place among the values
FITTED = 0.5  # how much of that the fit leaves, over drawn routes
OTHER_PRICES_MM = (1000.0, 4000.0)  # of a change of curvature, as well as might be
RADIUS_U = 0.04  # of a radius: shapes that no such rule knows; drawn routes
GAP_MM = 60.0  # between bands; the print asks for 50 in bends
POOR_RAD = 0.05  # doubt of a band's direction, beyond which it does not hold the curve
LEAST_GOOD = 2
LARGEST_CHANGE = 0.2  # of a value by another rule: beyond, the bend itself was lost
LABELS = {
    "photo geometry": "lens, poses and places of cards and bands",
    "band wrap": "how snugly and squarely the bands are wrapped, and cut",
    "curve between bands": "the hose's shape where no band shows it",
}


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


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """All values as quantities."""

    length: Quantity
    turning: Quantity
    bends: tuple[Bend, ...]
    tightest: Quantity | None
    clocking: Quantity | None
    start_to_card: Quantity | None
    end_to_card: Quantity | None
    line_od: Quantity


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
    fit = fit_chain(bands)
    cards = _end_cards(things)
    ends = _ends(state, things, rows, flips, cards)
    ends = Ends(ends.edges, fit.at_mm[[0, -1]], ends.card_axes, ends.card_middles)
    where = spans(fit.chain, ends, od_mm)
    return Course(
        tuple(rows), cards, flips, bands, fit, ends, where, values(fit.chain, ends, where)
    )


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


def _ends(
    state: State,
    things: list[Thing],
    rows: list[int] | tuple[int, ...],
    flips: Vector,
    cards: tuple[int | None, int | None],
) -> Ends:
    edges = []
    for row, flip, sign in ((rows[0], flips[0], -1.0), (rows[-1], flips[-1], 1.0)):
        half = bands_edge_mm(things[row].piece) * state.scale[state.print_row[row], 1]
        edges.append(state.thing_shift[row] + sign * flip * half * state.thing_turn[row][:, 2])
    none = np.full(3, np.nan)
    axes = [none if k is None else state.thing_turn[k][:, 2] for k in cards]
    middles = [none if k is None else state.thing_shift[k] for k in cards]
    return Ends(np.array(edges), np.zeros(2), np.array(axes), np.array(middles))


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """The solve moved a little, and how it is laid back on to where it was.

    Attributes
    ----------
    state : State
    scale, turn, middle, back : float, (3, 3), (3,), (3,)
        Scale, turn about the first middle and second middle that lay the bands back.
    step : (P,)
        Of the fitted chain.
    """

    state: State
    scale: float
    turn: Matrix
    middle: Vector
    back: Vector
    step: Vector

    def home(self, points: Matrix) -> Matrix:
        """Lay points of the moved world back, (N, 3) [mm]."""
        return np.asarray(self.scale * (points - self.middle) @ self.turn.T + self.back)


class Variation:
    """Values of the course with bands, ends, cards or curve moved a little."""

    def __init__(self, solved: Solved, things: list[Thing], course: Course) -> None:
        self.state, self.things, self.course = solved.state, things, course
        self.base = course.values.vector()

    def at_state(self, step: Vector) -> Vector:
        """Change of the values if the unknowns of the joint solve move.

        What moves, turns and scales all bands alike is taken exactly, the rest linearly.
        """
        now, course = self.moved_at_state(step), self.course
        ends = _ends(now.state, self.things, course.rows, course.flips, course.cards)
        ends = Ends(
            now.home(ends.edges),
            course.ends.near_mm,
            ends.card_axes @ now.turn.T,
            now.home(ends.card_middles),
        )
        change = self._change(now.step, ends)
        lengths = np.ones(len(self.base))
        lengths[[1, 3]] = 0.0  # angles
        lengths[8::3] = 0.0
        grown = np.where(np.isfinite(self.base), self.base, 0.0) * (1 / now.scale - 1)
        return np.asarray(change + lengths * grown)

    def moved_at_state(self, step: Vector) -> "Moved":
        """Give the solve and the curve's step if the unknowns of the joint solve move."""
        state, course = self.state.moved(step), self.course
        rows = list(course.rows)
        alike = likeness(state.thing_shift[rows], self.state.thing_shift[rows])
        now = Moved(state, *alike, np.empty(0))
        points = now.home(state.thing_shift[rows])
        ways = (state.thing_turn[rows][:, :, 2] * course.flips[:, None]) @ now.turn.T
        return replace(now, step=course.fit.gain @ self._bands(points, ways).ravel())

    def _bands(self, points: Matrix, ways: Matrix) -> Matrix:
        """How far bands are off where they were: across 1, 2 and way 1, 2; (B, 4).

        A band that only slides along a bend meets the curve where it has turned further.
        """
        rows, course = list(self.course.rows), self.course
        point = points - self.state.thing_shift[rows]
        way = ways - self.state.thing_turn[rows][:, :, 2] * course.flips[:, None]
        frames, chain = course.fit.frames, course.fit.chain
        slid = np.sum(point * frames[:, 0], axis=1)
        bend = chain.curvature[chain.link_of(course.fit.at_mm)] * slid[:, None]
        across = [np.sum(point * frames[:, k], axis=1) for k in (1, 2)]
        turned = [np.sum(way * frames[:, k], axis=1) - bend[:, k - 1] for k in (1, 2)]
        return np.stack([*across, *turned], axis=1)

    def at_wrap(self, draw: Vector) -> Vector:
        """Change if bands sit a little off the hose: standard normals (4 B + 2)."""
        course = self.course
        us = np.tile(WRAP, len(course.rows))
        ways = self.state.thing_turn[list(course.rows)][[0, -1]][:, :, 2]
        edges = course.ends.edges + (draw[-2:] * EDGE_MM)[:, None] * ways
        ends = Ends(edges, course.ends.near_mm, course.ends.card_axes, course.ends.card_middles)
        return self._change(course.fit.gain @ (us * draw[:-2]), ends)

    def at_curve(self, draw: Vector) -> Vector:
        """Change if the curve between the bands is another that is as likely."""
        return self._change(self.course.fit.loose @ draw, self.course.ends)

    def at_rule(self, price_mm: float) -> Vector:
        """Change if changes of the curvature cost more or less."""
        course = self.course
        fit = fit_chain(course.bands, price_mm)
        near = fit.at_mm[[0, -1]]
        ends = Ends(course.ends.edges, near, course.ends.card_axes, course.ends.card_middles)
        most = LARGEST_CHANGE * np.abs(np.where(np.isfinite(self.base), self.base, 0.0))
        return np.clip(self._off(values(fit.chain, ends, course.where)), -most, most)

    def at_shape(self) -> Vector:
        """Change of the radii by what no rule knows; more where bands are far apart or poor."""
        change, base = np.zeros(len(self.base)), np.nan_to_num(self.base)
        tightest = self.course.where.tightest or (0.0, 0.0)
        places = np.array([0.5 * (tightest[0] + tightest[1]), *base[6::3]])
        radii = [2, *range(7, len(base), 3)]
        change[radii] = RADIUS_U * np.maximum(1.0, self._gaps(places) / GAP_MM) * base[radii]
        return change

    def _gaps(self, places_mm: Vector) -> Vector:
        """How far the bands before and after some places are apart, poor ones left out [mm]."""
        course = self.course
        start = course.fit.chain.feet(course.ends.edges, course.ends.near_mm)[0]
        lean = np.sqrt(np.trace(course.bands.covariance[:, 3:, 3:], axis1=1, axis2=2))
        good = course.fit.at_mm[lean < POOR_RAD] - start
        if len(good) < LEAST_GOOD:
            return np.full(len(places_mm), self.base[0])
        after = np.clip(np.searchsorted(good, places_mm), 1, len(good) - 1)
        return np.asarray(good[after] - good[after - 1])

    def _change(self, step: Vector, ends: Ends) -> Vector:
        chain = moved(self.course.fit.chain, step)
        return self._off(values(chain, ends, self.course.where))

    def _off(self, found: Values) -> Vector:
        change = found.vector() - self.base
        change[3] = (change[3] + 180.0) % 360.0 - 180.0  # an angle
        return np.where(np.isfinite(change), change, 0.0)


def likeness(points: Matrix, home: Matrix) -> tuple[float, Matrix, Vector, Vector]:
    """Scale, turn and middles that lay points on to where they were (Umeyama, 1991)."""
    middle, home_middle = points.mean(axis=0), home.mean(axis=0)
    one, other = points - middle, home - home_middle
    left, size, right = np.linalg.svd(other.T @ one)
    sign = np.array([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    scale = float(np.sum(size * sign) / np.sum(one**2))
    return scale, (left * sign) @ right, middle, home_middle


def measure(solved: Solved, things: list[Thing], course: Course, key: str) -> Measured:
    """Values with their sources.

    Parameters
    ----------
    solved : Solved
    things : list of Thing
    course : Course
    key : str
        Names the photos.

    Returns
    -------
    Measured
    """
    vary = Variation(solved, things, course)
    parts: dict[Source, Vector] = {s: vary.at_state(shift) for s, shift in solved.shifts}
    rest = solved.covariance - sum(
        (np.outer(shift, shift) for _, shift in solved.shifts), 0 * solved.covariance
    )
    rng = np.random.default_rng(0)
    wraps, curves = 4 * len(course.rows) + 2, course.fit.loose.shape[1]
    turned = 0.0
    for name, change, root in (
        ("photo geometry", vary.at_state, root_of(rest)),
        ("band wrap", vary.at_wrap, np.eye(wraps)),
        ("curve between bands", vary.at_curve, np.eye(curves)),
    ):
        own, mean = _group(name, key, change, root, rng)
        parts |= own
        turned += float(mean[TURNING])
    for label, shift in (
        *((f"rule {k}", vary.at_rule(price)) for k, price in enumerate(OTHER_PRICES_MM, start=1)),
        ("shape", vary.at_shape()),
    ):
        name = "curve between bands"
        parts[Source(f"{name}/{label}", LABELS[name], "photo", key)] = shift
    base = vary.base.copy()
    base[TURNING] -= FITTED * turned  # noise turns a straight to and fro, which adds up
    return _measured(base, parts, solved, key)


def root_of(covariance: Matrix) -> Matrix:
    """Matrix whose square is a covariance, (M, M)."""
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    size, ways = np.linalg.eigh(covariance / np.outer(spread, spread))
    return np.asarray(spread[:, None] * ways * np.sqrt(np.maximum(size, 0.0)))


def _group(
    name: str,
    key: str,
    change: Callable[[Vector], Vector],
    root: Matrix,
    rng: np.random.Generator,
) -> tuple[dict[Source, Vector], Vector]:
    """Draw a cause and split the covariance of all values into independent sources.

    The mean change is given too: what noise of this kind does to the values on the whole.
    """
    draws = rng.standard_normal((DRAWS, root.shape[1]))
    changes = np.array([change(root @ draw) for draw in draws])
    covariance = changes.T @ changes / DRAWS
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    size, ways = np.linalg.eigh(covariance / np.outer(spread, spread))
    found = {}
    for number, k in enumerate(np.argsort(-size), start=1):
        if size[k] > 1e-6:
            source = Source(f"{name}/{number}", LABELS[name], "photo", key)
            found[source] = spread * ways[:, k] * np.sqrt(size[k])
    return found, changes.mean(axis=0)


def _measured(base: Vector, parts: dict[Source, Vector], solved: Solved, key: str) -> Measured:
    def quantity(k: int, unit: str) -> Quantity | None:
        if not np.isfinite(base[k]):
            return None
        number = measured(float(base[k]), {s: float(v[k]) for s, v in parts.items()})
        return Quantity.normal(number, unit)

    def certain(found: Quantity | None) -> Quantity:
        if found is None:
            raise AssertionError("a route always has a length")
        return found

    bends = tuple(
        Bend(quantity(k, "mm"), quantity(k + 1, "mm"), quantity(k + 2, "deg"))
        for k in range(6, len(base), 3)
    )
    u_od = 2 * float(np.sqrt(solved.covariance[-2, -2]))
    od = 2 * (solved.state.radius_mm - 0.1)
    own = Source("line diameter", "outside diameter of what the bands go round", "photo", key)
    return Measured(
        certain(quantity(0, "mm")), certain(quantity(1, "deg")), bends,
        quantity(2, "mm"), quantity(3, "deg"), quantity(4, "mm"), quantity(5, "mm"),
        Quantity.normal(measured(od, {own: u_od}), "mm"),
    )  # fmt: skip
