"""Where a port was read, in pixels, and its wall unwrapped, for the annotated picture."""

import numpy as np

from photomeasure.port.fit import Fitted
from photomeasure.port.reading import PortTrace
from photomeasure.port.view import PortView
from photomeasure.port.wall import helix_depth_mm, unwrap

__all__ = ["trace"]

HALF_RAD, SIDE_STEP_RAD, STEP_MM = np.radians(75.0), np.radians(0.75), 0.06


def trace(view: PortView, fitted: Fitted) -> PortTrace:
    """Lay the solved port back into its photo.

    Parameters
    ----------
    view : PortView
    fitted : Fitted

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
    ends = stripes.bore.points(across, np.full(2, value("first depth")))
    return PortTrace(
        photo_key=view.photo.key,
        mouth_px=view.scene.px(rim),
        crests_px=tuple(lines_px),
        points_px=crests.px,
        bore_px=view.scene.px(ends),
        wall=(255 * np.clip(light / bright, 0, 1) ** 0.5).astype(np.uint8),
        wall_mm=(-mouth, float(wall.depths_mm[-1]) - mouth),
        wall_lines=tuple(lines),
    )
