"""Read a fitting from several photos between which it was not touched."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import MeasuringError
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import solve_scenes
from photomeasure.thread.astray import settled_without_astray
from photomeasure.thread.budget import (
    Change,
    Doubted,
    Shown,
    numbers,
    own_parts,
    parts,
)
from photomeasure.thread.extras import Known, scale_u, snapped, with_extras
from photomeasure.thread.fitting import (
    FittingOptions,
    demand_certainty,
    radius_loss_mm,
    read_fitting,
    reading_of,
    seen_in,
    sheets_in,
    shown_by,
)
from photomeasure.thread.look import Seen
from photomeasure.thread.reading import FittingReading, Hand
from photomeasure.thread.rest import Posture
from photomeasure.thread.together import (
    Together,
    said_by,
    settled,
    shown_u,
    sized_on,
    stand,
)
from photomeasure.thread.values import NAMES, Causes, Sizes
from photomeasure.thread.views import View, shared_postures, views_of

__all__ = ["read_fittings"]

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

MOST_APART = 5.0  # of their uncertainty: axes in plan of a part that was not moved
FLOORS = np.array([0.01, 0.001, 0.1, 0.05, 0.02, 0.1])  # of a photo's own sizes, as NAMES
DISAGREED = 2.0  # of their uncertainty: sizes that two photos show differently
MOST_GAP = 0.04  # of diameter or pitch, between photos of one thread
APART_SIZES = np.array([False, True, False, False, False, True])  # the cone has its own doubts
EDGES = ("left edge", "right edge", "left edge's tilt", "right edge's tilt")
STEP = np.array([0.2, 0.005])  # [mm, rad] of height and rise
ONES = np.ones(len(NAMES))
MOVED = "The part lies otherwise in one photo than in another: was it touched? One photo was used."
UNCLEAR = "One photo was used: another shows no clean thread, or none in its middle."
APART = "The photos show different threads: aim each photo at the one you mean."


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
        return self.sizes(self.best)

    def sizes(self, every: Sequence[Sizes], nudges: Matrix | None = None) -> Vector:
        """Sizes of all photos together: the cone by their edges, the rest by their weights."""
        radius, rise = self.together.cone(every, nudges)
        vector = (self.weights * [one.vector for one in every]).sum(axis=0)
        slope = rise * every[0].from_end
        depth = float(np.mean([-one.end_mm for one in every]))
        place = float(np.mean([one.middle_mm for one in every]))
        vector[0] = 2 * (radius + slope * (place - depth))
        vector[2] = np.degrees(np.arctan(slope))
        vector[4] = 2 * (radius - slope * depth)
        return np.asarray(vector)

    @property
    def apart(self) -> Vector:
        """Spread of the photos' pitch and length beyond what their own doubt explains, (6,)."""
        vectors = np.array([one.vector for one in self.best])
        off = vectors - (self.weights * vectors).sum(axis=0)
        spread = np.sqrt((self.weights * off**2).sum(axis=0))
        expected = np.sqrt((len(off) - 1) / (1 / self.variance).sum(axis=0))
        return np.asarray(np.where((spread > DISAGREED * expected) & APART_SIZES, spread, 0.0))

    @property
    def is_apart(self) -> bool:
        """Whether diameters or pitches differ by more than one thread's can."""
        vectors = np.array([one.vector for one in self.best])
        gap = np.ptp(vectors[:, :2], axis=0) / self.vector[:2]
        return bool(gap.max() > MOST_GAP)


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
    seen, told = _seen(photos, pieces, options)
    shown = [(one.photo, pieces[photos.index(one.photo)]) for one in seen]
    if len(seen) == 1:
        return _alone(shown, options, told)
    views = views_of(seen)
    if not shared_postures(views):
        return _alone(shown, options, told)
    joint = _joint(views, options.spanner_mm, told)
    if _is_moved(joint.together) or joint.is_apart:
        return _alone(shown, options, told)
    return _read(joint)


def _seen(
    photos: Sequence[Photo], pieces: Sequence[tuple[FoundPiece, ...]], options: FittingOptions
) -> tuple[list[Seen], tuple[str, ...]]:
    """What every photo shows that can be read, and what is to be said of it."""
    sheets = [sheets_in(photo, found) for photo, found in zip(photos, pieces, strict=True)]
    scenes = solve_scenes(photos, sheets, options.bars)
    seen: list[Seen] = []
    told: list[str] = []
    refused: list[MeasuringError] = []
    for photo, scene, found in zip(photos, scenes, sheets, strict=True):
        try:
            one, said = seen_in(photo, scene, found[0], options.lies)
        except MeasuringError as error:
            refused.append(error)
        else:
            seen.append(one)
            told += said
    if not seen:
        raise refused[0]
    with_hexagon = [one for one in seen if one.features.has_hexagon] or seen
    told += [f"Left out: {error.message}" for error in refused]
    bare = [one.photo.name for one in seen if one not in with_hexagon]
    told += [f"Left out: {name} shows no hexagon, the others do." for name in bare]
    return with_hexagon, tuple(dict.fromkeys(told))


def _joint(views: tuple[View, ...], spanner_mm: float | None, warnings: tuple[str, ...]) -> _Joint:
    seen = [view.seen for view in views]
    rough = settled(views, Causes())
    sized = zip(views, _sized(rough, Causes()), strict=True)
    rests = [one.rest for view, one in sized if view in rough.tellers]
    seen_mm = [one.across_flats_mm for one in rests if one.across_flats_mm is not None]
    flats_mm = float(np.mean(seen_mm)) if seen_mm else None
    aside = float(np.mean([one.aside_rad for one in rests])) if rests else 0.0
    knowns = snapped((flats_mm, aside), scale_u(seen[0]), spanner_mm, warnings)
    together = settled_without_astray(settled(views, knowns.causes), knowns.causes)
    best, seen = _sized(together, knowns.causes), [view.seen for view in together.views]
    own = [own_parts(_shown(one, sized)) for one, sized in zip(seen, best, strict=True)]
    variance = np.array([FLOORS**2 + sum(part**2 for part in one.values()) for one in own])
    return _Joint(together, best, knowns, 1 / variance / (1 / variance).sum(axis=0), variance)


def _sized(together: Together, causes: Causes) -> list[Sizes]:
    scenes = [view.seen.scene for view in together.views]
    return sized_on(together.views, scenes, together.frame, together.standing, causes)


def _shown(seen: Seen, best: Sizes, weight: Vector = ONES) -> Shown:
    return shown_by(seen, best, None, weight)


def _is_moved(together: Together) -> bool:
    """Whether the axes in plan do not meet: somebody touched the part."""
    sides = 4 * len(together.views)
    off = together.misfit[2 : 2 + sides]
    return bool((off**2).mean() > MOST_APART**2)


def _alone(
    shown: Sequence[tuple[Photo, tuple[FoundPiece, ...]]],
    options: FittingOptions,
    told: tuple[str, ...],
) -> FittingReading:
    """The surest photo alone, where the others show nothing or contradict it."""
    alone = [read_fitting(photo, found, options) for photo, found in shown]
    clean = max(one.misfit_p for one in alone)
    counted = [one for one in alone if one.misfit_p == clean]
    best = min(counted, key=lambda one: one.pitch.u / one.pitch.value)
    if len(alone) == 1:
        return replace(best, warnings=(*best.warnings, *told))
    if len(counted) < len(alone):
        return replace(best, warnings=(*best.warnings, *told, UNCLEAR))
    sizes = np.array([(one.pitch.value, one.crest_diameter.value) for one in alone])
    if np.any(np.ptp(sizes, axis=0) > MOST_GAP * sizes.min(axis=0)):
        return replace(best, misfit_p=0.0, warnings=(*best.warnings, *told, APART))
    return replace(best, warnings=(*best.warnings, *told, MOVED))


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
    together = joint.together
    views = together.views
    pixels = [view.seen.outline.pixel_mm for view in views]
    slopes = _slopes(joint)
    doubted = Doubted(
        change=_change(joint, slopes),
        causes=joint.knowns.causes,
        sources=views[0].seen.scene.sources,
        posture=together.posture,
        chances=together.chances,
        shown=tuple(
            _shown(view.seen, best, weight)
            for view, best, weight in zip(views, joint.best, joint.weights, strict=True)
        ),
        corner_ratio_u=joint.knowns.corner_ratio_u if joint.knowns.hexagon else None,
        lean_u_rad=float(
            np.mean([view.leans[view.posture(together.posture)].u_rad for view in views])
        ),
        pixel_mm=float(joint.weights[:, 0] @ pixels),
        loss_u_mm=_mean_loss_mm(joint)[1],
    )
    gap = Source("photos apart", "how far the photos differ", "photo", doubted.key)
    return parts(doubted) | _by_edges(joint, slopes) | {gap: joint.apart}


def _change(joint: _Joint, slopes: Matrix) -> Change:
    """Change of the sizes with the world; the posture is solved anew where it may matter."""
    together, base = joint.together, joint.vector
    views, frame = together.views, together.frame
    scenes = [view.seen.scene for view in views]
    tellers = [views.index(view) for view in together.tellers]

    def change(causes: Causes, index: int | None, posture: Posture) -> Vector:
        there = scenes if index is None else [scene.shifted[index] for scene in scenes]
        told = [there[teller] for teller in tellers]
        if posture != together.posture:
            said = said_by(together.tellers, told, frame, posture, causes)
            standing = stand(views, frame, posture, said, causes).standing
            return joint.sizes(sized_on(views, scenes, frame, standing, causes)) - base
        sized = sized_on(views, there, frame, together.standing, causes)
        said = together.said
        if index is None or scenes[0].sources[index].scope == "print":
            said = said_by(together.tellers, told, frame, posture, causes)
        return np.asarray(joint.sizes(sized) - base + slopes @ together.moved(sized, said))

    return change


def _slopes(joint: _Joint) -> Matrix:
    """Change of the sizes with height and rise of the axis, (6, 2)."""
    together, causes = joint.together, joint.knowns.causes
    scenes = [view.seen.scene for view in together.views]
    moved = [
        joint.sizes(
            sized_on(together.views, scenes, together.frame, together.standing + step, causes)
        )
        for step in np.diag(STEP)
    ]
    return np.asarray((np.array(moved) - joint.vector).T / STEP)


def _by_edges(joint: _Joint, slopes: Matrix) -> dict[Source, Vector]:
    """How an edge that one photo shows wrongly moves the sizes, also by the common axis."""
    together, base = joint.together, joint.vector
    found = {}
    for index, view in enumerate(together.views):
        u = shown_u(view, joint.best[index])
        for column, label in enumerate(EDGES):
            nudges = np.zeros((len(together.views), len(u)))
            nudges[index, column] = u[column]
            standing = together.moved(joint.best, together.said, nudges)
            source = Source(label, f"how clear the {label} is", "photo", view.seen.photo.key)
            found[source] = joint.sizes(joint.best, nudges) - base + slopes @ standing
    return found


def _merged(joint: _Joint, readings: Sequence[FittingReading]) -> FittingReading:
    """One reading: sizes are common, of all else the surest photo tells."""
    places = np.array([one.crest_diameter_at_mm for one in readings])
    hands = {one.hand for one in readings} - {"unknown"}
    hand: Hand = hands.pop() if len(hands) == 1 else "unknown"
    clean = max(one.misfit_p for one in readings)
    told = [text for one in readings if one.misfit_p == clean for text in one.warnings]
    return replace(
        readings[0],
        crest_diameter_at_mm=float(joint.weights[:, 0] @ places),
        minor_diameter=_surest_of([one.minor_diameter for one in readings]),
        thread_angle=_flanks_of([one.thread_angle for one in readings], joint),
        nose_half_angle=_surest_of([one.nose_half_angle for one in readings]),
        hand=hand,
        misfit_p=clean,
        traces=tuple(trace for one in readings for trace in one.traces),
        warnings=tuple(dict.fromkeys(told)),
    )


def _surest_of(values: Sequence[Quantity | None]) -> Quantity | None:
    return min((one for one in values if one), key=lambda one: one.u, default=None)


def _flanks_of(values: Sequence[Quantity | None], joint: _Joint) -> Quantity | None:
    """The mean of what the photos' flanks show, in doubt by half of what lies between them."""
    shown = [one for one in values if one]
    if len(shown) < 2:
        return shown[0] if shown else None
    angles, u = np.array([(one.value, one.u) for one in shown]).T
    weights = 1 / u**2
    apart = float(np.ptp(angles)) / 2
    total_u = float(max(weights.sum() ** -0.5, apart))
    key = "+".join(view.seen.photo.key for view in joint.together.views)
    source = Source("flanks", "how straight the flanks are seen", "photo", key)
    mean = float(weights @ angles / weights.sum())
    return Quantity.normal(measured(mean, {source: total_u}), "deg")
