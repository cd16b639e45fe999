"""From a photo to a part's outline, turns and posture, on an axis in the thread's middle."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoThreadError, TooFarError
from photomeasure.photo import Photo
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import Scene
from photomeasure.thread.aim import is_meant, is_nearer, other_threads
from photomeasure.thread.axis import Axis, Heading, contour_points
from photomeasure.thread.doubt import (
    CLEAR_EDGE_PX,
    FAINT_EDGE_PX,
    apart_px,
    is_astray,
    is_contradicted,
    side_doubt_mm,
)
from photomeasure.thread.end import end_face
from photomeasure.thread.face import face_sides
from photomeasure.thread.hexagon import hexagon_edges
from photomeasure.thread.locate import Found, locate
from photomeasure.thread.mirror import mirrored
from photomeasure.thread.outline import Outline, guided, outline
from photomeasure.thread.paper import OpenPaper, open_paper
from photomeasure.thread.rest import (
    Features,
    Posture,
    level_posture,
    postures,
    solve,
)
from photomeasure.thread.shade import Pictured, out_of_shade
from photomeasure.thread.strip import Strip, straightened
from photomeasure.thread.turns import LEAST_TURNS, Followed, Turns, follow, joined
from photomeasure.thread.values import Causes, sizes

__all__ = ["Seen", "look"]

Vector = NDArray[np.float64]
_Traced = tuple[Outline, tuple[Followed, Followed] | None]

SIGNS = (1, -1)  # left and right
RECENTRINGS = 2
NEAR_SHIFT_MM, NEAR_TURN_RAD, NEAR_LIFT_MM = 0.15, 0.004, 1.5  # no need to look again
ENOUGH_TURNS = 6  # of both sides: the heading is right
LEAST_OF_BEFORE = 0.6  # of the turns on the axis before: fewer, and that axis stays
STEEP_RAD, TIPPED_RAD = np.radians(32.0), np.radians(20.0)  # at most, and mostly, of tipped parts
STEEPEST_RAD, FARTHEST_MM = np.radians(45.0), 40.0  # of an axis that still runs through the part
COARSEST_PIXEL_MM = 0.25  # a turn of the finest pitch is then four pixels
FACE_STEPS = 6
EITHER = 0.7  # of the way between two places of a side: it may lie at either
LEAST_BLUR_PX = 0.6  # sharpening makes edges look steeper than the lens draws them
TAPERS_DEG = (0.0, 1.7899)  # of the half angle: parallel, 1:16
TAPER_PLAY_DEG = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Weights:
    """Chance of each posture, and what gravity alone gives it."""

    chances: dict[Posture, float]
    gravity: dict[Posture, float]

    @property
    def likeliest(self) -> Posture:
        return max(self.chances, key=self.chances.__getitem__)


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """One photo's fixed findings.

    Attributes
    ----------
    axis : Axis
        On which the turns were found.
    posture : Posture
        The likeliest.
    chances, gravity : dict of Posture to float
        By all that the photo shows, and by the part's middle alone.
    is_aimed_at : bool
        No other thread lies about as near to the photo's middle.
    bent_rise_rad : float or None
        The axis' rise by the bend of the crest lines, where they show it.
    is_bent_clearly : bool
        Those lines are surely the thread's.
    heading : Heading or None
        The axis' heading by their lean.
    face_spacing : float or None
        Of the crest lines along the face, in pitches of the outline; None for turns laid by them.
    """

    photo: Photo
    scene: Scene
    outline: Outline
    turns: Turns
    features: Features
    axis: Axis
    posture: Posture
    chances: dict[Posture, float]
    gravity: dict[Posture, float]
    is_aimed_at: bool = True
    bent_rise_rad: float | None = None
    is_bent_clearly: bool = False
    heading: Heading | None = None
    face_spacing: float | None = None

    @property
    def doubts_mm(self) -> tuple[float, float]:
        """How clear the edges are, left and right."""
        return self.features.doubts_mm


def look(photo: Photo, scene: Scene, sheet: FoundPiece, heading_rad: float | None = None) -> Seen:
    """Find part, outline and turns, on an axis that is moved to the thread's middle.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    sheet : FoundPiece
    heading_rad : float or None [rad]
        Of the axis, where its crest lines told it already.

    Returns
    -------
    Seen

    Raises
    ------
    MeasuringError
        Dots not seen, no fitting, no thread, too far.
    """
    blur = max(sheet.blur_px, LEAST_BLUR_PX)
    paper = open_paper(photo, scene, sheet)
    found, strip, first = _found(photo, scene, paper, blur, heading_rad)
    seen, sides = _traced(strip, first)
    _demand_nearness(photo, seen)
    for _ in range(RECENTRINGS):
        if _is_smooth(sides):
            break
        features = _features(scene, seen, joined(sides, photo.name))
        rest = solve(scene, features, seen.axis, level_posture(features))
        if _is_near(rest.axis, seen.axis):
            break
        nearer = straightened(photo, scene, paper, found, rest.axis)
        again = _traced(nearer, _followed(nearer, blur))
        if _turn_count(again[1]) < LEAST_OF_BEFORE * _turn_count(sides):
            break
        strip, (seen, sides) = nearer, again
    if _is_smooth(sides):
        return _by_face(photo, scene, (paper, found, strip), blur)
    seen, sides = out_of_shade(Pictured(photo, scene, paper, strip), seen, sides)
    turns = joined(sides, photo.name)
    others = other_threads(photo, scene, seen, turns)
    if is_nearer(seen, turns, others):
        meant = _meant(photo, scene, (paper, found, strip), blur)
        if meant is not None and meant.is_aimed_at:
            return meant
    features, weights = _settled(scene, strip, seen, turns, blur)
    return _seen(photo, scene, (seen, turns, features), weights, _doubts(strip, seen, sides))


def _meant(
    photo: Photo, scene: Scene, shown: tuple[OpenPaper, Found, Strip], blur_px: float
) -> Seen | None:
    """The thread in the photo's middle by its face, where the outline shows one farther off."""
    try:
        return _by_face(photo, scene, shown, blur_px)
    except NoThreadError:
        return None


def _is_smooth(sides: tuple[Followed, Followed] | None) -> bool:
    """Whether a side shows too few turns to be joined."""
    return sides is None or min(len(side.turns) for side in sides) < LEAST_TURNS


def _by_face(
    photo: Photo, scene: Scene, shown: tuple[OpenPaper, Found, Strip], blur_px: float
) -> Seen:
    """Turns by the stripes on the face, again on every axis that the posture gives."""
    paper, found, nearer = shown
    for _ in range(FACE_STEPS):
        strip = nearer
        seen = outline(strip, blur_px)
        sides = face_sides(photo, scene, seen)
        seen, sides = out_of_shade(Pictured(photo, scene, paper, strip), seen, sides)
        turns = joined(sides, photo.name)
        features, weights = _settled(scene, strip, seen, turns, blur_px)
        rest = solve(scene, features, seen.axis, weights.likeliest)
        if _is_near(rest.axis, seen.axis):
            break
        axes = [rest.axis]
        if abs(rest.axis.rise_rad) > STEEP_RAD:
            axes = _tipped(solve(scene, features, seen.axis, level_posture(features)).axis)
        strips = [straightened(photo, scene, paper, found, axis) for axis in axes]
        if len(strips) > 1:
            strips.sort(key=lambda one: _face_count(photo, scene, one, blur_px))
        nearer = strips[-1]
    _demand_near_part(photo.name, rest.axis, found.axis)
    return _seen(photo, scene, (seen, turns, features), weights, _doubts(strip, seen, sides))


def _tipped(level: Axis) -> list[Axis]:
    """Either way as parts lie, where a rough heading tips the solution much farther."""
    return [replace(level, rise_rad=sign * TIPPED_RAD) for sign in SIGNS]


def _face_count(photo: Photo, scene: Scene, strip: Strip, blur_px: float) -> int:
    return _turn_count(face_sides(photo, scene, outline(strip, blur_px)))


def _settled(
    scene: Scene, strip: Strip, seen: Outline, turns: Turns, blur_px: float
) -> tuple[Features, _Weights]:
    """Features with the thread's end, and the chance of each posture."""
    end = end_face(scene, strip, turns, blur_px)
    features = replace(_features(scene, seen, turns), end=end)
    return features, _weighed(scene, features, seen.axis)


def _seen(
    photo: Photo,
    scene: Scene,
    found: tuple[Outline, Turns, Features],
    weights: _Weights,
    doubts_mm: tuple[float, float],
) -> Seen:
    seen, turns, features = found
    return Seen(
        photo,
        scene,
        seen,
        turns,
        replace(features, doubts_mm=doubts_mm),
        seen.axis,
        weights.likeliest,
        weights.chances,
        weights.gravity,
        is_aimed_at=is_meant(seen, turns, other_threads(photo, scene, seen, turns)),
    )


def _doubts(
    strip: Strip, seen: Outline, sides: tuple[Followed, Followed] | None
) -> tuple[float, float]:
    left, right = (
        side_doubt_mm(strip, side, followed)
        for side, followed in zip((seen.left, seen.right), sides or (), strict=True)
    )
    return left, right


def _found(
    photo: Photo, scene: Scene, paper: OpenPaper, blur_px: float, known_rad: float | None
) -> tuple[Found, Strip, _Traced]:
    """The part along the heading on which a thread shows: that of best symmetry, or across it."""
    if known_rad is not None:
        known = replace(locate(photo, paper, known_rad)[0], is_heading_sure=True)
        strip = straightened(photo, scene, paper, known, known.axis)
        return known, strip, _followed(strip, blur_px)
    first, second = locate(photo, paper, _marked_heading(photo, scene))
    strip = straightened(photo, scene, paper, first, first.axis)
    traced = _followed(strip, blur_px)
    count = _turn_count(traced[1])
    if len(photo.marked_px) == 2 or count >= ENOUGH_TURNS:
        return first, strip, traced
    other = straightened(photo, scene, paper, second, second.axis)
    across = _followed(other, blur_px)
    is_better = _turn_count(across[1]) > count
    return (second, other, across) if is_better else (first, strip, traced)


def _followed(strip: Strip, blur_px: float) -> _Traced:
    seen = outline(strip, blur_px)
    return seen, follow(seen)


def _marked_heading(photo: Photo, scene: Scene) -> float | None:
    """Heading of the axis where somebody marked both ends of the thread."""
    if len(photo.marked_px) != 2:
        return None
    across, up = np.diff(scene.sheet_mm(np.array(photo.marked_px)), axis=0)[0]
    return float(np.arctan2(up, across))


def _is_near(axis: Axis, other: Axis) -> bool:
    shift = float(np.hypot(axis.x_mm - other.x_mm, axis.y_mm - other.y_mm))
    turn = abs(np.sin(axis.heading_rad - other.heading_rad))
    lift = abs(axis.height_mm - other.height_mm)
    return shift < NEAR_SHIFT_MM and turn < NEAR_TURN_RAD and lift < NEAR_LIFT_MM


def _turn_count(sides: tuple[Followed, Followed] | None) -> int:
    return sum(len(side.turns) for side in sides) if sides else 0


def _traced(strip: Strip, first: _Traced) -> _Traced:
    """Outline and turns; a side with fewer turns, or fainter, is traced again by the other's."""
    seen, sides = first
    done: set[int] = set()
    while len(done) < len(SIGNS):
        poor = _poorer(strip, seen, sides)
        if sides is None or poor is None or poor in done:
            break
        side = (seen.left, seen.right)[poor]
        like = mirrored(strip, sides[1 - poor], side)
        if like is None:
            break
        done.add(poor)
        again = guided(strip, seen, SIGNS[poor], like.guide)
        better = follow(again) or sides
        if is_astray(strip, better, (poor, (again.left, again.right)[poor]), like):
            if is_contradicted(strip, side, sides[poor], like):
                doubt_px = EITHER * apart_px(strip, sides[poor], like)
                doubted = replace(sides[poor], laid_u_px=doubt_px)
                return seen, (doubted, sides[1]) if poor == 0 else (sides[0], doubted)
            better = (like.followed, sides[1]) if poor == 0 else (sides[0], like.followed)
        if _turn_count(better) < _turn_count(sides) + (not like.is_sure):
            break
        seen, sides = again, better
    return seen, sides


def _poorer(strip: Strip, seen: Outline, sides: tuple[Followed, Followed] | None) -> int | None:
    """The side with fewer turns, or the faint one beside a clear one."""
    if sides is None:
        return None
    counts = [len(side.turns) for side in sides]
    if min(counts) >= LEAST_TURNS:
        doubts = np.array(_doubts(strip, seen, sides)) / strip.pixel_mm
        clear = int(doubts.argmin())
        if doubts.max() > FAINT_EDGE_PX and doubts.min() < CLEAR_EDGE_PX and sides[clear].is_deep:
            return 1 - clear
    return None if counts[0] == counts[1] else int(np.argmin(counts))


def _weighed(scene: Scene, features: Features, start: Axis) -> _Weights:
    """Chance of each posture: by gravity, by a straight or 1:16 thread, by the round of its end."""
    chances, gravity = {}, {}
    for posture, (rest, chance) in postures(scene, features, start).items():
        tried = sizes(scene, features, rest.axis, posture, Causes())
        off = min(abs(tried.vector[2] - taper) for taper in TAPERS_DEG)
        spread = float(np.hypot(tried.noise[2], TAPER_PLAY_DEG))
        straight = float(np.exp(-0.5 * min((off / spread) ** 2, 60.0)))
        round_ = features.end.chance(scene, tried.rest.axis) if features.end else 1.0
        chances[posture] = chance * straight * round_
        gravity[posture] = chance
    total = sum(chances.values())
    return _Weights({posture: chance / total for posture, chance in chances.items()}, gravity)


def _features(scene: Scene, seen: Outline, turns: Turns) -> Features:
    def px(along: Vector, off: Vector) -> Vector:
        return scene.px(contour_points(scene, seen.axis, along, off))

    signs = np.array([float(turn.sign) for turn in turns.turns])
    along = np.array([turn.along_mm for turn in turns.turns])
    off = np.array([turn.off_mm for turn in turns.turns])
    sides = (seen.left, seen.right)
    edges = hexagon_edges(seen, turns)
    flats = [
        px(side.along_mm[rows], side.sign * side.off_mm[rows])
        for side, rows in zip(sides, edges, strict=True)
    ]
    thinned = [px(side.along_mm[::3], side.sign * side.off_mm[::3]) for side in sides]
    return Features(
        px(along, signs * off),
        signs,
        np.array([float(turn.number) for turn in turns.turns]),
        (flats[0], flats[1]),
        np.concatenate(thinned),
        np.concatenate([np.full(len(side.along_mm[::3]), float(side.sign)) for side in sides]),
        None,
    )


def _demand_near_part(name: str, axis: Axis, part: Axis) -> None:
    """Refuse an axis that no longer runs through the part: its stripes are no thread's."""
    off = float(np.hypot(axis.x_mm - part.x_mm, axis.y_mm - part.y_mm))
    if abs(axis.rise_rad) > STEEPEST_RAD or off > FARTHEST_MM:
        raise NoThreadError(
            f"{name} shows no thread that can be followed along the part.",
            "Prop the part up level, turn the thread's side to the camera, light it softly.",
        )


def _demand_nearness(photo: Photo, seen: Outline) -> None:
    if seen.pixel_mm > COARSEST_PIXEL_MM:
        raise TooFarError(
            f"{photo.name} has {1 / seen.pixel_mm:.1f} pixels a millimetre at the fitting; "
            f"{1 / COARSEST_PIXEL_MM:.0f} are needed to tell pitches apart.",
            "Come as near as the sheet says, without zoom, and send the full-size file.",
        )
