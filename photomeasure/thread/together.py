"""One still part in several photos: a common axis, and sizes weighed by how well each shows them.

Each photo alone tells where the axis runs in plan for any height and rise of it; that all photos
must agree tells height and rise, beside what the posture says of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis
from photomeasure.thread.budget import LIFT_U_MM, lean_u_rad, side_tilt_rad
from photomeasure.thread.look import Seen
from photomeasure.thread.rest import Posture, Rest, solve
from photomeasure.thread.values import Causes, Sizes, sizes

__all__ = ["Frame", "Nudges", "Together", "View", "plan_u", "settled", "stand", "views_of"]

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]
Nudges = NDArray[np.float64]  # (V, 2): sideways [mm] and by angle [rad], of the axis in each photo

PLACE_U_MM, HEADING_U_RAD = 0.02, 0.001  # of an axis in plan, by pose and lens alone
STEP_MM, STEP_RAD = 0.2, 0.005
STEPS = 4
STILL = 1e-3
SLIP = 2e-4  # likelihood of any axes in plan, where one of the photos shows its own wrongly
OTHER_WAY: dict[Posture, Posture] = {
    "tipped to low": "tipped to high",
    "tipped to high": "tipped to low",
    "leaning to low": "leaning to high",
    "leaning to high": "leaning to low",
}


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What one photo shows, and whether its axis points against the first photo's."""

    seen: Seen
    is_turned: bool

    @property
    def sign(self) -> int:
        """Of its rises, in the common sense."""
        return -1 if self.is_turned else 1

    def posture(self, posture: Posture) -> Posture:
        """Give a posture in this photo's own sense, or its own in the common one."""
        return OTHER_WAY.get(posture, posture) if self.is_turned else posture


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The middle of the thread in plan, and the axis' heading, both roughly; fixed once taken."""

    x_mm: float
    y_mm: float
    heading_rad: float

    def axis(self, view: View, standing: Vector) -> Axis:
        """Axis of height [mm] and rise [rad] there, in a photo's own sense."""
        height, rise = standing
        heading = self.heading_rad + np.pi * view.is_turned
        return Axis(self.x_mm, self.y_mm, float(height), heading, view.sign * float(rise))

    def standing(self, view: View, axis: Axis) -> Vector:
        """Height over this place and rise of a photo's axis, in the common sense, (2,)."""
        ahead = axis.direction[:2]
        place = ahead @ (self.x_mm - axis.x_mm, self.y_mm - axis.y_mm) / (ahead @ ahead)
        height = axis.height_mm + place * axis.direction[2]
        return np.array([height, view.sign * axis.rise_rad])

    def plan(self, view: View, axis: Axis) -> Vector:
        """How far a photo's axis lies to the left of this place, and turned, (2,) [mm, rad]."""
        heading = axis.heading_rad - np.pi * view.is_turned
        turned = (heading - self.heading_rad + np.pi) % (2 * np.pi) - np.pi
        left = np.array([-np.sin(self.heading_rad), np.cos(self.heading_rad)])
        return np.array([left @ (axis.x_mm - self.x_mm, axis.y_mm - self.y_mm), turned])


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
    standing : (2,) [mm, rad]
        Height and rise.
    gain : (2, R)
        Change of the standing by the residuals, negative.
    misfit : (R,)
        Residuals there, of unit variance: two of the posture, then two a photo.
    """

    views: tuple[View, ...]
    frame: Frame
    posture: Posture
    chances: dict[Posture, float]
    standing: Vector
    gain: Matrix
    misfit: Vector

    def moved(
        self, scenes: Sequence[Scene], causes: Causes, nudges: Nudges | None = None
    ) -> Vector:
        """Height and rise if the world were a little different, (2,)."""
        pull = _residuals(self.views, scenes, self.frame, (self.posture, causes), self.standing)
        if nudges is not None:
            pull[2:] += (_spread(self.views, nudges)).ravel()
        return np.asarray(self.standing - self.gain @ (pull - self.misfit))

    def sized(self, scenes: Sequence[Scene], standing: Vector, causes: Causes) -> list[Sizes]:
        """Sizes by each photo on the common axis."""
        return [
            _given(view, scene, self.frame, standing, causes)
            for view, scene in zip(self.views, scenes, strict=True)
        ]


def views_of(seen: Sequence[Seen]) -> tuple[View, ...]:
    """Compare the photos' axes with the first one's."""
    first = seen[0].axis.direction
    return tuple(View(one, bool(one.axis.direction @ first < 0)) for one in seen)


def settled(views: tuple[View, ...], causes: Causes) -> Together:
    """Find the common axis in the likeliest posture.

    Parameters
    ----------
    views : tuple of View
    causes : Causes

    Returns
    -------
    Together
    """
    frame = _frame(views, causes)
    scenes = [view.seen.scene for view in views]
    shared = set.intersection(
        *({view.posture(one) for one in view.seen.chances} for view in views)
    ) or {view.posture(view.seen.posture) for view in views[:1]}
    tried = {posture: stand(views, scenes, frame, (posture, causes)) for posture in shared}
    chances = {posture: _chance(views, posture) * fit[3] for posture, fit in tried.items()}
    total = sum(chances.values())
    chances = {posture: chance / total for posture, chance in chances.items()}
    best = max(chances, key=chances.__getitem__)
    standing, gain, misfit, _ = tried[best]
    return Together(views, frame, best, chances, standing, gain, misfit)


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


def _given(view: View, scene: Scene, frame: Frame, standing: Vector, causes: Causes) -> Sizes:
    plain = replace(causes, lift_mm=0.0, lean_rad=0.0)
    return sizes(scene, view.seen.features, frame.axis(view, standing), "given", plain)


def _rest(view: View, scene: Scene, posture: Posture, causes: Causes) -> Rest:
    """Where the axis runs by one photo alone, in a posture of the common sense."""
    seen, own = view.seen, view.posture(posture)
    return solve(scene, seen.features, seen.axis, own, causes.corner_ratio)


def _on(view: View, scene: Scene, axis: Axis, causes: Causes) -> Rest:
    """Where it runs in plan, given height and rise."""
    return solve(scene, view.seen.features, axis, "given", causes.corner_ratio)


def _residuals(
    views: tuple[View, ...],
    scenes: Sequence[Scene],
    frame: Frame,
    world: tuple[Posture, Causes],
    standing: Vector,
) -> Vector:
    """Of the posture's height and rise, then of each photo's axis in plan, (2 + 2 V,)."""
    posture, causes = world
    told = [
        frame.standing(
            view,
            _rest(view, scene, posture, causes).axis,
        )
        for view, scene in zip(views, scenes, strict=True)
    ]
    said = np.mean(told, axis=0) + np.array([causes.lift_mm, causes.lean_rad])
    plans = np.array(
        [
            frame.plan(view, _on(view, scene, frame.axis(view, standing), causes).axis)
            for view, scene in zip(views, scenes, strict=True)
        ]
    )
    return np.concatenate(
        [(standing - said) / (LIFT_U_MM, lean_u_rad(posture)), _spread(views, plans).ravel()]
    )


def _spread(views: tuple[View, ...], plans: Nudges) -> Matrix:
    """Deviations from the weighted mean, by their uncertainties, (V, 2)."""
    u = np.array([plan_u(view.seen) for view in views])
    mean = (plans / u**2).sum(axis=0) / (1 / u**2).sum(axis=0)
    return np.asarray((plans - mean) / u)


def plan_u(seen: Seen) -> tuple[float, float]:
    """Uncertainty of one photo's axis in plan: sideways [mm] and by angle [rad]."""
    left, right = seen.doubts_mm
    length = max(float(np.ptp([turn.along_mm for turn in seen.turns.turns])), 1.0)
    both = float(np.hypot(side_tilt_rad(left, length), side_tilt_rad(right, length))) / 2
    return (
        float(np.hypot(PLACE_U_MM, np.hypot(left, right) / 2)),
        float(np.hypot(HEADING_U_RAD, both)),
    )


def stand(
    views: tuple[View, ...],
    scenes: Sequence[Scene],
    frame: Frame,
    world: tuple[Posture, Causes],
) -> tuple[Vector, Matrix, Vector, float]:
    """Gauss-Newton for height and rise: solution, gain, residuals and how likely they are."""

    def residuals(standing: Vector) -> Vector:
        return _residuals(views, scenes, frame, world, standing)

    own = [_rest(v, s, *world).axis for v, s in zip(views, scenes, strict=True)]
    standing = np.mean([frame.standing(v, a) for v, a in zip(views, own, strict=True)], axis=0)
    for _ in range(STEPS):
        here = residuals(standing)
        slopes = np.column_stack(
            [
                (residuals(standing + step) - here) / np.abs(step).sum()
                for step in np.diag([STEP_MM, STEP_RAD])
            ]
        )
        gain = np.linalg.pinv(slopes)
        step = gain @ here
        standing = standing - step
        if float(np.sum((slopes @ step) ** 2)) < STILL:
            break
    here = residuals(standing)
    return standing, gain, here, _likely(here, slopes, world[0])


def _likely(misfit: Vector, slopes: Matrix, posture: Posture) -> float:
    """Likelihood of the residuals after height and rise were fitted (Laplace)."""
    volume = 1 / (LIFT_U_MM * lean_u_rad(posture) * np.sqrt(np.linalg.det(slopes.T @ slopes)))
    return float(np.exp(-0.5 * min(float(misfit @ misfit), 60.0)) * volume + SLIP)
