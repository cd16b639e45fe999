"""The reading of a solved route: its values, what is near it, where it lies in each photo."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.budget import measure
from photomeasure.route.space.course import Course
from photomeasure.route.space.looked import Job, Looked
from photomeasure.route.space.model import Points, State, bands_edge_mm, predict_world
from photomeasure.route.space.near import Hose, clearances
from photomeasure.route.space.reading import Clearance, SpaceReading, SpaceSaid, SpaceTrace
from photomeasure.route.space.slack import slack_for
from photomeasure.route.space.vary import Variation
from photomeasure.route.space.warn import warnings_of
from photomeasure.route.space.whole import demand_no_gap, demand_sure, demand_whole

__all__ = ["Asked", "reading_of"]

Vector = NDArray[np.float64]  # (N,)

POINT_STEP_MM = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """Names of the photos, those that connect first, and as given; and what the person says."""

    connected_first: list[str]
    as_given: list[str]
    said: SpaceSaid | None


def reading_of(job: Job, course: Course, asked: Asked, looked: Looked) -> SpaceReading:
    """Measure and draw what is solved.

    Parameters
    ----------
    job : Job
    course : Course
    asked : Asked
    looked : Looked

    Returns
    -------
    SpaceReading

    Raises
    ------
    TooUncertainError
        The first or last band is not placed.
    UsageError
        A mark or movement names what is not there.
    """
    solved, points, said = looked.solved, looked.points, asked.said or SpaceSaid()
    left_out = asked.connected_first[len(job.shots) :]
    key = "+".join(shot.key for shot in job.shots)
    demand_no_gap(job.things, course)
    found = measure(solved, job.things, course, key)
    demand_sure(job.things, course, points, found.length)
    missing = demand_whole(job.things, course, found, said)
    hose = Hose(solved, job.shots, Variation(solved, job.things, course), found.line_od)
    near, told = clearances(hose, asked.as_given, said)
    slack, asked_for = slack_for(said, found.length, key)
    feet = course.fit.chain.feet(course.ends.edges, course.ends.near_mm)
    count = max(3, round(course.values.length_mm / POINT_STEP_MM) + 1)
    at = np.linspace(float(feet[0]), float(feet[1]), count)
    world = course.fit.chain.at(at)[0]
    return SpaceReading(
        length=found.length,
        turning=found.turning,
        bends=found.bends,
        tightest_radius=found.tightest,
        clocking=found.clocking,
        start_to_card=found.start_to_card,
        end_to_card=found.end_to_card,
        line_od=found.line_od,
        points_mm=_in_card(solved.state, course, world),
        traces=tuple(
            _trace(job, solved.state, course, points, (photo, at, world, near))
            for photo in range(len(job.shots))
        ),
        warnings=(
            *(text for shot in job.shots for text in shot.warnings),
            *missing,
            *told,
            *asked_for,
            *warnings_of(job.things, course, points, left_out),
        ),
        clearances=tuple(
            replace(one, between=_in_card(solved.state, course, one.between)) for one in near
        ),
        slack=slack,
    )


def _in_card(state: State, course: Course, world: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points in the frame of the start card, else of the first thing."""
    row = course.cards[0] if course.cards[0] is not None else 0
    return np.asarray((world - state.thing_shift[row]) @ state.thing_turn[row])


def _trace(
    job: Job,
    state: State,
    course: Course,
    points: Points,
    where: tuple[int, Vector, NDArray[np.float64], Sequence[Clearance]],
) -> SpaceTrace:
    photo, at, world, near = where
    edges = []
    for row in course.rows:
        half = bands_edge_mm(job.things[row].piece) * state.scale[state.print_row[row], 1]
        way = state.thing_turn[row][:, 2]
        edges.append(state.thing_shift[row] + np.array([[-half], [half]]) * way)
    bends = [bend[0] for bend in course.values.bends]
    middles = course.fit.chain.at(at[0] + np.array(bends))[0] if bends else np.empty((0, 3))
    own = points.photo == photo
    return SpaceTrace(
        job.shots[photo].key,
        job.shots[photo].name,
        predict_world(state, photo, world),
        predict_world(state, photo, np.concatenate(edges)).reshape(-1, 2, 2),
        tuple(job.things[row].piece.order or 0 for row in course.rows),
        predict_world(state, photo, middles),
        points.px[own],
        predict_world(state, photo, np.array([one.between for one in near]).reshape(-1, 3)).reshape(
            -1, 2, 2
        ),
    )
