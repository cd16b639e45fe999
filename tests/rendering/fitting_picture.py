"""The linear picture of a fitting scene."""

from typing import Any

from tests.rendering.compose import Effort, Picture, World, picture_of
from tests.rendering.hands import hand_extras
from tests.rendering.lumps import with_lumps
from tests.rendering.materials import dirt_of, film_of, turned_normals
from tests.rendering.page import Artwork
from tests.rendering.scenes import FittingScene
from tests.rendering.surfaces import Body

__all__ = ["fitting_picture", "part_body"]


def part_body(scene: FittingScene) -> Body:
    """The fitting's mesh as it lies on the sheet, with turning marks, dirt and oil."""
    mesh, size = scene.mesh, scene.fitting.size
    turn, shift = scene.sheet_from_thread[:3, :3], scene.sheet_from_thread[:3, 3]
    dirt = dirt_of(
        mesh, scene.finish, size.minor_mm / 2, size.major_mm / 2, scene.fitting.ends.length_mm
    )
    normals = turned_normals(mesh, scene.finish)
    place = (mesh.vertices_mm @ turn.T + shift, normals @ turn.T, mesh.faces, None, dirt)
    if not scene.hard.film and not scene.hard.lumps:
        return Body(*place)
    oily = Body(*place, oil=film_of(mesh, scene.finish, scene.hard.film))
    return with_lumps(oily, scene.hard.lumps, scene.sheet_from_thread)


def fitting_picture(mi: Any, scene: FittingScene, artwork: Artwork, spp: int) -> Picture:
    """Render one photo of a fitting scene, with `spp` samples a pixel on the part."""
    hand = scene.hard.hand
    world = World(
        camera=scene.camera,
        sheet=scene.sheet,
        artwork=artwork,
        light=scene.light,
        bench=scene.bench,
        stains=scene.hard.stains,
        gloss=scene.hard.gloss,
        extras=() if hand is None else hand_extras(hand),
    )
    effort = Effort(part_spp=spp, near_spp=max(36, spp), far_spp=max(48, spp))
    return picture_of(mi, part_body(scene), scene.finish, world, effort)
