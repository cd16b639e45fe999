"""Read a fitting from several photos between which it was not touched."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import MeasuringError
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity, Source
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import solve_scenes
from photomeasure.thread.budget import PIPE_TAPER_DEG, Doubted, Shown, numbers, own_parts, parts
from photomeasure.thread.extras import Known, scale_u, snapped, with_extras
from photomeasure.thread.fitting import (
    TAPER_SPLIT_DEG,
    FittingOptions,
    demand_certainty,
    radius_loss_mm,
    read_fitting,
    reading_of,
    seen_in,
    sheets_in,
)
from photomeasure.thread.look import Seen
from photomeasure.thread.reading import FittingReading, Hand
from photomeasure.thread.rest import Posture
from photomeasure.thread.together import Together, View, plan_u, settled, stand, views_of
from photomeasure.thread.values import NAMES, Causes, Sizes

__all__ = ["read_fittings"]

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

MOST_APART = 5.0  # of their uncertainty: axes in plan of a part that was not moved
FLOORS = np.array([0.01, 0.001, 0.1, 0.05, 0.02, 0.1])  # of a photo's own sizes, as NAMES
DISAGREED = 2.0  # of their uncertainty: sizes that two photos show differently
MOST_GAP = 0.02  # of diameter or pitch, between photos of one thread
ONES = np.ones(len(NAMES))
MOVED = "The part lies otherwise in one photo than in another: was it touched? One photo was used."
APART = "The photos show different sizes: take them again, the part's edges clear of shadow."


@dataclass(frozen=True, slots=True, eq=False)
class _Joint:
    """The common axis, each photo's sizes on it, their weights and own variances, (V, 6)."""

    together: Together
    best: list[Sizes]
    knowns: Known
    weights: Matrix
    variance: Matrix

    @property
    def vector(self) -> Vector:
        """Sizes of all photos together."""
        return self.mean(self.best)

    def mean(self, every: Sequence[Sizes]) -> Vector:
        """Weighted sizes; a tapered thread's diameter at the mean place."""
        vectors = np.array([one.vector for one in every])
        if self.weights[:, 2] @ vectors[:, 2] > TAPER_SPLIT_DEG:
            places = np.array([one.middle_mm for one in self.best])
            ahead = self.weights[:, 0] @ places - places
            vectors[:, 0] += 2 * np.tan(np.radians(PIPE_TAPER_DEG)) * ahead
        return np.asarray((self.weights * vectors).sum(axis=0))

    @property
    def apart(self) -> Vector:
        """Spread of the photos' sizes where it is more than their own doubt explains, (6,)."""
        vectors = np.array([one.vector for one in self.best])
        off = vectors - (self.weights * vectors).sum(axis=0)
        spread = np.sqrt((self.weights * off**2).sum(axis=0))
        expected = np.sqrt((len(off) - 1) / (1 / self.variance).sum(axis=0))
        return np.asarray(np.where(spread > DISAGREED * expected, spread, 0.0))

    @property
    def is_apart(self) -> bool:
        """Whether diameter or pitch differ by more than one thread can."""
        gap = self.apart / self.vector.clip(min=1e-9)
        return bool(gap[0] > MOST_GAP or gap[1] > MOST_GAP)


def read_fittings(
    photos: Sequence[Photo], pieces: Sequence[tuple[FoundPiece, ...]], options: FittingOptions
) -> FittingReading:
    """Read the thread of an untouched fitting from one photo or several.

    Parameters
    ----------
    photos : sequence of Photo
    pieces : sequence of tuple of FoundPiece
        As found in each.
    options : FittingOptions

    Returns
    -------
    FittingReading

    Raises
    ------
    MeasuringError
        If no photo can be read, or they show no common sheet.
    """
    if len(photos) == 1:
        return read_fitting(photos[0], pieces[0], options)
    sheets = [sheets_in(photo, found) for photo, found in zip(photos, pieces, strict=True)]
    scenes = solve_scenes(photos, sheets, options.bars)
    seen, told, refused = [], [], []
    for index, photo in enumerate(photos):
        try:
            one, said = seen_in(photo, scenes[index], sheets[index][0], options.lies)
        except MeasuringError as error:
            refused.append(error)
        else:
            seen.append(one)
            told += [text for text in said if text not in told]
    if not seen:
        raise refused[0]
    warnings = tuple(told) + tuple(f"Left out: {error.message}" for error in refused)
    if len(seen) == 1:
        index = photos.index(seen[0].photo)
        alone = read_fitting(photos[index], pieces[index], options)
        return replace(alone, warnings=(*alone.warnings, *warnings))
    joint = _joint(seen, options.spanner_mm, warnings)
    if _is_moved(joint.together):
        return _surest(photos, pieces, options)
    return _read(joint)


def _joint(seen: Sequence[Seen], spanner_mm: float | None, warnings: tuple[str, ...]) -> _Joint:
    scenes = [one.scene for one in seen]
    rough = settled(views_of(seen), Causes())
    sized = rough.sized(scenes, rough.standing, Causes())
    flats = [one.rest.across_flats_mm for one in sized if one.rest.across_flats_mm]
    flats_mm = float(np.mean(flats)) if flats else None
    knowns = snapped(flats_mm, scale_u(seen[0]), spanner_mm, warnings)
    together = settled(rough.views, knowns.causes)
    best = together.sized(scenes, together.standing, knowns.causes)
    own = [own_parts(_shown(one, sized)) for one, sized in zip(seen, best, strict=True)]
    variance = np.array([FLOORS**2 + sum(part**2 for part in one.values()) for one in own])
    return _Joint(together, best, knowns, 1 / variance / (1 / variance).sum(axis=0), variance)


def _shown(seen: Seen, best: Sizes, weight: Vector = ONES) -> Shown:
    return Shown(seen.photo.key, best, seen.doubts_mm, weight)


def _is_moved(together: Together) -> bool:
    """Whether the axes in plan do not meet: somebody touched the part."""
    plans = together.misfit[2:]
    free = max(len(plans) - 2, 1)
    return bool(plans @ plans > MOST_APART**2 * free)


def _surest(
    photos: Sequence[Photo], pieces: Sequence[tuple[FoundPiece, ...]], options: FittingOptions
) -> FittingReading:
    """The best photo alone, where they do not show the part lying in one place."""
    alone = [read_fitting(*one, options) for one in zip(photos, pieces, strict=True)]
    best = min(alone, key=lambda reading: reading.crest_diameter.u)
    return replace(best, warnings=(*best.warnings, MOVED))


def _read(joint: _Joint) -> FittingReading:
    found = numbers(joint.vector, _parts(joint), 2 * _mean_loss_mm(joint)[0])
    seen = [_on_common_axis(joint.together, view) for view in joint.together.views]
    demand_certainty(seen[0].photo, found["crest_diameter"])
    every = zip(seen, joint.best, strict=True)
    readings = [
        with_extras(reading_of(one, best, found), one, best, joint.knowns) for one, best in every
    ]
    return _merged(joint, readings)


def _on_common_axis(together: Together, view: View) -> Seen:
    chances = {view.posture(posture): chance for posture, chance in together.chances.items()}
    return replace(view.seen, chances=chances, posture=view.posture(together.posture))


def _mean_loss_mm(joint: _Joint) -> tuple[float, float]:
    losses = np.array([radius_loss_mm(view.seen) for view in joint.together.views])
    loss, loss_u = joint.weights[:, 0] @ losses
    return float(loss), float(loss_u)


def _parts(joint: _Joint) -> dict[Source, Vector]:
    """Signed change of every size by every source; the photos' own by their weights."""
    together, base = joint.together, joint.vector
    views = together.views
    scenes = [view.seen.scene for view in views]

    def change(causes: Causes, index: int | None, posture: Posture) -> Vector:
        moved = scenes if index is None else [scene.shifted[index] for scene in scenes]
        if posture != together.posture:
            standing = stand(views, moved, together.frame, (posture, causes))[0]
        else:
            standing = together.moved(moved, causes)
        return joint.mean(together.sized(moved, standing, causes)) - base

    pixels = [view.seen.outline.pixel_mm for view in views]
    doubted = Doubted(
        change=change,
        causes=joint.knowns.causes,
        sources=scenes[0].sources,
        posture=together.posture,
        chances=together.chances,
        shown=tuple(
            _shown(view.seen, best, weight)
            for view, best, weight in zip(views, joint.best, joint.weights, strict=True)
        ),
        corner_ratio_u=joint.knowns.corner_ratio_u if joint.knowns.hexagon else None,
        pixel_mm=float(joint.weights[:, 0] @ pixels),
        loss_u_mm=_mean_loss_mm(joint)[1],
    )
    found = parts(doubted)
    found |= _by_edges(joint, base)
    gap = Source("photos apart", "how far the photos differ", "photo", doubted.key)
    return found | {gap: joint.apart}


def _by_edges(joint: _Joint, base: Vector) -> dict[Source, Vector]:
    """How a doubtful edge moves the common axis, and by it the sizes."""
    together, causes = joint.together, joint.knowns.causes
    scenes = [view.seen.scene for view in together.views]
    found = {}
    for index, view in enumerate(together.views):
        for column, label in enumerate(("place", "heading")):
            nudges = np.zeros((len(together.views), 2))
            nudges[index, column] = plan_u(view.seen)[column]
            standing = together.moved(scenes, causes, nudges)
            source = Source(f"axis {label}", f"{label} of the axis", "photo", view.seen.photo.key)
            found[source] = joint.mean(together.sized(scenes, standing, causes)) - base
    return found


def _merged(joint: _Joint, readings: Sequence[FittingReading]) -> FittingReading:
    """One reading: sizes are common, of all else the surest photo tells."""
    places = np.array([one.crest_diameter_at_mm for one in readings])
    hands = {one.hand for one in readings} - {"unknown"}
    hand: Hand = hands.pop() if len(hands) == 1 else "unknown"
    told = [text for one in readings for text in one.warnings]
    if joint.is_apart:
        told.append(APART)
    return replace(
        readings[0],
        crest_diameter_at_mm=float(joint.weights[:, 0] @ places),
        minor_diameter=_surest_of([one.minor_diameter for one in readings]),
        thread_angle=_surest_of([one.thread_angle for one in readings]),
        nose_half_angle=_surest_of([one.nose_half_angle for one in readings]),
        hand=hand,
        misfit_p=0.0 if joint.is_apart else max(one.misfit_p for one in readings),
        traces=tuple(trace for one in readings for trace in one.traces),
        warnings=tuple(dict.fromkeys(told)),
    )


def _surest_of(values: Sequence[Quantity | None]) -> Quantity | None:
    return min((one for one in values if one), key=lambda one: one.u, default=None)
