"""What is true of a rendered scene, as JSON beside the picture."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from tests.rendering.camera import PhoneCamera
from tests.rendering.page import Sheet
from tests.rendering.scenes import Bars, FittingScene

__all__ = ["camera_truth", "fitting_truth", "print_truth"]

NOTE = "rendered, not photographed; invented data"
FLUSH_MM = 1e-3  # a hexagon may begin where the thread ends


def camera_truth(camera: PhoneCamera) -> dict[str, Any]:
    """Intrinsics and pose of the upright picture."""
    return {
        "size_px": list(camera.size_px),
        "focal_px": camera.focal_px,
        "centre_px": [camera.centre_x_px, camera.centre_y_px],
        "k1": camera.k1,
        "k2": camera.k2,
        "aperture_mm": camera.aperture_mm,
        "focus_mm": camera.focus_mm,
        "camera_from_sheet": camera.camera_from_sheet.tolist(),
    }


def print_truth(sheet: Sheet, bars: Bars) -> dict[str, Any]:
    """The print's scale, curl and bars."""
    return {"bars": asdict(bars), "sheet": asdict(sheet)}


def _part(scene: FittingScene) -> dict[str, Any]:
    size, fitting = scene.fitting.size, scene.fitting
    other = fitting.other
    nose = float(np.degrees(other.nose_half_angle_rad)) if other.kind == "nose" else None
    return {
        "designation": scene.thread.designation,
        "family": scene.thread.family,
        "major_diameter": None if size.is_tapered else size.major_mm,
        "diameter_at_small_end": size.major_mm,
        "minor_diameter": size.minor_mm,
        "pitch_diameter": size.pitch_diameter_mm,
        "pitch": size.pitch_mm,
        "taper_half_angle": float(np.degrees(np.arctan(size.taper))),
        "thread_angle": 55.0 if size.form == "whitworth" else 60.0,
        "hand": "left" if size.is_left else "right",
        "thread_length": fitting.ends.full_to_mm,
        "across_flats": fitting.hexagon.across_flats_mm,
        "spanner_mm": scene.spanner_mm,
        "corner_factor": fitting.hexagon.corner_factor,
        "nose_half_angle": nose,
    }


def _rest(scene: FittingScene) -> dict[str, Any]:
    """How it lies: the axis' height at the end face and at the thread's last crest."""
    pose, ends = scene.sheet_from_thread, scene.fitting.ends
    axis = [float(pose[2, 2] * z + pose[2, 3]) for z in (0.0, ends.full_to_mm)]
    touching = scene.rest.contacts_thread_mm[:, 2]
    on_thread = bool(touching.min() < ends.length_mm)
    on_rest = bool(touching.max() > ends.length_mm - FLUSH_MM)
    kind = "on-both" if on_thread and on_rest else "on-thread" if on_thread else "on-hex"
    return {
        "lies": kind,
        "axis_height_mm": axis,
        "axis_tilt_deg": float(np.degrees(np.arcsin(pose[2, 2]))),
        "contacts_thread_mm": np.round(scene.rest.contacts_thread_mm, 4).tolist()[:12],
        "sheet_from_thread": pose.tolist(),
    }


def _view(scene: FittingScene) -> dict[str, Any]:
    sight = scene.camera.centre_sheet_mm - scene.middle_mm
    axis = scene.sheet_from_thread[:3, 2]
    distance = float(np.linalg.norm(sight))
    return {
        "distance_mm": distance,
        "tilt_deg": float(np.degrees(np.arccos(sight[2] / distance))),
        "lean_along_axis_deg": float(np.degrees(np.arcsin(sight @ axis / distance))),
    }


def _photo(scene: FittingScene) -> dict[str, Any]:
    """What belongs to one photograph alone."""
    return {
        "view": _view(scene),
        "camera": camera_truth(scene.camera),
        "development": asdict(scene.development),
    }


def fitting_truth(photos: Sequence[FittingScene], split: str) -> dict[str, Any]:
    """Everything that is true of a fitting scene.

    Parameters
    ----------
    photos : sequence of FittingScene
        One, or two of the same scene; of the latter what is the second's alone stands
        under "second", what is the first's where that of an only photo stands.
    split : str
        "tune", "report", ...

    Returns
    -------
    dict
        Lengths in mm, angles in degrees, poses (4, 4).
    """
    scene = photos[0]
    truth = {
        "note": NOTE,
        "kind": "fitting",
        "split": split,
        "seed": scene.seed,
        "truth": _part(scene),
        "rest": _rest(scene),
        "print": print_truth(scene.sheet, scene.bars),
        "metal": asdict(scene.finish),
        "light": asdict(scene.light),
        "fitting": asdict(scene.fitting),
    }
    if scene.hard.names:
        truth["hard"] = scene.hard.truth()
    if len(photos) == 2:
        truth["second"] = _photo(photos[1])
    return truth | _photo(scene)
