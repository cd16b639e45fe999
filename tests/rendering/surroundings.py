"""What stands round a scene: light, a room, and the person with the phone."""

from typing import Any

import numpy as np

from tests.rendering.camera import PhoneCamera
from tests.rendering.lights import Light, Panel

__all__ = ["surroundings"]


def _panel(mi: Any, panel: Panel) -> dict[str, Any]:
    """A rectangle whose radiance gives the asked irradiance at the origin."""
    transform = mi.ScalarTransform4f
    centre = np.asarray(panel.centre_mm)
    distance = float(np.linalg.norm(centre))
    area = 4 * panel.half_mm[0] * panel.half_mm[1]
    radiance = panel.irradiance * distance**2 / (area * centre[2] / distance)
    turned = transform().look_at(origin=list(panel.centre_mm), target=[0, 0, 0], up=[0.01, 0, 1])
    return {
        "type": "rectangle",
        "to_world": turned @ transform().scale([panel.half_mm[0], panel.half_mm[1], 1]),
        "emitter": {
            "type": "area",
            "radiance": {"type": "rgb", "value": [radiance * c for c in panel.colour]},
        },
    }


def _room(mi: Any, light: Light) -> dict[str, Any]:
    """Walls, ceiling and floor as a far picture; its mean over the upper half is the room's."""
    rng = np.random.default_rng(light.room_seed)
    rows, cols = 32, 64
    up = np.cos((np.arange(rows) + 0.5) / rows * np.pi)
    ceiling, wall, floor = 1.3, rng.uniform(0.5, 0.9), rng.uniform(0.15, 0.35)
    level = np.where(up > 0.55, ceiling, np.where(up > -0.05, wall, floor))[:, None]
    picture = np.repeat(level, cols, axis=1)
    for _ in range(int(rng.integers(4, 9))):  # furniture, doors, shelves
        col, row = rng.integers(cols), rng.integers(9, 18)
        wide, high = rng.integers(2, 9), rng.integers(2, 8)
        picture[row : row + high, np.arange(col, col + wide) % cols] *= rng.uniform(0.15, 1.3)
    weight = np.maximum(up, 0)[:, None] * np.sqrt(1 - up[:, None] ** 2)
    solid = (np.pi / rows) * (2 * np.pi / cols)
    picture *= light.room_irradiance / float(np.sum(picture * weight) * solid)
    rgb = (picture[:, :, None] * np.asarray(light.room_colour)).astype(np.float32)
    turn = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
    return {"type": "envmap", "bitmap": mi.Bitmap(rgb), "to_world": turn}


def _person(mi: Any, camera: PhoneCamera) -> dict[str, Any]:
    """The phone behind its lens, an arm and a body: dark things that metal mirrors."""
    transform = mi.ScalarTransform4f
    pose = np.linalg.inv(camera.camera_from_sheet)
    dark = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.05, 0.05, 0.06]}}
    cloth = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.08, 0.09, 0.13]}}
    shift = np.eye(4)
    shift[:3, 3] = (45, 22, -6)
    phone = transform(pose @ shift) @ transform().scale([75, 37, 4])
    towards = pose[:3, :3] @ np.array([0.3, 1.0, 0.0])
    towards[2] = 0
    towards /= np.linalg.norm(towards)
    chest = pose[:3, 3] + 330 * towards + np.array([0, 0, 60])
    return {
        "phone": {"type": "cube", "to_world": phone, "bsdf": dark},
        "chest": {
            "type": "sphere",
            "to_world": transform().translate(list(chest)) @ transform().scale([190, 190, 280]),
            "bsdf": cloth,
        },
    }


def surroundings(mi: Any, light: Light, camera: PhoneCamera) -> dict[str, Any]:
    """A scene of nothing but light and the person with the phone."""
    around: dict[str, Any] = {"type": "scene", "room": _room(mi, light)}
    around |= {f"panel{k}": _panel(mi, panel) for k, panel in enumerate(light.panels)}
    return around | _person(mi, camera)
