"""Fit arcs and straight lines to noisy points, with as few pieces as the noise allows.

Fixed knots every 20 mm come first; those that the points do not ask for are taken out one by one,
and the ones that stay slide to where they fit best.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.arcs import Arcs, DenseArcs, feet

__all__ = ["ArcFit", "fit_arcs"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Mask = NDArray[np.bool_]  # (N,)

FIRST_KNOTS_MM = 20.0  # the length over which the tightest radius is defined
LEAST_NOISE_MM = 0.02  # of a point; nobody's edges are better
LEAST_PIECE_MM = 4.0  # a shorter arc would be a fold of the tape
KEEP_KNOT = (
    12.0  # rise of chi-square that keeps a knot: about 2 ln N, as BIC counts its two unknowns
)
BENT = 3.0  # standard uncertainties of its curvature that make a piece bent
TRIES = 6  # knots tried before the rest is kept
HUBER = 2.5  # residuals beyond this many standard deviations are held back
MISFIT = 6.0  # local mean square over the noise's that calls for more knots
STEPS = 30
UNSEEN = 1e-9  # of a column's size: what the points tell less of stays
TOLD = 1e-6  # the same: all unknowns are told well enough to be solved one after the other


@dataclass(frozen=True, slots=True, eq=False)
class ArcFit:
    """The fitted curve and how well the points hold it.

    Attributes
    ----------
    arcs : Arcs
    at_mm : (N,) [mm]
        Arc length of each point's foot on the curve.
    residual_mm : (N,) [mm]
        Distance of each point, positive to the left.
    noise_mm : float [mm]
        Standard deviation of a point, widened for what neighbours have in common.
    root : (P, P)
        Square root of the covariance of start (to its left), heading, curvatures, inner knots.
    """

    arcs: Arcs
    at_mm: Vector
    residual_mm: Vector
    noise_mm: float
    root: Matrix

    def moved(self, column: int, share: float) -> Arcs:
        """Give the curve moved by a share of one independent standard uncertainty."""
        return _moved(self.arcs, share * self.root[:, column])


def fit_arcs(points_mm: Points2, weight: Vector, wobble_mm: float) -> ArcFit:
    """Fit arcs and lines to points in their order along the line.

    Parameters
    ----------
    points_mm : (N, 2) [mm]
        At least 8, roughly evenly spaced.
    weight : (N,) [1]
        0 leaves a point out.
    wobble_mm : float [mm]
        Waves of a hand's breadth or less and this standard deviation are no bends.

    Returns
    -------
    ArcFit
    """
    data = _Data(points_mm, weight)
    state = _settled(data, _start(points_mm), slide=False)
    spacing_mm = state.arcs.knots_mm[-1] / len(points_mm)
    wobble_mm *= np.sqrt(max(1.0, FIRST_KNOTS_MM / spacing_mm))
    for _ in range(2):
        split = _split(data, state, float(np.hypot(_noise(data, state), wobble_mm)))
        if split is state:
            break
        state = _settled(data, split, slide=False)
    noise_mm = max(_noise(data, state), LEAST_NOISE_MM) * _likeness(state.residual(data))
    choosy = data.scaled(state, float(np.hypot(noise_mm, wobble_mm)))
    state = _settled(data, _pruned(choosy, state), slide=True)
    choosy = data.scaled(state, float(np.hypot(noise_mm, wobble_mm)))
    state = _straightened(choosy, _thinned(choosy, state))
    noise_mm = max(_noise(data, state), LEAST_NOISE_MM) * _likeness(state.residual(data))
    return _report(data.scaled(state, noise_mm), state, noise_mm)


@dataclass(frozen=True, slots=True, eq=False)
class _Data:
    """The points, and the root of what each counts for."""

    points_mm: Points2
    weight: Vector

    def scaled(self, state: "_State", noise_mm: float) -> "_Data":
        """Weights as Huber has them, so that squares are counted in units of the noise."""
        residual = np.abs(state.residual(self))
        huber = np.minimum(1.0, HUBER * noise_mm / np.maximum(residual, 1e-9))
        return _Data(self.points_mm, self.weight * huber / noise_mm**2)


class _State:
    """A curve with each point's foot on it."""

    def __init__(
        self, arcs: Arcs, data_points_mm: Points2, at_mm: Vector, straight: Mask | None = None
    ) -> None:
        self.arcs = arcs
        self.straight = straight  # pieces that are to stay straight
        self.dense = DenseArcs(arcs)
        self.at_mm = feet(self.dense, data_points_mm, at_mm, rounds=2)
        heading = arcs.headings(self.at_mm)
        self.normal = np.column_stack((-np.sin(heading), np.cos(heading)))
        away = data_points_mm - self.dense.at(self.at_mm)
        across = np.sum(away * self.normal, axis=1)
        at, dense = self.at_mm, self.dense.at_mm
        lost = (at <= dense[0]) | (at >= dense[-1])  # no foot: all of the distance counts
        self._residual: Vector = np.where(lost, np.hypot(away[:, 0], away[:, 1]), across)

    def residual(self, data: _Data) -> Vector:
        """Distance of each point, positive to the left, but for those that are left out."""
        return np.where(data.weight > 0, self._residual, 0.0)

    def jacobian(self, slide: bool) -> Matrix:
        """Change of each foot's place along its left normal with every parameter, (N, P)."""
        knots, curvature = self.arcs.knots_mm, self.arcs.curvature_per_mm
        middle = self.dense.middle_mm
        turn = np.clip(middle[:, None] - knots[None, :-1], 0.0, np.diff(knots)[None])
        if slide:
            jump = (curvature[:-1] - curvature[1:])[None] * (middle[:, None] > knots[None, 1:-1])
            turn = np.hstack((turn, jump))
        if self.straight is not None:
            turn[:, : len(curvature)][:, self.straight] = 0.0
        turn = np.hstack((np.ones((len(middle), 1)), turn))
        start = self.normal @ _left(self.arcs.heading_rad)
        return np.column_stack((start, self._shift(turn)))

    def _shift(self, turn: Matrix) -> Matrix:
        """Movement along the normals at the feet when the small steps turn, (N, P)."""
        dense, steps = self.dense, self.dense.steps
        places = np.append(self.at_mm, self.arcs.knots_mm[0])
        index = dense.step_of(places)
        rest = ((places - dense.at_mm[index]) / dense.step_mm[index])[:, None]
        result = np.zeros((len(self.at_mm), turn.shape[1]))
        for k, left in enumerate((-steps[:, 1], steps[:, 0])):
            change = left[:, None] * turn
            moved = np.cumsum(change, axis=0) - change
            at_place = moved[index] + rest * change[index]
            result += self.normal[:, k, None] * (at_place[:-1] - at_place[-1])
        return result


def _start(points_mm: Points2) -> _State:
    """Headings of a lightly smoothed chain of points give the first curvatures."""
    at_mm = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points_mm, axis=0).T))))
    pieces = max(1, round(at_mm[-1] / FIRST_KNOTS_MM))
    knots = np.linspace(0.0, at_mm[-1], pieces + 1)
    ends = np.column_stack([np.interp(knots, at_mm, _smooth(points_mm[:, k])) for k in range(2)])
    chords = np.diff(ends, axis=0)
    heading = np.unwrap(np.arctan2(chords[:, 1], chords[:, 0]))
    at_knots = np.interp(knots, 0.5 * (knots[1:] + knots[:-1]), heading)
    curvature = np.diff(at_knots) / np.diff(knots)
    return _State(Arcs(ends[0], float(at_knots[0]), knots, curvature), points_mm, at_mm)


def _smooth(values: Vector) -> Vector:
    """Running mean of five that keeps the ends' line."""
    before, after = 2 * values[0] - values[2:0:-1], 2 * values[-1] - values[-2:-4:-1]
    padded = np.concatenate((before, values, after))
    result: Vector = np.convolve(padded, np.full(5, 0.2), mode="valid")
    return result


def _left(heading_rad: float) -> Vector:
    return np.array([-np.sin(heading_rad), np.cos(heading_rad)])


def _moved(arcs: Arcs, change: Vector) -> Arcs:
    """Add a change of start (to its left), heading, curvatures and perhaps inner knots.

    The start does not slide along the curve, or a straight first piece would let it run away.
    """
    pieces = len(arcs.curvature_per_mm)
    knots = arcs.knots_mm.copy()
    if len(change) > 2 + pieces:
        knots[1:-1] += change[2 + pieces :]
        room = LEAST_PIECE_MM * np.arange(pieces + 1)
        knots[1:] = np.minimum(knots[1:], knots[-1] - room[-2::-1])
        knots = np.maximum.accumulate(knots - room) + room  # no piece gets shorter than allowed
    return Arcs(
        arcs.start_mm + change[0] * _left(arcs.heading_rad),
        arcs.heading_rad + float(change[1]),
        knots,
        arcs.curvature_per_mm + change[2 : 2 + pieces],
    )


def _settled(data: _Data, state: _State, *, slide: bool) -> _State:
    """Fit with weights renewed after each run."""
    for _ in range(3):
        residual = state.residual(data)
        noise_mm = 1.4826 * float(np.median(np.abs(residual[data.weight > 0]))) + 1e-6
        state = _descended(data.scaled(state, noise_mm), state, slide=slide)
    return state


def _descended(data: _Data, state: _State, *, slide: bool) -> _State:
    """Lower the weighted squares by Levenberg and Marquardt's steps until they stand still."""
    root, damping = np.sqrt(data.weight), 1e-6
    residual, design = root * state.residual(data), root[:, None] * state.jacobian(slide)
    for _ in range(STEPS):
        change = _solved(design, residual, damping)
        damping *= 10
        moved = _moved(state.arcs, change)
        trial = _State(moved, data.points_mm, state.at_mm, state.straight)
        rest = root * trial.residual(data)
        gain = 1.0 - (rest @ rest) / (residual @ residual + 1e-12)
        if gain < 0:
            continue
        state, residual, design = trial, rest, root[:, None] * trial.jacobian(slide)
        damping *= 0.03
        if gain < 1e-4:
            break
    return state


def _solved(design: Matrix, target: Vector, damping: float = 0.0) -> Vector:
    """Least squares in scaled columns; directions that the points do not see stay."""
    scale = np.sqrt(np.sum(design**2, axis=0))
    scale[scale == 0] = 1.0
    unknowns = design.shape[1]
    kept = np.sqrt(damping + UNSEEN**2) * np.eye(unknowns, unknowns + 1)
    told = np.column_stack((design / scale, target))
    reduced = np.asarray(np.linalg.qr(np.vstack((told, kept)), mode="r"))[:unknowns]
    result: Vector = np.linalg.solve(reduced[:, :-1], reduced[:, -1]) / scale
    return result


def _noise(data: _Data, state: _State) -> float:
    """Robust standard deviation of a point, unknowns allowed for."""
    residual = state.residual(data)[data.weight > 0]
    free = max(4, len(residual) - len(state.arcs.knots_mm) - 2)
    return 1.4826 * float(np.median(np.abs(residual)) * np.sqrt(len(residual) / free))


def _likeness(residual: Vector) -> float:
    """Root of the sum of a residual's correlations with its neighbours, at least 1."""
    clipped = np.clip(residual, *np.quantile(residual, (0.02, 0.98)))
    power = float(np.mean(clipped**2)) + 1e-12
    total = 1.0
    for lag in range(1, 6):
        share = float(np.mean(clipped[lag:] * clipped[:-lag])) / power
        if share < 0.1:
            break
        total += 2 * share
    return float(np.sqrt(total))


def _split(data: _Data, state: _State, noise_mm: float) -> _State:
    """Halve the pieces where several neighbours lie off the curve; the same state if none does."""
    knots = state.arcs.knots_mm
    square = np.convolve(state.residual(data) ** 2, np.full(5, 0.2), mode="same") / noise_mm**2
    bad = np.unique(np.searchsorted(knots, state.at_mm[square > MISFIT]) - 1)
    bad = np.unique(np.clip(np.concatenate((bad - 1, bad, bad + 1)), 0, len(knots) - 2))
    bad = bad[np.diff(knots)[bad] >= 2 * LEAST_PIECE_MM]
    if not np.any(square > MISFIT) or not len(bad):
        return state
    middle = 0.5 * (knots[bad] + knots[bad + 1])
    curvature = np.insert(state.arcs.curvature_per_mm, bad, state.arcs.curvature_per_mm[bad])
    arcs = Arcs(
        state.arcs.start_mm, state.arcs.heading_rad, np.insert(knots, bad + 1, middle), curvature
    )
    return _State(arcs, data.points_mm, state.at_mm)


class _Linear:
    """The least-squares problem in absolute curvatures, in which pieces can be joined."""

    def __init__(self, data: _Data, state: _State) -> None:
        root = np.sqrt(data.weight)
        design = root[:, None] * state.jacobian(slide=False)
        target = root * state.residual(data) + design[:, 2:] @ state.arcs.curvature_per_mm
        self.arcs = state.arcs
        self._reduce(design, target)

    def _reduce(self, design: Matrix, target: Vector) -> None:
        """Keep an equal problem with as many rows as unknowns."""
        q, self.design = np.linalg.qr(design)
        self.target = q.T @ target

    def cost_of_joining(self) -> Vector:
        """Rise of the squares if two neighbouring pieces were one, for each inner knot."""
        inverse = self._inverse()
        variance = np.sum(np.diff(inverse[2:], axis=0) ** 2, axis=1)
        jump = np.diff((inverse @ self.target)[2:])
        result: Vector = jump**2 / np.maximum(variance, 1e-30)
        return result

    def curvature_u(self) -> Vector:
        """Standard uncertainty of each piece's curvature, (K,) [1/mm]."""
        return np.asarray(np.sqrt(np.sum(self._inverse()[2:] ** 2, axis=1)))

    def _inverse(self) -> Matrix:
        """From the reduced residuals to the unknowns; what the points do not tell stays."""
        scale = np.sqrt(np.sum(self.design**2, axis=0)) + 1e-12
        triangle = self.design / scale
        if np.min(np.abs(np.diag(triangle))) > TOLD and triangle.shape[0] == triangle.shape[1]:
            inverse = np.linalg.inv(triangle)
        else:
            inverse = np.linalg.pinv(triangle, rcond=UNSEEN)
        return np.asarray(inverse / scale[:, None])

    def join(self, knot: int) -> None:
        """Make one piece of the two beside an inner knot."""
        joined = np.delete(self.design, 2 + knot, axis=1)
        joined[:, 1 + knot] += self.design[:, 2 + knot]
        self._reduce(joined, self.target)
        knots, curvature = self.arcs.knots_mm, self.arcs.curvature_per_mm
        self.arcs = Arcs(
            self.arcs.start_mm,
            self.arcs.heading_rad,
            np.delete(knots, knot),
            np.delete(curvature, knot),
        )

    def solution(self) -> Arcs:
        """Give the best curve with the pieces that are left."""
        change = _solved(self.design, self.target)
        change[2:] -= self.arcs.curvature_per_mm
        return _moved(self.arcs, change)


def _pruned(data: _Data, state: _State) -> _State:
    """Join pieces as long as noise explains the difference."""
    linear = _Linear(data, state)
    while len(linear.arcs.knots_mm) > 2:
        cost = linear.cost_of_joining()
        knot = int(np.argmin(cost)) + 1
        if cost[knot - 1] > KEEP_KNOT:
            break
        linear.join(knot)
    return _State(linear.solution(), data.points_mm, state.at_mm)


def _thinned(data: _Data, state: _State) -> _State:
    """Take out knots for which the others, free to slide, can make up."""
    while len(state.arcs.knots_mm) > 2:
        squares = float(data.weight @ state.residual(data) ** 2)
        for knot in np.argsort(_Linear(data, state).cost_of_joining())[:TRIES] + 1:
            linear = _Linear(data, state)
            linear.join(int(knot))
            trial = _State(linear.solution(), data.points_mm, state.at_mm)
            trial = _descended(data, trial, slide=True)
            if float(data.weight @ trial.residual(data) ** 2) - squares < KEEP_KNOT:
                state = trial
                break
        else:
            break
    return state


def _straightened(data: _Data, state: _State) -> _State:
    """Make pieces straight whose curvature noise explains."""
    linear = _Linear(data, state)
    straight = np.abs(state.arcs.curvature_per_mm) < BENT * linear.curvature_u()
    linear.design[:, 2:][:, straight] = 0.0
    trial = _State(linear.solution(), data.points_mm, state.at_mm, straight)
    trial = _descended(data, trial, slide=True)
    rise = data.weight @ (trial.residual(data) ** 2 - state.residual(data) ** 2)
    return trial if rise < KEEP_KNOT * max(1, int(straight.sum())) else state


def _report(data: _Data, state: _State, noise_mm: float) -> ArcFit:
    """Add the covariance; a knot between like pieces is known no better than where it began."""
    pieces = len(state.arcs.curvature_per_mm)
    design = np.sqrt(data.weight)[:, None] * state.jacobian(slide=True)
    held = np.zeros((pieces - 1, design.shape[1]))
    held[:, 2 + pieces :] = np.eye(pieces - 1) / FIRST_KNOTS_MM
    design = np.vstack((design, held))
    scale = np.sqrt(np.sum(design**2, axis=0))
    free = scale > 0
    _, values, directions = np.linalg.svd(design[:, free] / scale[free], full_matrices=False)
    root = np.zeros((design.shape[1], len(values)))
    root[free] = (directions.T / np.maximum(values, 1e-7)) / scale[free, None]
    return ArcFit(state.arcs, state.at_mm, state.residual(data), noise_mm, root)
