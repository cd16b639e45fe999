"""Circles of the port in its face: where the mouth is, by edges that run right round."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.port.view import FACE_MM, PortView

__all__ = [
    "CLEAR_SLOPE",
    "HOLE_SLACK_MM",
    "Circle",
    "Slopes",
    "arcs_of",
    "circle_points_px",
    "find_mouth",
    "slopes_of",
]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]
Flags = NDArray[np.bool_]

NEAR_WEIGHT = 2.0  # of the near half over the far one
SIDE_MM, ALONG_MM = 0.45, 2.4  # of the mouth's middle: beside the bore's, and along the view
CENTRE_STEP_MM, RADIUS_STEP_MM = 0.15, 0.1
# Mouth over bore: chamfers and housings of O-rings in the port standards, of which the widest
# stands 1.2 pitches outside its bore all round
WIDEST, LEAST_PITCHES, MOST_PITCHES = 1.33, 0.35, 2.0
HOLE_SLACK_MM = 0.75  # the hole's own edge, cut by hand, is no circle of the port
DARK = 0.01  # of full light: below it there is only noise
CLEAR_STEP = 0.12  # of the logarithm of light: a step this high counts in full
LEAST_MARKS = 3  # on a rim, of which it is a circle
NEARLY_BEST = 0.88
EDGE_MM = 0.12  # reach of the gradient
ANGLES, ARC = 72, 6  # light steps the same way along an arc of so many angles
SEARCH_MM, SAMPLE_MM = 0.35, 0.03
FIT_STEPS = 8
CLEAR_SLOPE = CLEAR_STEP / (EDGE_MM * float(np.sqrt(2 * np.pi)))


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle in the plane of the port's face, as it is seen; sheet frame [mm]."""

    x_mm: float
    y_mm: float
    radius_mm: float
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """How light changes over the face's plane.

    Attributes
    ----------
    grid : (R, C, 2)
        Slope of light's logarithm along x and y [1/mm].
    step_mm, reach_mm : float
        Between the grid's places, and of the grid from the middle either way.
    turns_rad : (N,)
        Angles at which circles are looked at.
    is_near : (A,)
        Which of their arcs, of `ARC` angles each, lie to the camera's side.
    """

    grid: NDArray[np.float32]
    step_mm: float
    reach_mm: float
    turns_rad: Vector
    is_near: Flags


def find_mouth(
    view: PortView,
    bore_mm: tuple[float, float, float],
    pitch_mm: float,
    off_hole_mm: float = HOLE_SLACK_MM / 2,
) -> Circle:
    """The circle about a bore whose near edge stands out best: the mouth's rim.

    The far edge of a mouth is often faint; the near one hides what lies deep behind it.

    Parameters
    ----------
    view : PortView
    bore_mm : tuple of float
        Middle and radius of the bore, along the line of sight only roughly in place.
    pitch_mm : float [mm]
        Of the thread: how much wider than the bore a mouth is goes by it.
    off_hole_mm : float [mm]
        How far the mouth stays off the collar's hole as printed.

    Returns
    -------
    Circle
        As laid into the plane of the port's face.
    """
    marked = _marked(view)
    if marked is not None:
        return marked
    slopes = slopes_of(view)
    cos, sin = np.cos(view.far_rad), np.sin(view.far_rad)
    bore_x, bore_y, bore_radius = bore_mm
    across = bore_y * cos - bore_x * sin
    least = bore_radius + LEAST_PITCHES * pitch_mm
    most = min(
        WIDEST * bore_radius,
        bore_radius + MOST_PITCHES * pitch_mm,
        view.hole_radius_mm - HOLE_SLACK_MM,
    )
    radii = np.arange(least, most, RADIUS_STEP_MM)
    sides = across + np.arange(-SIDE_MM, SIDE_MM + 0.01, CENTRE_STEP_MM)
    ways = np.arange(-ALONG_MM, ALONG_MM + 0.01, CENTRE_STEP_MM)
    radius, side, way = (g.ravel() for g in np.meshgrid(radii, sides, ways, indexing="ij"))
    x, y = way * cos - side * sin, way * sin + side * cos
    inside = np.hypot(x, y) + radius < view.hole_radius_mm - off_hole_mm
    if not inside.any():
        return Circle(bore_x, bore_y, least, 0.0)
    x, y, radius = x[inside], y[inside], radius[inside]
    shares = _shares(slopes, (x, y), radius)
    # of the rim and the circles within it the rim is the widest
    top = int(np.argmax(np.where(shares > NEARLY_BEST * shares.max(), radius, 0)))
    around = np.abs(radius - radius[top]) < SEARCH_MM / 2
    top = int(np.argmax(np.where(around, shares, 0)))
    return Circle(float(x[top]), float(y[top]), float(radius[top]), float(shares[top]))


def _marked(view: PortView) -> Circle | None:
    """The circle through what somebody marked as the rim, if it lies in the collar's hole.

    Notes
    -----
    Least squares of x² + y² = 2 x a + 2 y b + c (Kåsa's circle).
    """
    if len(view.photo.marked_px) < LEAST_MARKS:
        return None
    places = view.scene.sheet_mm(np.array(view.photo.marked_px), -FACE_MM)
    rows = np.column_stack([2 * places, np.ones(len(places))])
    x, y, rest = (float(v) for v in np.linalg.lstsq(rows, (places**2).sum(axis=1), rcond=None)[0])
    radius = float(np.sqrt(rest + x**2 + y**2))
    is_inside = np.hypot(x, y) + radius < view.hole_radius_mm
    return Circle(x, y, radius, 1.0) if is_inside else None


def slopes_of(view: PortView) -> Slopes:
    """Slope of the logarithm of light in the face's plane.

    Parameters
    ----------
    view : PortView

    Returns
    -------
    Slopes
    """
    step = max(view.pixel_mm, 0.03)
    reach = view.hole_radius_mm + 1.0
    places = np.arange(-reach, reach + step, step)
    x, y = np.meshgrid(places, places)
    light = view.light(np.stack([x, y, np.full_like(x, -FACE_MM)], axis=-1))
    tone = np.log(light + DARK).astype(np.float32)
    smooth = cv2.GaussianBlur(tone, (0, 0), EDGE_MM / step)
    rise = np.gradient(smooth, step)
    grid = np.stack([rise[1], rise[0]], axis=-1).astype(np.float32)
    near_rad = view.far_rad + np.pi
    turns = near_rad + np.pi * (np.arange(ANGLES) + 0.5 - ANGLES / 2) * 2 / ANGLES
    is_near = np.cos(turns.reshape(-1, ARC).mean(axis=1) - near_rad) > 0
    return Slopes(grid, step, reach, turns, is_near)


def arcs_of(slopes: Slopes, middles_mm: tuple[Vector, Vector], radii_mm: Vector) -> Matrix:
    """How steep light is across every arc of each circle.

    Parameters
    ----------
    slopes : Slopes
    middles_mm : tuple of (C,)
        x and y.
    radii_mm : (C,)

    Returns
    -------
    (C, A) [1/mm]
    """
    way = np.stack([np.cos(slopes.turns_rad), np.sin(slopes.turns_rad)], axis=-1)
    x = middles_mm[0][:, None] + radii_mm[:, None] * way[:, 0]
    y = middles_mm[1][:, None] + radii_mm[:, None] * way[:, 1]
    last = slopes.grid.shape[0] - 1
    column = np.clip(np.rint((x + slopes.reach_mm) / slopes.step_mm).astype(int), 0, last)
    row = np.clip(np.rint((y + slopes.reach_mm) / slopes.step_mm).astype(int), 0, last)
    across = np.einsum("cak,ak->ca", slopes.grid[row, column], way)
    return np.asarray(np.abs(across.reshape(len(x), ANGLES // ARC, ARC).mean(axis=2)))


def _shares(slopes: Slopes, middles_mm: tuple[Vector, Vector], radii_mm: Vector) -> Vector:
    """How clearly light steps across each circle; the near half counts more."""
    arcs = arcs_of(slopes, middles_mm, radii_mm)
    weights = np.where(slopes.is_near, NEAR_WEIGHT, 1.0)
    return np.asarray(np.sqrt(arcs / CLEAR_SLOPE) @ weights / weights.sum())


def circle_points_px(view: PortView, circle: Circle) -> tuple[Circle, Points2, Vector]:
    """Edge points along a circle, and the circle through them.

    Parameters
    ----------
    view : PortView
    circle : Circle

    Returns
    -------
    Circle
    (N, 2) [px]
    (N,) [rad]
        Where on the circle each point lies.
    """
    turns = np.linspace(0, 2 * np.pi, 2 * ANGLES, endpoint=False)
    way = np.column_stack([np.cos(turns), np.sin(turns)])
    found, kept = circle, np.ones(len(turns), bool)
    search = SEARCH_MM
    points = np.zeros_like(way)
    for _ in range(3):
        middle = np.array([found.x_mm, found.y_mm])
        places = found.radius_mm + np.arange(-search, search + SAMPLE_MM / 2, SAMPLE_MM)
        off, height = _edge_places(view, middle + 0 * way, way, places)
        points = middle + off[:, None] * way
        found, kept = _fit_circle(points, height > CLEAR_STEP / 4, found)
        search = 0.25
    px = view.scene.px(np.column_stack([points, np.full(len(points), -FACE_MM)]))
    return found, px[kept], turns[kept]


def _edge_places(
    view: PortView, start: Points2, way: Points2, places: Vector
) -> tuple[Vector, Vector]:
    """Steepest place along each ray, and how high the step is there."""
    at = start[:, None] + places[None, :, None] * way[:, None]
    light = view.light(np.concatenate([at, np.full((*at.shape[:2], 1), -FACE_MM)], axis=-1))
    smooth = cv2.GaussianBlur(np.log(light + DARK), (0, 0), sigmaX=0.06 / SAMPLE_MM, sigmaY=0.6)
    rise = np.abs(np.gradient(smooth, SAMPLE_MM, axis=1))
    rise[:, [0, 1, -2, -1]] = 0
    weight = np.exp(-(((places - places.mean()) / (places[-1] - places.mean())) ** 2))
    top = np.clip(np.argmax(rise * weight, axis=1), 1, len(places) - 2)
    lines = np.arange(len(rise))
    before, here, after = (rise[lines, top + k] for k in (-1, 0, 1))
    bottom = before - 2 * here + after
    shift = np.where(np.abs(bottom) > 1e-9, 0.5 * (before - after) / np.minimum(bottom, -1e-9), 0)
    return places[top] + np.clip(shift, -1, 1) * SAMPLE_MM, here * 0.15


def _fit_circle(points: Points2, use: NDArray[np.bool_], known: Circle) -> tuple[Circle, Flags]:
    """Least squares with the outliers' weight taken down; also which points lie on it."""
    x, y, radius = known.x_mm, known.y_mm, known.radius_mm
    kept, scatter = use.copy(), 0.1
    for _ in range(FIT_STEPS):
        away = points - (x, y)
        size = np.hypot(*away.T)
        residual = size - radius
        if use.sum() < 12:
            break
        scatter = max(1.4826 * float(np.median(np.abs(residual[use]))), 0.01)
        kept = use & (np.abs(residual) < 3 * scatter)
        weight = use / (1 + (residual / (2 * scatter)) ** 2)
        rows = np.column_stack([away / size[:, None], np.ones(len(size))])
        change = np.linalg.lstsq(
            rows * np.sqrt(weight)[:, None], residual * np.sqrt(weight), rcond=None
        )[0]
        x, y, radius = x + float(change[0]), y + float(change[1]), radius + float(change[2])
    return Circle(x, y, radius, float(kept.mean())), kept
