"""Photographs of routes in space by ray casting: quick, with exact geometry and plain light.

python -m tests.route.space_render FIRST COUNT DIR [JOBS [WIDTH]]
"""

import json
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.catalogue import print_of
from photomeasure.references.draw_png import raster
from tests.rendering.camera import PhoneCamera, project, rays_sheet
from tests.rendering.sensor import develop, draw_development, save_jpeg
from tests.route.space_bay import (
    Bay,
    Box,
    Light,
    Rod,
    Shadow,
    draw_bay,
    noise,
    sampled,
    shadow_of,
)
from tests.route.space_scenes import (
    BAND_HALF_MM,
    PAPER_MM,
    STEP_MM,
    SpaceScene,
    draw_space_scene,
    piece_of,
)
from tests.route.space_truth import truth_of

Floats = NDArray[np.float64]

DPI = 305.0  # 12 texels a millimetre
TEXELS = DPI / 25.4
FINE = 2  # rays a pixel, each way
ROWS = 512  # fine rows cast at once
COARSE = 32
INK, PAPER = 0.05, 0.8


@cache
def _page(kind: str) -> NDArray[np.uint8]:
    page = raster(print_of(kind, "A4"), DPI)[..., 0]  # type: ignore[arg-type]
    return np.asarray(cv2.GaussianBlur(page, (0, 0), 0.7), dtype=np.uint8)


class _Tile:
    """Rows of one picture, finely sampled: depth (along z = 1 rays) and light."""

    def __init__(self, camera: PhoneCamera, first: int, rows: int, coarse: Light) -> None:
        width, step = camera.size_px[0] * FINE, FINE * COARSE
        self.first, self.camera = first, camera
        nodes = coarse[first // step : -(-(first + rows) // step) + 2]  # one more on either side
        size = (nodes.shape[1] * step, nodes.shape[0] * step)
        wide = cv2.resize(nodes, size, interpolation=cv2.INTER_LINEAR)
        self.rays = np.ascontiguousarray(wide[step : step + rows, step : step + width])
        self.depth = np.full((rows, width), 1e9, np.float32)
        self.light = np.zeros((rows, width, 3), np.float32)

    def window(self, points: Floats, room: float = 6) -> tuple[slice, slice] | None:
        """Fine rows and columns that hold the projection of points."""
        px = (project(self.camera, points) + 0.5) * FINE
        low, high = np.floor(px.min(axis=0) - room), np.ceil(px.max(axis=0) + room)
        y0, y1 = max(0, int(low[1]) - self.first), min(len(self.depth), int(high[1]) - self.first)
        x0, x1 = max(0, int(low[0])), min(self.depth.shape[1], int(high[0]))
        return (slice(y0, y1), slice(x0, x1)) if y0 < y1 and x0 < x1 else None

    def put(self, where: tuple[slice, slice], depth: Light, light: Light) -> None:
        nearer = depth < self.depth[where]
        np.copyto(self.depth[where], depth, where=nearer)
        np.copyto(self.light[where], light, where=nearer[..., None])


def _shade(bay: Bay, normals: Light) -> Light:
    lit = np.maximum(normals @ bay.light.astype(np.float32), 0)
    return np.asarray(bay.ambient + (1 - bay.ambient) * lit, dtype=np.float32)


def _floor(tile: _Tile, bay: Bay, eye: Floats, shadow: Shadow) -> None:
    """The ground behind everything, one ray a pixel."""
    rays = tile.rays[::FINE, ::FINE]
    t = np.float32(bay.floor_mm - eye[2]) / rays[..., 2]
    t[t <= 0] = 1e6
    x, y = (np.float32(eye[k]) + t * rays[..., k] for k in (0, 1))
    texture = sampled(noise(bay.seed % 7), np.mod(x * 3.1, 1023), np.mod(y * 3.1, 1023))
    coarse = sampled(noise(bay.seed % 5 + 7), np.mod(x * 0.7, 1023), np.mod(y * 0.7, 1023))
    level = (0.45 + 0.5 * texture + 0.6 * coarse)[..., None] * bay.floor_colour.astype(np.float32)
    level *= (1 - np.float32(1 - bay.ambient) * shadow.at(x, y))[..., None]
    for row in range(FINE):
        for column in range(FINE):
            tile.depth[row::FINE, column::FINE] = t
            tile.light[row::FINE, column::FINE] = level


def _box(tile: _Tile, bay: Bay, eye: Floats, box: Box) -> None:
    signs = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
    corners = signs * box.half @ box.pose[:3, :3].T + box.pose[:3, 3]
    if (where := tile.window(corners)) is None:
        return
    turn = box.pose[:3, :3].astype(np.float32)
    origin = ((eye - box.pose[:3, 3]) @ box.pose[:3, :3]).astype(np.float32)
    rays = tile.rays[where] @ turn
    rays[np.abs(rays) < 1e-9] = 1e-9
    half = box.half.astype(np.float32)
    one, other = (-half - origin) / rays, (half - origin) / rays
    near, far = np.minimum(one, other), np.maximum(one, other)
    x, y, z = (near[..., k] for k in range(3))
    t = np.maximum(np.maximum(x, y), z)
    side = np.where(t == x, 0, np.where(t == y, 1, 2))
    hit = (t < np.minimum(np.minimum(far[..., 0], far[..., 1]), far[..., 2])) & (t > 0)
    if not hit.any():
        return
    normals = -np.sign(np.take_along_axis(rays, side[..., None], 2)) * turn.T[side]
    at = origin + t[..., None] * rays
    texture = sampled(noise(3), np.mod(at[..., 0] * 5 + at[..., 2] * 3, 1023),
                       np.mod(at[..., 1] * 5 + at[..., 2] * 2, 1023))  # fmt: skip
    level = _shade(bay, normals) * (0.7 + 0.5 * texture)
    light = level[..., None] * box.colour.astype(np.float32)
    tile.put(where, np.where(hit, t, np.float32(2e9)), light.astype(np.float32))


def _rod(tile: _Tile, bay: Bay, eye: Floats, rod: Rod) -> None:
    side = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T * rod.radius
    if (where := tile.window(np.vstack([rod.start + side, rod.stop + side]))) is None:
        return
    length = float(np.linalg.norm(rod.stop - rod.start))
    axis = ((rod.stop - rod.start) / length).astype(np.float32)
    rays, away = tile.rays[where], (eye - rod.start).astype(np.float32)
    t, hit = _cylinder(rays, away, axis, np.float32(rod.radius))
    at = away + t[..., None] * rays
    along = at @ axis
    hit &= (along > 0) & (along < length) & (t > 0)
    normals = (at - along[..., None] * axis) / np.float32(rod.radius)
    light = _shade(bay, normals)[..., None] * rod.colour.astype(np.float32)
    tile.put(where, np.where(hit, t, np.float32(2e9)), light.astype(np.float32))


def _cylinder(rays: Any, away: Any, axis: Any, radius: Any) -> tuple[Any, Any]:
    """First meeting of rays with cylinders through the origin of `away`."""

    def dot(one: Any, other: Any) -> Any:
        return sum(one[..., k] * other[..., k] for k in range(3))

    along_ray, along_away = dot(rays, axis), dot(away, axis)
    a = dot(rays, rays) - along_ray**2
    b = dot(rays, away) - along_ray * along_away
    c = dot(away, away) - along_away**2 - radius**2
    disc = b * b - a * c
    return (-b - np.sqrt(np.maximum(disc, 0))) / np.maximum(a, 1e-12), disc > 0


def _card(tile: _Tile, scene: SpaceScene, bay: Bay, eye: Floats, number: int) -> None:
    card = scene.cards[number]
    outline = piece_of("markers", card.name).outline_page_mm
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2
    half = np.ptp(outline, axis=0) / 2 * scene.scales["markers"]
    turn, at = card.pose[:3, :3], card.pose[:3, 3]
    corners = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * [*half, 0] @ turn.T + at
    if (where := tile.window(corners)) is None:
        return
    rays = tile.rays[where].astype(np.float64)
    t = ((at - eye) @ turn[:, 2]) / (rays @ turn[:, 2])
    local = (eye - at + t[..., None] * rays) @ turn
    hit = (np.abs(local[..., 0]) < half[0]) & (np.abs(local[..., 1]) < half[1]) & (t > 0)
    scale = scene.scales["markers"]
    x = (local[..., 0] / scale[0] + middle[0]) * TEXELS - 0.5
    y = (middle[1] - local[..., 1] / scale[1]) * TEXELS - 0.5
    ink = sampled(_page("markers"), x.astype(np.float32), y.astype(np.float32)) / 255
    front = (eye - at) @ turn[:, 2] > 0
    light = INK + (PAPER - INK) * ink if front else np.full_like(ink, 0.4)
    light = light * _shade(bay, (turn[:, 2] * (1 if front else -1))[None].astype(np.float32))
    tile.put(where, np.where(hit, t, 2e9).astype(np.float32),
             np.repeat(light[..., None], 3, axis=2).astype(np.float32))  # fmt: skip


class _Tube:
    """The hose with its bands: which stretch of it lies under which fine pixel."""

    def __init__(self, scene: SpaceScene, bay: Bay, camera: PhoneCamera) -> None:
        self.scene, self.bay, self.camera = scene, bay, camera
        self.eye = camera.centre_sheet_mm
        curve = scene.curve
        self.band = np.full(len(curve.at_mm), -1)
        half = BAND_HALF_MM * scene.scales["bands"][1]
        for number, band in enumerate(scene.bands):
            self.band[np.abs(curve.at_mm - band.at_mm) <= half + 1.5] = number
        pose = camera.camera_from_sheet
        depth = curve.points @ pose[2, :3] + pose[2, 3]
        px = (project(camera, curve.points) + 0.5) * FINE - 0.5
        thick = 2 * (scene.radius_mm + 0.3) * camera.focal_px * FINE / depth + 8
        self.stops = np.arange(0, len(curve.at_mm), round(2 / STEP_MM))
        self.order = np.argsort(-depth[self.stops])
        self.px, self.thick = px[self.stops], thick[self.stops]

    def labels(self, first: int, rows: int, width: int) -> NDArray[np.int32]:
        """Index of the nearest stretch, -1 where there is none."""
        image = np.full((rows, width), -1, np.int32)
        for k in self.order:
            x, y = self.px[k]
            radius = 0.5 * self.thick[k]
            if first - radius - 2 < y < first + rows + radius + 2 and -radius < x < width + radius:
                cv2.circle(image, (round(x), round(y - first)), int(radius), int(self.stops[k]), -1)
        return image

    def cast(self, tile: _Tile) -> None:
        labels = self.labels(tile.first, *tile.depth.shape)
        rows, columns = np.nonzero(labels >= 0)
        if not len(rows):
            return
        rays = tile.rays[rows, columns].astype(np.float64)
        index = labels[rows, columns]
        curve, radius0 = self.scene.curve, self.scene.radius_mm
        last = len(curve.at_mm) - 1
        for _ in range(7):
            centre, axis = curve.points[index], curve.frames[index, 0]
            radius = radius0 + PAPER_MM * self._is_band(index)
            t, hit = _cylinder(rays, self.eye - centre, axis, radius)
            at = self.eye + t[:, None] * rays
            along = np.sum((at - centre) * axis, axis=1)
            index = np.clip(index + np.round(along / STEP_MM).astype(int), 0, last)
        rest = np.sum((at - curve.points[index]) * curve.frames[index, 0], axis=1)
        hit &= np.abs(rest) < 4 * STEP_MM
        light, normals = self._look(at, index, rest)
        light = light * _shade(self.bay, normals.astype(np.float32))[:, None]
        depth = np.where(hit & (t > 0), t, 2e9).astype(np.float32)
        nearer = depth < tile.depth[rows, columns]
        tile.depth[rows[nearer], columns[nearer]] = depth[nearer]
        tile.light[rows[nearer], columns[nearer]] = light[nearer]

    def _is_band(self, index: NDArray[Any]) -> NDArray[np.bool_]:
        return np.asarray(self.band[index] >= 0)

    def _look(self, at: Floats, index: NDArray[Any], rest: Floats) -> tuple[Light, Floats]:
        """Colour and outward normals of points on the hose."""
        scene, curve = self.scene, self.scene.curve
        away = at - curve.points[index]
        one, two = (np.sum(away * curve.frames[index, k], axis=1) for k in (1, 2))
        out = away - np.sum(away * curve.frames[index, 0], axis=1)[:, None] * curve.frames[index, 0]
        out /= np.linalg.norm(out, axis=1, keepdims=True)
        phi, s = np.arctan2(two, one), curve.at_mm[index] + rest
        light = self._bare(phi, s)
        scale_x, scale_y = scene.scales["bands"]
        for number in np.unique(self.band[index]):
            if number < 0:
                continue
            band = scene.bands[number]
            own = np.flatnonzero(self.band[index] == number)
            roll = scene.radius_mm + PAPER_MM / 2
            u = np.mod(band.phase_rad - phi[own], 2 * np.pi) * roll
            turns = np.floor((85 * scale_x - u) / (2 * np.pi * roll))  # the outer layer is seen
            u = u + np.maximum(turns, 0) * 2 * np.pi * roll
            stretch = self._stretch(index[own], out[own])
            v = (s[own] - band.at_mm) * stretch - np.tan(band.skew_rad) * (u - 42.5 * scale_x)
            outline = piece_of("bands", f"band {band.order}").outline_page_mm
            left, middle = outline[:, 0].min(), outline[:, 1].mean()
            x = (u / scale_x + left) * TEXELS - 0.5
            y = (v / scale_y + middle) * TEXELS - 0.5
            ink = sampled(_page("bands"), x.astype(np.float32), y.astype(np.float32)) / 255
            paper = (np.abs(v) <= BAND_HALF_MM * scale_y) & (u <= 85 * scale_x)
            shown = (INK + (PAPER - INK) * ink)[:, None] * np.ones(3, np.float32)
            light[own[paper]] = shown[paper]
        return light, out

    def _stretch(self, index: NDArray[Any], out: Floats) -> Floats:
        """How much longer the outside of a bend is than its axis, as far as paper shows it."""
        curve = self.scene.curve
        back, ahead = np.maximum(index - 1, 0), np.minimum(index + 1, len(curve.at_mm) - 1)
        bend = (curve.frames[ahead, 0] - curve.frames[back, 0]) / (2 * STEP_MM)
        offset = -np.sum(bend * out, axis=1) * self.scene.radius_mm
        return np.asarray(1 + (1 - self.scene.stretch) * offset)

    def _bare(self, phi: Floats, s: Floats) -> Light:
        colour = self.bay.hose_colour.astype(np.float32)
        if self.bay.hose_look == "braid":
            weave = np.sin(phi * 8 + s * 1.2) * np.sin(phi * 8 - s * 1.2)
            return (colour * (1 + 0.6 * weave[:, None])).astype(np.float32)
        lay = np.abs(np.mod(phi, 2 * np.pi) - 1.0) < 0.05
        return np.where(lay[:, None], np.float32(0.5), colour).astype(np.float32)


def light_of(scene: SpaceScene, bay: Bay, camera: PhoneCamera) -> Light:
    """Linear picture of one camera, (height, width, 3)."""
    width, height = camera.size_px
    grid_x = np.arange(-COARSE, width + COARSE, COARSE) + 0.5 * COARSE - 0.5
    grid_y = np.arange(-COARSE, height + COARSE, COARSE) + 0.5 * COARSE - 0.5
    coarse = rays_sheet(camera, *np.meshgrid(grid_x, grid_y)).astype(np.float32)
    eye = camera.centre_sheet_mm
    tube, shadow = _Tube(scene, bay, camera), shadow_of(scene, bay)
    out = np.empty((height, width, 3), np.float32)
    for first in range(0, height * FINE, ROWS):
        rows = min(ROWS, height * FINE - first)
        tile = _Tile(camera, first, rows, coarse)
        _floor(tile, bay, eye, shadow)
        for box in bay.boxes:
            _box(tile, bay, eye, box)
        for rod in bay.rods:
            _rod(tile, bay, eye, rod)
        for number in range(len(scene.cards)):
            _card(tile, scene, bay, eye, number)
        tube.cast(tile)
        out[first // FINE : (first + rows) // FINE] = cv2.resize(
            tile.light, (width, rows // FINE), interpolation=cv2.INTER_AREA
        )
    return out


def write_photo(scene: SpaceScene, number: int, folder: Path) -> Path:
    """Write one photo of a scene; its development hangs on seed and number alone."""
    bay = draw_bay(scene)
    rng = np.random.default_rng(scene.seed + 9_000)
    orientation = int(rng.choice([1, 3, 6, 8]))
    lens = (scene.focal_35mm, scene.focal_mm)
    dev = [draw_development(orientation, lens, rng) for _ in range(number)][-1]
    light = light_of(scene, bay, scene.cameras[number - 1])
    light *= np.float32(dev.paper_level / PAPER)
    path = folder / f"photo{number}.jpg"
    save_jpeg(path, develop(light, dev), dev)
    return path


def write_truth(scene: SpaceScene, folder: Path) -> None:
    """Write what is true of a scene beside its photos."""
    truth = {
        "seed": scene.seed,
        "rendered": True,
        "bars": scene.bars,
        "scales": scene.scales,
        "truth": truth_of(scene),
        "bands": [{"order": b.order, "at": b.at_mm} for b in scene.bands],
        "smooth_mm": scene.smooth_mm,
    }
    (folder / "truth.json").write_text(json.dumps(truth, indent=1), encoding="utf-8")


def _scene(seed: int, size: tuple[int, int]) -> SpaceScene:
    return draw_space_scene(seed, 4 + seed % 3, size)


def _write(task: tuple[int, int, tuple[int, int], Path]) -> None:
    cv2.setNumThreads(1)
    seed, number, size, folder = task
    write_photo(_scene(seed, size), number, folder)


def main(first: int, count: int, out: str, jobs: int = 1, width: int = 4032) -> None:
    """Render sets of 4 to 6 photos, photos side by side."""
    size = (width, round(0.75 * width))
    tasks = []
    for seed in range(first, first + count):
        scene, folder = _scene(seed, size), Path(out) / f"set{seed}"
        folder.mkdir(parents=True, exist_ok=True)
        write_truth(scene, folder)
        tasks += [(seed, k + 1, size, folder) for k in range(len(scene.cameras))]
    with ProcessPoolExecutor(jobs) as pool:
        list(pool.map(_write, tasks))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], *(int(one) for one in sys.argv[4:]))
