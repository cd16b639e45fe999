"""One linear picture: exact paper under traced light, and the traced part laid over it."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, project
from tests.rendering.glare import mirrored
from tests.rendering.lights import Light
from tests.rendering.materials import Finish
from tests.rendering.page import PAPER, Artwork, Sheet, page_from_sheet
from tests.rendering.stains import Stain, stained
from tests.rendering.surfaces import Body, Extra
from tests.rendering.tracer import Look, Studio, Things, Traced, What, irradiance, part_seen, studio
from tests.rendering.warp import ground_points, paper_layers, pixel_grid

__all__ = ["Bench", "Effort", "Picture", "World", "bench_tile", "paper_body", "picture_of"]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Effort:
    """Samples a pixel for the part, for light on the paper and for what else is there."""

    part_spp: int = 49
    near_spp: int = 36
    far_spp: int = 48
    extras_spp: int = 25
    near_px: int = 3
    far_px: int = 24
    texture_dpi: float = 300.0


@dataclass(frozen=True, slots=True)
class Bench:
    """What the sheet lies on: mean colour (linear RGB), strength and length of its grain."""

    colour: tuple[float, float, float]
    grain: float
    length_mm: float
    stretch: float
    seed: int


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """All round a part: who looks, what it lies on, what shines, and what is in the way.

    Attributes
    ----------
    camera, sheet, artwork, light, bench
    stains : tuple of Stain
        In the paper.
    gloss : (paper, toner) or None
        How rough they are, where the light's first panel is mirrored in them.
    extras : tuple of Extra
        Bodies beside the part.
    """

    camera: PhoneCamera
    sheet: Sheet
    artwork: Artwork
    light: Light
    bench: Bench
    stains: tuple[Stain, ...] = ()
    gloss: tuple[float, float] | None = None
    extras: tuple[Extra, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A linear picture, paper white near 0.8 of the light, and where the part is seen.

    Attributes
    ----------
    light : (height, width, 3) float32
    paper : float
        Mean brightness of white paper near the part.
    window_px : (4,)
        Left, top, right, bottom of what was traced finely.
    """

    light: Image
    paper: float
    window_px: tuple[int, int, int, int]


def paper_body(sheet: Sheet, artwork: Artwork) -> Body:
    """The bent sheet as a mesh whose texture coordinates are exact for the print."""
    (half_x, half_y), (mid_x, mid_y) = sheet.half_mm, sheet.paper_at_mm
    x, y = np.meshgrid(
        mid_x + np.linspace(-half_x, half_x, 106), mid_y + np.linspace(-half_y, half_y, 150)
    )
    vertices = np.stack([x, y, sheet.height_mm(x, y)], axis=-1).reshape(-1, 3)
    x_page, y_page = page_from_sheet(sheet, x, y)
    rows, cols = artwork.reflectance.shape[:2]
    u = x_page * artwork.px_per_mm / cols
    v = y_page * artwork.px_per_mm / rows
    index = np.arange(x.size).reshape(x.shape)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, 1:], index[1:, :-1]
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    return Body(vertices, None, faces, uv=np.stack([u, v], axis=-1).reshape(-1, 2))


def _texture(world: World, dpi: float) -> Image:
    """The print for the tracer: the whole page at a lower resolution, stains and all."""
    artwork, sheet = world.artwork, world.sheet
    scale = dpi / 25.4 / artwork.px_per_mm
    picture = artwork.reflectance
    if scale < 1:
        picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    texture = (picture / 65535).astype(np.float32)
    if not world.stains:
        return texture
    rows, cols = texture.shape[:2]
    x = ((np.arange(cols) + 0.5) / cols - 0.5) * sheet.page_mm[0] * sheet.scale_x
    y = (0.5 - (np.arange(rows) + 0.5) / rows) * sheet.page_mm[1] * sheet.scale_y
    return np.asarray(texture * stained(world.stains, *np.meshgrid(x, y)), dtype=np.float32)


def bench_tile(bench: Bench) -> Image:
    """A square metre fraction of bench, repeating: mottled, or grained one way."""
    rng = np.random.default_rng(bench.seed)
    n = 1024
    fx = np.fft.fftfreq(n)[:, None] * n / 300 * bench.length_mm
    fy = np.fft.fftfreq(n)[None] * n / 300 * bench.length_mm * bench.stretch
    spectrum = np.exp(-(fx**2 + fy**2)) + 0.08 * np.exp(-(fx**2 + fy**2) / 30)
    noise = np.fft.ifft2(np.fft.fft2(rng.standard_normal((n, n))) * spectrum).real
    noise /= noise.std()
    factor = np.clip(1 + bench.grain * noise, 0.1, 2)[:, :, None]
    return np.asarray((factor * np.asarray(bench.colour)).astype(np.float32))


def _bench_layer(camera: PhoneCamera, sheet: Sheet, bench: Bench) -> Image:
    width, height = camera.size_px
    ground = ground_points(camera, sheet, *pixel_grid(camera.size_px, 8, 3.5))
    maps = [
        cv2.resize(
            (ground.points_mm[..., k] * 1024 / 300).astype(np.float32),
            None, fx=8, fy=8, interpolation=cv2.INTER_LINEAR,
        )[8 : 8 + height, 8 : 8 + width]
        for k in (0, 1)
    ]  # fmt: skip
    return np.asarray(
        cv2.remap(bench_tile(bench), *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    )


def _light_grid(
    mi: Any, stage: Studio, view: tuple[PhoneCamera, Sheet], grid: tuple[Floats, Floats], spp: int
) -> Floats:
    """Light on the ground at a grid of pixels, (rows, columns, 3), a little smoothed."""
    camera, sheet = view
    ground = ground_points(camera, sheet, *grid)
    points = ground.points_mm.reshape(-1, 3)
    light = irradiance(mi, stage, points, ground.inside_mm.ravel() > 0, spp)
    calm = cv2.medianBlur(light.reshape(*grid[0].shape, 3).astype(np.float32), 3)
    return np.asarray(cv2.GaussianBlur(calm, (0, 0), 1.0), dtype=np.float64)


def _window(camera: PhoneCamera, shadow_mm: Floats, margin_px: int) -> tuple[int, int, int, int]:
    """Pixels round the part and its nearest shadow."""
    pixels = project(camera, shadow_mm)
    low = np.floor(pixels.min(axis=0)).astype(int) - margin_px
    high = np.ceil(pixels.max(axis=0)).astype(int) + margin_px
    width, height = camera.size_px
    return max(low[0], 0), max(low[1], 0), min(high[0], width), min(high[1], height)


def _blend_light(coarse: Image, fine: Image, window: tuple[int, int, int, int]) -> None:
    """Put finely traced light into its window, feathered over its border."""
    left, top, right, bottom = window
    feather = 40
    x = np.minimum(np.arange(left, right) - left, right - 1 - np.arange(left, right))
    y = np.minimum(np.arange(top, bottom) - top, bottom - 1 - np.arange(top, bottom))
    weight = np.clip(np.minimum(x[None], y[:, None]) / feather, 0, 1).astype(np.float32)[..., None]
    part = coarse[top:bottom, left:right]
    part += weight * (fine - part)


def _ground_light(
    mi: Any,
    stage: Studio,
    view: tuple[PhoneCamera, Sheet],
    window: tuple[int, int, int, int],
    effort: Effort,
) -> Image:
    camera = view[0]
    width, height = camera.size_px
    step = effort.far_px
    coarse = _light_grid(
        mi, stage, view, pixel_grid(camera.size_px, step, (step - 1) / 2), effort.far_spp
    )
    size = (coarse.shape[1] * step, coarse.shape[0] * step)
    big = cv2.resize(coarse.astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    light = np.ascontiguousarray(big[step : step + height, step : step + width])
    left, top, right, bottom = window
    step = effort.near_px
    x, y = pixel_grid((right - left, bottom - top), step, (step - 1) / 2)
    near = _light_grid(mi, stage, view, (x + left, y + top), effort.near_spp)
    size = (near.shape[1] * step, near.shape[0] * step)
    fine = cv2.resize(near.astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    _blend_light(light, fine[step:, step:][: bottom - top, : right - left], window)
    return light


def _depth_blur(layer: Image, camera: PhoneCamera, depth_mm: Image) -> Image:
    """Blur a layer of the ground by how far each pixel lies from the plane in focus."""
    away = np.abs(depth_mm - camera.focus_mm) / depth_mm
    sigma = camera.aperture_mm * away * camera.focal_px / camera.focus_mm / 4
    if float(sigma.max()) < 0.15:
        return layer
    sigma = sigma.reshape(sigma.shape + (1,) * (layer.ndim - 2))
    levels = [0.0, 0.5, 0.9, 1.5, 2.4, 3.8, 6.0]
    out, below = np.zeros_like(layer), layer
    variance = sigma**2
    for low, high in pairwise(levels):
        above = cv2.GaussianBlur(layer, (0, 0), high)
        mix = (variance - low**2) / (high**2 - low**2)
        inside = (mix >= 0) & ((mix < 1) | (high == levels[-1]))
        mix = np.clip(mix, 0, 1)
        out = np.where(inside, below + mix * (above - below), out)
        if float(sigma.max()) < high:
            break
        below = above
    return np.asarray(out, dtype=np.float32)


def _over_picture(
    camera: PhoneCamera, sheet: Sheet, of_points: Callable[[Floats], Floats]
) -> Image:
    """What smoothly changes over the ground, seen by each pixel."""
    width, height = camera.size_px
    ground = ground_points(camera, sheet, *pixel_grid(camera.size_px, 8, 3.5))
    values = of_points(ground.points_mm).astype(np.float32)
    big = cv2.resize(values, None, fx=8, fy=8, interpolation=cv2.INTER_LINEAR)
    return np.asarray(big[8 : 8 + height, 8 : 8 + width])


def _depth(camera: PhoneCamera, sheet: Sheet) -> Image:
    width, height = camera.size_px
    ground = ground_points(camera, sheet, *pixel_grid(camera.size_px, 8, 3.5))
    big = cv2.resize(ground.depth_mm.astype(np.float32), None, fx=8, fy=8)
    return np.asarray(big[8 : 8 + height, 8 : 8 + width])


def _pixels_of(
    mi: Any, stage: Studio, camera: PhoneCamera, window: tuple[int, int, int, int], what: What
) -> NDArray[np.int64]:
    """Pixels that may see a thing: where one in four does, and a border round those."""
    left, top, right, bottom = window
    x, y = np.meshgrid(np.arange(left, right, 2), np.arange(top, bottom, 2))
    look = Look(4, shade=False, what=what)
    probe = part_seen(mi, stage, camera, np.stack([x, y], -1).reshape(-1, 2), look)
    seen = (probe.coverage.reshape(x.shape) > 0).astype(np.uint8)
    seen = cv2.resize(seen, (right - left, bottom - top), interpolation=cv2.INTER_NEAREST)
    seen = cv2.dilate(seen, np.ones((9, 9), np.uint8))
    rows, cols = np.nonzero(seen)
    return np.column_stack([cols + left, rows + top]).astype(np.int64)


def _lay_over(light: Image, pixels: NDArray[np.int64], seen: Traced) -> None:
    rows, cols = pixels[:, 1], pixels[:, 0]
    behind = light[rows, cols] * (1 - seen.coverage[:, None])
    light[rows, cols] = (behind + seen.colour).astype(np.float32)


def _paper_over_bench(world: World) -> Image:
    """Reflectance of all that lies flat, in focus or not."""
    camera, sheet = world.camera, world.sheet
    reflectance, cover = paper_layers(camera, sheet, world.artwork)
    if world.stains:
        reflectance *= _over_picture(
            camera, sheet, lambda points: stained(world.stains, points[..., 0], points[..., 1])
        )
    depth = _depth(camera, sheet)
    reflectance, cover = (_depth_blur(layer, camera, depth) for layer in (reflectance, cover))
    picture = _bench_layer(camera, sheet, world.bench)
    white = np.array([1.0, 0.995, 0.975], np.float32)
    picture += cover[..., None] * (reflectance * white - picture)
    return picture


def _glare(world: World, gloss: tuple[float, float], reflectance: Image) -> Image:
    """What paper and toner mirror of the light's first panel."""
    camera, sheet, panel = world.camera, world.sheet, world.light.panels[0]

    def each(points: Floats) -> Floats:
        is_paper = sheet.inside_mm(points[..., 0], points[..., 1]) > 0
        seen = [is_paper * mirrored(camera, panel, points, roughness) for roughness in gloss]
        return np.stack(seen, axis=-1)

    of_paper, of_toner = np.moveaxis(_over_picture(camera, sheet, each), -1, 0)
    toner = np.clip(1 - reflectance[..., 1] / PAPER, 0, 1)
    return np.asarray((of_paper + toner * (of_toner - of_paper))[..., None])


def _lay_extras_over(mi: Any, stage: Studio, world: World, light: Image, spp: int) -> None:
    camera = world.camera
    window = (0, 0, *camera.size_px)
    pixels = _pixels_of(mi, stage, camera, window, "extras")
    if len(pixels):
        look = Look(spp, seed=2, what="extras")
        _lay_over(light, pixels, part_seen(mi, stage, camera, pixels, look))


def picture_of(mi: Any, part: Body, finish: Finish, world: World, effort: Effort) -> Picture:
    """Render one scene in linear light.

    Parameters
    ----------
    mi : module
        From `tracer.load`.
    part : Body
        In the sheet's frame.
    finish : Finish
    world : World
    effort : Effort

    Returns
    -------
    Picture
    """
    camera, sheet = world.camera, world.sheet
    texture, paper = _texture(world, effort.texture_dpi), paper_body(sheet, world.artwork)
    things = Things(part, finish, paper, texture, camera, world.light, world.extras)
    stage = studio(mi, things)
    ground = part.vertices_mm.copy()
    ground[:, 2] = 0
    around = np.concatenate([part.vertices_mm, ground])
    window = _window(camera, around, int(8 * camera.focal_px / camera.focus_mm))
    picture = _paper_over_bench(world)
    glare = 0.0 if world.gloss is None else _glare(world, world.gloss, picture)
    picture *= _ground_light(mi, stage, (camera, sheet), window, effort)
    picture += glare
    left, top, right, bottom = window
    bright = float(np.percentile(picture[top:bottom, left:right, 1], 80))
    if world.extras:
        _lay_extras_over(mi, stage, world, picture, effort.extras_spp)
    pixels = _pixels_of(mi, stage, camera, window, "part")
    _lay_over(picture, pixels, part_seen(mi, stage, camera, pixels, Look(effort.part_spp, seed=1)))
    return Picture(picture, bright, window)
