"""What stands round a port: the pad it is in, bolts, a rib, a pipe across."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.meshes import Mesh, Rings, columns, mesh_of_rings
from tests.rendering.port_bodies import COLUMN_COUNT
from tests.rendering.port_looks import TILE_MM
from tests.rendering.surfaces import Body

__all__ = [
    "Bolt",
    "Pipe",
    "Surroundings",
    "bolt_mesh",
    "draw_surroundings",
    "face_body",
    "ground_body",
    "pipe_body",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bolt:
    """A hexagon head beside the collar, port frame."""

    at_mm: tuple[float, float]
    across_flats_mm: float
    height_mm: float
    turned_rad: float


@dataclass(frozen=True, slots=True)
class Pipe:
    """A pipe or hose that crosses over the collar's far edge."""

    from_mm: tuple[float, float, float]
    to_mm: tuple[float, float, float]
    radius_mm: float
    colour: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Pad, bolts, rib and pipe.

    Attributes
    ----------
    pad_mm, pad_height_mm : float
        Half-width of the raised pad that the port is in, and its height over the casting.
    pad_shape : "round" or "square"
    rib : (distance, direction, height) or None
        A wall beside the collar: mm, rad, mm.
    """

    pad_mm: float
    pad_height_mm: float
    pad_shape: Literal["round", "square"]
    bolts: tuple[Bolt, ...]
    rib: tuple[float, float, float] | None
    pipe: Pipe | None


def _pipe(hole_mm: float, eye_mm: Floats, rng: np.random.Generator) -> Pipe:
    """On the far side, so that it hides some of the collar and nothing of the mouth."""
    side = float(np.arctan2(eye_mm[1], eye_mm[0])) + rng.normal(0, 0.3)
    lean = float(np.hypot(eye_mm[0], eye_mm[1]) / eye_mm[2])
    radius, up = rng.uniform(4, 9), rng.uniform(12, 30)
    away = hole_mm + 8 + 2 * radius + rng.uniform(0, 6) - up * lean
    middle = -away * np.array([np.cos(side), np.sin(side)])
    along = np.array([-np.sin(side), np.cos(side)])
    ends = [(*(middle + s * 150 * along), up) for s in (-1, 1)]
    colour = (0.02, 0.02, 0.02) if rng.random() < 0.6 else (0.4, 0.38, 0.3)
    start, end = (tuple(float(v) for v in point) for point in ends)
    return Pipe(start, end, float(radius), colour)  # type: ignore[arg-type]


def draw_surroundings(
    half_mm: float, hole_mm: float, eye_mm: Floats, rng: np.random.Generator
) -> Surroundings:
    """What stands round a collar of half-width `half_mm` with a hole of radius `hole_mm`."""
    is_tight = rng.random() < 0.4
    bolts = []
    for _ in range(int(rng.integers(0, 5))):
        turn, af = rng.uniform(0, 2 * np.pi), float(rng.choice([10, 13, 17, 19]))
        away = 1.42 * half_mm + af * 0.6 + rng.uniform(1, 6 if is_tight else 40)
        at = (float(away * np.cos(turn)), float(away * np.sin(turn)))
        bolts.append(Bolt(at, af, float(0.65 * af), float(rng.uniform(0, np.pi))))
    rib = None
    if is_tight and rng.random() < 0.6:
        turn = np.arctan2(eye_mm[1], eye_mm[0]) + np.pi + rng.normal(0, 0.8)
        rib = (float(1.42 * half_mm + rng.uniform(2, 8)), float(turn), float(rng.uniform(10, 35)))
    pipe = _pipe(hole_mm, eye_mm, rng) if rng.random() < 0.12 else None
    return Surroundings(
        pad_mm=float(half_mm * rng.uniform(1.42, 1.9)),
        pad_height_mm=float(rng.uniform(1.5, 9)),
        pad_shape="round" if rng.random() < 0.5 else "square",
        bolts=tuple(bolts),
        rib=rib,
        pipe=pipe,
    )


def _uv(x: Floats, y: Floats) -> Floats:
    return np.stack([x / TILE_MM + 0.5, y / TILE_MM + 0.5], axis=-1).reshape(-1, 2)


def face_body(around: Surroundings, hole_mm: float, height_mm: float) -> Body:
    """The pad: a flat face with a round hole of that diameter at a height, and its sides."""
    theta = np.arange(COLUMN_COUNT) * (2 * np.pi / COLUMN_COUNT)
    edge = np.full(COLUMN_COUNT, around.pad_mm)
    if around.pad_shape == "square":
        edge = np.minimum(edge / np.maximum(abs(np.cos(theta)), abs(np.sin(theta))), 1.25 * edge)
    share = np.linspace(0, 1, 9)[:, None]
    r = hole_mm / 2 + share * (edge - hole_mm / 2)
    r = np.concatenate([r, r[-1:] + 0.5, r[-1:] + 1.2])
    z = np.zeros_like(r) + height_mm
    z[-2], z[-1] = height_mm - 0.5, height_mm - around.pad_height_mm - 1
    x, y = r * np.cos(theta), r * np.sin(theta)
    index = np.arange(r.size).reshape(r.shape)
    a, b = index[:-1], index[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    return Body(np.stack([x, y, z], axis=-1).reshape(-1, 3), None, faces, uv=_uv(x, y))


def ground_body(z_mm: float, hole_mm: float, half_mm: float = 1500.0) -> Body:
    """The casting that the pad rises from: a plane with room for the bore."""
    theta = np.arange(64) * (2 * np.pi / 64)
    r = np.array([[hole_mm / 2], [half_mm]])
    x, y = r * np.cos(theta), r * np.sin(theta)
    index = np.arange(x.size).reshape(x.shape)
    a, b = index[:-1], index[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    z = np.full_like(x, z_mm)
    return Body(np.stack([x, y, z], axis=-1).reshape(-1, 3), None, faces, uv=_uv(x, y))


def pipe_body(pipe: Pipe) -> Body:
    """The pipe as a mesh, open at its ends far outside the picture."""
    start, end = np.asarray(pipe.from_mm), np.asarray(pipe.to_mm)
    length = float(np.linalg.norm(end - start))
    theta = columns(96)
    z = np.repeat([[0.0], [length]], len(theta), axis=1)
    mesh = mesh_of_rings(Rings(z, np.full_like(z, pipe.radius_mm), theta))
    along = (end - start) / length
    side = np.cross(along, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    turn = np.stack([side, np.cross(along, side), along])
    return Body(mesh.vertices_mm @ turn + start, mesh.normals @ turn, mesh.faces)


def bolt_mesh(bolt: Bolt) -> Mesh:
    """A hexagon head with a turned top, its foot at z = 0, z out of the face."""
    sixth = np.pi / 3
    theta = columns(72, bolt.turned_rad + sixth * np.linspace(0.5, 5.5, 6))
    off = np.mod(theta - bolt.turned_rad + sixth / 2, sixth) - sixth / 2
    sides = bolt.across_flats_mm / 2 / np.cos(off)
    top = np.minimum(sides, 0.47 * bolt.across_flats_mm)
    deep = (sides - top) * np.tan(np.radians(30))
    h = bolt.height_mm
    z = np.stack([np.zeros_like(theta), h - deep, np.full_like(theta, h), np.full_like(theta, h)])
    return mesh_of_rings(Rings(z, np.stack([sides, sides, top, np.zeros_like(top)]), theta))
