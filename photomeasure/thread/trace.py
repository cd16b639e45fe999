"""Where a thread was read, in pixels, for the annotated picture."""

import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo
from photomeasure.scene import Scene
from photomeasure.thread.axis import contour_points
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.reading import FittingTrace
from photomeasure.thread.turns import Turns
from photomeasure.thread.values import Sizes

__all__ = ["trace"]

Vector = NDArray[np.float64]

NEAR_AXIS = 0.5  # of the crests' radius


def trace(photo: Photo, scene: Scene, outline: Outline, turns: Turns, best: Sizes) -> FittingTrace:
    """Lay the solved thread back into its photo.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    outline : Outline
    turns : Turns
    best : Sizes

    Returns
    -------
    FittingTrace
    """
    axis, along = best.rest.axis, best.rest.along_mm

    def px(places: Vector, offs: Vector) -> Vector:
        return scene.px(contour_points(scene, axis, places, offs))

    radius = best.vector[0] / 2
    ends = np.array(
        [best.from_end * best.end_mm, along.max() if best.from_end > 0 else along.min()]
    )
    slope = best.from_end * np.tan(np.radians(best.vector[2]))
    radii = radius + slope * (ends - along.mean())
    middle = np.full(2, along.mean())
    signs = np.array([turn.sign for turn in turns.turns])
    side = max((1, -1), key=lambda sign: int((signs == sign).sum()))
    pair = np.sort(along[signs == side])[:2]
    flat_px = _flats(scene, outline, turns, best)
    return FittingTrace(
        photo_key=photo.key,
        axis_px=scene.px(axis.point_mm + ends[:, None] * axis.direction),
        outline_px=tuple(
            scene.px(contour_points(scene, outline.axis, along, side.sign * off))
            for side in (outline.left, outline.right)
            for along, off in [_off_axis(side, radius)]
        ),
        crest_lines_px=np.stack([px(ends, sign * radii) for sign in (1, -1)]),
        crests_px=px(along, signs * best.rest.off_mm),
        diameter_px=px(middle, np.array([radius, -radius])),
        pitch_px=px(pair, np.full(len(pair), side * radius)),
        hexagon_px=flat_px,
        ignored_px=tuple(
            px(place + np.array([-0.4, 0.4]) * turns.pitch_mm, np.full(2, sign * radius))
            for place, sign in turns.dropped
        ),
    )


def _off_axis(side: Side, radius_mm: float) -> tuple[Vector, Vector]:
    """The side without what lies beyond the part's ends, where the path only closes on the axis."""
    beside = side.off_mm > NEAR_AXIS * radius_mm
    if not beside.any():
        return side.along_mm, side.off_mm
    first, last = np.flatnonzero(beside)[[0, -1]]
    return side.along_mm[first : last + 1], side.off_mm[first : last + 1]


def _flats(scene: Scene, outline: Outline, turns: Turns, best: Sizes) -> Vector | None:
    if best.rest.across_flats_mm is None or best.rest.hexagon_mm is None:
        return None
    axis = best.rest.axis
    middle = float(np.mean(best.rest.hexagon_mm))
    half = best.rest.across_flats_mm * 1.1325 / 2
    feet = axis.point_mm + middle * axis.direction
    across = np.array([-axis.direction[1], axis.direction[0], 0.0])
    across /= np.linalg.norm(across)
    return scene.px(feet + np.array([[half], [-half]]) * across)
