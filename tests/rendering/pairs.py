"""The second photograph of an untouched fitting: from elsewhere, with the same phone."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, focused, look_at
from tests.rendering.lights import Light, beside_the_lens
from tests.rendering.scenes import Conditions, FittingScene, draw_aim
from tests.rendering.sensor import STORED_TURNS, Development

__all__ = ["second_photo"]

Floats = NDArray[np.float64]

# how people take it again: from the other side, from somewhere else round it, leaning over
WAYS, SHARES = ("other side", "round", "lean"), (0.35, 0.3, 0.35)
OTHER_SIDE_DEG = (145.0, 180.0)
ROUND_DEG = (25.0, 180.0)
LEAN_DEG = (10.0, 25.0)
LEAST_APART_DEG = 8.0  # two photos from one place tell nothing new
TURNED_SHARE = 0.2  # phones held the other way for the second photo
SHIFT_PX = 4.0  # of the picture's centre by the lens' stabilisation; common practice, no source


def _way(tilt_rad: float, side_rad: float) -> Floats:
    """Unit vector from the part to the camera."""
    flat = np.sin(tilt_rad)
    return np.array([flat * np.cos(side_rad), flat * np.sin(side_rad), np.cos(tilt_rad)])


def _moved(first: Floats, tilt_deg: tuple[float, float], rng: np.random.Generator) -> Floats:
    """The second way to the camera and how far the person walked round: (x, y, z, turn)."""
    tilt, side = np.degrees(np.arccos(first[2])), np.arctan2(first[1], first[0])
    kind = str(rng.choice(WAYS, p=SHARES))
    while True:
        if kind == "lean":
            turn = float(rng.normal(0, np.radians(5)))
            leaned = tilt + rng.uniform(*LEAN_DEG) * rng.choice([-1, 1])
        else:
            far = rng.uniform(*(OTHER_SIDE_DEG if kind == "other side" else ROUND_DEG))
            turn = np.radians(far) * rng.choice([-1, 1])
            leaned = rng.uniform(*tilt_deg)
        way = _way(np.radians(leaned), side + turn)
        is_allowed = tilt_deg[0] <= abs(leaned) <= tilt_deg[1]
        if is_allowed and way @ first < np.cos(np.radians(LEAST_APART_DEG)):
            return np.append(way, turn)


def _held(orientation: int | None, rng: np.random.Generator) -> int | None:
    """How the phone is held for the second photo; a photo without notes keeps none."""
    if orientation is None or rng.random() >= TURNED_SHARE:
        return orientation
    return int(rng.choice([o for o in STORED_TURNS if o != orientation]))


def _turned(offset_px: Floats, quarters: int) -> Floats:
    """An offset from the picture's centre after quarter turns anticlockwise."""
    x, y = offset_px
    for _ in range(quarters % 4):
        x, y = y, -x
    return np.array([x, y])


def _roll(camera: PhoneCamera) -> float:
    """The roll that `look_at` was given."""
    up = -camera.camera_from_sheet[1, :3]
    return float(np.arctan2(-up[0], up[1]))


def _second_camera(
    scene: FittingScene, cond: Conditions, orientation: int | None, rng: np.random.Generator
) -> PhoneCamera:
    """The same phone over the same part: lens as before, but for focus and stabilisation."""
    first, middle = scene.camera, scene.middle_mm
    sight = first.centre_sheet_mm - middle
    was = float(np.linalg.norm(sight))
    *way, turn = _moved(sight / was, cond.tilt_deg, rng)
    distance = float(np.clip(was * (1 + rng.normal(0, 0.08)), *cond.distance_mm))
    eye = middle + distance * np.array(way)
    aim = draw_aim(middle, scene.reach_mm, rng)
    quarters = STORED_TURNS[scene.development.orientation or 1] - STORED_TURNS[orientation or 1]
    size = first.size_px if quarters % 2 == 0 else first.size_px[::-1]
    centre = np.array([first.centre_x_px, first.centre_y_px])
    off = _turned(centre - (np.array(first.size_px) - 1) / 2, quarters)
    off += rng.normal(0, SHIFT_PX * cond.scale_px, 2)
    x, y = (np.array(size) - 1) / 2 + off
    focal_mm = scene.development.focal_mm
    camera = replace(
        first,
        size_px=size,
        focal_px=first.focal_px * (1 + focal_mm / distance) / (1 + focal_mm / was),
        centre_x_px=float(x),
        centre_y_px=float(y),
        camera_from_sheet=look_at(eye, aim, _roll(first) + turn + float(rng.normal(0, 0.15))),
    )
    up = rng.uniform(-0.2, 0.8) * scene.thread.size.major_mm / 2
    return focused(camera, middle + np.array([0, 0, up]))


def _second_development(
    first: Development, orientation: int | None, rng: np.random.Generator
) -> Development:
    """The same phone's way with another exposure."""
    return replace(
        first,
        paper_level=float(np.clip(first.paper_level * (1 + rng.normal(0, 0.06)), 0.45, 0.85)),
        blur_px=float(np.clip(first.blur_px * (1 + rng.normal(0, 0.1)), 0.6, 1.2)),
        motion_px=float(rng.choice([0.0, rng.uniform(0, 1.5)])),
        motion_rad=float(rng.uniform(0, np.pi)),
        shot=first.shot * float(np.exp(rng.normal(0, 0.2))),
        red_gain=first.red_gain + float(rng.normal(0, 0.005)),
        blue_gain=first.blue_gain + float(rng.normal(0, 0.007)),
        orientation=orientation,
        seed=int(rng.integers(2**31)),
    )


def _light_there(light: Light, eye_mm: Floats, rng: np.random.Generator) -> Light:
    """The same light; a phone's torch goes with the phone."""
    return light if light.kind != "torch" else beside_the_lens(light, eye_mm, rng)


def second_photo(scene: FittingScene, cond: Conditions) -> FittingScene:
    """The same untouched scene as a person takes it again from another place.

    Parameters
    ----------
    scene : FittingScene
        As the first photo shows it.
    cond : Conditions
        What the print asks of a photo: both keep to it.

    Returns
    -------
    FittingScene
        Alike in all but camera, exposure and what moves with the camera. Its draws are its own:
        the first photo of a seed is the same with or without a second.
    """
    rng = np.random.default_rng([scene.seed, 2])
    orientation = _held(scene.development.orientation, rng)
    camera = _second_camera(scene, cond, orientation, rng)
    return replace(
        scene,
        camera=camera,
        light=_light_there(scene.light, camera.centre_sheet_mm, rng),
        development=_second_development(scene.development, orientation, rng),
    )
