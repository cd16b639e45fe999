"""Meshes with their surfaces, as the tracer takes them."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.rendering.materials import Finish

__all__ = ["Body", "Extra", "dull_bsdf", "mesh_shape", "metal_bsdf", "part_bsdf"]

Floats = NDArray[np.float64]
Colour = tuple[float, float, float]

# linear RGB; common practice, no source
GREASE: Colour = (0.055, 0.042, 0.030)
STANDING_OIL: Colour = (0.030, 0.016, 0.006)
OIL_PASSES: Colour = (0.72, 0.60, 0.42)  # of light through a film and back


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A mesh in the sheet's frame with its surface.

    Attributes
    ----------
    vertices_mm, normals : (V, 3)
    faces : (F, 3)
    uv : (V, 2) or None
    dirt, oil, drop : (V,) or None
        How much grease, film of oil, or standing oil covers each vertex, 0 to 1.
    """

    vertices_mm: Floats
    normals: Floats | None
    faces: NDArray[np.int64]
    uv: Floats | None = None
    dirt: Floats | None = None
    oil: Floats | None = None
    drop: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Extra:
    """Something else in the picture: a mesh, and its surface as the tracer's dictionary."""

    body: Body
    bsdf: dict[str, Any]


def mesh_shape(mi: Any, name: str, body: Body, bsdf: dict[str, Any]) -> Any:
    """A body as the tracer's mesh, its surface given as a dictionary."""
    props = mi.Properties()
    props["bsdf"] = mi.load_dict(bsdf)
    mesh = mi.Mesh(
        name,
        len(body.vertices_mm),
        len(body.faces),
        has_vertex_normals=body.normals is not None,
        has_vertex_texcoords=body.uv is not None,
        props=props,
    )
    for what, covered in (("dirt", body.dirt), ("oil", body.oil), ("drop", body.drop)):
        if covered is not None:
            mesh.add_attribute(f"vertex_{what}", 1, covered.astype(np.float32))
    params = mi.traverse(mesh)
    params["vertex_positions"] = body.vertices_mm.astype(np.float32).ravel()
    params["faces"] = body.faces.astype(np.uint32).ravel()
    if body.normals is not None:
        params["vertex_normals"] = body.normals.astype(np.float32).ravel()
    if body.uv is not None:
        params["vertex_texcoords"] = body.uv.astype(np.float32).ravel()
    params.update()
    return mesh


def dull_bsdf(colour: Colour, roughness: float) -> dict[str, Any]:
    """A coloured body under a clear surface: skin, grease, plastic."""
    return {
        "type": "roughplastic",
        "diffuse_reflectance": {"type": "rgb", "value": list(colour)},
        "alpha": roughness,
    }


def _clean_bsdf(finish: Finish) -> dict[str, Any]:
    if finish.metal == "black":
        return dull_bsdf(finish.colour, finish.roughness)
    return {
        "type": "roughconductor",
        "material": "none",
        "specular_reflectance": {"type": "rgb", "value": list(finish.colour)},
        "alpha": finish.roughness,
    }


def _covered(below: dict[str, Any], above: dict[str, Any], name: str) -> dict[str, Any]:
    """`above` over `below`, where the mesh's attribute says so."""
    weight = {"type": "mesh_attribute", "name": f"vertex_{name}"}
    return {"type": "blendbsdf", "weight": weight, "a": below, "c": above}


def metal_bsdf(finish: Finish) -> dict[str, Any]:
    """A metal under grease, the latter where the mesh says dirt."""
    return {"type": "twosided", "b": _covered(_clean_bsdf(finish), dull_bsdf(GREASE, 0.3), "dirt")}


def _film_bsdf(finish: Finish) -> dict[str, Any]:
    """The metal under a thin film of used oil: browner, darker, and smooth on top."""
    browned = [c * o for c, o in zip(finish.colour, OIL_PASSES, strict=True)]
    return {
        "type": "principled",
        "base_color": {"type": "rgb", "value": browned},
        "metallic": 0.0 if finish.metal == "black" else 1.0,
        "roughness": float(np.sqrt(finish.roughness)),
        "clearcoat": 1.0,
        "clearcoat_gloss": 0.97,
    }


def part_bsdf(part: Body, finish: Finish) -> dict[str, Any]:
    """The surface of a part: metal, grease, and oil if there is any."""
    if part.oil is None:
        return metal_bsdf(finish)
    wet = _covered(_clean_bsdf(finish), _film_bsdf(finish), "oil")
    dirty = _covered(wet, dull_bsdf(GREASE, 0.3), "dirt")
    return {"type": "twosided", "b": _covered(dirty, dull_bsdf(STANDING_OIL, 0.04), "drop")}
