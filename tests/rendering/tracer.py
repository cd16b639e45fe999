"""The path tracer: light on paper and bench, and the part as the camera sees it."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera
from tests.rendering.lights import Light, Panel
from tests.rendering.materials import Finish

__all__ = [
    "LANES",
    "Body",
    "Look",
    "Studio",
    "Things",
    "Traced",
    "camera_rays",
    "irradiance",
    "load",
    "mesh_shape",
    "metal_bsdf",
    "part_seen",
    "pixel_rays",
    "studio",
    "surroundings",
]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
DEPTH = 5
PAPER_GREY, BENCH_GREY = 0.70, 0.30
LANES = 3_000_000
LIBRARIES = ("/usr/lib/x86_64-linux-gnu", "/usr/lib/llvm-19/lib")


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """A mesh in the sheet's frame with its surface.

    Attributes
    ----------
    vertices_mm, normals : (V, 3)
    faces : (F, 3)
    uv : (V, 2) or None
    dirt : (V,) or None
    """

    vertices_mm: Floats
    normals: Floats | None
    faces: NDArray[np.int64]
    uv: Floats | None = None
    dirt: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Studio:
    """The same things under the same light: once with plain paper, once with the print on it."""

    plain: Any
    printed: Any
    part: Any


@dataclass(frozen=True, slots=True, eq=False)
class Things:
    """What a studio is built of; the texture is the page's linear reflectance."""

    part: Body
    finish: Finish
    paper: Body
    texture: Image
    camera: PhoneCamera
    light: Light


@dataclass(frozen=True, slots=True)
class Look:
    """How to look at pixels.

    Attributes
    ----------
    spp : int
        A square number: samples stand on a grid within the pixel, jittered.
    seed : int
    shade : bool
        False: coverage only, no light.
    anything : bool
        Also what is not the part, to compare both ways of drawing the paper.
    depth : int
        Longest path, in edges.
    most : float
        Single samples above it are cut to it.
    """

    spp: int
    seed: int = 0
    shade: bool = True
    anything: bool = False
    depth: int = DEPTH
    most: float = 12.0


@dataclass(frozen=True, slots=True, eq=False)
class _Shot:
    """Rays into a scene: `spp` after one another for each of `pixels`, of which some `hit`."""

    rays: Any
    hit: Any
    pixels: int
    spp: int
    seed: int
    most: float = 12.0
    depth: int = DEPTH


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """What pixels see of the part.

    Attributes
    ----------
    colour : (N, 3)
        Light from the part over the whole pixel; nothing from what is beside it.
    coverage : (N,)
        Share of the pixel that the part covers.
    """

    colour: Floats
    coverage: Floats


def load(variant: str = "llvm_ad_rgb") -> Any:
    """Import the path tracer; a found LLVM 16 or newer serves its compiler."""
    if variant.startswith("llvm") and "DRJIT_LIBLLVM_PATH" not in os.environ:
        found = [p for folder in LIBRARIES for p in Path(folder).glob("libLLVM.so.*")]
        if found:
            os.environ["DRJIT_LIBLLVM_PATH"] = str(max(found))
    import mitsuba  # noqa: PLC0415 - heavy, and absent where only geometry is tested

    mitsuba.set_variant(variant)
    mitsuba.set_log_level(mitsuba.LogLevel.Error)
    return mitsuba


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
    if body.dirt is not None:
        mesh.add_attribute("vertex_dirt", 1, body.dirt.astype(np.float32))
    params = mi.traverse(mesh)
    params["vertex_positions"] = body.vertices_mm.astype(np.float32).ravel()
    params["faces"] = body.faces.astype(np.uint32).ravel()
    if body.normals is not None:
        params["vertex_normals"] = body.normals.astype(np.float32).ravel()
    if body.uv is not None:
        params["vertex_texcoords"] = body.uv.astype(np.float32).ravel()
    params.update()
    return mesh


def _panel(mi: Any, panel: Panel) -> dict[str, Any]:
    """A rectangle whose radiance gives the asked irradiance at the origin."""
    transform = mi.ScalarTransform4f
    centre = np.asarray(panel.centre_mm)
    distance = float(np.linalg.norm(centre))
    area = 4 * panel.half_mm[0] * panel.half_mm[1]
    radiance = panel.irradiance * distance**2 / (area * centre[2] / distance)
    turned = transform().look_at(origin=list(panel.centre_mm), target=[0, 0, 0], up=[0.01, 0, 1])
    return {
        "type": "rectangle",
        "to_world": turned @ transform().scale([panel.half_mm[0], panel.half_mm[1], 1]),
        "emitter": {
            "type": "area",
            "radiance": {"type": "rgb", "value": [radiance * c for c in panel.colour]},
        },
    }


def _room(mi: Any, light: Light) -> dict[str, Any]:
    """Walls, ceiling and floor as a far picture; its mean over the upper half is the room's."""
    rng = np.random.default_rng(light.room_seed)
    rows, cols = 32, 64
    up = np.cos((np.arange(rows) + 0.5) / rows * np.pi)
    ceiling, wall, floor = 1.3, rng.uniform(0.5, 0.9), rng.uniform(0.15, 0.35)
    level = np.where(up > 0.55, ceiling, np.where(up > -0.05, wall, floor))[:, None]
    picture = np.repeat(level, cols, axis=1)
    for _ in range(int(rng.integers(4, 9))):  # furniture, doors, shelves
        col, row = rng.integers(cols), rng.integers(9, 18)
        wide, high = rng.integers(2, 9), rng.integers(2, 8)
        picture[row : row + high, np.arange(col, col + wide) % cols] *= rng.uniform(0.15, 1.3)
    weight = np.maximum(up, 0)[:, None] * np.sqrt(1 - up[:, None] ** 2)
    solid = (np.pi / rows) * (2 * np.pi / cols)
    picture *= light.room_irradiance / float(np.sum(picture * weight) * solid)
    rgb = (picture[:, :, None] * np.asarray(light.room_colour)).astype(np.float32)
    turn = mi.ScalarTransform4f().rotate([1, 0, 0], 90)
    return {"type": "envmap", "bitmap": mi.Bitmap(rgb), "to_world": turn}


def _person(mi: Any, camera: PhoneCamera) -> dict[str, Any]:
    """The phone behind its lens, an arm and a body: dark things that metal mirrors."""
    transform = mi.ScalarTransform4f
    pose = np.linalg.inv(camera.camera_from_sheet)
    dark = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.05, 0.05, 0.06]}}
    cloth = {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.08, 0.09, 0.13]}}
    shift = np.eye(4)
    shift[:3, 3] = (45, 22, -6)
    phone = transform(pose @ shift) @ transform().scale([75, 37, 4])
    towards = pose[:3, :3] @ np.array([0.3, 1.0, 0.0])
    towards[2] = 0
    towards /= np.linalg.norm(towards)
    chest = pose[:3, 3] + 330 * towards + np.array([0, 0, 60])
    return {
        "phone": {"type": "cube", "to_world": phone, "bsdf": dark},
        "chest": {
            "type": "sphere",
            "to_world": transform().translate(list(chest)) @ transform().scale([190, 190, 280]),
            "bsdf": cloth,
        },
    }


def metal_bsdf(finish: Finish) -> dict[str, Any]:
    """A metal under grease, the latter where the mesh says dirt."""
    colour = {"type": "rgb", "value": list(finish.colour)}
    if finish.metal == "black":
        clean: dict[str, Any] = {
            "type": "roughplastic",
            "diffuse_reflectance": colour,
            "alpha": finish.roughness,
        }
    else:
        clean = {
            "type": "roughconductor",
            "material": "none",
            "specular_reflectance": colour,
            "alpha": finish.roughness,
        }
    grease = {
        "type": "roughplastic",
        "diffuse_reflectance": {"type": "rgb", "value": [0.055, 0.042, 0.030]},
        "alpha": 0.3,
    }
    weight = {"type": "mesh_attribute", "name": "vertex_dirt"}
    return {
        "type": "twosided",
        "b": {"type": "blendbsdf", "weight": weight, "a": clean, "c": grease},
    }


def surroundings(mi: Any, light: Light, camera: PhoneCamera) -> dict[str, Any]:
    """A scene of nothing but light and the person with the phone."""
    around: dict[str, Any] = {"type": "scene", "room": _room(mi, light)}
    around |= {f"panel{k}": _panel(mi, panel) for k, panel in enumerate(light.panels)}
    return around | _person(mi, camera)


def studio(mi: Any, things: Things) -> Studio:
    """Both scenes, plain and printed."""
    grey = {"type": "diffuse", "reflectance": {"type": "rgb", "value": PAPER_GREY}}
    printed = {
        "type": "twosided",
        "b": {
            "type": "diffuse",
            "reflectance": {
                "type": "bitmap",
                "bitmap": mi.Bitmap(things.texture),
                "raw": True,
                "wrap_mode": "clamp",
            },
        },
    }
    common = surroundings(mi, things.light, things.camera)
    common["bench"] = {
        "type": "rectangle",
        "to_world": mi.ScalarTransform4f().translate([0, 0, -0.15])
        @ mi.ScalarTransform4f().scale(2000),
        "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": BENCH_GREY}},
    }
    common["part"] = mesh_shape(mi, "part", things.part, metal_bsdf(things.finish))
    plain = mi.load_dict(
        common | {"paper": mesh_shape(mi, "paper", things.paper, {"type": "twosided", "b": grey})}
    )
    with_print = mi.load_dict(common | {"paper": mesh_shape(mi, "paper", things.paper, printed)})
    return Studio(plain, with_print, common["part"])


def _sample(mi: Any, scene: Any, shot: _Shot) -> Floats:
    """Mean light along rays that hit; single samples above `most` are cut to it."""
    import drjit as dr  # noqa: PLC0415

    sampler = mi.load_dict({"type": "independent", "sample_count": shot.spp})
    sampler.seed(shot.seed, shot.pixels * shot.spp)
    integrator = mi.load_dict({"type": "path", "max_depth": shot.depth, "rr_depth": 4})
    light, _, _ = integrator.sample(scene, sampler, shot.rays, None, shot.hit)
    good = shot.hit & dr.isfinite(light.x + light.y + light.z)
    kept = [dr.select(good, dr.minimum(c, shot.most), 0.0) for c in light]
    dr.eval(kept)  # all three colours from one tracing
    mean = [np.array(dr.block_sum(c, shot.spp)) / shot.spp for c in kept]
    return np.stack(mean, axis=-1).astype(np.float64)


def irradiance(
    mi: Any, studio: Studio, points_mm: Floats, is_paper: NDArray[np.bool_], spp: int
) -> Floats:
    """Light that falls on points of paper and bench, as radiance of a white surface there.

    Parameters
    ----------
    mi : module
    studio : Studio
    points_mm : (N, 3) [mm]
    is_paper : (N,) bool
    spp : int

    Returns
    -------
    (N, 3)
        Reflected radiance for each unit of reflectance.
    """
    import drjit as dr  # noqa: PLC0415

    out = np.empty((len(points_mm), 3))
    step = max(1, LANES // spp)
    for first in range(0, len(points_mm), step):
        some = points_mm[first : first + step].astype(np.float32)
        index = dr.arange(mi.UInt32, len(some) * spp) // spp
        xyz = [
            dr.gather(mi.Float, mi.Float(np.ascontiguousarray(some[:, k])), index) for k in range(3)
        ]
        origin = mi.Point3f(xyz[0], xyz[1], xyz[2] + 0.03)
        rays = mi.RayDifferential3f(o=origin, d=mi.Vector3f(0, 0, -1))
        hit = dr.full(mi.Bool, True, len(some) * spp)
        shot = _Shot(rays, hit, len(some), spp, first + 1, most=2.0)
        out[first : first + step] = _sample(mi, studio.plain, shot)
    return out / np.where(is_paper, PAPER_GREY, BENCH_GREY)[:, None]


def camera_rays(mi: Any, camera: PhoneCamera, x_px: Any, y_px: Any, lens: Any) -> Any:
    """Rays through pixels of the real lens: distorted, and from all over its width."""
    import drjit as dr  # noqa: PLC0415

    xd = (x_px - camera.centre_x_px) / camera.focal_px
    yd = (y_px - camera.centre_y_px) / camera.focal_px
    x, y = xd, yd
    for _ in range(6):
        r2 = x * x + y * y
        factor = 1 + r2 * (camera.k1 + r2 * camera.k2)
        x, y = xd / factor, yd / factor
    radius = 0.5 * camera.aperture_mm * dr.sqrt(lens.x)
    a, b = radius * dr.cos(2 * dr.pi * lens.y), radius * dr.sin(2 * dr.pi * lens.y)
    local = mi.Vector3f(x * camera.focus_mm - a, y * camera.focus_mm - b, camera.focus_mm)
    pose = np.linalg.inv(camera.camera_from_sheet)
    turn = mi.Matrix3f(pose[:3, :3].tolist())
    return mi.RayDifferential3f(
        o=mi.Point3f(pose[:3, 3].tolist()) + turn @ mi.Vector3f(a, b, 0),
        d=dr.normalize(turn @ local),
    )


def pixel_rays(
    mi: Any, camera: PhoneCamera, pixels: NDArray[np.int64], side: int, seed: int
) -> Any:
    """Rays through a jittered grid of side x side places in each pixel."""
    import drjit as dr  # noqa: PLC0415

    lane = dr.arange(mi.UInt32, len(pixels) * side * side)
    index, cell = lane // (side * side), lane % (side * side)
    sampler = mi.load_dict({"type": "independent"})
    sampler.seed(seed, len(pixels) * side * side)
    jitter, lens = sampler.next_2d(), sampler.next_2d()
    columns = [np.ascontiguousarray(pixels[:, k], dtype=np.float32) for k in (0, 1)]
    corner = [dr.gather(mi.Float, mi.Float(column), index) for column in columns]
    x = corner[0] - 0.5 + (mi.Float(cell % side) + jitter.x) / side
    y = corner[1] - 0.5 + (mi.Float(cell // side) + jitter.y) / side
    return camera_rays(mi, camera, x, y, lens)


def part_seen(
    mi: Any, studio: Studio, camera: PhoneCamera, pixels: NDArray[np.int64], look: Look
) -> Traced:
    """What pixels (N, 2) see of the part."""
    import drjit as dr  # noqa: PLC0415

    side = int(np.sqrt(look.spp))
    spp = side * side
    colour, coverage = np.zeros((len(pixels), 3)), np.zeros(len(pixels))
    step = max(1, LANES // spp)
    for first in range(0, len(pixels), step):
        some = pixels[first : first + step]
        rays = pixel_rays(mi, camera, some, side, look.seed * 7919 + first + 13)
        met = studio.printed.ray_intersect_preliminary(rays, coherent=True)
        hit = met.is_valid()
        if not look.anything:
            hit &= met.shape == mi.ShapePtr(studio.part)
        share = dr.block_sum(dr.select(hit, mi.Float(1), mi.Float(0)), spp)
        coverage[first : first + step] = np.array(share) / spp
        if look.shade:
            seed = look.seed * 104729 + first + 1
            shot = _Shot(rays, hit, len(some), spp, seed, look.most, look.depth)
            colour[first : first + step] = _sample(mi, studio.printed, shot)
    return Traced(colour, coverage)
