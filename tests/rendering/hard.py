"""Scenes made hard as life does: oil, dirt, a torch, a steep view, curl, hands, other lenses."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, focused, look_at, project
from tests.rendering.hands import draw_hand
from tests.rendering.hardships import HARDSHIPS, Hardship, Hardships
from tests.rendering.lights import draw_light
from tests.rendering.lumps import draw_beads, draw_grit
from tests.rendering.scenes import FULL_PX, Conditions, FittingScene, draw_aim
from tests.rendering.stains import draw_stain

__all__ = ["with_hardships"]

Floats = NDArray[np.float64]

SHARES = {
    "oil": 0.4, "dirt": 0.4, "torch": 0.3, "oblique": 0.35, "curl": 0.5, "hand": 0.4, "tele": 0.2,
}  # fmt: skip
AT_LEAST = 2
OBLIQUE_DEG = (20.0, 33.0)
EQUIVALENT_MM = (24.0, 28.0)  # of main cameras, for a diagonal of 43.267 mm (CIPA DCG-001)
TELE = 2.0  # the middle of the same sensor
TELE_BACK = 1.6  # people step back with it
LIFT_MM = (0.0, 4.0)
SLEEVE_SHARE = 0.15  # of prints under a torch; common practice, no source
CLEAR_MM = 22.0  # of the part, by a hand


def _names(rng: np.random.Generator) -> tuple[Hardship, ...]:
    while True:
        names = tuple(name for name in HARDSHIPS if rng.random() < SHARES[name])
        if len(names) >= AT_LEAST:
            return names


def _eye(scene: FittingScene, cond: Conditions, names: tuple[Hardship, ...],
         rng: np.random.Generator) -> Floats:  # fmt: skip
    """Where the camera is: steep or as the print asks, farther off with the longer lens."""
    is_steep = "oblique" in names
    distance = rng.uniform(*cond.distance_mm) * (TELE_BACK if "tele" in names else 1)
    tilt = np.radians(rng.uniform(*(OBLIQUE_DEG if is_steep else cond.tilt_deg)))
    axis = scene.sheet_from_thread[:2, 2]
    side = np.arctan2(axis[1], axis[0]) + np.pi / 2 * rng.choice([-1, 1])
    side += rng.normal(0, np.radians(45 if is_steep else 22))
    way = np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    return np.asarray(scene.middle_mm + distance * way)


def _with_camera(scene: FittingScene, cond: Conditions, names: tuple[Hardship, ...],
                 rng: np.random.Generator) -> FittingScene:  # fmt: skip
    """The scene as another phone's main lens, or the middle of its sensor, sees it."""
    middle, first, development = scene.middle_mm, scene.camera, scene.development
    eye = _eye(scene, cond, names, rng)
    zoom = TELE if "tele" in names else 1.0
    equivalent = float(rng.uniform(*EQUIVALENT_MM)) * zoom
    far_px = equivalent / 43.267 * float(np.hypot(*FULL_PX))
    distance = float(np.linalg.norm(eye - middle))
    corner = (np.array(first.size_px) - 1) / 2
    off = (np.array([first.centre_x_px, first.centre_y_px]) - corner) * zoom
    aim = draw_aim(middle, scene.reach_mm, rng)
    camera = PhoneCamera(
        size_px=first.size_px,
        focal_px=far_px * (1 + development.focal_mm / distance) * cond.scale_px,
        centre_x_px=float(corner[0] + off[0]),
        centre_y_px=float(corner[1] + off[1]),
        k1=float(np.clip(rng.normal(0, 0.018), -0.04, 0.04)),
        k2=float(np.clip(rng.normal(0, 0.012), -0.03, 0.03)),
        aperture_mm=first.aperture_mm,
        focus_mm=0.0,
        camera_from_sheet=look_at(eye, aim, float(rng.uniform(0, 2 * np.pi))),
    )
    near = middle + np.array([0, 0, rng.uniform(-0.2, 0.8) * scene.thread.size.major_mm / 2])
    noted = round(equivalent * (1.0 if rng.random() < 0.5 else 36 / FULL_PX[0] * 5040 / 43.267))
    developed = replace(
        development,
        focal_35mm=noted,
        blur_px=development.blur_px * (1.25 if zoom > 1 else 1),
        shot=development.shot * zoom,
    )
    return replace(scene, camera=focused(camera, near), development=developed)


def _tip(scene: FittingScene, cond: Conditions, rng: np.random.Generator) -> Floats | None:
    """A place for a fingertip: on the print, off the bed and the part, in the picture."""
    half = np.array(scene.sheet.half_mm) - 8
    bed = (np.array(cond.bed_centre_mm) - np.array(cond.page_mm) / 2) * (1, -1)
    part = scene.mesh.vertices_mm[::97] @ scene.sheet_from_thread[:3, :3].T
    part = part[:, :2] + scene.sheet_from_thread[:2, 3]
    good = []
    for point in rng.uniform(-1, 1, (300, 2)) * half:
        is_off_bed = np.any(np.abs(point - bed) > np.array(cond.bed_size_mm) / 2 + 5)
        pixel = project(scene.camera, np.array([[*point, 0.0]]))[0]
        margin = 0.03 * max(scene.camera.size_px)
        is_seen = np.all((pixel > margin) & (pixel < np.array(scene.camera.size_px) - margin))
        if is_off_bed and is_seen and np.linalg.norm(part - point, axis=1).min() > CLEAR_MM:
            good.append(point)
    if not good:
        return None
    away = [np.linalg.norm(point - scene.middle_mm[:2]) for point in good[:4]]
    return np.asarray(good[int(np.argmax(away))])


def _oil(scene: FittingScene, rng: np.random.Generator) -> Hardships:
    beads = draw_beads(scene.mesh, scene.fitting.bore_mm, int(rng.integers(3, 11)), rng)
    under = np.asarray(scene.sheet.flat_at_mm)
    reach = scene.sheet.flat_within_mm
    stains = [draw_stain(under + rng.normal(0, 6, 2), (0.4 * reach, 1.1 * reach), rng)]
    for _ in range(int(rng.integers(0, 3))):
        stains.append(draw_stain(under + rng.normal(0, 35, 2), (2, 8), rng))
    return Hardships(film=float(rng.uniform(0.5, 1)), lumps=tuple(beads), stains=tuple(stains))


def _gloss(rng: np.random.Generator) -> tuple[float, float]:
    """Roughness of paper and of toner; alike and small in a plastic sleeve."""
    if rng.random() < SLEEVE_SHARE:
        sleeve = float(rng.uniform(0.10, 0.16))
        return sleeve, sleeve
    return float(rng.uniform(0.32, 0.5)), float(rng.uniform(0.15, 0.3))


def with_hardships(scene: FittingScene, cond: Conditions) -> FittingScene:
    """The same part on the same print, photographed under hard conditions.

    Parameters
    ----------
    scene : FittingScene
    cond : Conditions

    Returns
    -------
    FittingScene
        With at least AT_LEAST of HARDSHIPS; its draws are its own.
    """
    rng = np.random.default_rng([scene.seed, 4])
    names, size = _names(rng), scene.thread.size
    scene = _with_camera(scene, cond, names, rng)
    hard = _oil(scene, rng) if "oil" in names else Hardships()
    if "dirt" in names:
        groove = (size.minor_mm, size.major_mm, scene.fitting.ends.full_to_mm)
        grit = draw_grit(scene.mesh, groove, int(rng.integers(15, 70)), rng)
        hard = replace(hard, lumps=hard.lumps + tuple(grit))
        scene = replace(scene, finish=replace(scene.finish, dirt=float(rng.uniform(0.6, 1))))
    if "torch" in names:
        hard = replace(hard, gloss=_gloss(rng))
        light = draw_light("torch", scene.camera.centre_sheet_mm, rng)
        scene = replace(scene, light=light)
    if "curl" in names:
        lifts = tuple(float(lift) for lift in rng.uniform(*LIFT_MM, 4))
        scene = replace(scene, sheet=replace(scene.sheet, lifts_mm=lifts))
    tip = _tip(scene, cond, rng) if "hand" in names else None
    if tip is not None:
        away = np.arctan2(*(tip - scene.middle_mm[:2])[::-1]) + rng.normal(0, np.radians(20))
        hard = replace(hard, hand=draw_hand(tip, float(away), rng))
    return replace(scene, hard=replace(hard, names=names))
