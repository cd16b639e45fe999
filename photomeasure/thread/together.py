"""One still part in several photos: a common axis, and sizes weighed by how well each shows them.

Each photo alone tells where the axis runs in plan for any height and rise of it; that all photos
must agree tells height and rise, beside what the posture says of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene import Scene
from photomeasure.thread.budget import LIFT_U_MM, side_tilt_rad
from photomeasure.thread.rest import Play, Posture, Rest, solve
from photomeasure.thread.values import Causes, Sizes, sizes
from photomeasure.thread.views import Frame, View, shared_postures

__all__ = [
    "Fit",
    "Together",
    "fitted",
    "said_by",
    "settled",
    "shown",
    "shown_u",
    "sized_on",
    "stand",
]

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

EDGE_U_MM, TILT_U_RAD = 0.018, 0.0028  # of a clear edge; over rendered scenes kept for tuning
PITCH_U = 0.0013  # of one photo's, by crests that blur and light move along the axis
UNLIKELY = 1e-4  # of a posture's chance beside the likeliest: not tried
STEP_MM, STEP_RAD = 0.2, 0.005
STEPS = 4
STILL = 1e-3
DISAGREED = 3.0  # of their uncertainty: one photo takes something else for what touches the paper
SLIP = 2e-4  # likelihood of any axes in plan, where one of the photos shows its own wrongly


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """The common axis in one posture.

    Attributes
    ----------
    views : tuple of View
    frame : Frame
    posture : Posture
        In the first photo's sense.
    chances : dict of Posture to float
    tellers : tuple of View
        Those that tell the posture's own height and rise.
    said : (2,) [mm, rad]
        Height and rise by the posture alone.
    standing : (2,) [mm, rad]
        Height and rise by all.
    gain : (2, R)
        Change of the standing by the residuals, negative.
    misfit : (R,)
        Residuals there, of unit variance: two of the posture, then five a photo.
    """

    views: tuple[View, ...]
    frame: Frame
    posture: Posture
    chances: dict[Posture, float]
    tellers: tuple[View, ...]
    said: Vector
    standing: Vector
    gain: Matrix
    misfit: Vector

    def moved(self, sized: Sequence[Sizes], said: Vector, nudges: Matrix | None = None) -> Vector:
        """By how much height and rise change with what the photos show on the common axis, (2,).

        Parameters
        ----------
        sized : sequence of Sizes
            On `standing`.
        said : (2,) [mm, rad]
            Height and rise by the posture alone.
        nudges : (V, 5) or None
            Added to what each photo shows, in the order of `shown`.
        """
        lifted = self.standing - said
        pull = _residuals(self.views, self.frame, lifted, sized, (self.posture, nudges))
        return np.asarray(-self.gain @ (pull - self.misfit))

    def cone(self, sized: Sequence[Sizes], nudges: Matrix | None = None) -> tuple[float, float]:
        """Radius [mm] in the thread's middle, and its rise along the axis, by all photos."""
        seen = shown(self.views, self.frame, sized) + (0 if nudges is None else nudges)
        u = np.array([shown_u(view, one) for view, one in zip(self.views, sized, strict=True)])
        _, radius = fitted(seen[:, :2], u[:, :2])
        _, slope = fitted(seen[:, 2:4], u[:, 2:4])
        return radius, slope


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Height and rise that agree best with a posture and all photos."""

    said: Vector
    standing: Vector
    slopes: Matrix
    misfit: Vector


def settled(views: tuple[View, ...], causes: Causes) -> Together:
    """Find the common axis in the likeliest posture.

    Parameters
    ----------
    views : tuple of View
        That share a posture.
    causes : Causes

    Returns
    -------
    Together
    """
    frame = _frame(views, causes)
    weight = {one: _chance(views, one) for one in shared_postures(views)}
    worth = [one for one in weight if weight[one] > UNLIKELY * max(weight.values())]
    tried = {one: _likeliest(views, frame, one, causes) for one in worth}
    chances = {one: weight[one] * likely for one, (_, _, likely) in tried.items()}
    total = sum(chances.values())
    chances = {posture: chance / total for posture, chance in chances.items()}
    best = max(chances, key=chances.__getitem__)
    tellers, fit, _ = tried[best]
    gain = np.asarray(np.linalg.pinv(fit.slopes), np.float64)
    return Together(views, frame, best, chances, tellers, fit.said, fit.standing, gain, fit.misfit)


def _likeliest(
    views: tuple[View, ...], frame: Frame, posture: Posture, causes: Causes
) -> tuple[tuple[View, ...], Fit, float]:
    """Who tells the posture's height and rise: all photos, or one where they disagree."""
    told = np.array([said_by([view], [view.seen.scene], frame, posture, causes) for view in views])
    lean_u = _lean_u_rad(views, posture)
    apart = np.ptp(told, axis=0) / (LIFT_U_MM, lean_u)
    if apart.max() < DISAGREED:
        fit = stand(views, frame, posture, told.mean(axis=0), causes)
        return views, fit, _likely(fit, lean_u)
    fits = [stand(views, frame, posture, one, causes) for one in told]
    likely = [_likely(fit, lean_u) for fit in fits]
    best = int(np.argmax(likely))
    return (views[best],), fits[best], float(np.mean(likely))


def _frame(views: tuple[View, ...], causes: Causes) -> Frame:
    seen = views[0].seen
    rest = _rest(views[0], seen.scene, seen.posture, causes)
    middle = rest.axis.point_mm + float(rest.along_mm.mean()) * rest.axis.direction
    return Frame(float(middle[0]), float(middle[1]), rest.axis.heading_rad)


def _chance(views: tuple[View, ...], posture: Posture) -> float:
    """Of a posture by gravity, counted once, and by what every photo shows."""
    own = [(view.seen, view.posture(posture)) for view in views]
    gravity = [seen.gravity.get(one, 1.0) for seen, one in own]
    shown = [seen.chances.get(one, 1.0) for seen, one in own]
    return float(np.mean(gravity) * np.prod(np.array(shown) / gravity))


def _rest(view: View, scene: Scene, posture: Posture, causes: Causes) -> Rest:
    """Where the axis runs by one photo alone, in a posture of the common sense."""
    seen, own = view.seen, view.posture(posture)
    lean = view.leans[own].rad + view.sign * causes.lean_rad
    play = Play(causes.corner_ratio, causes.lift_mm, lean)
    return solve(scene, seen.features, seen.axis, own, play)


def said_by(
    views: Sequence[View],
    scenes: Sequence[Scene],
    frame: Frame,
    posture: Posture,
    causes: Causes,
) -> Vector:
    """Height and rise by a posture alone, the mean of the photos.

    Parameters
    ----------
    views : sequence of View
    scenes : sequence of Scene
        One a view; shifted ones tell what a source does.
    frame : Frame
    posture : Posture
        In the first photo's sense.
    causes : Causes

    Returns
    -------
    (2,) [mm, rad]
    """
    told = [
        frame.standing(view, _rest(view, scene, posture, causes).axis)
        for view, scene in zip(views, scenes, strict=True)
    ]
    return np.asarray(np.mean(told, axis=0))


def sized_on(
    views: Sequence[View],
    scenes: Sequence[Scene],
    frame: Frame,
    standing: Vector,
    causes: Causes,
) -> list[Sizes]:
    """Sizes by each photo on an axis of this height and rise.

    Parameters
    ----------
    views : sequence of View
    scenes : sequence of Scene
    frame : Frame
    standing : (2,) [mm, rad]
    causes : Causes

    Returns
    -------
    list of Sizes
    """
    plain = replace(causes, lift_mm=0.0, lean_rad=0.0)
    return [
        sizes(scene, view.seen.features, frame.axis(view, standing), "given", plain)
        for view, scene in zip(views, scenes, strict=True)
    ]


def stand(
    views: Sequence[View], frame: Frame, posture: Posture, said: Vector, causes: Causes
) -> Fit:
    """Find height and rise, given those that a posture says (Gauss-Newton).

    Parameters
    ----------
    views : sequence of View
    frame : Frame
    posture : Posture
    said : (2,) [mm, rad]
        By the posture alone.
    causes : Causes

    Returns
    -------
    Fit
    """
    scenes = [view.seen.scene for view in views]

    def residuals(standing: Vector) -> Vector:
        sized = sized_on(views, scenes, frame, standing, causes)
        return _residuals(views, frame, standing - said, sized, (posture, None))

    standing, here = said, residuals(said)
    for _ in range(STEPS):
        slopes = np.column_stack(
            [
                (residuals(standing + step) - here) / step.sum()
                for step in np.diag([STEP_MM, STEP_RAD])
            ]
        )
        step = np.linalg.pinv(slopes) @ here
        standing = standing - step
        here = residuals(standing)
        if float(np.sum((slopes @ step) ** 2)) < STILL:
            break
    return Fit(said, standing, slopes, here)


def _residuals(
    views: Sequence[View],
    frame: Frame,
    lifted: Vector,
    sized: Sequence[Sizes],
    world: tuple[Posture, Matrix | None],
) -> Vector:
    """Of the posture's height and rise, then of all that the photos show, (2 + 5 V,)."""
    posture, nudges = world
    seen = shown(views, frame, sized) + (0 if nudges is None else nudges)
    u = np.array([shown_u(view, one) for view, one in zip(views, sized, strict=True)])
    pitch = seen[:, 4] - (seen[:, 4] / u[:, 4] ** 2).sum() / (1 / u[:, 4] ** 2).sum()
    return np.concatenate(
        [
            lifted / (LIFT_U_MM, _lean_u_rad(views, posture)),
            _off(seen[:, :2], u[:, :2]),
            _off(seen[:, 2:4], u[:, 2:4]),
            pitch / u[:, 4],
        ]
    )


def fitted(seen: Matrix, u: Matrix) -> tuple[float, float]:
    """Find the common middle and half width of pairs of edges.

    Parameters
    ----------
    seen, u : (V, 2)
        Left and right edge from the frame's middle, and their uncertainty.

    Returns
    -------
    middle, half : float
        In the same unit.
    """
    weight = (1 / u).ravel()
    design = np.tile([[1.0, 1.0], [-1.0, 1.0]], (len(seen), 1)) * weight[:, None]
    middle, half = np.linalg.lstsq(design, seen.ravel() * weight, rcond=None)[0]
    return float(middle), float(half)


def _off(seen: Matrix, u: Matrix) -> Vector:
    """Deviations of pairs of edges from their common middle and half width, (2 V,)."""
    middle, half = fitted(seen, u)
    return np.asarray(((seen - (middle + half, half - middle)) / u).ravel())


def shown(views: Sequence[View], frame: Frame, sized: Sequence[Sizes]) -> Matrix:
    """What each photo shows on the common axis.

    Parameters
    ----------
    views : sequence of View
    frame : Frame
    sized : sequence of Sizes

    Returns
    -------
    (V, 5)
        The crests' left and right edge from the frame's middle [mm], each edge's tilt outwards
        [rad], and the pitch [mm].
    """
    rows = []
    for view, one in zip(views, sized, strict=True):
        left, turned = frame.plan(view, one.rest.axis)
        radius, slope = one.cone[0], view.sign * one.cone[1]
        rows.append((radius + left, radius - left, slope + turned, slope - turned, one.vector[1]))
    return np.array(rows)


def shown_u(view: View, best: Sizes) -> Vector:
    """Uncertainty of what one photo shows.

    Parameters
    ----------
    view : View
    best : Sizes

    Returns
    -------
    (5,)
        In the order of `shown`.
    """
    doubts = view.seen.doubts_mm[:: view.sign]
    length = float(np.ptp(best.rest.along_mm))
    places = [float(np.hypot(EDGE_U_MM, doubt)) for doubt in doubts]
    tilts = [float(np.hypot(TILT_U_RAD, side_tilt_rad(doubt, length))) for doubt in doubts]
    pitch = float(np.hypot(PITCH_U * best.vector[1], best.noise[1]))
    return np.array([*places, *tilts, pitch])


def _lean_u_rad(views: Sequence[View], posture: Posture) -> float:
    return float(np.mean([view.leans[view.posture(posture)].u_rad for view in views]))


def _likely(fit: Fit, lean_u_rad: float) -> float:
    """Likelihood of the residuals after height and rise were fitted (Laplace)."""
    u = LIFT_U_MM * lean_u_rad
    volume = 1 / (u * np.sqrt(np.linalg.det(fit.slopes.T @ fit.slopes)))
    return float(np.exp(-0.5 * min(float(fit.misfit @ fit.misfit), 60.0)) * volume + SLIP)
