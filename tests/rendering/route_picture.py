"""A flat route drawn without a path tracer: floor, prints, shadow and line, layer on layer."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, project, rays_sheet
from tests.rendering.compose import bench_tile
from tests.rendering.page import Artwork
from tests.rendering.routes import LaidPiece, RouteLine, RouteScene, nearest, sampled

__all__ = ["route_picture", "route_truth"]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
FINE = 2  # samples a pixel, each way, of prints
BLOCK = 256  # rows drawn at once
FACE_SHADE = (0.8, 0.25)  # of the light on a cut end's face, and in a hose's hole; invented
HOLE = 0.55  # of a hose's outside diameter; common practice, no source


def _floor(
    camera: PhoneCamera, x_px: Floats, y_px: Floats, height_mm: float
) -> tuple[Floats, Floats]:
    """Where rays meet the plane at a height: (..., 2) [mm], and depth (...)."""
    eye, way = camera.centre_sheet_mm, rays_sheet(camera, x_px, y_px)
    depth = (height_mm - eye[2]) / way[..., 2]
    return eye[:2] + depth[..., None] * way[..., :2], depth


def _grown(values: Floats, factor: int) -> Image:
    """Linear interpolation from every `factor`-th pixel (block middles) to all."""
    size = (values.shape[1] * factor, values.shape[0] * factor)
    big = cv2.resize(values.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(big[factor:-factor, factor:-factor])


def _grid(left: int, top: int, width: int, height: int) -> tuple[Floats, Floats]:
    """Middles of 4 x 4 blocks over a part of the picture, one block beyond each border."""
    x = left + 1.5 + 4 * np.arange(-1, -(-width // 4) + 1)
    y = top + 1.5 + 4 * np.arange(-1, -(-height // 4) + 1)
    return tuple(np.meshgrid(x, y))  # type: ignore[return-value]


def _page_of(piece: LaidPiece, floor_mm: Floats) -> Floats:
    x, y = floor_mm[..., 0] - piece.at_mm[0], floor_mm[..., 1] - piece.at_mm[1]
    c, s = np.cos(piece.at_mm[2]), np.sin(piece.at_mm[2])
    across, up = (c * x + s * y) / piece.scale_x, (c * y - s * x) / piece.scale_y
    return np.stack([piece.middle_page_mm[0] + across, piece.middle_page_mm[1] - up], axis=-1)


def _lay_print(light: Image, camera: PhoneCamera, piece: LaidPiece, artwork: Artwork) -> None:
    """Put one piece into the picture, area-sampled."""
    outline = np.array(piece.outline_page_mm)
    middle = np.array(piece.middle_page_mm)
    rel = (outline - middle) * (piece.scale_x, -piece.scale_y)
    c, s = np.cos(piece.at_mm[2]), np.sin(piece.at_mm[2])
    floor = rel @ np.array([[c, s], [-s, c]]) + piece.at_mm[:2]
    box = project(camera, np.column_stack([floor, np.full(len(floor), piece.height_mm)]))
    low = np.maximum(np.floor(box.min(axis=0)).astype(int) - 12, 0)
    high = np.minimum(np.ceil(box.max(axis=0)).astype(int) + 12, camera.size_px)
    width, height = (high - low).tolist()
    if width < 8 or height < 8:
        return
    grid = _grid(low[0], low[1], width, height)
    page = _page_of(piece, _floor(camera, *grid, piece.height_mm)[0])
    fine = []
    for k in (0, 1):
        texel = page[..., k] * artwork.px_per_mm - 0.5
        big = cv2.resize(
            texel.astype(np.float32), None, fx=4 * FINE, fy=4 * FINE, interpolation=cv2.INTER_LINEAR
        )
        fine.append(big[4 * FINE : -4 * FINE, 4 * FINE : -4 * FINE])
    mask = np.zeros(artwork.reflectance.shape[:2], np.uint8)
    texels = np.round((outline * artwork.px_per_mm - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(mask, [texels], 255, shift=4)
    blur = max(1.0, artwork.px_per_mm * 0.1)
    texture = cv2.GaussianBlur(artwork.reflectance[..., 1], (0, 0), blur)
    shown = cv2.remap(texture, *fine, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    cover = cv2.remap(mask, *fine, cv2.INTER_LINEAR)
    size = (fine[0].shape[1] // FINE, fine[0].shape[0] // FINE)
    shown = cv2.resize(shown.astype(np.float32) / 65535, size, interpolation=cv2.INTER_AREA)
    cover = cv2.resize(cover.astype(np.float32) / 255, size, interpolation=cv2.INTER_AREA)
    part = light[low[1] : high[1], low[0] : high[0]]
    shown, cover = shown[:height, :width, None], cover[:height, :width, None]
    part += cover * (shown * np.float32(1.0) - part)


def _shadow(line: RouteLine, way: tuple[float, float, float], floor_mm: Floats) -> Floats:
    """What light is left beside a round line: a soft shadow away from the light."""
    radius = line.axis_height_mm
    if radius == 0:
        return np.ones(floor_mm.shape[:-1])
    shift = -radius * np.array(way[:2]) / way[2]
    side, _ = nearest(line, (floor_mm - shift).reshape(-1, 2))
    contact, _ = nearest(line, floor_mm.reshape(-1, 2))
    soft = 0.45 * radius + 0.5
    direct = 1 / (1 + np.exp(-(np.abs(side) - radius) / soft))
    close = 1 - 0.5 * np.exp(-np.abs(contact) / (1.2 * radius))
    return ((0.35 + 0.65 * direct) * close).reshape(floor_mm.shape[:-1])


def _round_look(scene: RouteScene, grid: tuple[Floats, Floats]) -> tuple[Floats, Floats, Floats]:
    """For a round line: distance of rays from its axis over the radius, along; then brightness,
    gloss, and how far rays move along the line while they fall by one millimetre.
    """
    camera, line = scene.camera, scene.line
    floor, _ = _floor(camera, *grid, line.axis_height_mm)
    side, along = nearest(line, floor.reshape(-1, 2))
    side, along = side.reshape(floor.shape[:-1]), along.reshape(floor.shape[:-1])
    _, headings, where = sampled(line, 2.0)
    heading = np.interp(along, where, np.unwrap(headings))
    way = rays_sheet(camera, *grid)
    way = way / np.linalg.norm(way, axis=-1, keepdims=True)
    tangent = np.stack([np.cos(heading), np.sin(heading), np.zeros_like(heading)], axis=-1)
    left = np.stack([-tangent[..., 1], tangent[..., 0], np.zeros_like(heading)], axis=-1)
    cross = np.cross(way, tangent)
    cross /= np.linalg.norm(cross, axis=-1, keepdims=True)
    lean = np.sum(cross * left, axis=-1)
    offset = side * np.abs(lean) / (line.width_mm / 2)
    within = np.clip(offset, -1, 1)
    towards = -(way - np.sum(way * tangent, axis=-1, keepdims=True) * tangent)
    towards /= np.linalg.norm(towards, axis=-1, keepdims=True)
    normal = (
        within[..., None] * np.sign(lean)[..., None] * cross
        + np.sqrt(1 - within**2)[..., None] * towards
    )
    sun = np.maximum(normal @ np.array(scene.light_way), 0)
    half = np.array(scene.light_way) - way
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    gloss = 0.03 * np.maximum(np.sum(normal * half, axis=-1), 0) ** 30
    sky = 0.5 + 0.5 * normal[..., 2]
    lean = np.sum(way * tangent, axis=-1) / -way[..., 2]
    return offset, along, np.stack([0.4 * sky + 0.7 * sun, gloss, lean], axis=-1)


def _cut_faces(
    line: RouteLine, offset: Floats, along: Floats, lean: Floats
) -> tuple[Floats, Floats]:
    """How far inside its ends a round line is seen [mm], and what light its cut faces leave.

    An end that points away shows its rim's top, and one that points at the camera its face, a
    hose's with a dark hole; both lie farther out than the axis does, by the radius times the lean.
    """
    half = line.width_mm / 2
    out = half * np.sqrt(1 - np.clip(offset, -1, 1) ** 2) * np.abs(lean)
    left = np.where(lean > 0, along, line.length_mm - along)  # of the end that points at the camera
    share = np.ones_like(along)
    share = np.where(left < out, FACE_SHADE[0], share)
    if line.kind == "hose":
        centred = left / (half * np.maximum(np.abs(lean), 1e-6))
        share = np.where(np.hypot(centred, offset) < HOLE, FACE_SHADE[1], share)
    return np.minimum(along, line.length_mm - along) + out, share


def _lay_line(light: Image, scene: RouteScene, top: int) -> None:
    """Put the line into a band of rows."""
    camera, line = scene.camera, scene.line
    width, height = light.shape[1], light.shape[0]
    grid = _grid(0, top, width, height)
    floor, depth = _floor(camera, *grid, line.axis_height_mm)
    px_per_mm = camera.focal_px / depth
    half = line.width_mm / 2
    if line.axis_height_mm:
        offset, along, look = _round_look(scene, grid)
        inside = (1 - np.abs(offset)) * half
        ends, face = _cut_faces(line, offset, along, look[..., 2])
        shade, gloss = _grown(look[..., 0] * face, 4), _grown(look[..., 1], 4)
    else:
        side, along = (v.reshape(depth.shape) for v in nearest(line, floor.reshape(-1, 2)))
        inside, offset = half - np.abs(side), side / half
        ends = np.minimum(along, line.length_mm - along)
        shade, gloss = np.float32(1.0), np.float32(0.0)
    cover = _grown(np.clip(0.5 + np.minimum(inside, ends) * px_per_mm, -40, 40), 4)
    cover = np.clip(cover, 0, 1)[:height, :width, None]
    colour = np.broadcast_to(np.array(line.colour, np.float32), (height, width, 3))
    if line.kind == "hazard":
        bar = _grown(along + offset * half, 4)[:height, :width, None]
        soft = np.clip(0.5 + np.sin(bar * (np.pi / 30)) * 30 / np.pi, 0, 1)
        colour = colour * soft + np.array(line.second, np.float32) * (1 - soft)
    if line.axis_height_mm:
        colour = colour * shade[:height, :width, None] + gloss[:height, :width, None]
    light += cover * (colour - light)


def route_picture(scene: RouteScene, artwork: Artwork) -> Image:
    """Draw the scene in linear light, (height, width, 3) float32.

    Parameters
    ----------
    scene : RouteScene
    artwork : Artwork
        The page its pieces are cut from.

    Returns
    -------
    (height, width, 3) float32
        White paper near 0.8.
    """
    camera = scene.camera
    width, height = camera.size_px
    tile = bench_tile(scene.bench)
    light = np.empty((height, width, 3), np.float32)
    for top in range(0, height, BLOCK):
        rows = min(BLOCK, height - top)
        floor, _ = _floor(camera, *_grid(0, top, width, rows), 0.0)
        maps = [_grown(floor[..., k] * 1024 / 300, 4)[:rows, :width] for k in (0, 1)]
        light[top : top + rows] = cv2.remap(
            tile, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
        )
    for piece in scene.laid:
        _lay_print(light, camera, piece, artwork)
    for top in range(0, height, BLOCK):
        rows = min(BLOCK, height - top)
        floor, _ = _floor(camera, *_grid(0, top, width, rows), 0.0)
        band = light[top : top + rows]
        band *= _grown(_shadow(scene.line, scene.light_way, floor), 4)[:rows, :width, None]
        _lay_line(band, scene, top)
        fall = 1 + floor @ np.array(scene.slope)
        band *= _grown(np.clip(fall, 0.5, 1.5), 4)[:rows, :width, None]
    return light


def _bends(line: RouteLine) -> list[dict[str, float]]:
    out, done = [], 0.0
    for piece in line.pieces:
        if piece.turn_rad:
            angle = float(np.degrees(abs(piece.turn_rad)))
            at = done + piece.length_mm / 2
            out.append({"at": at, "radius": piece.radius_mm, "angle": angle})
        done += piece.length_mm
    return out


def route_truth(scene: RouteScene, split: str) -> dict[str, Any]:
    """Everything that is true of a route scene; lengths mm, angles degrees."""
    from dataclasses import asdict  # noqa: PLC0415

    from tests.rendering.truth import NOTE, camera_truth  # noqa: PLC0415

    line = scene.line
    points, _, _ = sampled(line, 5.0)
    height = np.full(len(points), line.axis_height_mm)
    axis = np.column_stack([points, height])
    return {
        "note": NOTE,
        "kind": "route",
        "laid": "flat",
        "split": split,
        "seed": scene.seed,
        "truth": {
            "line": line.kind,
            "width_mm": line.width_mm,
            "length": line.length_mm,
            "turning": float(np.degrees(sum(abs(p.turn_rad) for p in line.pieces))),
            "bends": _bends(line),
            "ends_px": project(scene.camera, axis[[0, -1]]).tolist(),
            "points_mm": np.round(axis, 4).tolist(),
        },
        "print": {"bars": asdict(scene.bars), "laid": [asdict(p) for p in scene.laid]},
        "camera": camera_truth(scene.camera),
        "bench": asdict(scene.bench),
        "development": asdict(scene.development),
    }
