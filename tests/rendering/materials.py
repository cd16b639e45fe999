"""What fittings are made of, and how worn and dirty they are."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.meshes import Mesh

__all__ = ["METALS", "Finish", "dirt_of", "draw_finish", "film_of", "turned_normals"]

Floats = NDArray[np.float64]
Metal = Literal["steel", "zinc", "brass", "black", "yellow", "worn"]
METALS: tuple[Metal, ...] = ("steel", "zinc", "brass", "black", "yellow", "worn")

# linear RGB of light thrown back head-on, roughness (least, most); common practice, no source
_LOOKS: dict[str, tuple[tuple[float, float, float], tuple[float, float]]] = {
    "steel": (((0.56, 0.55, 0.53)), (0.10, 0.28)),
    "zinc": (((0.62, 0.64, 0.68)), (0.20, 0.42)),
    "brass": (((0.78, 0.58, 0.27)), (0.12, 0.32)),
    "black": (((0.030, 0.030, 0.033)), (0.18, 0.40)),
    "yellow": (((0.66, 0.55, 0.30)), (0.18, 0.38)),
    "worn": (((0.42, 0.40, 0.37)), (0.28, 0.50)),
}


@dataclass(frozen=True, slots=True)
class Finish:
    """A surface: its colour, roughness, turning marks and dirt.

    Attributes
    ----------
    metal : one of METALS
    colour : linear RGB
    roughness : float
    marks : float
        Standard deviation of the slope of turning marks.
    dirt : float
        0 clean, 1 roots full of grease.
    seed : int
    """

    metal: Metal
    colour: tuple[float, float, float]
    roughness: float
    marks: float
    dirt: float
    seed: int


def draw_finish(metal: Metal, rng: np.random.Generator) -> Finish:
    """One finish of a kind of metal."""
    colour, (smooth, rough) = _LOOKS[metal]
    tint = rng.normal(1, 0.03, 3)
    dirt = float(rng.uniform(0.3, 0.9)) if metal == "worn" else float(rng.uniform(0, 0.25))
    return Finish(
        metal=metal,
        colour=tuple(float(np.clip(c * t, 0, 0.95)) for c, t in zip(colour, tint, strict=True)),  # type: ignore[arg-type]
        roughness=float(rng.uniform(smooth, rough)),
        marks=float(rng.uniform(0.01, 0.05)),
        dirt=dirt,
        seed=int(rng.integers(2**31)),
    )


def _noise(values: Floats, step: float, rng: np.random.Generator) -> Floats:
    """Smooth noise along a line, standard deviation near 1."""
    low, high = values.min(), values.max()
    knots = np.arange(low - step, high + 2 * step, step)
    return np.interp(values, knots, rng.normal(0, 1, len(knots)))


def turned_normals(mesh: Mesh, finish: Finish) -> Floats:
    """The mesh's normals with turning marks: rings that lean a little along the axis.

    Parameters
    ----------
    mesh : Mesh
    finish : Finish

    Returns
    -------
    (V, 3)
    """
    rng = np.random.default_rng(finish.seed)
    lean = finish.marks * (_noise(mesh.z_mm, 0.09, rng) + _noise(mesh.r_mm, 0.07, rng)) / 1.4
    normals = mesh.normals.copy()
    normals[:, 2] += lean
    return np.asarray(normals / np.linalg.norm(normals, axis=1, keepdims=True))


def dirt_of(mesh: Mesh, finish: Finish, root_mm: float, crest_mm: float, until_mm: float) -> Floats:
    """How dirty each vertex is: most in the roots of the thread, patchy elsewhere, (V,)."""
    rng = np.random.default_rng(finish.seed + 1)
    around = _noise(mesh.theta_rad, 0.5, rng) + _noise(mesh.z_mm, 1.5, rng)
    patch = 1 / (1 + np.exp(-3 * (around / 1.4 - 1.2 + finish.dirt)))
    depth = np.clip((crest_mm - mesh.r_mm) / max(crest_mm - root_mm, 0.1), 0, 1)
    in_thread = (mesh.z_mm < until_mm) & (mesh.r_mm > root_mm - 0.2)
    root = np.where(in_thread, depth**2, 0.35)
    return np.clip(finish.dirt * (0.25 * patch + 0.75 * patch * root), 0, 1)


def film_of(mesh: Mesh, finish: Finish, film: float) -> Floats:
    """How thick a film of oil stands on each vertex: most of it where it runs together, (V,)."""
    rng = np.random.default_rng(finish.seed + 2)
    patch = _noise(mesh.theta_rad, 0.8, rng) + _noise(mesh.z_mm, 2.5, rng)
    return np.clip(film * (0.35 + 0.65 / (1 + np.exp(-2.5 * (patch / 1.4 + film)))), 0, 1)
