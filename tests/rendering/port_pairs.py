"""The second photograph of a port: the same phone from elsewhere, now and then square on."""

from dataclasses import replace

import numpy as np

from tests.rendering.camera import focused, look_at
from tests.rendering.port_scenes import PortConditions, PortScene
from tests.rendering.port_surroundings import draw_surroundings

__all__ = ["second_port_photo"]

SQUARE_SHARE = 0.4  # as a person who was told to take one square on does it
SQUARE_DEG = (2.0, 12.0)
WALK_DEG = (40.0, 180.0)


def second_port_photo(scene: PortScene, cond: PortConditions) -> PortScene:
    """The same port and collar, taken again.

    Parameters
    ----------
    scene : PortScene
        As the first photo shows it.
    cond : PortConditions
        What the print asks of a photo.

    Returns
    -------
    PortScene
        Alike in all but camera, exposure and what stands round the face. Its draws are its own.
    """
    rng = np.random.default_rng([scene.seed, 6])
    square = rng.random() < SQUARE_SHARE
    tilt = float(rng.uniform(*(SQUARE_DEG if square else cond.tilt_deg)))
    pose = scene.camera.camera_from_sheet
    first = -pose[:3, :3].T @ pose[:3, 3]
    turn = np.radians(rng.uniform(*WALK_DEG)) * rng.choice([-1, 1])
    side, slope = np.arctan2(first[1], first[0]) + turn, np.radians(tilt)
    target = np.array([0.0, 0.0, scene.port.mouth.spot_depth_mm])
    way = np.array([np.sin(slope) * np.cos(side), np.sin(slope) * np.sin(side), np.cos(slope)])
    eye = target + rng.uniform(*cond.distance_mm) * way
    aim = target + np.append(rng.uniform(-6, 6, 2), 0.0)
    camera = replace(
        scene.camera, camera_from_sheet=look_at(eye, aim, float(rng.uniform(0, 2 * np.pi)))
    )
    half = max(scene.collar.half_mm)
    shown = replace(
        scene.development,
        paper_level=float(scene.development.paper_level * (1 + rng.normal(0, 0.05))),
        motion_px=float(rng.choice([0.0, rng.uniform(0, 1.5)])),
        seed=int(rng.integers(2**31)),
    )
    return replace(
        scene,
        camera=focused(camera, np.array([0.0, 0.0, -rng.uniform(0, 5)])),
        around=draw_surroundings(half, scene.collar.ring.hole_mm / 2, eye, rng),
        tilt_deg=tilt,
        distance_mm=float(np.linalg.norm(eye - target)),
        development=shown,
    )
