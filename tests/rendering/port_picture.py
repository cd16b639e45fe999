"""One linear picture of a port: path-traced finely round the collar, coarsely elsewhere."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import project
from tests.rendering.compose import Picture
from tests.rendering.materials import turned_normals
from tests.rendering.page import Artwork
from tests.rendering.port_bodies import INTO_PORT, bore_mesh
from tests.rendering.port_collar import collar_body, crop_px
from tests.rendering.port_looks import bore_dirt, face_bsdf
from tests.rendering.port_paper import MOST, PaperLook, paper_seen
from tests.rendering.port_scenes import PortScene
from tests.rendering.port_surroundings import Bolt, bolt_mesh, face_body, ground_body, pipe_body
from tests.rendering.port_swarf import chip_body
from tests.rendering.surfaces import Body, mesh_shape, metal_bsdf
from tests.rendering.surroundings import surroundings
from tests.rendering.tracer import Look, Studio, part_seen
from tests.rendering.warp import pixel_grid

__all__ = ["PortEffort", "port_picture", "port_stage"]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
Mask = NDArray[np.uint8]
WHITE = np.array([1.0, 0.995, 0.975], np.float32)


@dataclass(frozen=True, slots=True)
class PortEffort:
    """Samples a pixel in the hole, on the collar, and elsewhere every `far_px` pixels.

    The collar's print takes samples of its own, which cost little: 49 leave its corners
    0.036 px of noise, 400 leave 0.02.
    """

    bore_spp: int = 49
    print_spp: int = 144
    collar_spp: int = 16
    far_spp: int = 9
    far_px: int = 5
    depth: int = 9


def _moved(body: Body, pose: Floats) -> Body:
    turn, shift = pose[:3, :3], pose[:3, 3]
    return Body(body.vertices_mm @ turn.T + shift, None, body.faces, uv=body.uv, dirt=body.dirt)


def _bore(scene: PortScene) -> Body:
    mesh = bore_mesh(scene.port)
    normals = turned_normals(mesh, scene.finish)
    dirt = bore_dirt(mesh, scene.finish, scene.port.size.minor_mm, scene.port.size.root_mm)
    return Body(mesh.vertices_mm @ INTO_PORT, normals @ INTO_PORT, mesh.faces, dirt=dirt)


def _collar(mi: Any, scene: PortScene, artwork: Artwork) -> Any:
    left, top, right, bottom = crop_px(scene.collar.ring, artwork)
    print_ = (artwork.reflectance[top:bottom, left:right] / 65535).astype(np.float32) * WHITE
    texture = {"type": "bitmap", "bitmap": mi.Bitmap(print_), "raw": True, "wrap_mode": "clamp"}
    paper = {"type": "twosided", "b": {"type": "diffuse", "reflectance": texture}}
    body = _moved(collar_body(scene.collar, artwork), scene.port_from_sheet)
    return mesh_shape(mi, "collar", body, paper)


def _rib(mi: Any, scene: PortScene, bsdf: dict[str, Any]) -> dict[str, Any]:
    if scene.around.rib is None:
        return {}
    away, turn, high = scene.around.rib
    place = mi.ScalarTransform4f().rotate([0, 0, 1], float(np.degrees(turn)))
    place = place @ mi.ScalarTransform4f().translate([away + 6, 0, high - 20])
    shape = place @ mi.ScalarTransform4f().scale([6, 60, 20])
    return {"rib": {"type": "cube", "to_world": shape, "bsdf": bsdf}}


def _pipe(mi: Any, scene: PortScene) -> dict[str, Any]:
    pipe = scene.around.pipe
    if pipe is None:
        return {}
    colour = {"type": "rgb", "value": list(pipe.colour)}
    skin = {"type": "roughplastic", "diffuse_reflectance": colour, "alpha": 0.25}
    return {"pipe": mesh_shape(mi, "pipe", pipe_body(pipe), skin)}


def _bolt(scene: PortScene, bolt: Bolt) -> Body:
    mesh = bolt_mesh(bolt)
    ground = scene.port.mouth.spot_depth_mm - scene.around.pad_height_mm
    foot = np.array([*bolt.at_mm, ground - 0.1])
    dirt = np.full(len(mesh.vertices_mm), scene.finish.dirt)
    return Body(mesh.vertices_mm + foot, mesh.normals, mesh.faces, dirt=dirt)


def port_stage(mi: Any, scene: PortScene, artwork: Artwork) -> Studio:
    """The whole scene for the tracer, and the collar as its `part`."""
    mouth, around = scene.port.mouth, scene.around
    top = mouth.spot_depth_mm
    hole = mouth.spot_face_mm or mouth.diameter_mm
    things = surroundings(mi, scene.light, scene.camera)
    things["bore"] = mesh_shape(mi, "bore", _bore(scene), metal_bsdf(scene.finish))
    things["collar"] = paper = _collar(mi, scene, artwork)
    things["face"] = mesh_shape(mi, "face", face_body(around, hole, top), face_bsdf(mi, scene.face))
    raw = face_bsdf(mi, scene.ground)
    ground = ground_body(top - around.pad_height_mm, hole + 2)
    things["ground"] = mesh_shape(mi, "ground", ground, raw)
    things |= _rib(mi, scene, raw) | _pipe(mi, scene)
    bodies = [_bolt(scene, bolt) for bolt in around.bolts] + [chip_body(c) for c in scene.chips]
    for k, body in enumerate(bodies):
        things[f"piece{k}"] = mesh_shape(mi, f"piece{k}", body, metal_bsdf(scene.finish))
    return Studio(None, mi.load_dict(things), paper)


def _filled(scene: PortScene, outline_sheet_mm: Floats) -> Mask:
    """Pixels inside an outline on the collar's plane."""
    width, height = scene.camera.size_px
    turn, shift = scene.port_from_sheet[:3, :3], scene.port_from_sheet[:3, 3]
    pixels = project(scene.camera, outline_sheet_mm @ turn.T + shift)
    mask = np.zeros((height, width), np.uint8)
    cv2.fillPoly(mask, [np.round(pixels).astype(np.int32)], 1)
    return mask


def _masks(scene: PortScene, margin_mm: float) -> tuple[Mask, Mask]:
    """The collar with a margin, and its hole with a small one."""
    half_x, half_y = (h + margin_mm for h in scene.collar.half_mm)
    square = np.array(
        [(x * half_x, y * half_y, 0) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    )
    theta = np.linspace(0, 2 * np.pi, 181)[:-1]
    r = scene.collar.cut_radius_mm(theta) + 0.6
    circle = np.column_stack([r * np.cos(theta), r * np.sin(theta), 0 * theta])
    return _filled(scene, square), _filled(scene, circle)


def _coarse(mi: Any, stage: Studio, scene: PortScene, effort: PortEffort) -> Image:
    width, height = scene.camera.size_px
    step = effort.far_px
    x, y = pixel_grid(scene.camera.size_px, step, (step - 1) / 2)
    points = np.stack([x, y], -1).reshape(-1, 2)
    look = Look(effort.far_spp, 2, what="anything", depth=effort.depth, most=MOST)
    seen = part_seen(mi, stage, scene.camera, points, look)  # type: ignore[arg-type]
    grid = seen.colour.reshape(*x.shape, 3).astype(np.float32)
    grid = np.asarray(cv2.GaussianBlur(grid, (0, 0), 0.7), np.float32)
    size = (grid.shape[1] * step, grid.shape[0] * step)
    big = cv2.resize(grid, size, interpolation=cv2.INTER_LINEAR)
    return np.ascontiguousarray(big[step : step + height, step : step + width])


def _lay(light: Image, mask: Mask, colour: Floats, weight: Image) -> None:
    rows, cols = np.nonzero(mask)
    share = weight[rows, cols][:, None]
    light[rows, cols] += share * (colour - light[rows, cols]).astype(np.float32)


def _paper_level(light: Image, collar: Mask) -> float:
    """What the phone takes for white: the paper, or less than that where much else is brighter."""
    paper = np.percentile(light[collar > 0, 1], 80)
    bright = np.percentile(light[::8, ::8, 1], 90)
    return float(max(paper, 0.5 * bright))


def port_picture(mi: Any, scene: PortScene, artwork: Artwork, effort: PortEffort) -> Picture:
    """Render one scene in linear light.

    Parameters
    ----------
    mi : module
        From `tracer.load`.
    scene : PortScene
    artwork : Artwork
        The page of collars.
    effort : PortEffort

    Returns
    -------
    Picture
    """
    stage = port_stage(mi, scene, artwork)
    light = _coarse(mi, stage, scene, effort)
    window, hole = _masks(scene, 4.0)
    weight = np.minimum(cv2.distanceTransform(window, cv2.DIST_L2, 5) / 12, 1).astype(np.float32)
    collar = window & (1 - hole)
    look = PaperLook(effort.print_spp, light_spp=effort.collar_spp, depth=effort.depth)
    seen = paper_seen(mi, (stage.printed, stage.part), scene.camera, collar, look)
    _lay(light, collar, seen, weight)
    rows, cols = np.nonzero(hole)
    pixels = np.column_stack([cols, rows]).astype(np.int64)
    inside = Look(effort.bore_spp, 4, what="anything", depth=effort.depth, most=MOST)
    _lay(light, hole, part_seen(mi, stage, scene.camera, pixels, inside).colour, weight)
    rows, cols = np.nonzero(window)
    paper = _paper_level(light, collar)
    return Picture(light, paper, (cols.min(), rows.min(), cols.max() + 1, rows.max() + 1))
