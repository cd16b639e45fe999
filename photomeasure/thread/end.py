"""How round the thread's end face is seen: that tells how far the axis leans from the camera.

A circle square to the axis, seen at a lean, stands out along the axis by its radius times the
tangent of the lean (own derivation, to first order in radius over distance).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.scene import Scene
from photomeasure.thread.axis import Axis, contour_points, lean_rad, passing
from photomeasure.thread.outline import traced_points
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import Turns

__all__ = ["EndFace", "end_face"]

Vector = NDArray[np.float64]  # (N,)
Points2 = NDArray[np.float64]  # (N, 2)

OUTWARD_MM = 3.0  # looked at beyond and within the turn nearest the end
INWARD_MM = 1.0
CHAMFER_DEEP = 0.75  # of a pitch on the radius: the face is a little less than the root
MIDDLE = 0.8  # of the face's radius
LEAST_POINTS = 12
U_MM, PLAY = 0.1, 0.02  # burrs; the chamfer's depth, and a degree or so of the posture's lean
FREEDOM = 3.0  # of Student's distribution: one end in six is traced less well
LEAST_CHANCE = 0.012  # a finder's mistake


@dataclass(frozen=True, slots=True, eq=False)
class EndFace:
    """The end's edge as seen.

    Attributes
    ----------
    points_px : (N, 2)
    radius_mm : float
        Of the face, from the crests and the pitch.
    way : int
        1 if the end lies at the axis' high end.
    """

    points_px: Points2
    radius_mm: float
    way: int

    def chance(self, scene: Scene, axis: Axis) -> float:
        """How likely this roundness is on an axis, 1 at best."""
        seen = self._standing_out_mm(scene, axis)
        if seen is None:
            return 1.0
        expected = self.radius_mm * float(np.tan(lean_rad(scene.rays(self.points_px), axis)))
        off = (seen - expected) / float(np.hypot(U_MM, PLAY * self.radius_mm))
        return max(LEAST_CHANCE, float((1 + off**2 / FREEDOM) ** (-(FREEDOM + 1) / 2)))

    def rises_rad(self, scene: Scene, axis: Axis) -> tuple[float, ...]:
        """The axis' rises, over its heading, that would make it look as round as it does.

        Parameters
        ----------
        scene : Scene
        axis : Axis

        Returns
        -------
        tuple of float [rad]
            Two, as the end may look up or down; none if its roundness is not seen.
        """
        seen = self._standing_out_mm(scene, axis)
        if seen is None or seen < 0:
            return ()
        ray = scene.rays(self.points_px).mean(axis=0)
        lean = float(np.arcsin(ray @ axis.direction / np.linalg.norm(ray)))
        wanted = float(np.arctan(seen / self.radius_mm))
        return (axis.rise_rad + lean - wanted, axis.rise_rad + lean + wanted)

    def _standing_out_mm(self, scene: Scene, axis: Axis) -> float | None:
        along, off = passing(scene, axis, self.points_px)
        inside = np.abs(off) < MIDDLE * self.radius_mm
        if inside.sum() < LEAST_POINTS:
            return None
        arc = self.way * np.sqrt(1 - (off[inside] / self.radius_mm) ** 2)
        return _robust(np.column_stack([np.ones(inside.sum()), off[inside], arc]), along[inside])


def _robust(design: Vector, seen: Vector) -> float:
    """Last coefficient of a linear fit that few outliers do not pull."""
    weight: Vector = np.ones(len(seen))
    fit: Vector = np.zeros(design.shape[1])
    for _ in range(6):
        root = np.sqrt(weight)
        fit = np.asarray(np.linalg.lstsq(design * root[:, None], seen * root, rcond=None)[0])
        rest = np.abs(seen - design @ fit)
        weight = 1 / np.maximum(1, rest / (1.5 * np.median(rest) + 1e-3)) ** 2
    return float(fit[-1])


def end_face(scene: Scene, strip: Strip, turns: Turns, blur_px: float) -> EndFace | None:
    """Trace the edge of the thread's end.

    Parameters
    ----------
    scene : Scene
    strip : Strip
    turns : Turns
    blur_px : float [px]

    Returns
    -------
    EndFace or None
        None if too little of it is seen.
    """
    along = np.array([turn.along_mm for turn in turns.turns])
    crest = float(np.median([turn.off_mm for turn in turns.turns]))
    radius = crest - CHAMFER_DEEP * turns.pitch_mm
    way = 1 if along.mean() > (strip.along_mm[0] + strip.along_mm[-1]) / 2 else -1
    outermost = along.max() if way > 0 else along.min()
    reach = sorted(
        (outermost - way * INWARD_MM, outermost + way * (OUTWARD_MM + turns.pitch_mm + crest / 3))
    )
    columns = np.flatnonzero((strip.along_mm > reach[0]) & (strip.along_mm < reach[1]))
    rows = np.flatnonzero(np.abs(strip.off_mm) < MIDDLE * radius)
    if len(columns) < LEAST_POINTS or len(rows) < LEAST_POINTS:
        return None
    points = traced_points(strip, (rows, columns[::-1] if way > 0 else columns), blur_px)
    points = points[np.all(np.isfinite(points), axis=1)]
    if len(points) < LEAST_POINTS:
        return None
    px = scene.px(contour_points(scene, strip.axis, points[:, 1], points[:, 0]))
    return EndFace(px, radius, way)
