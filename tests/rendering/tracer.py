"""The path tracer: light on paper and bench, and the part as the camera sees it."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera
from tests.rendering.lights import Light
from tests.rendering.materials import Finish
from tests.rendering.surfaces import Body, Extra, mesh_shape, part_bsdf
from tests.rendering.surroundings import surroundings

__all__ = [
    "LANES",
    "Look",
    "Studio",
    "Things",
    "Traced",
    "What",
    "camera_rays",
    "irradiance",
    "load",
    "part_seen",
    "pixel_rays",
    "studio",
]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
What = Literal["part", "extras", "anything"]
DEPTH = 5
PAPER_GREY, BENCH_GREY = 0.70, 0.30
LANES = 3_000_000
LIBRARIES = ("/usr/lib/x86_64-linux-gnu", "/usr/lib/llvm-19/lib")


@dataclass(frozen=True, slots=True, eq=False)
class Studio:
    """The same things under the same light: once with plain paper, once with the print on it."""

    plain: Any
    printed: Any
    part: Any
    extras: tuple[Any, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Things:
    """What a studio is built of; the texture is the page's linear reflectance."""

    part: Body
    finish: Finish
    paper: Body
    texture: Image
    camera: PhoneCamera
    light: Light
    extras: tuple[Extra, ...] = ()


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
    what : "part", "extras" or "anything"
        Whose light and coverage; "anything" compares both ways of drawing the paper.
    depth : int
        Longest path, in edges.
    most : float
        Single samples above it are cut to it.
    """

    spp: int
    seed: int = 0
    shade: bool = True
    what: What = "part"
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
    common["part"] = mesh_shape(mi, "part", things.part, part_bsdf(things.part, things.finish))
    for number, extra in enumerate(things.extras):
        common[f"extra{number}"] = mesh_shape(mi, f"extra{number}", extra.body, extra.bsdf)
    plain = mi.load_dict(
        common | {"paper": mesh_shape(mi, "paper", things.paper, {"type": "twosided", "b": grey})}
    )
    with_print = mi.load_dict(common | {"paper": mesh_shape(mi, "paper", things.paper, printed)})
    extras = tuple(common[f"extra{number}"] for number in range(len(things.extras)))
    return Studio(plain, with_print, common["part"], extras)


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


def _is_one_of(mi: Any, shape: Any, shapes: tuple[Any, ...]) -> Any:
    """Which rays met one of these shapes."""
    met = shape == mi.ShapePtr(shapes[0])
    for other in shapes[1:]:
        met |= shape == mi.ShapePtr(other)
    return met


def part_seen(
    mi: Any, studio: Studio, camera: PhoneCamera, pixels: NDArray[np.int64], look: Look
) -> Traced:
    """What pixels (N, 2) see of the part, or of whatever else is looked at."""
    import drjit as dr  # noqa: PLC0415

    side, shows_extras = int(np.sqrt(look.spp)), look.what == "extras"
    spp = side * side
    colour, coverage = np.zeros((len(pixels), 3)), np.zeros(len(pixels))
    step = max(1, LANES // spp)
    for first in range(0, len(pixels), step):
        some = pixels[first : first + step]
        rays = pixel_rays(mi, camera, some, side, look.seed * 7919 + first + 13)
        met = studio.printed.ray_intersect_preliminary(rays, coherent=True)
        hit = met.is_valid()
        if look.what != "anything":
            hit &= _is_one_of(mi, met.shape, studio.extras if shows_extras else (studio.part,))
        share = dr.block_sum(dr.select(hit, mi.Float(1), mi.Float(0)), spp)
        coverage[first : first + step] = np.array(share) / spp
        if look.shade:
            seed = look.seed * 104729 + first + 1
            shot = _Shot(rays, hit, len(some), spp, seed, look.most, look.depth)
            colour[first : first + step] = _sample(mi, studio.printed, shot)
    return Traced(colour, coverage)
