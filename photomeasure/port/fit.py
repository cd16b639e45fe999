"""From stripes to a solved thread: edges are found, fitted, and found again where they belong."""

from dataclasses import astuple, dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.circles import SpotFace, find_spot_face
from photomeasure.port.crests import crest_points
from photomeasure.port.gap import mouth_depth_mm
from photomeasure.port.light import known_curve, lit_rad
from photomeasure.port.mouth import HOLE_SLACK_MM, Circle, circle_points_px, find_mouth
from photomeasure.port.points import CrestPoints
from photomeasure.port.solve import Features, Solution, solve
from photomeasure.port.view import PortView
from photomeasure.port.wall import Bore, Stripes

__all__ = ["HAND_DIFFERS", "Fitted", "fit_port", "stripes_of"]

Vector = NDArray[np.float64]
Rounds = tuple[tuple[float, float], ...]

# Half of the wall that is looked at [rad], and how far off an edge may lie [pitches]
ROUNDS = tuple((np.radians(half), window) for half, window in ((30, 0.2), (50, 0.15), (72, 0.12)))
TAPER_ROUNDS = ((np.radians(86), 0.12),) * 3  # from there on as parallel and as tapered
LEAST_POINTS = 60
# Light bends all turns' edges alike, so their scatter tells that much less than so many points
# would; by scenes for tuning
SCATTER_TELLS, USUAL_POINTS = 0.12, 600
HAND_DIFFERS = 9.0  # chi-squared
CLEARLY = 25.0  # so much worse after the first rounds, a hand is followed no further
TAPER_NARROWING = 1 / 32  # 1:16 on diameter


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A solved port.

    Attributes
    ----------
    mouth : Circle
    stripes : Stripes
        As solved.
    features : Features
    solution : Solution
    misfit : float
        How badly it fits (chi-squared).
    other_misfit : float
        Misfit with the other hand less this one's; inf if the other has no fit.
    taper_chance : float
        That the thread is parallel, or tapered, as taken here.
    other_taper : (12,) or None
        The fit if it is not.
    other_hand : (12,) or None
        The fit with the other hand, where it is about as good.
    spot_face : SpotFace or None
        The recess that the mouth lies in, if its edge is seen.
    """

    mouth: Circle
    stripes: Stripes
    features: Features
    solution: Solution
    misfit: float
    other_misfit: float = np.inf
    taper_chance: float = 1.0
    other_taper: Vector | None = None
    other_hand: Vector | None = None
    spot_face: SpotFace | None = None

    @property
    def is_hand_sure(self) -> bool:
        """Whether the other hand fits clearly worse."""
        return self.other_misfit > HAND_DIFFERS


def fit_port(
    view: PortView, stripes: Stripes, off_hole_mm: float = HOLE_SLACK_MM / 2
) -> Fitted | None:
    """Fit mouth and thread with either hand and keep the better.

    Parameters
    ----------
    view : PortView
    stripes : Stripes
        From `find_stripes`.
    off_hole_mm : float [mm]
        How far the mouth stays off the collar's hole as printed.

    Returns
    -------
    Fitted or None
        None where too few crest points are found.
    """
    bore = stripes.bore
    place = (bore.x_mm, bore.y_mm, bore.radius_mm)
    seen = find_mouth(view, place, stripes.pitch_mm, off_hole_mm)
    mouth, px, turns = circle_points_px(view, seen)
    spot = find_spot_face(view, mouth)
    case = _Case(view, mouth, (px, turns), mouth_depth_mm(view, mouth, spot))
    start = _under(view, stripes, mouth)
    found = [case.fit(replace(start, hand=hand), ROUNDS, 0.0) for hand in (1, -1)]
    rough = sorted((one for one in found if one is not None), key=lambda one: one.misfit)
    if not rough:
        return None
    ahead = rough[1].misfit - rough[0].misfit if len(rough) > 1 else np.inf
    followed = rough if ahead < CLEARLY else rough[:1]
    best, *rest = sorted((case.either_taper(one) for one in followed), key=lambda one: one.misfit)
    if rest:
        ahead = rest[0].misfit - best.misfit
    best = replace(best, spot_face=spot, other_misfit=ahead)
    return best if best.is_hand_sure else replace(best, other_hand=rest[0].solution.theta)


@dataclass(frozen=True, slots=True, eq=False)
class _Case:
    """A photo with its mouth: pixels of the rim and where on it, depth and its uncertainty."""

    view: PortView
    mouth: Circle
    rim: tuple[Vector, Vector]
    depth_mm: tuple[float, float]

    def fit(self, start: Stripes, rounds: Rounds, narrowing: float) -> Fitted | None:
        """Find edges and solve, in turns; a round like the last begins halfway, as it may swing."""
        view, mouth, moved = self.view, self.mouth, start
        fitted, last = None, 0.0
        for half, window in rounds:
            crests = crest_points(view, moved, mouth, half, window)
            if len(crests.px) < LEAST_POINTS or np.ptp(crests.turns) < 2:
                return fitted
            lit, steps = lit_rad(crests.sides_rad, crests.weights), len(crests.other_parts)
            blur_px, is_tapered = view.found.blur_px, narrowing > 0
            light = known_curve(moved.pitch_mm, is_tapered, blur_px, lit, steps)
            place = (view.far_rad, start.hand)
            features = Features(*self.rim, crests, *place, *self.depth_mm, narrowing, light)
            solution = solve(view.scene, features, _start(moved, mouth, features, crests))
            solved = stripes_of(solution, moved)
            fitted = Fitted(mouth, solved, features, solution, _misfit(solution, features))
            moved, last = _between(moved, solved) if half == last else solved, half
        return fitted

    def either_taper(self, rough: Fitted) -> Fitted:
        """The fit as parallel or as tapered, whichever is the better."""
        tapers = (0.0, TAPER_NARROWING)
        both = [self.fit(rough.stripes, TAPER_ROUNDS, taper) for taper in tapers]
        found = sorted((one for one in both if one is not None), key=lambda one: one.misfit)
        if len(found) < 2:
            return found[0] if found else rough
        best, other = found
        chance = float(1 / (1 + np.exp(-(other.misfit - best.misfit) / 2)))
        return replace(best, taper_chance=chance, other_taper=other.solution.theta)


def _between(one: Stripes, other: Stripes) -> Stripes:
    """Halfway between two solved threads; where the turns lie is the other's."""
    first, second = (np.array(astuple(each.bore)) for each in (one, other))
    pitch_mm = (one.pitch_mm + other.pitch_mm) / 2
    return replace(other, bore=Bore(*(first + second) / 2), pitch_mm=pitch_mm)


def _misfit(solution: Solution, features: Features) -> float:
    """How badly a fit does (chi-squared), comparable between fits to different points."""
    points = solution.misfit / len(features.crests.px) * USUAL_POINTS
    return SCATTER_TELLS * points + solution.strain


def _under(view: PortView, stripes: Stripes, mouth: Circle) -> Stripes:
    """Slide the bore along the line of sight until it lies under the mouth."""
    way = np.array([np.cos(view.far_rad), np.sin(view.far_rad)])
    bore = stripes.bore
    slide = way * float(way @ (mouth.x_mm - bore.x_mm, mouth.y_mm - bore.y_mm))
    return replace(
        stripes,
        bore=replace(bore, x_mm=bore.x_mm + float(slide[0]), y_mm=bore.y_mm + float(slide[1])),
    )


def _start(stripes: Stripes, mouth: Circle, features: Features, crests: CrestPoints) -> Vector:
    bore = stripes.bore
    first = crests.depth_mm + features.middle_turn * stripes.pitch_mm
    return np.array(
        [
            *(mouth.x_mm, mouth.y_mm, mouth.radius_mm, features.depth_mm),
            *(0.0, 0.0, bore.lean_x, bore.lean_y),
            *(bore.radius_mm, features.narrowing, first, stripes.pitch_mm),
        ]
    )


def stripes_of(solution: Solution, known: Stripes) -> Stripes:
    """The solved thread as stripes on a bore.

    Parameters
    ----------
    solution : Solution
    known : Stripes

    Returns
    -------
    Stripes
    """
    value = solution.value
    mouth = value("mouth depth")
    bore = Bore(
        x_mm=value("mouth x") + value("off x") - value("lean x") * mouth,
        y_mm=value("mouth y") + value("off y") - value("lean y") * mouth,
        radius_mm=value("radius"),
        lean_x=value("lean x"),
        lean_y=value("lean y"),
        narrowing=value("narrowing"),
        at_mm=value("first depth"),
    )
    return replace(
        known,
        bore=bore,
        pitch_mm=value("pitch"),
        depth_mm=value("first depth") % value("pitch"),
    )
