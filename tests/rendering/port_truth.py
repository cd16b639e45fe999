"""What is true of a rendered port, as JSON beside the picture."""

from dataclasses import asdict, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.rendering.port_bodies import INTO_PORT, first_crest_mm
from tests.rendering.port_scenes import PortScene
from tests.rendering.truth import NOTE, camera_truth

__all__ = ["circles_mm", "port_truth"]

Floats = NDArray[np.float64]


def _axis(scene: PortScene, depth_mm: float) -> Floats:
    """Where the thread's axis is at a depth, port frame, (3,)."""
    port = scene.port
    x, y = (off + lean * depth_mm for off, lean in zip(port.off_mm, port.lean_rad, strict=True))
    return np.asarray(INTO_PORT @ np.array([x, y, depth_mm]))


def circles_mm(scene: PortScene, count: int = 180) -> dict[str, Floats]:
    """Circles that the picture shows, (count, 3) [mm], port frame.

    Parameters
    ----------
    scene : PortScene
    count : int

    Returns
    -------
    dict
        "spot face" (its floor), "mouth", "first crest" (the bore where the mouth ends),
        "hole" (the collar's, as cut).
    """
    theta = np.linspace(0, 2 * np.pi, count, endpoint=False)
    ring = np.column_stack([np.cos(theta), np.sin(theta), 0 * theta])
    port, crest = scene.port, first_crest_mm(scene.port)
    bore = port.size.minor_mm / 2 - port.size.taper * crest
    cut = scene.collar.cut_radius_mm(theta)[:, None] * ring
    cut[:, 2] = scene.collar.height_mm(cut[:, 0], cut[:, 1])
    turn, shift = scene.port_from_sheet[:3, :3], scene.port_from_sheet[:3, 3]
    circles = {
        "mouth": port.mouth.diameter_mm / 2 * ring,
        "first crest": bore * ring + _axis(scene, crest),
        "hole": cut @ turn.T + shift,
    }
    if port.mouth.spot_face_mm:
        circles["spot face"] = port.mouth.spot_face_mm / 2 * ring
    return circles


def _mouth(scene: PortScene) -> dict[str, Any]:
    mouth, sheet = scene.port.mouth, scene.port_from_sheet
    below = float(sheet[2, 3] - sheet[2, :2] @ sheet[:2, 3] / sheet[2, 2])
    is_cone = mouth.kind == "O-ring cone"
    return {
        "standard": scene.thread.port.standard or None,
        "mouth_kind": mouth.kind,
        "mouth_diameter": mouth.diameter_mm,
        "mouth_half_angle": mouth.half_angle_deg,
        "counterbore_diameter": mouth.diameter_mm if is_cone else None,
        "counterbore_depth": mouth.cone_depth_mm if is_cone else None,
        "spot_face_diameter": mouth.spot_face_mm or None,
        "spot_face_depth": mouth.spot_depth_mm or None,
        "first_crest_depth": first_crest_mm(scene.port),
        "mouth_below_sheet_plane": below,
    }


def _thread(scene: PortScene) -> dict[str, Any]:
    drawn, port = scene.thread, scene.port
    size = port.size
    return {
        "designation": drawn.designation,
        "family": drawn.family,
        "class": {"metric": "6H", "unified": "2B"}.get(drawn.family),
        "bore_diameter": size.minor_mm,
        "minor_diameter": size.minor_mm,
        "pitch_diameter": size.pitch_diameter_mm,
        "major_diameter": size.root_mm,
        "pitch": size.pitch_mm,
        "taper_half_angle": float(np.degrees(np.arctan(size.taper))),
        "thread_angle": 55.0 if size.form == "whitworth" else 60.0,
        "hand": "left" if size.is_left else "right",
        "thread_depth": port.depth.full_to_mm,
    }


def _axis_truth(scene: PortScene) -> dict[str, Any]:
    start, end = _axis(scene, 0.0), _axis(scene, 10.0)
    way = (end - start) / np.linalg.norm(end - start)
    back = np.linalg.inv(scene.port_from_sheet)
    return {
        "point_port_mm": start.tolist(),
        "way_port": way.tolist(),
        "point_sheet_mm": (back[:3, :3] @ start + back[:3, 3]).tolist(),
        "way_sheet": (back[:3, :3] @ way).tolist(),
        "off_square_deg": float(np.degrees(np.arccos(min(1.0, -(back[:3, :3] @ way)[2])))),
    }


def _stuck(scene: PortScene) -> dict[str, float]:
    """How the collar sits on the face: off the mouth's middle, off plane, turned."""
    pose, collar = scene.port_from_sheet, scene.collar
    return {
        "off_centre_mm": float(np.hypot(*pose[:2, 3])),
        "lean_deg": float(np.degrees(np.arccos(min(1.0, pose[2, 2])))),
        "turned_deg": float(np.degrees(np.arctan2(pose[1, 0], pose[0, 0]))),
        "most_lift_mm": max(collar.lifts_mm) + collar.bow_mm,
    }


def port_truth(scene: PortScene, split: str) -> dict[str, Any]:
    """Everything that is true of a port scene.

    Parameters
    ----------
    scene : PortScene
    split : str
        "tune", "report", ...

    Returns
    -------
    dict
        Lengths in mm, angles in degrees, poses (4, 4). A taper's sizes are at the mouth's plane,
        depths count from there. Port frame: z out of the port, origin in the mouth's plane on
        the mouth's axis. Sheet frame: origin in the middle of the collar's outline, x right, y up
        as printed, z out of the paper; the paper's printed side lies `collar.height` above z = 0.
    """
    on_sheet = scene.camera.camera_from_sheet @ scene.port_from_sheet
    camera = camera_truth(replace(scene.camera, camera_from_sheet=on_sheet))
    camera["camera_from_port"] = scene.camera.camera_from_sheet.tolist()
    circles = {name: np.round(circle, 5).tolist() for name, circle in circles_mm(scene, 24).items()}
    return {
        "note": NOTE,
        "kind": "port",
        "split": split,
        "seed": scene.seed,
        "truth": _thread(scene) | _mouth(scene),
        "axis": _axis_truth(scene),
        "port_from_sheet": scene.port_from_sheet.tolist(),
        "circles_port_mm": circles,
        "view": {"tilt_deg": scene.tilt_deg, "distance_mm": scene.distance_mm},
        "piece": scene.collar.ring.name,
        "stuck": _stuck(scene),
        "clears_spot_face": scene.clears_spot_face,
        "print": {"bars": asdict(scene.bars), "collar": asdict(scene.collar)},
        "camera": camera,
        "bore_metal": scene.metal,
        "metal": asdict(scene.finish),
        "face": asdict(scene.face),
        "ground": asdict(scene.ground),
        "around": asdict(scene.around),
        "chips": [asdict(chip) for chip in scene.chips],
        "light": asdict(scene.light),
        "development": asdict(scene.development),
        "port": asdict(scene.port),
    }
