"""Where a port was read, in pixels, and its wall unwrapped, for the annotated picture."""

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.circles import SpotFace
from photomeasure.port.ends import ThreadEnds
from photomeasure.port.fit import Fitted
from photomeasure.port.reading import PortTrace
from photomeasure.port.square import BoreEdge, edge_points
from photomeasure.port.view import FACE_MM, PortView
from photomeasure.port.wall import helix_depth_mm, unwrap

__all__ = ["trace", "trace_bore"]

Points2 = NDArray[np.float64]  # (N, 2)

HALF_RAD, SIDE_STEP_RAD, STEP_MM = np.radians(75.0), np.radians(0.75), 0.06


def trace(view: PortView, fitted: Fitted, ends: ThreadEnds) -> PortTrace:
    """Lay the solved port back into its photo.

    Parameters
    ----------
    view : PortView
    fitted : Fitted
    ends : ThreadEnds

    Returns
    -------
    PortTrace
    """
    value, crests = fitted.solution.value, fitted.features.crests
    stripes, mouth = fitted.stripes, value("mouth depth")
    round_ = np.linspace(0, 2 * np.pi, 121)
    rim = np.column_stack(
        [
            value("mouth x") + value("mouth radius") * np.cos(round_),
            value("mouth y") + value("mouth radius") * np.sin(round_),
            np.full_like(round_, -mouth),
        ]
    )
    sides = np.arange(-HALF_RAD, HALF_RAD + 1e-9, SIDE_STEP_RAD)
    wall = unwrap(view, stripes.bore, fitted.mouth, sides, STEP_MM)
    lines_px, lines = [], []
    for turn in sorted(set(crests.turns.tolist())):
        own = crests.sides_rad[crests.turns == turn]
        part = np.linspace(own.min(), own.max(), 40)
        depth = value("first depth") + (turn - fitted.features.middle_turn) * stripes.pitch_mm
        depths = depth - helix_depth_mm(part, stripes.pitch_mm, fitted.features.hand)
        lines_px.append(view.scene.px(stripes.bore.points(view.far_rad + part, depths)))
        lines.append(np.column_stack([(part + HALF_RAD) / SIDE_STEP_RAD, depths / STEP_MM]))
    light = np.where(wall.is_seen, wall.light, 0.0).T
    bright = float(np.percentile(light[light > 0], 99)) if (light > 0).any() else 1.0
    across = view.far_rad + np.array([np.pi / 2, -np.pi / 2])
    sides_mm = stripes.bore.points(across, np.full(2, value("first depth")))
    return PortTrace(
        photo_key=view.photo.key,
        mouth_px=view.scene.px(rim),
        recess_px=_recess_px(view, fitted.spot_face),
        crests_px=tuple(lines_px),
        points_px=crests.px,
        bore_px=view.scene.px(sides_mm),
        wall=(255 * np.clip(light / bright, 0, 1) ** 0.5).astype(np.uint8),
        wall_mm=(-mouth, float(wall.depths_mm[-1]) - mouth),
        wall_lines=tuple(lines),
        wall_end_row=(ends.last_mm + stripes.pitch_mm / 2 + mouth) / STEP_MM
        if ends.is_end_seen
        else None,
    )


def _recess_px(view: PortView, spot: SpotFace | None) -> Points2:
    if spot is None:
        return np.empty((0, 2))
    turns = np.linspace(0, 2 * np.pi, 121)
    x = spot.x_mm + spot.radius_mm * np.cos(turns)
    y = spot.y_mm + spot.radius_mm * np.sin(turns)
    return view.scene.px(np.column_stack([x, y, np.full_like(turns, -FACE_MM)]))


def trace_bore(view: PortView, edge: BoreEdge) -> PortTrace:
    """Lay a bore's edge, seen square on, back into its photo; there is no wall to unwrap.

    Parameters
    ----------
    view : PortView
    edge : BoreEdge

    Returns
    -------
    PortTrace
    """
    rim = view.scene.px(edge_points(edge))
    return PortTrace(
        photo_key=view.photo.key,
        mouth_px=np.concatenate([rim, rim[:1]]),
        recess_px=np.empty((0, 2)),
        crests_px=(),
        points_px=np.empty((0, 2)),
        bore_px=rim[[0, len(rim) // 2]],
        wall=np.empty((0, 0), np.uint8),
        wall_mm=(0.0, 0.0),
        wall_lines=(),
    )
