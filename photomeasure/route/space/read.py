"""Read a route in space from several photos of bands and cards."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import (
    NoLineError,
    NotConnectedError,
    WrongPrintError,
)
from photomeasure.photo import Photo
from photomeasure.route.space.course import course_of
from photomeasure.route.space.follow import Basis, followed, look_in
from photomeasure.route.space.gather import card_points, first_state, joined, mark_points
from photomeasure.route.space.greys import Greys, Views, views_of
from photomeasure.route.space.looked import Job, Looked, bands_in, is_good, usable
from photomeasure.route.space.mend import bends_of, hung_on, mixed
from photomeasure.route.space.model import (
    PAPER_MM,
    Points,
    State,
    Thing,
)
from photomeasure.route.space.reading import SpaceReading, SpaceSaid
from photomeasure.route.space.refine import Search, band_points, outer_ends
from photomeasure.route.space.report import Asked, reading_of
from photomeasure.route.space.see import Shot, see
from photomeasure.route.space.solve import Known, Solved, solve
from photomeasure.route.space.start import Placed, place_all, things_seen
from photomeasure.route.space.unroll import marks_along
from photomeasure.scene.scale import BarReading, PageScale, page_scale

__all__ = ["LEAST_PHOTOS", "read_space"]

Vector = NDArray[np.float64]  # (N,)
Load = Callable[[], Photo]
Eyes = tuple[list[int], Greys, Callable[[str], None]]  # photos that connect, views, who is told

LEAST_PHOTOS = 3
USUAL_OD_MM, USUAL_OD_U_MM = 18.0, 5.0
OD_U_MM = 0.2  # of a diameter that the user gives, and of the paper's snugness; own estimate
WIDE_MM, NEAR_MM = 2.5, 0.8  # how far off points of a band are looked for
MOST_LOOKS = 5  # each may find the next band beyond those that are good
LEAST_BANDS_TO_FOLLOW = 4  # for a curve along which others are looked for
FEW = 4  # fine points below which a band keeps its markers' corners
AT_ONCE = 2  # photos; each takes some 60 MB, and two cores are usual


def read_space(
    loads: Sequence[Load],
    bars: Mapping[str, BarReading],
    line_od_mm: float | None = None,
    tell: Callable[[str], None] | None = None,
    said: SpaceSaid | None = None,
) -> SpaceReading:
    """Find, solve and measure; photos are decoded two at a time.

    Parameters
    ----------
    loads : sequence of callable
        Each gives one photo, as often as asked, from any thread.
    bars : mapping of str to BarReading
        By print name or kind; "" holds for every print.
    line_od_mm : float or None [mm]
        Outside diameter of what the bands are wrapped round, if known.
    tell : callable, optional
        Is told how far it has come.
    said : SpaceSaid, optional

    Returns
    -------
    SpaceReading

    Raises
    ------
    UsageError
        A mark names a photo that is not there.
    WrongPrintError
        No bands are seen.
    NotConnectedError
        Fewer than three photos hang together.
    NoLineError
        Fewer than two bands.
    TooUncertainError
        The first or last band is seen too poorly.
    """
    tell = tell or (lambda _: None)
    shots, greys = [], Greys(loads)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for number, (shot, views) in enumerate(pool.map(_seen, loads)):
            tell(f"photo {number + 1} of {len(loads)}: looked for cards and bands")
            shots.append(shot)
            greys.keep(number, views)
    tell("solving for the cameras")
    begun = _begin(shots, bars, line_od_mm)
    look = (begun.photos, greys, tell)
    looked = _look(begun.job, look, begun.rough, _wide(begun))
    more = _read_along(begun, looked, shots, look)
    if more is not None:
        tell("solving again with what the hose's unrolled face shows")
        shots = more
        begun = _begin(shots, bars, line_od_mm)
        look = (begun.photos, greys, tell)
        looked = _look(begun.job, look, begun.rough, _wide(begun))
    looked = _refined(begun.job, look, begun.rough, looked)
    job, photos = begun.job, begun.photos
    tell("following the hose's own sides")
    solved, course = followed(
        Basis(looked.solved, looked.points, _known(job, looked.solved.state), job.things),
        usable(job, looked),
        partial(look_in, [partial(greys.both, photo) for photo in photos]),
    )
    looked = replace(looked, solved=solved)
    tell("measuring the route")
    order = [*photos, *(k for k in range(len(shots)) if k not in photos)]
    asked = Asked([shots[k].name for k in order], [shot.name for shot in shots], said)
    return reading_of(job, course, asked, looked)


def _seen(load: Load) -> tuple[Shot, Views]:
    photo = load()
    return see(photo), views_of(photo)


@dataclass(frozen=True, slots=True, eq=False)
class _Begun:
    """The first solve, from cards and markers as read; `photos` are those that connect."""

    job: Job
    photos: list[int]
    rough: tuple[Points, Points]
    solved: Solved


def _begin(
    shots: Sequence[Shot], bars: Mapping[str, BarReading], line_od_mm: float | None
) -> _Begun:
    placed = _placed(shots, bars, line_od_mm)
    state, photos, rows = first_state(placed)
    _demand_connection(shots, photos)
    job = Job(
        [shots[k] for k in photos],
        [placed.things[k] for k in rows],
        _scales(placed.things, bars),
        placed.radius_mm,
        (OD_U_MM if line_od_mm else USUAL_OD_U_MM) / 2,
    )
    rough = card_points(placed, photos, rows), mark_points(placed, photos, rows)
    return _Begun(job, photos, rough, solve(state, joined(rough), _known(job, state)))


def _wide(begun: _Begun) -> tuple[Solved, Vector, None]:
    """Where a first look starts from."""
    return begun.solved, np.full(len(begun.job.things), WIDE_MM), None


def _read_along(begun: _Begun, looked: Looked, shots: list[Shot], look: Eyes) -> list[Shot] | None:
    """Read markers along the curve; the photos with what is new, None where nothing is."""
    job = begun.job
    good = [k for k in bands_in(job) if is_good(looked, k)]
    if len(good) < LEAST_BANDS_TO_FOLLOW:
        return None
    state = looked.solved.state
    course = course_of(looked.solved, job.things, good, 2 * state.bare_radius_mm)
    known = {job.things[k].name for k in good}
    found, views = list(shots), dict[tuple[str, str], int]()
    for row, k in enumerate(begun.photos):
        have = {(m.print_.name, m.piece.name, m.row) for m in shots[k].marks}
        fresh = [
            mark
            for mark in marks_along(look[1].get(k), row, state, course.fit.chain)
            if (mark.print_.name, mark.piece.name) not in known
            and (mark.print_.name, mark.piece.name, mark.row) not in have
        ]
        for mark in fresh:
            name = (mark.print_.name, mark.piece.name)
            views[name] = views.get(name, 0) + 1
        found[k] = replace(shots[k], marks=(*shots[k].marks, *fresh))
    return found if views else None


def _refined(
    job: Job,
    look: Eyes,
    rough: tuple[Points, Points],
    looked: Looked,
) -> Looked:
    """Look again at the bands, nearer and with the curve, until all are good."""
    known: set[int] = set()
    for number in range(MOST_LOOKS):
        solved = looked.solved
        good = [k for k in bands_in(job) if is_good(looked, k)]
        poor = [k for k in bands_in(job) if k not in good]
        if len(good) < 3 or (number and not poor) or (number > 1 and known >= set(good)):
            break
        known |= set(good)
        course = course_of(solved, job.things, good, 2 * solved.state.bare_radius_mm)
        bend = np.full((len(job.things), 2), np.nan)
        bend[list(course.rows)] = bends_of(solved.state, list(course.rows), course.fit)
        sense = float(np.sign(np.sum(course.flips)) or 1.0)
        hung = hung_on(solved.state, rough[1], poor, course.fit.chain, sense)
        state = _surer(job, look, rough[1], (solved.state, hung), poor)
        reach = np.where(np.isin(np.arange(len(job.things)), good), NEAR_MM, WIDE_MM)
        look[2](f"following the bands, look {number + 2}")
        looked = _look(job, look, rough, (replace(solved, state=state), reach, bend))
    return looked


def _surer(
    job: Job, look: Eyes, marks: Points, tried: tuple[State, State], poor: list[int]
) -> State:
    """Of two poses of each poor band take the one from which more points are found."""
    reach = np.where(np.isin(np.arange(len(job.things)), poor), WIDE_MM, 0.0)
    counts = [
        np.bincount(_found(job, look, marks, state, reach).thing, minlength=len(job.things))
        for state in tried
    ]
    return mixed(*tried, np.flatnonzero(counts[1] > counts[0]))


def _found(job: Job, look: Eyes, marks: Points, state: State, reach: Vector) -> Points:
    """Fine points of all bands in all photos."""
    photos, greys, _ = look
    outer = outer_ends(state, marks, job.things)

    def points_in(row: int) -> Points:
        search = Search(reach, job.shots[row].blur_px, outer)
        return band_points(greys.get(photos[row]), row, state, job.things, search)

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return joined(list(pool.map(points_in, range(len(photos)))))


def _look(
    job: Job,
    look: Eyes,
    rough: tuple[Points, Points],
    start: tuple[Solved, Vector, NDArray[np.float64] | None],
) -> Looked:
    solved, reach, bend = start
    found = _found(job, look, rough[1], solved.state, reach)
    points = joined([rough[0], found, _unrefined(rough[1], found)])
    known = _known(job, solved.state, bend)
    solved = solve(solved.state, points, known)
    if bend is not None:
        solved = solve(solved.state, points, known, is_near=True)
    things = range(len(job.things))
    return Looked(
        solved,
        points,
        np.bincount(found.thing, minlength=len(job.things)),
        np.array([len(np.unique(found.photo[found.thing == k])) for k in things]),
    )


def _reading_of(bars: Mapping[str, BarReading], thing: Thing) -> BarReading | None:
    return bars.get(thing.print_.name) or bars.get(thing.print_.kind) or bars.get("")


def _scales(things: Sequence[Thing], bars: Mapping[str, BarReading]) -> list[PageScale]:
    """Of every print once, in the order in which things name them."""
    found = {t.print_.name: page_scale(t.print_, _reading_of(bars, t)) for t in things}
    return list(found.values())


def _placed(
    shots: Sequence[Shot], bars: Mapping[str, BarReading], line_od_mm: float | None
) -> Placed:
    things = things_seen(shots)
    bands = sum(thing.is_band for thing in things)
    if bands == 0:
        raise WrongPrintError(
            "None of the photos shows a hose band.",
            "Wrap the printed bands round the hose (photomeasure print bands) and come nearer.",
        )
    if bands == 1:
        raise NoLineError(
            "Only one hose band is seen; a route has two at least.",
            "Wrap a band before, in and after each bend, and take the photos nearer.",
        )
    scales = [page_scale(t.print_, _reading_of(bars, t)).mean for t in things]
    placed = Placed(shots, things, scales, (line_od_mm or USUAL_OD_MM) / 2 + PAPER_MM)
    place_all(placed)
    return placed


def _demand_connection(shots: Sequence[Shot], photos: list[int]) -> None:
    if len(photos) >= LEAST_PHOTOS:
        return
    lost = [shot.name for k, shot in enumerate(shots) if k not in photos]
    raise NotConnectedError(
        f"{', '.join(lost)}: no card or bands that the other photos show too, or too few; "
        f"{LEAST_PHOTOS} photos must hang together.",
        "Take the photos so that each shows two cards or three bands that another one shows too.",
    )


def _known(job: Job, state: State, bend: NDArray[np.float64] | None = None) -> Known:
    world = state.thing_shift.mean(axis=0)
    distances = np.linalg.norm(world + np.einsum("pji,pj->pi", state.turn, state.shift), axis=1)
    return Known(
        job.shots,
        job.scales,
        job.radius_mm,
        job.radius_u_mm,
        np.maximum(distances, 100.0),
        bend,
    )


def _unrefined(marks: Points, fine: Points) -> Points:
    """Corners of markers of bands that hardly any fine point was found on."""
    counts = np.bincount(fine.thing, minlength=int(marks.thing.max(initial=0)) + 1)
    return marks.of(counts[marks.thing] < FEW)
