"""Oil that has soaked into the paper."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Stain", "draw_stain", "stained"]

Floats = NDArray[np.float64]
EDGE_MM = 0.8


@dataclass(frozen=True, slots=True)
class Stain:
    """A patch of paper that oil made darker and yellower.

    Attributes
    ----------
    at_mm : (x, y)
        Its middle, sheet frame.
    radius_mm : float
    waves : ((share, phase), ...)
        Of the rim, once, twice, ... round.
    leaves : linear RGB
        Share of the light that wet paper still throws back.
    """

    at_mm: tuple[float, float]
    radius_mm: float
    waves: tuple[tuple[float, float], ...]
    leaves: tuple[float, float, float]


def draw_stain(at_mm: Floats, radius_mm: tuple[float, float], rng: np.random.Generator) -> Stain:
    """One stain round a place."""
    waves = tuple(
        (float(rng.normal(0, 0.22 / n)), float(rng.uniform(0, 2 * np.pi))) for n in range(1, 8)
    )
    wet, yellow = rng.uniform(0.62, 0.9), rng.uniform(0.75, 0.97)
    leaves = (float(wet), float(wet * yellow**0.4), float(wet * yellow))
    x, y = (float(v) for v in at_mm)
    return Stain((x, y), float(rng.uniform(*radius_mm)), waves, leaves)


def stained(stains: tuple[Stain, ...], x_mm: Floats, y_mm: Floats) -> Floats:
    """What is left of the paper's reflectance, (..., 3)."""
    left = np.ones((*x_mm.shape, 3))
    for stain in stains:
        x, y = x_mm - stain.at_mm[0], y_mm - stain.at_mm[1]
        turn = np.arctan2(y, x)
        rim = 1.0 + sum(a * np.cos(n * turn + p) for n, (a, p) in enumerate(stain.waves, 1))
        within = stain.radius_mm * np.maximum(rim, 0.2) - np.hypot(x, y)
        wet = np.clip(0.5 + within / (2 * EDGE_MM), 0, 1)[..., None]
        left = left * (1 - wet * (1 - np.array(stain.leaves)))
    return left
