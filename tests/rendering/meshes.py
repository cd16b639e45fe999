"""Surfaces wound round an axis: rows of rings as triangles, with creases kept sharp."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Mesh", "Rings", "centre_of_mass", "columns", "mesh_of_rings", "volume_mm3"]

Floats = NDArray[np.float64]

CREASE_DEG = 22.0  # two faces meeting at less than this are shaded as one


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """A closed surface as rows of rings round z; row i, column j stands at `theta_rad[j]`.

    Attributes
    ----------
    z_mm, r_mm : (rows, columns)
    theta_rad : (columns,)
        From just below 0 to just above 2 pi: the outermost columns are ghosts that lend
        their neighbours a direction and are not part of the surface.
    """

    z_mm: Floats
    r_mm: Floats
    theta_rad: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles with a normal a corner.

    Attributes
    ----------
    vertices_mm, normals : (V, 3)
    faces : (F, 3)
    z_mm, r_mm, theta_rad : (V,)
        Of each vertex, for whatever depends on where it stands on the part.
    """

    vertices_mm: Floats
    normals: Floats
    faces: NDArray[np.int64]
    z_mm: Floats
    r_mm: Floats
    theta_rad: Floats


def columns(count: int, extra_rad: Floats | None = None) -> Floats:
    """Column angles: evenly spaced, with extra ones, closed at 2 pi, and one ghost each side."""
    even = np.arange(count) * (2 * np.pi / count)
    extra = np.zeros(0) if extra_rad is None else np.mod(extra_rad, 2 * np.pi)
    inside = np.unique(np.round(np.concatenate([even, extra]), 9))
    apart = np.concatenate([[True], np.diff(inside) > 1e-4])
    inside = inside[apart]
    return np.concatenate(
        [[inside[-1] - 2 * np.pi], inside, [2 * np.pi, 2 * np.pi + inside[1]]],
    )


def _points(rings: Rings) -> Floats:
    x = rings.r_mm * np.cos(rings.theta_rad)
    y = rings.r_mm * np.sin(rings.theta_rad)
    return np.stack([x, y, rings.z_mm], axis=-1)


def _corner_normals(faces: Floats) -> Floats:
    """Normals at the four corners of each quad, averaged over neighbours below the crease.

    `faces` (rows, columns, 3) are area-weighted normals, ghosts included; the answer
    (rows, columns, 4, 3) goes round the quad: (0, 0), (1, 0), (1, 1), (0, 1).
    """
    length = np.linalg.norm(faces, axis=-1, keepdims=True)
    unit = np.divide(faces, length, out=np.zeros_like(faces), where=length > 0)
    padded = np.pad(faces, ((1, 1), (1, 1), (0, 0)))
    padded_unit = np.pad(unit, ((1, 1), (1, 1), (0, 0)))
    rows, cols = faces.shape[:2]
    limit = np.cos(np.radians(CREASE_DEG))
    corners = np.zeros((rows, cols, 4, 3))
    for index, (row, col) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
        for i in (row - 1, row):
            for j in (col - 1, col):
                window = (slice(1 + i, 1 + i + rows), slice(1 + j, 1 + j + cols))
                close = np.sum(padded_unit[window] * unit, axis=-1, keepdims=True) > limit
                corners[:, :, index] += np.where(close, padded[window], 0)
    norm = np.linalg.norm(corners, axis=-1, keepdims=True)
    return np.asarray(np.divide(corners, norm, out=np.zeros_like(corners), where=norm > 0))


def mesh_of_rings(rings: Rings) -> Mesh:
    """Triangles of a closed surface whose rows run with the outside on the right.

    Parameters
    ----------
    rings : Rings
        Rows ordered so that z grows along the outside.

    Returns
    -------
    Mesh
        Each quad has corners of its own; quads without area are left out.
    """
    points = _points(rings)
    a, b = points[:-1, :-1], points[1:, :-1]
    c, d = points[1:, 1:], points[:-1, 1:]
    area = np.cross(c - a, b - d) / 2
    normals = _corner_normals(area)[:, 1:-1]
    keep = (np.linalg.norm(area, axis=-1) > 1e-9)[:, 1:-1]

    def corners(values: Floats) -> Floats:
        four = [values[:-1, 1:-2], values[1:, 1:-2], values[1:, 2:-1], values[:-1, 2:-1]]
        return np.asarray(np.stack(four, axis=2)[keep].reshape(-1, *values.shape[2:]))

    count = int(keep.sum())
    first = 4 * np.arange(count)[:, None]
    faces = np.concatenate([first + np.array(t) for t in ((0, 3, 2), (0, 2, 1))])
    theta = np.broadcast_to(rings.theta_rad, rings.z_mm.shape)
    return Mesh(
        vertices_mm=corners(points),
        normals=normals[keep].reshape(-1, 3),
        faces=faces,
        z_mm=corners(rings.z_mm),
        r_mm=corners(rings.r_mm),
        theta_rad=corners(theta),
    )


def volume_mm3(mesh: Mesh) -> float:
    """Volume a closed mesh encloses; positive when its faces turn outwards."""
    a, b, c = (mesh.vertices_mm[mesh.faces[:, k]] for k in range(3))
    return float(np.sum(a * np.cross(b, c)) / 6)


def centre_of_mass(mesh: Mesh) -> Floats:
    """Centre of mass of a closed mesh of even density, (3,) [mm]."""
    a, b, c = (mesh.vertices_mm[mesh.faces[:, k]] for k in range(3))
    part = np.sum(a * np.cross(b, c), axis=1) / 6
    return np.asarray(part @ ((a + b + c) / 4) / part.sum())
