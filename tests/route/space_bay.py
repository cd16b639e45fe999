"""What stands in a machine bay beside a drawn hose: boxes, rods, a floor, the light, textures."""

from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.route.space_scenes import STEP_MM, SpaceScene

__all__ = ["Bay", "Box", "Light", "Rod", "Shadow", "draw_bay", "noise", "sampled", "shadow_of"]

Floats = NDArray[np.float64]
Light = NDArray[np.float32]

LAMP_SIZE = 0.03  # over how far off it is


@cache
def noise(seed: int) -> Light:
    """Cloudy texture between 0 and 1, 1024 x 1024, that repeats."""
    rng = np.random.default_rng(seed)
    total = np.zeros((1024, 1024), np.float32)
    for size in (8, 32, 128, 512, 1024):
        part = rng.random((size, size), dtype=np.float32)
        wide = np.asarray(cv2.resize(part, (1024, 1024), interpolation=cv2.INTER_CUBIC), np.float32)
        total += wide / np.float32(size**0.35)
    total -= total.min()
    return np.asarray(total / total.max(), dtype=np.float32)


def sampled(texture: NDArray[Any], x: Light, y: Light) -> Light:
    """Texture at pixel places, any shape."""
    x, y = x.astype(np.float32, copy=False), y.astype(np.float32, copy=False)
    if x.ndim == 2:
        return np.asarray(
            cv2.remap(texture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
            dtype=np.float32,
        )
    out = np.empty(len(x), np.float32)
    for first in range(0, len(x), 30000):
        part = slice(first, first + 30000)
        out[part] = sampled(texture, x[part, None], y[part, None])[:, 0]
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Box:
    """A box or an upright plane's stand-in: pose, half sizes, colour."""

    pose: Floats  # (4, 4) world from box
    half: Floats  # (3,)
    colour: Floats  # (3,)


@dataclass(frozen=True, slots=True, eq=False)
class Rod:
    start: Floats
    stop: Floats
    radius: float
    colour: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Bay:
    """What else stands in the bay, and the light."""

    boxes: tuple[Box, ...]
    rods: tuple[Rod, ...]
    floor_mm: float
    floor_colour: Floats
    hose_colour: Floats
    hose_look: str
    light: Floats
    ambient: float
    seed: int


@dataclass(frozen=True, slots=True, eq=False)
class Shadow:
    """How dark the hose's shadow lies on the floor: 1 mm a texel, from a corner on [mm]."""

    dark: Light
    low: Floats  # (2,)

    def at(self, x: Light, y: Light) -> Light:
        """Share of the lamp's light that the hose takes, at places of the floor."""
        return sampled(self.dark, x - np.float32(self.low[0]), y - np.float32(self.low[1]))


def shadow_of(scene: SpaceScene, bay: Bay) -> Shadow:
    """Draw the shadow that the lamp throws; the higher the hose, the softer."""
    points = scene.curve.points[:: round(2 / STEP_MM)]
    high = points[:, 2] - bay.floor_mm
    foot = (points - high[:, None] * bay.light / bay.light[2])[:, :2]
    low = foot.min(axis=0) - 80
    size = np.ceil(foot.max(axis=0) + 80 - low).astype(int)
    dark = np.zeros((size[1], size[0]), np.uint8)
    for x, y in foot - low:
        cv2.circle(dark, (round(x), round(y)), round(scene.radius_mm), 255, -1, cv2.LINE_AA)
    soft = cv2.GaussianBlur(dark, (0, 0), 1 + LAMP_SIZE * float(high.mean()))
    return Shadow(np.asarray(soft, np.float32) / 255, low)


def draw_bay(scene: SpaceScene) -> Bay:
    rng = np.random.default_rng(scene.seed + 77_000)
    low = scene.curve.points.min(axis=0) - 250
    high = scene.curve.points.max(axis=0) + 250
    floor = -float(rng.uniform(50, 130))
    boxes, rods = [], []
    for _ in range(int(rng.integers(6, 12))):
        half = rng.uniform(15, 90, 3)
        at = np.array([rng.uniform(low[0], high[0]), rng.uniform(low[1], high[1]), 0.0])
        near = np.linalg.norm(scene.curve.points[:, :2] - at[:2], axis=1)
        over = scene.curve.points[near < half.max() + 40, 2]
        top = over.min() - scene.od_mm if len(over) else rng.uniform(-20, 60)
        for card in scene.cards:
            if np.linalg.norm(card.pose[:2, 3] - at[:2]) < half.max() + 65:
                top = min(top, card.pose[2, 3] - 45)
        at[2] = top - half[2] - 15
        turn = np.asarray(cv2.Rodrigues(np.array([0, 0, rng.uniform(0, 3)]))[0], dtype=np.float64)
        boxes.append(Box(_pose(turn, at), half, _paint(rng)))
    for _ in range(int(rng.integers(2, 6))):
        start = np.array([rng.uniform(low[0], high[0]), rng.uniform(low[1], high[1]), 0.0])
        stop = np.array([rng.uniform(low[0], high[0]), rng.uniform(low[1], high[1]), 0.0])
        start[2] = stop[2] = floor + rng.uniform(0, 20)
        rods.append(Rod(start, stop, float(rng.uniform(4, 20)), _paint(rng)))
    if rng.random() < 0.5:  # one in front of the route: hides a stretch in some photos
        index = rng.integers(len(scene.curve.points))
        at = scene.curve.points[index] + [0, 0, rng.uniform(60, 120)]
        way = rng.standard_normal(3) * [1, 1, 0.1]
        way *= 160 / np.linalg.norm(way)
        rods.append(Rod(at - way, at + way, float(rng.uniform(3, 9)), _paint(rng)))
    light = np.array([rng.normal(0, 0.5), rng.normal(0, 0.5), 1.0])
    looks = ("rubber", "braid", "bright")
    look = str(rng.choice(looks, p=[0.6, 0.25, 0.15]))
    hose = {"rubber": rng.uniform(0.03, 0.08) * np.ones(3), "braid": np.full(3, 0.3),
            "bright": rng.uniform(0.1, 0.7, 3)}[look]  # fmt: skip
    light /= np.linalg.norm(light)
    return Bay(
        tuple(boxes),
        tuple(rods),
        floor,
        _paint(rng),
        hose,
        look,
        light,
        float(rng.uniform(0.35, 0.6)),
        scene.seed,
    )


def _pose(turn: Floats, at: Floats) -> Floats:
    pose = np.eye(4)
    pose[:3, :3], pose[:3, 3] = turn, at
    return pose


def _paint(rng: np.random.Generator) -> Floats:
    return np.asarray(rng.uniform(0.05, 0.5) * rng.uniform(0.5, 1.2, 3))
