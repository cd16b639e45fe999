"""How the measured values change with what they rest on."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chainfit import fit_chain, moved
from photomeasure.route.space.course import WRAP, Course, ends_of
from photomeasure.route.space.model import State, Thing
from photomeasure.route.space.sides import Sides, shifted_mm
from photomeasure.route.space.solve import Solved
from photomeasure.route.space.values import Ends, Values, least_radius_mm, values

__all__ = ["DRAWS", "Moved", "Variation", "doubted", "root_of"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

EDGE_MM = 0.1  # how well a band's edge is cut; own estimate
DRAWS = 64
RADIUS_U = 0.04  # of a radius: shapes that no such rule knows; drawn routes
GAP_MM = 60.0  # between bands; the print asks for 50 in bends
POOR_RAD = 0.05  # doubt of a band's direction, beyond which it does not hold the curve
LEAST_GOOD = 2
LOOSE_SHARE = 0.3  # of what the rule's own prices leave open; drawn routes
LEAST_GAP = 0.45  # of that, where sides hold the curve
HOLD_MM, HOLD_U_MM = 12.0, 0.4
LARGEST_CHANGE = 0.2  # of a value by another rule: beyond, the bend itself was lost
ALIKE_MM = 40.0  # along which the errors of a hose's sides are alike in a photo; own estimate


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

    def away(self, points: Matrix) -> Matrix:
        """Take points where it was to the moved world, (N, 3) [mm]."""
        return np.asarray((points - self.back) @ self.turn / self.scale + self.middle)


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
        ends = ends_of(now.state, self.things, course.rows, course.flips, course.cards)
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

    def moved_at_state(self, step: Vector) -> Moved:
        """Give the solve and the curve's step if the unknowns of the joint solve move."""
        state, course = self.state.moved(step), self.course
        rows = list(course.rows)
        alike = likeness(state.thing_shift[rows], self.state.thing_shift[rows])
        now = Moved(state, *alike, np.empty(0))
        points = now.home(state.thing_shift[rows])
        ways = (state.thing_turn[rows][:, :, 2] * course.flips[:, None]) @ now.turn.T
        bands = self._bands(points, ways).ravel()
        beside = self.sides_at(now)
        return replace(now, step=course.fit.gain @ np.concatenate([bands, beside]))

    def sides_at(self, now: Moved) -> Vector:
        """How much further off the hose's sides are seen, (K,) [mm]."""
        sides = self.course.fit.sides
        return shifted_mm(self.state, sides, now.state, now.away(sides.points))

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
        ways = self.state.thing_turn[list(course.rows)][[0, -1]][:, :, 2]
        edges = course.ends.edges + (draw[-2:] * EDGE_MM)[:, None] * ways
        ends = Ends(edges, course.ends.near_mm, course.ends.card_axes, course.ends.card_middles)
        return self._change(self.step_at_wrap(draw[:-2]), ends)

    def step_at_wrap(self, draw: Vector) -> Vector:
        """Step of the chain if bands sit a little off the hose: standard normals (4 B)."""
        us = np.tile(WRAP, len(self.course.rows))
        return np.asarray(self.course.fit.gain[:, : len(us)] @ (us * draw))

    def at_sides(self, draw: Vector) -> Vector:
        """Change if the hose's sides are seen a little off: standard normals (K)."""
        return self._change(self.step_at_sides(draw), self.course.ends)

    def step_at_sides(self, draw: Vector) -> Vector:
        """Step of the chain if the hose's sides are seen a little off: standard normals (K)."""
        gain = self.course.fit.gain[:, 4 * len(self.course.rows) :]
        return np.asarray(gain @ (self._sides_root @ draw))

    @cached_property
    def _sides_root(self) -> Matrix:
        return _root(self.course.fit.sides)

    def at_curve(self, draw: Vector) -> Vector:
        """Change if the curve between the bands is another that is as likely."""
        return self._change(self.step_at_curve(draw), self.course.ends)

    def step_at_curve(self, draw: Vector) -> Vector:
        """Step of the chain to another curve that is as likely: standard normals (R)."""
        return np.asarray(LOOSE_SHARE * self.course.fit.loose @ draw)

    def drift_mm(self, od_mm: float) -> float:
        """How much tighter the tightest place comes out for the noise that the fit leaves.

        Of many places that are about as tight the one is taken where noise bends most.
        """
        fit, rng = self.course.fit, np.random.default_rng(1)
        counts = (4 * len(self.course.rows), len(fit.sides.photo), fit.loose.shape[1])
        home, found = least_radius_mm(fit.chain, self.course.ends, od_mm), list[float]()
        for _ in range(DRAWS // 2):
            wrap, seen, loose = (rng.standard_normal(count) for count in counts)
            step = self.step_at_wrap(wrap) + self.step_at_sides(seen) + self.step_at_curve(loose)
            found.append(least_radius_mm(moved(fit.chain, step), self.course.ends, od_mm) - home)
        drift = float(np.mean(found))
        return drift if np.isfinite(drift) else 0.0

    def at_rule(self, times: float) -> Vector:
        """Change if changes of the curvature cost some times as much."""
        course, own = self.course, self.course.fit
        fit = fit_chain(course.bands, times * own.price_mm, own.sides, own.chain)
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
        change[radii] = RADIUS_U * np.maximum(LEAST_GAP, self._gaps(places) / GAP_MM) * base[radii]
        return change

    def _gaps(self, places_mm: Vector) -> Vector:
        """How far what holds the curve before and after some places is apart [mm].

        Bands whose direction is poorly known do not hold it, nor sides seen one way only.
        """
        course = self.course
        start = course.fit.chain.feet(course.ends.edges, course.ends.near_mm)[0]
        lean = np.sqrt(np.trace(course.bands.covariance[:, 3:, 3:], axis1=1, axis2=2))
        good = np.sort(np.concatenate([course.fit.at_mm[lean < POOR_RAD], self._held()])) - start
        if len(good) < LEAST_GOOD:
            return np.full(len(places_mm), self.base[0])
        after = np.clip(np.searchsorted(good, places_mm), 1, len(good) - 1)
        return np.asarray(good[after] - good[after - 1])

    def _held(self) -> Vector:
        """Places where sides hold the curve both ways across [mm]."""
        sides, chain = self.course.fit.sides, self.course.fit.chain
        middles = np.arange(0.5 * HOLD_MM, chain.length_mm, HOLD_MM)
        flat = np.einsum("nki,ni->nk", chain.at(sides.at_mm)[1][:, 1:], sides.across)
        normal = flat[:, :, None] * flat[:, None, :] / (sides.u_mm**2)[:, None, None]
        place = np.floor(sides.at_mm / HOLD_MM).astype(int)
        total = np.zeros((len(middles), 2, 2))
        known = (place >= 0) & (place < len(middles))
        np.add.at(total, place[known], normal[known])
        return np.asarray(middles[np.linalg.eigvalsh(total)[:, 0] > 1 / HOLD_U_MM**2])

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


def _root(sides: Sides) -> Matrix:
    """Matrix whose square is the covariance of how far off the sides are seen, (K, K)."""
    apart = np.abs(sides.at_mm[:, None] - sides.at_mm)
    alike = np.exp(-apart / ALIKE_MM) * (sides.photo[:, None] == sides.photo)
    root = np.linalg.cholesky(alike + 1e-9 * np.eye(len(apart)))
    return np.asarray(sides.u_mm[:, None] * root)


def doubted(vary: Variation, covariance: Matrix, sides: Sides) -> Sides:
    """Trust sides less where the solve leaves open how a photo lies to the bands.

    Parameters
    ----------
    vary : Variation
        Of the curve through the bands alone.
    covariance : (M, M)
        Of the solve's unknowns.
    sides : Sides

    Returns
    -------
    Sides
    """
    root, rng, chain = root_of(covariance), np.random.default_rng(0), vary.course.fit.chain
    home, drift = chain.at(sides.at_mm)[0], np.zeros(len(sides.photo))
    for _ in range(DRAWS):
        now = vary.moved_at_state(root @ rng.standard_normal(root.shape[1]))
        by_photo = shifted_mm(vary.state, sides, now.state, now.away(sides.points))
        by_bands = moved(chain, now.step).at(sides.at_mm)[0] - home
        drift += (by_photo - np.sum(by_bands * sides.across, axis=1)) ** 2 / DRAWS
    return replace(sides, u_mm=np.sqrt(sides.u_mm**2 + drift))


def root_of(covariance: Matrix) -> Matrix:
    """Matrix whose square is a covariance, (M, M)."""
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    size, ways = np.linalg.eigh(covariance / np.outer(spread, spread))
    return np.asarray(spread[:, None] * ways * np.sqrt(np.maximum(size, 0.0)))
