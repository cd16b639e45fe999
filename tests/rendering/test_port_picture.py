"""What the tracer draws of a port lies where its truth says: crests, circles, corners."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.photo import load_photo
from photomeasure.references.catalogue import print_of
from photomeasure.references.draw_png import raster
from photomeasure.references.find import find_pieces
from tests.rendering.camera import project
from tests.rendering.page import INK, PAPER, Artwork
from tests.rendering.port_bodies import INTO_PORT, first_crest_mm
from tests.rendering.port_collar import rings_of, sheet_from_page_points
from tests.rendering.port_picture import PortEffort, port_picture, port_stage
from tests.rendering.port_scenes import PortScene, draw_port_scene
from tests.rendering.sensor import develop, save_jpeg
from tests.rendering.test_port_scenes import collar_artwork, conditions
from tests.rendering.tracer import camera_rays, load

pytest.importorskip("mitsuba")

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def mi() -> Any:
    return load()


@pytest.fixture(scope="module")
def artwork() -> Artwork:
    """The page of collars as printed at 600 dpi."""
    plain = collar_artwork()
    value = np.arange(256) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    table = np.round(65535 * (INK + (PAPER - INK) * linear)).astype(np.uint16)
    return replace(plain, reflectance=table[raster(print_of("collar", "A4"), 600)])


def _scene(artwork: Artwork, seed: int, **wanted: object) -> PortScene:
    cond = conditions(rings_of(artwork), lights=("overcast",), face="machined", **wanted)
    scene = draw_port_scene(seed, cond)
    return replace(scene, around=replace(scene.around, pipe=None))


def _met(mi: Any, stage: Any, scene: PortScene, pixels: Floats) -> tuple[Floats, Floats]:
    """Where rays through the middle of the lens end, and whether on the collar."""
    x, y = (mi.Float(np.ascontiguousarray(pixels[:, k], np.float32)) for k in (0, 1))
    rays = camera_rays(mi, replace(scene.camera, aperture_mm=0.0), x, y, mi.Point2f(0, 0))
    met = stage.printed.ray_intersect(rays)
    return np.array(met.p).T, np.array(met.shape == mi.ShapePtr(stage.part))


def _crests(scene: PortScene, turns: range) -> Floats:
    """Points on the middles of the crests of the wall opposite the camera, port frame."""
    port, eye = scene.port, INTO_PORT @ scene.camera.centre_sheet_mm
    size, turn = port.size, -1.0 if port.size.is_left else 1.0
    far = np.arctan2(-eye[1], -eye[0]) + np.linspace(-0.5, 0.5, 21)
    lowest = np.ceil(first_crest_mm(port) / size.pitch_mm - turn * far / (2 * np.pi))
    z = ((lowest + np.array(turns)[:, None]) + turn * far / (2 * np.pi)) * size.pitch_mm
    off = [o + lean * z for o, lean in zip(port.off_mm, port.lean_rad, strict=True)]
    r = size.minor_mm / 2 - size.taper * z + off[0] * np.cos(far) + off[1] * np.sin(far)
    points = np.stack([r * np.cos(far), r * np.sin(far), z], axis=-1).reshape(-1, 3)
    return np.asarray(points @ INTO_PORT)


@pytest.mark.parametrize("name", ["M22x1.5", "G1/2", "1/2-14 NPT"])
def test_a_ray_through_a_projected_crest_meets_that_crest(
    mi: Any, artwork: Artwork, name: str
) -> None:
    scene = _scene(artwork, 3, thread=name)
    stage = port_stage(mi, scene, artwork)
    crests = _crests(scene, range(1, 4))
    met, _ = _met(mi, stage, scene, project(scene.camera, crests))
    # single precision and chords between the mesh's columns: a few micrometres
    assert np.median(np.linalg.norm(met - crests, axis=1)) < 0.004
    assert (np.linalg.norm(met - crests, axis=1) < 0.02).mean() > 0.9


def test_the_hole_ends_where_the_truth_says(mi: Any, artwork: Artwork) -> None:
    scene = _scene(artwork, 4)
    stage = port_stage(mi, scene, artwork)
    theta = np.linspace(0, 2 * np.pi, 90) + 0.003  # not on an edge of the mesh
    for step, is_paper in ((0.04, True), (-0.04, False)):
        r = scene.collar.cut_radius_mm(theta) + step
        x, y = r * np.cos(theta), r * np.sin(theta)
        points = np.column_stack([x, y, scene.collar.height_mm(x, y)])
        turn, shift = scene.port_from_sheet[:3, :3], scene.port_from_sheet[:3, 3]
        _, on = _met(mi, stage, scene, project(scene.camera, points @ turn.T + shift))
        if is_paper:
            assert on.all()
        else:  # on the far side such a ray may meet the paper's cut edge, 0.1 mm high
            assert on.mean() < 0.5


def _pitch_and_hand(scene: PortScene, grey: Floats) -> tuple[float, str]:
    """Period of the far wall's brightness along the axis, and the lean that makes it clearest."""
    import cv2  # noqa: PLC0415

    port, eye = scene.port, INTO_PORT @ scene.camera.centre_sheet_mm
    size = port.size
    off = np.linspace(-0.5, 0.5, 41)
    far = np.arctan2(-eye[1], -eye[0]) + off
    z = np.linspace(0.5, 5.5, 251)[:, None] * size.pitch_mm + first_crest_mm(port)
    r = size.minor_mm / 2 - size.taper * z
    points = np.stack(np.broadcast_arrays(r * np.cos(far), r * np.sin(far), z), axis=-1)
    pixels = project(scene.camera, points.reshape(-1, 3) @ INTO_PORT).astype(np.float32)
    seen = cv2.remap(grey.astype(np.float32), pixels[None, :, 0], pixels[None, :, 1], 1)
    wall = seen.reshape(len(z), len(off)).astype(np.float64)
    wall -= wall.mean(axis=0)
    window = np.hanning(len(z))[:, None] * wall
    pitches = size.pitch_mm * np.linspace(0.85, 1.15, 301)
    best = {}
    for hand, turn in (("right", 1.0), ("left", -1.0)):
        phase = z[..., None] / pitches - turn * off[:, None] / (2 * np.pi)
        power = np.abs(np.einsum("ij,ijk->k", window, np.exp(2j * np.pi * phase)))
        best[hand] = (float(power.max()), float(pitches[np.argmax(power)]))
    hand = max(best, key=lambda key: best[key][0])
    return best[hand][1], hand


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_picture_shows_corners_pitch_and_hand_as_the_truth_has_them(
    mi: Any, artwork: Artwork, hand: str, tmp_path: Path
) -> None:
    scene = _scene(artwork, 5, thread="M22x1.5", hand=hand, scale_px=0.5, slant_deg=(42.0, 46.0))
    picture = port_picture(mi, scene, artwork, PortEffort(25, 49, 9, 4, 8))
    light = picture.light * np.float32(scene.development.paper_level / picture.paper)
    pitch, seen_hand = _pitch_and_hand(scene, light[..., 1].astype(np.float64))
    assert pitch == pytest.approx(scene.port.size.pitch_mm, rel=0.02)
    assert seen_hand == hand
    save_jpeg(tmp_path / "p.jpg", develop(light, scene.development), scene.development)
    (found,) = find_pieces(load_photo(tmp_path / "p.jpg"))
    assert found.piece.name == scene.collar.ring.name
    page = found.piece.corners_page_mm[found.corner_ids]
    turn, shift = scene.port_from_sheet[:3, :3], scene.port_from_sheet[:3, 3]
    true = project(scene.camera, sheet_from_page_points(scene.collar, page) @ turn.T + shift)
    off = found.corners_px - true
    assert len(off) > 0.9 * len(found.piece.corners_page_mm)
    assert np.sqrt(np.mean(off**2)) < 0.1
    assert off.mean(axis=0) == pytest.approx([0, 0], abs=0.04)
