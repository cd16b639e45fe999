"""The turned recess that a port's mouth may lie in: its rim and its floor are circles."""

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.mouth import CLEAR_SLOPE, Circle, Slopes, arcs_of, slopes_of
from photomeasure.port.view import PortView

__all__ = ["SpotFace", "find_spot_face"]

Grid = NDArray[np.float64]
Vector = NDArray[np.float64]
Places = tuple[Vector, Vector, Vector]

LEAST_ROUND_MM = 0.8  # of the recess round the mouth
LEAST_BARE_MM = 0.4
HOLE_SLACK_MM, HOLE_CLEAR_MM = 0.75, 0.3  # inside the collar's hole, whose edge is cut by hand
MOST_DEEP_MM = 2.2
SIDES_MM = (-0.2, -0.1, 0.0, 0.1, 0.2)  # beside the mouth, across the view
COARSE_MM, FINE_MM, FINE_REACH_MM = 0.1, 0.05, 0.5  # of the radius
DEEP_STEP_MM = 0.2, 0.1
# Of its arcs that are clear, at least, and with how steep they are beside the steepest near them,
# at least and where that is enough by itself; by scenes for tuning
LEAST_CLEAR, LEAST_OF_BOTH, SURE_OF_BOTH = 0.78, 1.5, 1.62
# What is shallower is one edge, not rim and floor: so deep if sure; by scenes for tuning
LEAST_DEEP_MM, ONE_EDGE_MM = 0.15, 0.3
MOST_ASIDE_MM = 0.15  # a circle farther off has another middle than the mouth, if not sure
SHALLOWER_MM = 0.1  # than it is a recess seems; by scenes for tuning


@dataclass(frozen=True, slots=True)
class SpotFace:
    """A recess about the mouth, sheet frame [mm].

    `x_mm`, `y_mm` are its middle where it is laid into the face's plane with the mouth;
    `depth_mm` is how far its floor, and with it the mouth, lies below the face.
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    depth_mm: float


def find_spot_face(view: PortView, mouth: Circle) -> SpotFace | None:
    """The recess about a mouth, if its edge is seen.

    Parameters
    ----------
    view : PortView
    mouth : Circle
        As laid into the face's plane.

    Returns
    -------
    SpotFace or None

    Notes
    -----
    Rim, floor and mouth have one axis. The floor lies in the mouth's plane; the rim, less deep,
    seems farther off by the depth times the tangent of the slant. To the near side the rim hides
    the floor's edge, to the far side either may be the clearer.
    """
    slopes = slopes_of(view)
    radii = np.arange(
        mouth.radius_mm + LEAST_ROUND_MM, view.hole_radius_mm - HOLE_SLACK_MM, COARSE_MM
    )
    if not len(radii):
        return None
    tried = partial(_arcs, view, slopes, mouth)
    places, arcs = tried(_places(radii, SIDES_MM[::2], DEEP_STEP_MM[0]))
    clear = np.minimum(np.sqrt(arcs / CLEAR_SLOPE), 1.0).mean(axis=1)
    top = int(np.argmax(clear))
    clearest = float(clear[top])
    if clearest < LEAST_CLEAR:
        return None
    near = float(places[0][top]) + np.arange(-FINE_REACH_MM, FINE_REACH_MM + 0.06, FINE_MM)
    near = near[near < view.hole_radius_mm - HOLE_SLACK_MM]
    places, arcs = tried(_places(near, SIDES_MM, DEEP_STEP_MM[1]))
    sharp = (arcs / np.maximum(arcs.max(axis=0), CLEAR_SLOPE / 2)).mean(axis=1)
    top = int(np.argmax(sharp))
    radius, aside, depth = (float(place[top]) for place in places)
    both, is_deep = clearest + float(sharp[top]), depth > LEAST_DEEP_MM
    is_clear = both > LEAST_OF_BOTH and is_deep and abs(aside) <= MOST_ASIDE_MM
    if not is_clear and both <= SURE_OF_BOTH:
        return None
    x, y = _middle(view, mouth, aside, depth)
    return SpotFace(float(x), float(y), radius, depth + SHALLOWER_MM if is_deep else ONE_EDGE_MM)


def _middle(
    view: PortView, mouth: Circle, aside_mm: Grid | float, depth_mm: Grid | float
) -> tuple[Grid, Grid]:
    """Middle of a circle so far above the mouth, as laid into the face's plane with it."""
    cos, sin = np.cos(view.far_rad), np.sin(view.far_rad)
    side = mouth.y_mm * cos - mouth.x_mm * sin + aside_mm
    way = mouth.x_mm * cos + mouth.y_mm * sin + depth_mm * np.tan(view.slant_rad)
    return np.asarray(way * cos - side * sin), np.asarray(way * sin + side * cos)


def _places(radii: Vector, sides_mm: tuple[float, ...], step_mm: float) -> Places:
    """Recesses to try: radius, place beside the mouth and depth of each."""
    depths = np.arange(0.0, MOST_DEEP_MM + step_mm / 2, step_mm)
    radius, aside, depth = np.meshgrid(radii, sides_mm, depths, indexing="ij")
    return radius.ravel(), aside.ravel(), depth.ravel()


def _arcs(view: PortView, slopes: Slopes, mouth: Circle, places: Places) -> tuple[Places, Grid]:
    """How steep light is along every arc of each recess."""
    radius, aside, depth = places
    room = view.hole_radius_mm - HOLE_CLEAR_MM
    bare = radius - depth * np.tan(view.slant_rad) - mouth.radius_mm  # floor seen to the near side
    distance = float(np.linalg.norm(view.scene.centre_mm))

    def seen(middle: tuple[Grid, Grid], size: Vector) -> Grid:
        arcs = arcs_of(slopes, middle, size)
        arcs[np.hypot(*middle) + size > room] = 0.0
        return arcs

    rim = seen(_middle(view, mouth, aside, depth), radius)
    floor = seen(_middle(view, mouth, aside, 0 * depth), radius * (1 - depth / distance))
    arcs = np.where(slopes.is_near, rim, np.maximum(rim, floor))
    arcs[bare < LEAST_BARE_MM] = 0.0  # the mouth's own edge
    return places, arcs
