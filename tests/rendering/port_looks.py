"""How ports look: machined, cast and painted faces, bores of steel, iron and aluminium, oil."""

from dataclasses import dataclass
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.materials import Finish
from tests.rendering.meshes import Mesh

__all__ = [
    "BORE_METALS",
    "FACES",
    "BoreMetal",
    "FaceKind",
    "FaceLook",
    "bore_dirt",
    "draw_bore_finish",
    "draw_face_look",
    "face_bsdf",
    "face_maps",
]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
BoreMetal = Literal["steel", "iron", "aluminium"]
FaceKind = Literal["machined", "cast", "painted"]
BORE_METALS: tuple[BoreMetal, ...] = ("steel", "iron", "aluminium")
FACES: tuple[FaceKind, ...] = ("machined", "cast", "painted")

TILE_MM, TILE_PX = 130.0, 2048  # of the face's textures
# linear RGB of light thrown back head-on, roughness (least, most); common practice, no source
_BORES = {
    "steel": ((0.56, 0.55, 0.53), (0.14, 0.32)),
    "iron": ((0.40, 0.39, 0.38), (0.25, 0.45)),
    "aluminium": ((0.80, 0.80, 0.81), (0.14, 0.36)),
}
_PAINTS = (
    (0.02, 0.02, 0.022), (0.30, 0.31, 0.32), (0.45, 0.10, 0.02), (0.02, 0.10, 0.30),
    (0.50, 0.33, 0.02), (0.03, 0.16, 0.05), (0.35, 0.03, 0.03), (0.55, 0.54, 0.50),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FaceLook:
    """The face round the port.

    Attributes
    ----------
    kind : one of FACES
    colour : linear RGB
        Of the metal, or of the paint.
    roughness : float
    marks : float
        Standard deviation of the slope of milling marks, or of the casting's grain.
    marks_at_mm : (x, y)
        Middle of the milling arcs.
    stains : float
        0 clean, 1 oily and dirty all over.
    seed : int
    """

    kind: FaceKind
    colour: tuple[float, float, float]
    roughness: float
    marks: float
    marks_at_mm: tuple[float, float]
    stains: float
    seed: int


def draw_bore_finish(metal: BoreMetal, rng: np.random.Generator) -> Finish:
    """The bore's surface; iron is the dirtiest."""
    colour, (smooth, rough) = _BORES[metal]
    dirt = rng.uniform(0.2, 0.8) if metal == "iron" or rng.random() < 0.15 else rng.uniform(0, 0.3)
    tint = rng.normal(1, 0.02, 3)
    return Finish(
        metal="worn" if metal == "iron" else "steel",
        colour=tuple(float(np.clip(c * t, 0, 0.95)) for c, t in zip(colour, tint, strict=True)),  # type: ignore[arg-type]
        roughness=float(rng.uniform(smooth, rough)),
        marks=float(rng.uniform(0.01, 0.05)),
        dirt=float(dirt),
        seed=int(rng.integers(2**31)),
    )


def draw_face_look(kind: FaceKind, metal: BoreMetal, rng: np.random.Generator) -> FaceLook:
    """The face of a body of that metal."""
    colour, (smooth, rough) = _BORES[metal]
    if kind == "painted":
        colour = _PAINTS[int(rng.integers(len(_PAINTS)))]
        smooth, rough = 0.08, 0.35
    elif kind == "cast":
        smooth, rough = 0.40, 0.60
    reach = rng.uniform(30, 300)
    turn = rng.uniform(0, 2 * np.pi)
    return FaceLook(
        kind=kind,
        colour=tuple(float(c * t) for c, t in zip(colour, rng.normal(1, 0.03, 3), strict=True)),  # type: ignore[arg-type]
        roughness=float(rng.uniform(smooth, rough)),
        marks=float(rng.uniform(0.02, 0.07) if kind == "machined" else rng.uniform(0.06, 0.25)),
        marks_at_mm=(float(reach * np.cos(turn)), float(reach * np.sin(turn))),
        stains=float(rng.uniform(0, 0.3) if rng.random() < 0.7 else rng.uniform(0.3, 0.9)),
        seed=int(rng.integers(2**31)),
    )


def _field(rng: np.random.Generator, length_mm: float) -> Floats:
    """Smooth noise over the tile, repeating, standard deviation 1."""
    n = TILE_PX if length_mm < 0.5 else TILE_PX // 2 if length_mm < 1 else TILE_PX // 4
    f = np.fft.fftfreq(n)[:, None] * n / TILE_MM
    g = np.fft.rfftfreq(n)[None] * n / TILE_MM
    keep = np.exp(-(f**2 + g**2) * (np.pi * length_mm) ** 2 / 2)
    noise = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((n, n))) * keep)
    big = cv2.resize(noise / noise.std(), (TILE_PX, TILE_PX), interpolation=cv2.INTER_CUBIC)
    return np.asarray(big)


def _slopes(look: FaceLook, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Slope of the face along x and y at each texel."""
    if look.kind != "machined":
        height = _field(rng, 0.6) + 0.5 * _field(rng, 0.25)
        if look.kind == "painted":
            height = _field(rng, 1.6)
        dy, dx = np.gradient(height)
        scale = look.marks / np.hypot(dx, dy).std() * (0.4 if look.kind == "painted" else 1.0)
        return dx * scale, dy * scale
    place = (np.arange(TILE_PX) + 0.5) / TILE_PX * TILE_MM - TILE_MM / 2
    x, y = place[None] - look.marks_at_mm[0], place[:, None] - look.marks_at_mm[1]
    r = np.hypot(x, y)
    knots = np.arange(0, 500, 0.12)
    slope = look.marks * np.interp(r, knots, rng.normal(0, 1, len(knots)))
    feed = rng.uniform(0.3, 1.2)
    slope = slope + look.marks * np.sin(2 * np.pi * r / feed)
    return slope * x / r, slope * y / r


def face_maps(look: FaceLook) -> tuple[Image, Image]:
    """Colour and normals over a tile that lies with its middle on the port.

    Parameters
    ----------
    look : FaceLook

    Returns
    -------
    colour : (TILE_PX, TILE_PX, 3) float32
        Linear.
    normals : (TILE_PX, TILE_PX, 3) float32
        As 0 to 1 for -1 to 1.
    """
    rng = np.random.default_rng(look.seed)
    dx, dy = _slopes(look, rng)
    normal = np.dstack([-dx, -dy, np.ones_like(dx)])
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    cloud = _field(rng, 9.0) + 0.7 * _field(rng, 2.5)
    stain = look.stains * np.clip(0.3 + 0.5 * cloud, 0, 1)
    fine = {"machined": 0.02, "cast": 0.08, "painted": 0.02}[look.kind]
    grain = np.clip(1 + fine * _field(rng, 0.3), 0.5, 1.5)
    oil = np.array([0.30, 0.24, 0.17])
    shade = (1 - stain[..., None] * (1 - oil)) * grain[..., None]
    colour = np.clip(shade * np.asarray(look.colour), 0.004, 0.95)
    return colour.astype(np.float32), ((normal + 1) / 2).astype(np.float32)


def face_bsdf(mi: Any, look: FaceLook) -> dict[str, Any]:
    """The face's surface for the tracer; texture coordinates run over the tile and repeat."""
    colour, normals = face_maps(look)
    texture = {"type": "bitmap", "bitmap": mi.Bitmap(colour), "raw": True, "wrap_mode": "repeat"}
    metal = {
        "type": "roughconductor",
        "material": "none",
        "specular_reflectance": texture,
        "alpha": look.roughness,
    }
    inner: dict[str, Any] = metal
    if look.kind == "painted":
        inner = {"type": "roughplastic", "diffuse_reflectance": texture, "alpha": look.roughness}
    elif look.kind == "cast":
        matt = {"type": "diffuse", "reflectance": texture}
        inner = {"type": "blendbsdf", "weight": 0.5, "a": metal, "b": matt}
    bumps = {"type": "bitmap", "bitmap": mi.Bitmap(normals), "raw": True, "wrap_mode": "repeat"}
    bumpy = {"type": "normalmap", "normalmap": bumps, "bsdf": inner}
    return {"type": "twosided", "b": bumpy}


def _noise(values: Floats, step: float, rng: np.random.Generator) -> Floats:
    knots = np.arange(values.min() - step, values.max() + 2 * step, step)
    return np.interp(values, knots, rng.normal(0, 1, len(knots)))


def bore_dirt(mesh: Mesh, finish: Finish, minor_mm: float, root_mm: float) -> Floats:
    """How oily each vertex of a bore is: most in the roots, more the deeper, patchy, (V,)."""
    rng = np.random.default_rng(finish.seed + 1)
    around = _noise(mesh.theta_rad, 0.5, rng) + _noise(mesh.z_mm, 1.5, rng)
    patch = 1 / (1 + np.exp(-3 * (around / 1.4 - 1.2 + finish.dirt)))
    groove = np.clip((mesh.r_mm - minor_mm / 2) / max((root_mm - minor_mm) / 2, 0.1), 0, 1)
    groove = np.where(mesh.z_mm > 0.05, groove**2, 0.3)
    deep = np.clip(mesh.z_mm / 25, 0, 0.6)
    return np.clip(finish.dirt * (0.3 * patch + 0.5 * patch * groove + 0.4 * deep), 0, 1)
