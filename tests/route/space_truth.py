"""What is true of a route in space, by the rules of the accuracy bars.

Measured on close points of the drawn curve, without the code that is tested.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.route.space_scenes import BAND_HALF_MM, STEP_MM, SpaceScene

__all__ = ["truth_of"]

Floats = NDArray[np.float64]


def circle_radius(points: Floats) -> float:
    """Radius of the circle fitted to points in space."""
    local = points - points.mean(axis=0)
    axes = np.linalg.svd(local, full_matrices=False)[2]
    flat = local @ axes[:2].T
    design = np.column_stack([2 * flat, np.ones(len(flat))])
    a, b, c = np.linalg.lstsq(design, np.sum(flat**2, axis=1), rcond=None)[0]
    return float(np.sqrt(max(c + a * a + b * b, 0.0)))


def truth_of(scene: SpaceScene) -> dict[str, Any]:
    """Length, turning, bends, tightest radius, clocking."""
    first, last = scene.ends
    curve = scene.curve
    at, tangent = curve.at_mm[first : last + 1], curve.frames[first : last + 1, 0]
    points = curve.points[first : last + 1]
    half = BAND_HALF_MM * scene.scales["bands"][1]
    length = scene.bands[-1].at_mm - scene.bands[0].at_mm + 2 * half
    turn = np.arccos(np.clip(np.sum(tangent[8:] * tangent[:-8], axis=1), -1, 1))
    kappa = np.interp(at, 0.5 * (at[8:] + at[:-8]), turn / (8 * STEP_MM))
    turned = np.concatenate([[0], np.cumsum(0.5 * (kappa[1:] + kappa[:-1]) * STEP_MM)])
    bends = []
    above = np.concatenate([[0], (kappa > 1 / (20 * scene.od_mm)).astype(int), [0]])
    for a, b in zip(np.nonzero(np.diff(above) > 0)[0], np.nonzero(np.diff(above) < 0)[0] - 1,
                    strict=True):  # fmt: skip
        angle = turned[b] - turned[a]
        if np.rad2deg(angle) < 15:
            continue
        share = (turned[a : b + 1] - turned[a]) / angle
        middle = (share >= 0.2) & (share <= 0.8)
        bends.append(
            {
                "at": float(np.interp(0.5, share, at[a : b + 1]) - at[0]),
                "radius": circle_radius(points[a : b + 1][middle]),
                "angle": float(np.rad2deg(angle)),
            }
        )
    window = round(max(scene.od_mm, 20.0) / STEP_MM)
    radii = [
        circle_radius(points[i : i + window + 1])
        for i in range(0, len(points) - window, 4)
        if turned[i + window] - turned[i] > 0.02
    ]
    return {
        "length": float(length),
        "turning": float(np.rad2deg(turned[-1])),
        "bends": bends,
        "tightest_radius": min(radii) if np.rad2deg(turned[-1]) >= 10 and radii else None,
        "clocking": _clocking(scene),
        "od": scene.od_mm,
    }


def _clocking(scene: SpaceScene) -> float | None:
    named = {card.name: card for card in scene.cards}
    if "start" not in named or "end" not in named:
        return None
    first, last = (scene.curve.frames[i] for i in scene.ends)
    start, stop = named["start"].pose[:3, 2], named["end"].pose[:3, 2]
    if max(abs(start @ first[0]), abs(stop @ last[0])) > np.cos(np.deg2rad(20)):
        return None
    s = start - (start @ first[0]) * first[0]
    carried = (s @ first[1]) * last[1] + (s @ first[2]) * last[2]  # the frames do not twist
    e = stop - (stop @ last[0]) * last[0]
    return float(-np.rad2deg(np.arctan2(last[0] @ np.cross(carried, e), carried @ e)))
