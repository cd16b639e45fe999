"""The linear picture of a fitting scene."""

from typing import Any

from tests.rendering.compose import Effort, Picture, picture_of
from tests.rendering.materials import dirt_of, turned_normals
from tests.rendering.page import Artwork
from tests.rendering.scenes import FittingScene
from tests.rendering.tracer import Body

__all__ = ["fitting_picture", "part_body"]


def part_body(scene: FittingScene) -> Body:
    """The fitting's mesh as it lies on the sheet, with turning marks and dirt."""
    mesh, size = scene.mesh, scene.fitting.size
    turn, shift = scene.sheet_from_thread[:3, :3], scene.sheet_from_thread[:3, 3]
    dirt = dirt_of(
        mesh, scene.finish, size.minor_mm / 2, size.major_mm / 2, scene.fitting.ends.length_mm
    )
    normals = turned_normals(mesh, scene.finish)
    return Body(mesh.vertices_mm @ turn.T + shift, normals @ turn.T, mesh.faces, dirt=dirt)


def fitting_picture(mi: Any, scene: FittingScene, artwork: Artwork, spp: int) -> Picture:
    """Render one photo of a fitting scene, with `spp` samples a pixel on the part."""
    world = (scene.camera, scene.sheet, artwork, scene.light, scene.bench)
    effort = Effort(part_spp=spp, near_spp=max(36, spp), far_spp=max(48, spp))
    return picture_of(mi, part_body(scene), scene.finish, world, effort)
