"""Which thread of a part is meant: the one at which the photo was aimed."""

from collections.abc import Sequence

import numpy as np

from photomeasure.photo import Photo
from photomeasure.scene import Scene
from photomeasure.thread.face import striped_places
from photomeasure.thread.hexagon import hexagon_edges
from photomeasure.thread.outline import Outline
from photomeasure.thread.turns import Turns

__all__ = ["Stretch", "is_meant", "is_nearer", "other_threads"]

Stretch = tuple[float, float]  # from and to along the axis [mm]

AIMED_MM = 2.0  # from the thread's nearer end: any other is clearly farther
APART_MM = 5.0  # between two threads where no hexagon is seen
CLEARLY_MM = 3.0  # by so much the part's other thread must lie farther off


def _off_aim_mm(seen: Outline, stretch: Stretch) -> float:
    """How far a stretch lies from the photo's middle, 0 if it runs through it."""
    first, last = stretch
    return max(first - seen.aim_mm, seen.aim_mm - last, 0.0)


def _own(turns: Turns) -> Stretch:
    """From where to where the turns that were followed reach [mm]."""
    places = [turn.along_mm for turn in turns.turns]
    half = turns.pitch_mm / 2
    return min(places) - half, max(places) + half


def other_threads(photo: Photo, scene: Scene, seen: Outline, turns: Turns) -> list[Stretch]:
    """Stretches of the part that show a thread's stripes beside the thread that was followed.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    seen : Outline
    turns : Turns

    Returns
    -------
    list of (from, to) [mm]
        None where the thread is surely meant: marked by hand, or in the photo's middle.
    """
    own = _own(turns)
    if _off_aim_mm(seen, own) < AIMED_MM or np.isfinite(seen.stretch_mm).any():
        return []
    hexagon = _hexagon(seen, turns)
    found = striped_places(photo, scene, seen, [own, *hexagon])
    return [one for one in found if _is_apart(one, own, hexagon)]


def _hexagon(seen: Outline, turns: Turns) -> list[Stretch]:
    """From where to where it reaches, if one is seen."""
    sides = zip((seen.left, seen.right), hexagon_edges(seen, turns), strict=True)
    along = np.concatenate([side.along_mm[rows] for side, rows in sides])
    return [(float(along.min()), float(along.max()))] if len(along) else []


def _is_apart(one: Stretch, own: Stretch, hexagon: Sequence[Stretch]) -> bool:
    """Whether a hexagon, or room for one, parts two stretches: else they are one thread's."""
    if max(own[0] - one[1], one[0] - own[1]) > APART_MM and not hexagon:
        return True
    return any((sum(one) - sum(nut)) * (sum(own) - sum(nut)) < 0 for nut in hexagon)


def is_meant(seen: Outline, turns: Turns, others: Sequence[Stretch]) -> bool:
    """Whether the thread followed lies clearly nearer to the photo's middle than any other.

    Parameters
    ----------
    seen : Outline
    turns : Turns
    others : sequence of (from, to) [mm]

    Returns
    -------
    bool
    """
    off = _off_aim_mm(seen, _own(turns))
    return all(_off_aim_mm(seen, other) > off + CLEARLY_MM for other in others)


def is_nearer(seen: Outline, turns: Turns, others: Sequence[Stretch]) -> bool:
    """Whether another thread lies clearly nearer to the photo's middle than the one followed.

    Parameters
    ----------
    seen : Outline
    turns : Turns
    others : sequence of (from, to) [mm]

    Returns
    -------
    bool
    """
    off = _off_aim_mm(seen, _own(turns))
    return any(_off_aim_mm(seen, other) + CLEARLY_MM < off for other in others)
