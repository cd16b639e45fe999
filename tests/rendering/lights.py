"""Where the light comes from: a window, an overcast room, a lamp, a torch, the sun."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["LIGHTS", "Light", "Panel", "beside_the_lens", "draw_light"]

Floats = NDArray[np.float64]
LightKind = Literal["window", "overcast", "lamp", "sun", "torch"]
LIGHTS: tuple[LightKind, ...] = ("window", "overcast", "lamp", "sun", "torch")

Colour = tuple[float, float, float]
DAY: Colour = (0.93, 1.0, 1.10)
WARM: Colour = (1.25, 1.0, 0.66)
SUN: Colour = (1.08, 1.0, 0.88)
FLASH: Colour = (1.0, 1.0, 0.97)


@dataclass(frozen=True, slots=True)
class Panel:
    """A flat rectangle that shines towards the bench.

    Attributes
    ----------
    centre_mm : (3,)
    half_mm : (width, height) / 2
    colour : linear RGB
    irradiance : float
        That it gives a level sheet at the origin (with all panels and the room about 1).
    """

    centre_mm: tuple[float, float, float]
    half_mm: tuple[float, float]
    colour: Colour
    irradiance: float


@dataclass(frozen=True, slots=True)
class Light:
    """All light of a scene: panels, and an even room whose ceiling is brighter than its floor."""

    kind: LightKind
    panels: tuple[Panel, ...]
    room_irradiance: float
    room_colour: Colour
    room_seed: int


def _at(distance: float, elevation_deg: float, azimuth: float) -> tuple[float, float, float]:
    up = np.radians(elevation_deg)
    flat = distance * np.cos(up)
    return (
        float(flat * np.cos(azimuth)),
        float(flat * np.sin(azimuth)),
        float(distance * np.sin(up)),
    )


def _window(rng: np.random.Generator, share: float) -> tuple[Panel, ...]:
    centre = _at(rng.uniform(900, 2200), rng.uniform(22, 55), rng.uniform(0, 2 * np.pi))
    half = (rng.uniform(350, 700), rng.uniform(450, 750))
    return (Panel(centre, half, DAY, share),)


def _overcast(rng: np.random.Generator, share: float) -> tuple[Panel, ...]:
    first = rng.uniform(0, 2 * np.pi)
    second = first + rng.uniform(1.5, 4.5)
    split = rng.uniform(0.4, 0.7)
    return tuple(
        Panel(
            _at(rng.uniform(1500, 3000), rng.uniform(35, 70), azimuth), (1100, 900), DAY, share * s
        )
        for azimuth, s in ((first, split), (second, 1 - split))
    )


def _lamp(rng: np.random.Generator, share: float) -> tuple[Panel, ...]:
    centre = _at(rng.uniform(450, 900), rng.uniform(40, 70), rng.uniform(0, 2 * np.pi))
    half = rng.uniform(35, 110)
    return (Panel(centre, (half, half), WARM, share),)


def _sun(rng: np.random.Generator, share: float) -> tuple[Panel, ...]:
    centre = _at(20000, rng.uniform(38, 65), rng.uniform(0, 2 * np.pi))
    return (Panel(centre, (95, 95), SUN, share),)


def _torch(rng: np.random.Generator, share: float, eye_mm: Floats) -> tuple[Panel, ...]:
    turn = rng.uniform(0, 2 * np.pi)
    x, y, z = eye_mm + np.array([14 * np.cos(turn), 14 * np.sin(turn), 2.0])
    return (Panel((float(x), float(y), float(z)), (2.0, 2.0), FLASH, share),)


def beside_the_lens(light: Light, eye_mm: Floats, rng: np.random.Generator) -> Light:
    """A torch's light after the phone has moved; the room stays."""
    return replace(light, panels=_torch(rng, light.panels[0].irradiance, eye_mm))


def draw_light(kind: LightKind, eye_mm: Floats, rng: np.random.Generator) -> Light:
    """One light of a kind.

    Parameters
    ----------
    kind : one of LIGHTS
    eye_mm : (3,) [mm]
        The camera's centre on the sheet's frame; the torch is beside it.
    rng : np.random.Generator

    Returns
    -------
    Light
    """
    low, high = {
        "window": (0.45, 0.75),
        "overcast": (0.3, 0.5),
        "lamp": (0.55, 0.8),
        "sun": (0.7, 0.85),
        "torch": (0.65, 0.85),
    }[kind]
    share = float(rng.uniform(low, high))
    if kind == "torch":
        panels = _torch(rng, share, eye_mm)
    else:
        makers = {"window": _window, "overcast": _overcast, "lamp": _lamp, "sun": _sun}
        panels = makers[kind](rng, share)
    colour = WARM if kind == "lamp" and rng.random() < 0.5 else (1.0, 1.0, 1.0)
    mild = tuple(float(c) ** 0.5 for c in colour)
    return Light(kind, panels, 1 - share, mild, int(rng.integers(2**31)))
