"""What the curve through the good bands tells of the others: where they are, how the hose bends."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, rays
from photomeasure.route.space.alone import best_alone, misfit
from photomeasure.route.space.chain import Chain
from photomeasure.route.space.chainfit import ChainFit
from photomeasure.route.space.course import Course
from photomeasure.route.space.model import PAPER_MM, Points, State
from photomeasure.route.space.solve import Known, Solved, solve

__all__ = ["bends_of", "hung_on", "mixed", "righted"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

ODD = 5.0  # standard uncertainties off the curve: such a band may be solved falsely
GROSS, MOST_GROSS = 10.0, 0.15  # standard uncertainties of a point, and share of a band's points
MUCH_BETTER = 0.7  # of the misfit, from which another pose is believed
BEYOND_MM = 130.0  # past the outer bands that are sure
FARTHEST_MM = 8.0  # of a marker's ray from the hose's face, to take it for that hose's


def hung_on(state: State, marks: Points, poor: list[int], chain: Chain, sense: float) -> State:
    """Put bands that are poorly known where their markers' rays meet the hose.

    Parameters
    ----------
    state : State
    marks : Points
        Corners of markers as read, four after four.
    poor : list of int
        Rows of the bands.
    chain : Chain
        Through the others.
    sense : float
        1 if arrows point along the chain, -1 if against it.

    Returns
    -------
    State
    """
    poses, shifts = state.thing_turn.copy(), state.thing_shift.copy()
    at = np.arange(-BEYOND_MM, chain.length_mm + BEYOND_MM, 1.0)
    axis, frames = chain.at(at)
    for row in poor:
        own = np.flatnonzero(marks.thing == row).reshape(-1, 4)
        best = np.inf
        for corners in own:
            met = _met(state, marks, corners, axis)
            if met is None or met[0] >= best:
                continue
            best, (k, point) = met[0], met[1]
            way = sense * frames[k, 0]
            nominal = marks.nominal[corners].mean(axis=0) * state.scale[state.print_row[row]]
            poses[row], shifts[row] = _band_at(state.radius_mm, axis[k], way, (point, nominal))
    bend = state.bend.copy()
    bend[poor], skew = 0.0, state.skew.copy()
    skew[poor] = 0.0
    return replace(state, thing_turn=poses, thing_shift=shifts, bend=bend, skew=skew)


def mixed(state: State, other: State, rows: NDArray[np.int64]) -> State:
    """A state with some things as another has them.

    Parameters
    ----------
    state, other : State
    rows : (N,)
        Of the things.

    Returns
    -------
    State
    """
    names = ("thing_turn", "thing_shift", "skew", "bend")
    own = {name: getattr(state, name).copy() for name in names}
    for name in names:
        own[name][rows] = getattr(other, name)[rows]
    return replace(state, **own)


def _met(
    state: State, marks: Points, corners: NDArray[np.int64], axis: Matrix
) -> tuple[float, tuple[int, Vector]] | None:
    """Where the ray through a marker's middle meets the hose: how far off, which place, point."""
    photo = int(marks.photo[corners[0]])
    camera = Camera(*(float(v) for v in state.lens[photo]))
    ray = rays(camera, marks.px[corners].mean(axis=0)[None])[0] @ state.turn[photo]
    ray /= np.linalg.norm(ray)
    eye = -state.turn[photo].T @ state.shift[photo]
    along = (axis - eye) @ ray
    away = np.linalg.norm(axis - eye - along[:, None] * ray, axis=1)
    miss = np.maximum(away - state.radius_mm, 0.0) + 1e-3 * along  # of two crossings the nearer
    k = int(np.argmin(np.where(along > 0, miss, np.inf)))
    if away[k] > state.radius_mm + FARTHEST_MM:
        return None
    depth = float(along[k] - np.sqrt(max(state.radius_mm**2 - away[k] ** 2, 0.0)))
    return float(away[k]), (k, eye + depth * ray)


def _band_at(
    radius_mm: float, centre: Vector, way: Vector, seen: tuple[Vector, Vector]
) -> tuple[Matrix, Vector]:
    """Pose of a band on a straight hose from one point of it: world from object."""
    point, (u, v) = seen
    out = point - centre - ((point - centre) @ way) * way
    out /= np.linalg.norm(out)
    angle = u / (radius_mm - PAPER_MM / 2)
    x = np.cos(angle) * out + np.sin(angle) * np.cross(way, out)
    middle = centre + ((point - centre) @ way - v) * way
    return np.column_stack([x, np.cross(way, x), way]), middle


def bends_of(state: State, rows: list[int], fit: ChainFit) -> Matrix:
    """How the fitted curve bends under each band.

    Parameters
    ----------
    state : State
    rows : list of int
        Of the bands.
    fit : ChainFit

    Returns
    -------
    (B, 2) [1/mm]
        Along each band's own x and y.
    """
    curvature = fit.chain.curvature
    near = [curvature[max(0, k - 1) : k + 2].mean(axis=0) for k in fit.chain.link_of(fit.at_mm)]
    world = np.einsum("nk,nki->ni", np.array(near), fit.frames[:, 1:])
    turn = state.thing_turn[rows]
    return np.stack(
        [np.sum(world * turn[:, :, 0], axis=1), np.sum(world * turn[:, :, 1], axis=1)], axis=1
    )


def righted(solved: Solved, points: Points, known: Known, course: Course) -> Solved | None:
    """Solve again with bands that do not fit their neighbours put where they fit their points best.

    Parameters
    ----------
    solved : Solved
    points : Points
        All that was solved from.
    known : Known
    course : Course
        Its curve.

    Returns
    -------
    Solved or None
        None where no band is odd, or where the points do not fit better so.
    """
    state = solved.state
    odd = [course.rows[k] for k in np.flatnonzero(_odd(solved, points, course))]
    for row in odd:
        state = best_alone(state, points.of(points.thing == row), row)
    own = points.of(np.isin(points.thing, odd))
    if not odd or misfit(state, own) > MUCH_BETTER * misfit(solved.state, own):
        return None
    found = solve(state, points, known, is_near=True)
    return found if misfit(found.state, own) < misfit(solved.state, own) else None


def _odd(solved: Solved, points: Points, course: Course) -> NDArray[np.bool_]:
    """Which bands lie off the curve, or have several points far off where they should be."""
    odd = np.abs(course.fit.residuals).max(axis=1) > ODD
    gross = np.hypot(*solved.residuals_px.T) / points.noise_px > GROSS
    for k, row in enumerate(course.rows):
        odd[k] |= float(np.mean(gross[points.thing == row])) > MOST_GROSS
    return np.asarray(odd)
