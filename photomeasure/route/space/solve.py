"""Least squares over everything, with priors, robust, and its covariance."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Source
from photomeasure.route.space.model import LENS, POSE, Points, State, predict
from photomeasure.route.space.see import Shot
from photomeasure.scene.scale import PageScale

__all__ = ["Known", "Solved", "solve"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

LENS_DRIFT = (0.004, 0.001, 0.001, 0.002, 0.002)  # between photos; first three relative to f
SKEW_U = 0.01  # rad: how slantwise a band is wrapped by hand; common practice, no source
BEND_U = (0.012, 0.012)  # 1/mm: of hoses bent to 80 mm
KNOWN_BEND_U = 0.003  # 1/mm: of the curve through all bands, at one of them
GIVE, GIVE_U = 0.5, 0.5  # paper in a bend: own estimate
FIXED_U = 1e-5  # rad or mm: the object that carries the world frame
LOOSE_U = (0.5, 0.5, 0.5, 50.0, 50.0, 50.0)  # rad and mm
HUBER = 2.0
FALSE = 4.0  # times Huber's limit: beyond, a point is no longer believed
STEPS = 25
CONVERGED = 1e-4
LARGEST_GROWTH = 50.0


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is known beside the photos.

    Attributes
    ----------
    shots : sequence of Shot
    scales : sequence of PageScale
        Of each print.
    radius_mm, radius_u_mm : float
        Of the bands' outer face.
    distances_mm : (P,)
        Camera to objects, roughly.
    bend : (O, 2) or None
        How the hose bends under each band, along the object's x and y [1/mm], not a number where
        nothing is known.
    """

    shots: Sequence[Shot]
    scales: Sequence[PageScale]
    radius_mm: float
    radius_u_mm: float
    distances_mm: Vector
    bend: Matrix | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The least-squares answer.

    Attributes
    ----------
    state : State
    residuals_px : (N, 2)
        Seen minus predicted.
    covariance : (M, M)
    shifts : tuple of (Source, (M,))
        For each print scale: how a standard uncertainty of it moves all unknowns.
    """

    state: State
    residuals_px: Matrix
    covariance: Matrix
    shifts: tuple[tuple[Source, Vector], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Priors:
    rows: Matrix
    mean: Vector
    sources: dict[int, Source]


def solve(state: State, points: Points, known: Known, *, is_near: bool = False) -> Solved:
    """Gauss-Newton with Huber weights; noise grows to the residuals that are met.

    Parameters
    ----------
    state : State
        Close by.
    points : Points
    known : Known
    is_near : bool
        The state is good to a pixel or so: points far off are false.

    Returns
    -------
    Solved
    """
    priors = _priors(state, known)
    hessian = np.eye(state.size)
    damp = 1e-6
    cost = _cost(state, points, priors)
    for _ in range(STEPS):
        px, slopes, columns = predict(state, points)
        residual = px - points.px
        weight = _weights(residual, points, is_near=is_near)
        hessian, gradient = _normal(state.size, slopes, columns, residual, weight)
        hessian += priors.rows.T @ priors.rows
        gradient += priors.rows.T @ (priors.rows @ state.values() - priors.mean)
        while True:
            damped = hessian + damp * np.diag(np.diag(hessian))
            step = np.asarray(-np.linalg.solve(damped, gradient), dtype=np.float64)
            tried = state.moved(step)
            new = _cost(tried, points, priors)
            if new <= cost * (1 + 1e-9) or damp > 1e3:
                break
            damp = max(damp, 1e-5) * 10
        state, cost, damp = tried, min(new, cost), max(damp / 10, 1e-9)
        if float(step @ hessian @ step) < CONVERGED:
            break
    px, _, _ = predict(state, points, slopes=False)
    covariance = np.asarray(np.linalg.inv(hessian), dtype=np.float64)
    shifts = [(source, covariance @ priors.rows[row]) for row, source in priors.sources.items()]
    return Solved(state, points.px - px, covariance, tuple(shifts))


def _cost(state: State, points: Points, priors: _Priors) -> float:
    """Huber's sum at the noise as it is said: for comparing steps."""
    px, _, _ = predict(state, points, slopes=False)
    size = np.hypot(*(px - points.px).T) / (3 * points.noise_px)
    rest = priors.rows @ state.values() - priors.mean
    return float(9 * np.sum(np.where(size < 1, size**2, 2 * size - 1)) + rest @ rest)


def _weights(residual_px: Matrix, points: Points, *, is_near: bool) -> Vector:
    """Weight of each point: its own noise, grown to its photo's and kind's residuals."""
    size = np.abs(residual_px) / points.noise_px[:, None]
    growth = np.ones(len(size))
    for group in np.unique(points.photo):
        own = points.photo == group
        usual = 1.4826 * float(np.median(size[own]))
        growth[own] = min(max(1.0, usual), LARGEST_GROWTH)
    excess = np.hypot(*(size / growth[:, None]).T) / HUBER
    weight = 1 / (points.noise_px * growth) ** 2 / np.maximum(1.0, excess)
    return np.asarray(np.where(is_near & (excess > FALSE), 0.0, weight))


def _normal(
    size: int, slopes: Matrix, columns: NDArray[np.int64], residual: Matrix, weight: Vector
) -> tuple[Matrix, Vector]:
    weighted = slopes * weight[:, None, None]
    blocks = np.einsum("nki,nkj->nij", weighted, slopes)
    at = columns[:, :, None] * size + columns[:, None, :]
    hessian = np.bincount(at.ravel(), blocks.ravel(), minlength=size * size).astype(np.float64)
    right = np.einsum("nki,nk->ni", weighted, residual)
    gradient = np.bincount(columns.ravel(), right.ravel(), minlength=size).astype(np.float64)
    return hessian.reshape(size, size), gradient


def _priors(state: State, known: Known) -> _Priors:
    rows: list[Matrix] = []
    means: list[Vector] = []
    sources: dict[int, Source] = {}

    def add(first: int, root_inverse: Matrix, mean: Vector) -> None:
        block = np.zeros((len(root_inverse), state.size))
        block[:, first : first + root_inverse.shape[1]] = root_inverse
        rows.append(block)
        means.append(root_inverse @ mean)

    for row, scale in enumerate(known.scales):
        begin = sum(len(mean) for mean in means)
        sources |= {begin: scale.sources[0], begin + 1: scale.sources[1]}
        add(state.scale_slot(row), np.asarray(np.linalg.inv(scale.root)), scale.mean)
    for photo in range(len(known.shots)):
        block, mean = _lens_rows(state, known, photo)
        rows.append(block)
        means.append(mean)
    add(state.thing_slot(0), np.eye(POSE) / FIXED_U, np.zeros(POSE))
    for thing in range(1, len(state.skew)):  # a thing that hardly shows stays near where it is
        add(state.thing_slot(thing), np.diag(1 / np.array(LOOSE_U)), np.zeros(POSE))
    for thing in range(len(state.skew)):
        mean, u = np.zeros(3), np.array([SKEW_U, *BEND_U])
        if known.bend is not None and np.all(np.isfinite(known.bend[thing])):
            mean[1:], u[1:] = known.bend[thing], KNOWN_BEND_U
        add(state.thing_slot(thing) + POSE, np.diag(1 / u), mean)
    last = 1 / np.array([known.radius_u_mm, GIVE_U])
    add(state.size - 2, np.diag(last), np.array([known.radius_mm, GIVE]))
    return _Priors(np.concatenate(rows), np.concatenate(means), sources)


def _lens_rows(state: State, known: Known, photo: int) -> tuple[Matrix, Vector]:
    """Tie a lens to what its file says, or to the first photo taken with the same lens."""
    shot = known.shots[photo]
    same = (k for k, other in enumerate(known.shots) if _same_lens(other, shot))
    twin = next(same)
    rows = np.zeros((LENS, state.size))
    own = state.photo_slot(photo) + np.arange(LENS)
    mean = np.array(_lens_mean(shot, float(known.distances_mm[photo])))
    if twin == photo:
        u = np.array(shot.lens.u)
        rows[range(LENS), own] = 1 / u
        return rows, mean / u
    u = np.array(LENS_DRIFT) * np.array([mean[0]] * 3 + [1.0] * 2)
    rows[range(LENS), own] = 1 / u
    rows[range(LENS), state.photo_slot(twin) + np.arange(LENS)] = -1 / u
    return rows, np.zeros(LENS)


def _lens_mean(shot: Shot, distance_mm: float) -> tuple[float, float, float, float, float]:
    """Principal distance grows with near focus (thin lens)."""
    camera = shot.lens.camera
    grown = (1 + shot.focal_mm / distance_mm) / (1 + shot.focal_mm / 600.0)
    return camera.focal_px * grown, camera.centre_x_px, camera.centre_y_px, camera.k1, camera.k2


def _same_lens(one: Shot, other: Shot) -> bool:
    return one.lens_key == other.lens_key and one.size_px == other.size_px
