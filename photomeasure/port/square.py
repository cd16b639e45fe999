"""A port looked at square on: its wall is not seen, but the edge of its bore is."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.mouth import (
    CLEAR_SLOPE,
    Circle,
    Slopes,
    arcs_of,
    circle_points_px,
    slopes_of,
)
from photomeasure.port.view import FACE_MM, PortView
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.scene import Scene

__all__ = ["BoreEdge", "bore_diameter", "edge_points", "find_bore"]

Grid = NDArray[np.float64]
Vector = NDArray[np.float64]
Points3 = NDArray[np.float64]  # (N, 3)

LEAST_RADIUS_MM, STEP_MM, HOLE_SLACK_MM = 3.0, 0.1, 0.5
OFF_MM, OFF_STEP_MM = 1.5, 0.25  # a collar is stuck on by eye
CLEAR_ROUND, CLEAR_WITHIN = 0.93, 0.85  # shares of a mouth's circle, and of one within it
WITHIN = (0.76, 0.92)  # bore over mouth in the port standards
ONE_EDGE = 0.94  # circles nearer to one another are one edge: floor and rim of a recess
# The bore begins so many times as deep below the mouth as it is narrower all round
SLOPES = np.array([0.5, 0.75, 1.0, 1.5, 2.0, 2.5])
SIDES_MM = np.array([-0.1, 0.0, 0.1])
NARROWEST, WIDEST, FINE_MM = 0.74, 0.935, 0.05  # bore over mouth that is looked for
LEAST_NEAR, LEAST_OF_STEEPEST = 0.83, 0.33  # share of the near arcs, and of the steepest edge
DIP = 0.88  # an edge that fades less than this between two places is one edge
# Which edge is seen, by scenes for tuning: so much too narrow, so uncertain, and by its size
NARROWER_MM, EDGE_U_MM, EDGE_U_SHARE = 0.1, 0.1, 0.008
DEPTH_U_SHARE = 0.8  # of how much narrower than the mouth the bore is, as depth


@dataclass(frozen=True, slots=True)
class BoreEdge:
    """The edge where the mouth has narrowed to the crests; sheet frame [mm].

    `depth_mm` is below the face, roughly; `share` is how much of its near half is clear.
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    depth_mm: float
    depth_u_mm: float
    share: float


def find_bore(view: PortView) -> BoreEdge | None:
    """Look for the mouth, and for the innermost edge within it on the camera's side.

    Parameters
    ----------
    view : PortView

    Returns
    -------
    BoreEdge or None

    Notes
    -----
    To the near side the bore's edge hides all that lies behind it, thread and drilled bottom.
    """
    slopes = slopes_of(view)
    edges = (
        _within(view, slopes, circle_points_px(view, mouth)[0]) for mouth in _mouths(view, slopes)
    )
    return next((edge for edge in edges if edge is not None), None)


def _mouths(view: PortView, slopes: Slopes) -> Iterator[Circle]:
    """Circles with another within them as a bore is in its mouth, the widest first."""
    radii = np.arange(LEAST_RADIUS_MM, view.hole_radius_mm - HOLE_SLACK_MM, STEP_MM)
    offs = np.arange(-OFF_MM, OFF_MM + 1e-9, OFF_STEP_MM)
    radius, x, y = (grid.ravel() for grid in np.meshgrid(radii, offs, offs, indexing="ij"))
    clear = np.minimum(np.sqrt(arcs_of(slopes, (x, y), radius) / CLEAR_SLOPE), 1.0).mean(axis=1)
    clear[np.hypot(x, y) + radius > view.hole_radius_mm - HOLE_SLACK_MM] = 0.0
    shares = clear.reshape(len(radii), -1)
    best = shares.max(axis=1)
    inner = np.inf
    for place in np.flatnonzero(best >= CLEAR_ROUND)[::-1]:
        if radii[place] > ONE_EDGE * inner:  # the same edge as the last
            continue
        within = (radii > WITHIN[0] * radii[place]) & (radii < WITHIN[1] * radii[place])
        if (best[within] > CLEAR_WITHIN).any():
            top = int(np.argmax(shares[place]))
            off_x, off_y = (float(grid[: len(offs) ** 2][top]) for grid in (x, y))
            yield Circle(off_x, off_y, float(radii[place]), float(best[place]))
        inner = float(radii[place])


def _within(view: PortView, slopes: Slopes, mouth: Circle) -> BoreEdge | None:
    x, y, outer = mouth.x_mm, mouth.y_mm, mouth.radius_mm
    cos, sin = np.cos(view.far_rad), np.sin(view.far_rad)
    radii = np.arange(NARROWEST * outer, WIDEST * outer, FINE_MM)
    grids = np.meshgrid(radii, SLOPES, SIDES_MM, indexing="ij")
    radius, slope, aside = (grid.ravel() for grid in grids)
    depth = slope * (outer - radius)
    way = x * cos + y * sin - depth * np.tan(view.slant_rad)
    side = y * cos - x * sin + aside
    middle = (way * cos - side * sin, way * sin + side * cos)
    distance = float(np.linalg.norm(view.scene.centre_mm))
    near = arcs_of(slopes, middle, radius * (1 - depth / distance))[:, slopes.is_near]
    steep = near.mean(axis=1).reshape(len(radii), -1)
    clear = np.minimum(np.sqrt(near / CLEAR_SLOPE), 1.0).mean(axis=1).reshape(len(radii), -1)
    place = _innermost(steep.max(axis=1), clear.max(axis=1))
    if place is None:
        return None
    top = place * steep.shape[1] + int(np.argmax(steep[place]))
    narrower = outer - float(radius[top])
    shift = depth[top] * np.tan(view.slant_rad)  # back from the face's plane to where it is
    return BoreEdge(
        x_mm=float(middle[0][top] + shift * cos),
        y_mm=float(middle[1][top] + shift * sin),
        radius_mm=float(radius[top]),
        depth_mm=float(depth[top]),
        depth_u_mm=DEPTH_U_SHARE * narrower,
        share=float(clear[place].max()),
    )


def _innermost(steep: Vector, clear: Vector) -> int | None:
    """The innermost clear edge's steepest place."""
    good = (clear >= LEAST_NEAR) & (steep >= LEAST_OF_STEEPEST * steep.max())
    if not good.any():
        return None
    best = here = int(np.argmax(good))
    while here + 1 < len(steep) and steep[here + 1] > DIP * steep[best]:
        here += 1
        if steep[here] > steep[best]:
            best = here
    return best


def edge_points(edge: BoreEdge, count: int = 72) -> Points3:
    """Points of the bore's edge.

    Parameters
    ----------
    edge : BoreEdge
    count : int

    Returns
    -------
    (count, 3) [mm]
        Sheet frame.
    """
    turns = np.linspace(0, 2 * np.pi, count, endpoint=False)
    x = edge.x_mm + edge.radius_mm * np.cos(turns)
    y = edge.y_mm + edge.radius_mm * np.sin(turns)
    return np.column_stack([x, y, np.full(count, -FACE_MM - edge.depth_mm)])


def bore_diameter(view: PortView, edge: BoreEdge) -> Quantity:
    """The bore's diameter by its edge alone.

    Parameters
    ----------
    view : PortView
    edge : BoreEdge

    Returns
    -------
    Quantity
    """
    seen_px = view.scene.px(edge_points(edge))

    def diameter(scene: Scene, depth_mm: float) -> float:
        points = scene.sheet_mm(seen_px, -FACE_MM - depth_mm)
        return 2 * float(np.hypot(*(points - points.mean(axis=0)).T).mean())

    still = diameter(view.scene, edge.depth_mm)
    parts = {
        source: diameter(scene, edge.depth_mm) - still for source, scene in view.scene.variants()
    }
    key = view.photo.key
    depth = Source("depth of the bore", "how deep the bore begins", "photo", key)
    light = Source("edge of the bore", "which edge in the mouth is the bore's", "photo", key)
    parts[depth] = diameter(view.scene, edge.depth_mm + edge.depth_u_mm) - still
    parts[light] = EDGE_U_MM + EDGE_U_SHARE * still
    return Quantity.normal(measured(still + NARROWER_MM, parts), "mm")
