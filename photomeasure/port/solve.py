"""Mouth and thread together: one least-squares fit in pixels, with what is known beforehand."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.light import COMMON, LightCurve, curve_terms, wave_of
from photomeasure.port.points import CrestPoints
from photomeasure.scene import Scene

__all__ = ["BIASES", "PRIORS", "UNKNOWNS", "Biases", "Features", "Solution", "moved", "solve"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]
Curve = Callable[[Vector, Vector], Matrix]  # unknowns, angles
Seen = tuple[Vector, Points2]  # angles, pixels
Biases = tuple[float | Vector, float | Vector]  # of mouth and crest points [px]

UNKNOWNS = (
    *("mouth x", "mouth y", "mouth radius", "mouth depth"),
    *("off x", "off y", "lean x", "lean y"),
    *("radius", "narrowing", "first depth", "pitch"),
)
STEPS = (1e-3,) * 4 + (1e-3,) * 2 + (1e-4,) * 2 + (1e-3, 1e-4, 1e-3, 1e-4)
# Known beforehand: unknown, middle, standard uncertainty
PRIORS = (
    ("concentricity x", "off x", 0.0, 0.1),
    ("concentricity y", "off y", 0.0, 0.1),
    ("squareness x", "lean x", 0.0, float(np.radians(0.3))),
    ("squareness y", "lean y", 0.0, float(np.radians(0.3))),
)
NARROWING_U = 0.002  # of a parallel or a 1:16 thread, on the radius; a gauge allows about this
BIASES = {"mouth edge bias": 0.15, "crest edge bias": 0.15}  # px, outwards
# A mouth is opened to the roots at least: the crests lie so many pitches within it, or more
WITHIN_PITCHES, WITHIN_U_MM = 0.5, 0.1
OVER = np.array(
    [{"radius": 1.0, "mouth radius": -1.0, "pitch": WITHIN_PITCHES}.get(n, 0.0) for n in UNKNOWNS]
)
ITERATIONS = 8
CONVERGED = 1e-3
JOINED = (4.0, 6.0)  # neighbouring points of mouth and crests that err alike
HUBER = 1.3
LIGHT_PX = 0.3  # by which light shifts all turns' edges at one side
LEAST_SCATTER_PX = 0.08
ALONG = 1e-3  # rad, for the tangent


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """What was found in the picture; fixed pixels.

    Attributes
    ----------
    mouth_px : (M, 2)
    mouth_rad : (M,)
        Where round the mouth each point lies, about the sheet's x.
    crests : CrestPoints
    far_rad : float
        The far side's direction.
    hand : int
    depth_mm, depth_u_mm : float
        Of the mouth below the print's plane, known beforehand.
    narrowing : float
        Of the radius per mm of depth, as supposed: parallel or 1:16.
    """

    mouth_px: Points2
    mouth_rad: Vector
    crests: CrestPoints
    far_rad: float
    hand: int
    depth_mm: float
    depth_u_mm: float
    narrowing: float
    light: LightCurve

    @property
    def middle_turn(self) -> float:
        """The turn at which the radius is taken."""
        return float(np.mean(self.crests.turns))


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """The fit.

    Attributes
    ----------
    scene : Scene
    theta : (12,)
        In the order of `UNKNOWNS`; the radius is at the middle turn.
    covariance : (12, 12)
    prior_shifts : mapping
        Change of theta by one standard uncertainty of each prior.
    light_shifts : (12, K)
        Change of theta by one standard uncertainty of each term of the light's curve.
    light : (K,)
        The light's curve, by the terms of `curve_terms`.
    noise : (12, 12)
        Covariance by the points' scatter alone.
    scatter_px : (2,)
        Of mouth and crest points.
    misfit : float
        Of the points: minus twice the log likelihood, up to a constant.
    strain : float
        Of what is known beforehand, likewise.
    pull : tuple of (12, N)
        Change of theta by a pixel's change of every mouth and crest residual.
    """

    scene: Scene
    theta: Vector
    covariance: Matrix
    prior_shifts: dict[str, Vector]
    light_shifts: Matrix
    light: Vector
    noise: Matrix
    scatter_px: tuple[float, float]
    misfit: float
    strain: float
    pull: tuple[Matrix, Matrix]

    def value(self, name: str) -> float:
        """One unknown."""
        return float(self.theta[UNKNOWNS.index(name)])


def _index(name: str) -> int:
    return UNKNOWNS.index(name)


def _mouth_curve(theta: Vector, turns: Vector) -> Matrix:
    """Points of the mouth's rim; the first four unknowns are all that moves them."""
    x, y, radius, depth = theta[:4]
    return np.column_stack(
        [x + radius * np.cos(turns), y + radius * np.sin(turns), np.full_like(turns, -depth)]
    )


def _crest_curve(theta: Vector, features: Features, sides: Vector) -> Matrix:
    """Points of the crest lines at angles from the far side; depth is below the print."""
    x, y, _, mouth, off_x, off_y, lean_x, lean_y, radius, narrowing, first, pitch = theta
    turns = features.crests.turns - features.middle_turn
    below = turns * pitch - features.hand * pitch * sides / (2 * np.pi)  # from the middle turn
    depth = first + below
    size = radius - narrowing * below
    angle = features.far_rad + sides
    deep = depth - mouth
    return np.column_stack(
        [
            x + off_x + lean_x * deep + size * np.cos(angle),
            y + off_y + lean_y * deep + size * np.sin(angle),
            -depth,
        ]
    )


def _misses(
    scene: Scene, curve: Callable[[Vector], Matrix], angles: Vector, seen_px: Points2
) -> tuple[Vector, Vector, Matrix]:
    """Distance of points from a curve [px], outwards positive, where along it; outwards there."""
    here, tangent = _along(scene, curve, angles)
    along = np.sum((seen_px - here) * tangent, axis=1) / np.sum(tangent**2, axis=1)
    angles = angles + np.clip(along, -0.3, 0.3)
    here, tangent = _along(scene, curve, angles)
    # counter-clockwise in the sheet is clockwise in the picture: outwards is to the left
    outward = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    return np.sum((seen_px - here) * outward, axis=1), angles, outward


def _along(
    scene: Scene, curve: Callable[[Vector], Matrix], angles: Vector
) -> tuple[Points2, Points2]:
    """A curve's points in the picture [px], and its slopes there [px/rad]."""
    both = scene.px(np.concatenate([curve(angles), curve(angles + ALONG)]))
    here, ahead = both[: len(angles)], both[len(angles) :]
    return here, (ahead - here) / ALONG


def _curves(features: Features) -> tuple[Curve, Curve]:
    """Mouth and crest lines, by the unknowns and angles."""
    return _mouth_curve, lambda theta, sides: _crest_curve(theta, features, sides)


def _residuals(scene: Scene, features: Features, theta: Vector) -> tuple[Vector, Vector]:
    mouth, crest = (partial(curve, theta) for curve in _curves(features))
    return (
        _misses(scene, mouth, features.mouth_rad, features.mouth_px)[0],
        _misses(scene, crest, features.crests.sides_rad, features.crests.px)[0],
    )


def _slopes_of(scene: Scene, curve: Curve, theta: Vector, seen: Seen, columns: range) -> Matrix:
    """Of the distances by every unknown, (N, 12): a curve's way along itself does not count."""
    angles, seen_px = seen
    _, feet, outward = _misses(scene, partial(curve, theta), angles, seen_px)
    slopes = np.zeros((len(angles), len(theta)))
    for column in columns:
        step = STEPS[column]
        ahead, behind = theta.copy(), theta.copy()
        ahead[column] += step
        behind[column] -= step
        both = scene.px(np.concatenate([curve(ahead, feet), curve(behind, feet)]))
        moved_px = both[: len(feet)] - both[len(feet) :]
        slopes[:, column] = -np.sum(moved_px * outward, axis=1) / (2 * step)
    return slopes


def _priors(features: Features) -> list[tuple[str, int, float, float]]:
    known = [(name, _index(key), middle, u) for name, key, middle, u in PRIORS]
    depth = ("mouth depth", _index("mouth depth"), features.depth_mm, features.depth_u_mm)
    taper = ("taper", _index("narrowing"), features.narrowing, NARROWING_U)
    return [*known, depth, taper]


def solve(scene: Scene, features: Features, start: Vector) -> Solution:
    """Fit mouth and thread.

    Parameters
    ----------
    scene : Scene
    features : Features
    start : (12,)

    Returns
    -------
    Solution
    """
    theta, light = start.astype(np.float64).copy(), features.light.middle.copy()
    slopes = _slopes(scene, features, theta)  # once: the start is near
    terms = -slopes[1][:, len(theta) :]
    for _ in range(ITERATIONS):
        mouth, crest = _residuals(scene, features, theta)
        parts = (mouth, crest - terms @ light)
        scatter = (_spread(parts[0]), _spread(parts[1]))
        weights = _weights(parts, scatter, features.crests)
        noise, gradient = _normal_equations(parts, slopes, weights)
        known, pull, strain = _known(features, theta, light)
        change = np.linalg.solve(noise + known, -(gradient + pull))
        theta, light = theta + change[: len(theta)], light + change[len(theta) :]
        if float(change @ (noise + known) @ change) < CONVERGED:
            break
    misfit = float(sum(np.sum(w * r**2) for w, r in zip(weights, parts, strict=True)))
    crests = features.crests
    pitch_px = _pitch_px(slopes[1], theta)
    away = (crest - terms[:, :COMMON] @ light[:COMMON]) / np.abs(pitch_px).max()
    wave = wave_of(crests.sides_rad, away, crests.weights)
    stretch = features.light.stretch(wave)
    covariance = np.asarray(np.linalg.inv(noise + known)[: len(theta)], np.float64)
    return Solution(
        scene=scene,
        theta=theta,
        covariance=covariance[:, : len(theta)],
        prior_shifts={name: covariance[:, k] / u for name, k, _, u in _priors(features)},
        light_shifts=covariance[:, len(theta) :] * stretch / features.light.u,
        light=light,
        noise=covariance @ noise @ covariance.T,
        scatter_px=scatter,
        misfit=misfit + _spread_cost(parts, scatter),
        strain=strain + features.light.strain(light, wave),
        pull=(covariance @ (slopes[0].T * weights[0]), covariance @ (slopes[1].T * weights[1])),
    )


def _known(features: Features, theta: Vector, light: Vector) -> tuple[Matrix, Vector, float]:
    """Of what is known beforehand: curvature, slope, and how much that of the port is strained."""
    size = len(theta)
    hessian, gradient = np.zeros((size + len(light),) * 2), np.zeros(size + len(light))
    strain = 0.0
    for _, column, middle, u in _priors(features):
        hessian[column, column] += 1 / u**2
        gradient[column] += (theta[column] - middle) / u**2
        strain += ((theta[column] - middle) / u) ** 2
    hessian[size:, size:] = np.diag(1 / features.light.u**2)
    gradient[size:] = (light - features.light.middle) / features.light.u**2
    over = _over_mouth(theta)
    if over > 0:
        hessian[:size, :size] += np.outer(OVER, OVER) / WITHIN_U_MM**2
        gradient[:size] += OVER * over / WITHIN_U_MM**2
        strain += (over / WITHIN_U_MM) ** 2
    return hessian, gradient, float(strain)


def _over_mouth(theta: Vector) -> float:
    """How much wider the crests are than the mouth leaves room for [mm]."""
    return float(OVER @ theta)


def _normal_equations(
    parts: tuple[Vector, Vector], slopes: tuple[Matrix, Matrix], weights: tuple[Vector, Vector]
) -> tuple[Matrix, Vector]:
    size = slopes[0].shape[1]
    hessian, gradient = np.zeros((size, size)), np.zeros(size)
    for residual, slope, weight in zip(parts, slopes, weights, strict=True):
        hessian += (slope.T * weight) @ slope
        gradient += slope.T @ (weight * residual)
    return hessian, gradient


def moved(
    scene: Scene, features: Features, solution: Solution, biases: Biases = (0.0, 0.0)
) -> Vector:
    """What the fit becomes in a slightly other scene: one linear step.

    Parameters
    ----------
    scene : Scene
    features : Features
    solution : Solution
        In the scene as it is.
    biases : tuple of float or (N,) [px]
        How much farther out than the true edges mouth and crests are seen.

    Returns
    -------
    (12,)
        Change of theta.
    """
    parts = _residuals(scene, features, solution.theta)
    still = _residuals(solution.scene, features, solution.theta)
    changes = [now - before - bias for now, before, bias in zip(parts, still, biases, strict=True)]
    return np.asarray(-solution.pull[0] @ changes[0] - solution.pull[1] @ changes[1])


def _spread(residual: Vector) -> float:
    if len(residual) == 0:
        return 0.5
    return max(1.4826 * float(np.median(np.abs(residual - np.median(residual)))), LEAST_SCATTER_PX)


def _slopes(scene: Scene, features: Features, theta: Vector) -> tuple[Matrix, Matrix]:
    """Of the residuals by every unknown and every term of the light's curve."""
    crests, (rim, lines) = features.crests, _curves(features)
    every = range(len(theta))
    mouth = _slopes_of(scene, rim, theta, (features.mouth_rad, features.mouth_px), every[:4])
    crest = _slopes_of(scene, lines, theta, (crests.sides_rad, crests.px), every)
    terms = curve_terms(features.light.at_rad, crests, _pitch_px(crest, theta))
    return np.hstack([mouth, np.zeros((len(mouth), terms.shape[1]))]), np.hstack([crest, -terms])


def _pitch_px(crest_slopes: Matrix, theta: Vector) -> Vector:
    """How far out a crest line moves that lies a pitch deeper, (N,) [px]."""
    return np.asarray(-crest_slopes[:, _index("first depth")] * theta[_index("pitch")])


def _spread_cost(parts: tuple[Vector, Vector], scatter: tuple[float, float]) -> float:
    """What a wider scatter costs, as it makes every residual more likely."""
    return float(
        sum(
            2 * len(part) / joined * np.log(u)
            for part, u, joined in zip(parts, scatter, JOINED, strict=True)
        )
    )


def _weights(
    parts: tuple[Vector, Vector], scatter: tuple[float, float], crests: CrestPoints
) -> tuple[Vector, Vector]:
    """One over the variance, less where a point lies far off; neighbours share their errors."""
    sizes = (scatter[0], float(np.hypot(scatter[1], LIGHT_PX)))
    variances = (
        JOINED[0] * scatter[0] ** 2 + np.zeros(len(parts[0])),
        (JOINED[1] * scatter[1] ** 2 + crests.beside * LIGHT_PX**2) / crests.weights,
    )
    mouth, crest = (
        1 / (variance * np.maximum(1.0, np.abs(residual) / (HUBER * u)) ** 2)
        for residual, u, variance in zip(parts, sizes, variances, strict=True)
    )
    return mouth, crest
