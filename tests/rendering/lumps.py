"""Beads of oil and grains of grit that sit on a part."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.meshes import Mesh
from tests.rendering.surfaces import Body

__all__ = ["Lump", "draw_beads", "draw_grit", "ellipsoid", "with_lumps"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Lump:
    """A flat ellipsoid half sunk into the part's surface.

    Attributes
    ----------
    at_mm, normal : (3,)
        Thread frame.
    half_mm : (along, across, up)
    """

    kind: Literal["oil", "grit"]
    at_mm: Floats
    normal: Floats
    half_mm: tuple[float, float, float]


def ellipsoid(
    half_mm: tuple[float, float, float], frame: Floats, at_mm: Floats, fine: int = 12
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Vertices, normals and faces of an ellipsoid whose half axes lie along the frame's rows."""
    polar, turn = np.meshgrid(
        np.linspace(0, np.pi, fine + 1), np.linspace(0, 2 * np.pi, 2 * fine + 1), indexing="ij"
    )
    flat = np.sin(polar)
    unit = np.stack([flat * np.cos(turn), flat * np.sin(turn), np.cos(polar)], -1).reshape(-1, 3)
    normals = unit / half_mm
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    index = np.arange(polar.size).reshape(polar.shape)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    return (unit * half_mm) @ frame + at_mm, normals @ frame, faces


def _frame(normal: Floats) -> Floats:
    """Rows: two directions along the surface, and the normal."""
    along = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    along /= np.linalg.norm(along)
    return np.stack([along, np.cross(normal, along), normal])


def _places(
    mesh: Mesh, allowed: NDArray[np.bool_], count: int, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Vertices spread evenly over the area of faces whose vertices are allowed."""
    faces = mesh.faces[allowed[mesh.faces].all(axis=1)]
    a, b, c = (mesh.vertices_mm[faces[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return np.asarray(faces[rng.choice(len(faces), count, p=area / area.sum()), 0])


def draw_beads(mesh: Mesh, bore_mm: float, count: int, rng: np.random.Generator) -> list[Lump]:
    """Beads of oil anywhere on the outside."""
    outside = mesh.r_mm > bore_mm / 2 + 1.0
    beads = []
    for place in _places(mesh, outside, count, rng):
        wide = float(rng.uniform(0.5, 1.8))
        half = (wide, wide * float(rng.uniform(0.7, 1.0)), wide * float(rng.uniform(0.3, 0.55)))
        beads.append(Lump("oil", mesh.vertices_mm[place], mesh.normals[place], half))
    return beads


def draw_grit(
    mesh: Mesh, thread: tuple[float, float, float], count: int, rng: np.random.Generator
) -> list[Lump]:
    """Grains in a thread's grooves; `thread` is its minor and major diameter and length."""
    minor, major, length = thread
    groove = minor / 2 + 0.45 * (major - minor) / 2
    inside = (mesh.r_mm < groove) & (mesh.r_mm > minor / 2 - 0.1)
    inside &= (mesh.z_mm > 0.5) & (mesh.z_mm < length)
    if not inside[mesh.faces].all(axis=1).any():
        return []
    grains = []
    for place in _places(mesh, inside, count, rng):
        size = rng.uniform(0.08, 0.30) * (major - minor) / 2
        half = tuple(float(h) for h in size * rng.uniform(0.5, 1.3, 3))
        grains.append(Lump("grit", mesh.vertices_mm[place], mesh.normals[place], half))  # type: ignore[arg-type]
    return grains


def with_lumps(part: Body, lumps: tuple[Lump, ...], sheet_from_thread: Floats) -> Body:
    """The part with its lumps, which do not reach into the paper."""
    normals, dirt, oil = part.normals, part.dirt, part.oil
    if normals is None or dirt is None or oil is None:
        raise ValueError("lumps lie on a part with normals, dirt and oil")
    turn, shift = sheet_from_thread[:3, :3], sheet_from_thread[:3, 3]
    columns: list[list[NDArray]] = [  # type: ignore[type-arg]
        [part.vertices_mm], [normals], [part.faces],
        [dirt], [oil], [np.zeros(len(part.vertices_mm))],
    ]  # fmt: skip
    first = len(part.vertices_mm)
    for lump in lumps:
        frame = _frame(lump.normal) @ turn.T
        vertices, outwards, faces = ellipsoid(lump.half_mm, frame, turn @ lump.at_mm + shift)
        vertices[:, 2] = np.maximum(vertices[:, 2], 0.01)
        each = np.ones(len(vertices))
        is_oil = lump.kind == "oil"
        new = (vertices, outwards, faces + first, each * (not is_oil), 0 * each, each * is_oil)
        for column, values in zip(columns, new, strict=True):
            column.append(values)
        first += len(vertices)
    vertices, normals, faces, dirt, oil, drop = (np.concatenate(column) for column in columns)
    return Body(vertices, normals, faces, None, dirt, oil, drop)
