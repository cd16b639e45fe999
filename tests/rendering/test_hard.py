"""Hard scenes: what is in the way is where it should be, and the part is the same."""

from functools import cache

import numpy as np
import pytest

from tests.rendering.camera import PhoneCamera, look_at
from tests.rendering.drawn import SEEDS, SHEET, drawn
from tests.rendering.fitting_picture import part_body
from tests.rendering.glare import mirrored
from tests.rendering.hands import draw_hand, hand_extras
from tests.rendering.hard import with_hardships
from tests.rendering.lights import Panel
from tests.rendering.lumps import ellipsoid
from tests.rendering.scenes import FittingScene
from tests.rendering.stains import Stain, stained
from tests.rendering.truth import fitting_truth


@cache
def _scenes(seed: int) -> tuple[FittingScene, FittingScene]:
    return drawn(seed), with_hardships(drawn(seed), SHEET)


def test_every_hardship_is_drawn() -> None:
    names = {name for seed in SEEDS for name in _scenes(seed)[1].hard.names}
    assert names == {"oil", "dirt", "torch", "oblique", "curl", "hand", "tele"}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_hard_scene_is_what_its_names_say(seed: int) -> None:
    plain, scene = _scenes(seed)
    truth, names = fitting_truth([scene], "tune"), scene.hard.names
    assert truth["truth"] == fitting_truth([plain], "tune")["truth"]
    assert ("oblique" in names) == (truth["view"]["tilt_deg"] > 20)
    assert ("tele" in names) == (scene.camera.focal_px > 5000)
    assert ("torch" in names) == (scene.light.kind == "torch") == (scene.hard.gloss is not None)
    assert ("oil" in names) == (truth["hard"]["beads"] > 0) == (scene.hard.film > 0)
    assert ("dirt" in names) == (truth["hard"]["grains"] > 0)
    assert ("curl" in names) == (scene.sheet != plain.sheet)


@pytest.mark.parametrize("seed", [104, 107, 125])
def test_a_hand_stays_off_the_part_and_on_the_sheet(seed: int) -> None:
    scene = _scenes(seed)[1]
    assert scene.hard.hand is not None
    vertices = np.concatenate([e.body.vertices_mm for e in hand_extras(scene.hard.hand)])
    part = part_body(scene).vertices_mm[::50]
    gaps = np.linalg.norm(vertices[::7, None, :2] - part[None, ::9, :2], axis=-1)
    assert gaps.min() > 5
    assert vertices[:, 2].min() == pytest.approx(0.3, abs=0.8)


def test_a_hands_surfaces_look_outwards() -> None:
    hand = draw_hand(np.array([40.0, -30.0]), 0.7, np.random.default_rng(3))
    for extra in hand_extras(hand):
        body = extra.body
        assert body.normals is not None
        out = body.vertices_mm - body.vertices_mm.mean(axis=0)
        assert np.mean(np.sum(out * body.normals, axis=1) > 0) > 0.9


def test_lumps_have_an_ellipsoids_volume_and_stay_off_the_paper() -> None:
    vertices, normals, faces = ellipsoid((1.0, 2.0, 0.5), np.eye(3), np.array([3.0, 0, 0]), 40)
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    volume = np.sum(a * np.cross(b, c)) / 6
    assert volume == pytest.approx(4 / 3 * np.pi * 1.0 * 2.0 * 0.5, rel=0.01)
    assert np.all(np.sum((vertices - [3.0, 0, 0]) * normals, axis=1) > 0)
    body = part_body(_scenes(107)[1])
    assert body.vertices_mm[:, 2].min() > -1e-6
    assert body.drop is not None
    assert 0 < body.drop.mean() < 0.2


def test_a_torch_is_mirrored_half_way_and_as_bright_as_theory_says() -> None:
    panel = Panel((60.0, 0.0, 200.0), (2.0, 2.0), (1.0, 1.0, 1.0), 0.8)
    pose = look_at(np.array([-60.0, 0.0, 200.0]), np.zeros(3), 0.0)
    camera = PhoneCamera((400, 300), 300.0, 200.0, 150.0, 0.0, 0.0, 1.0, 200.0, pose)
    x = np.linspace(-50, 50, 201)
    points = np.column_stack([x, 0 * x, 0 * x])
    seen = mirrored(camera, panel, points, 0.1)
    assert abs(x[np.argmax(seen)]) < 4
    # at the mirroring point the microfacets' density is 1 / (pi roughness^2): Beckmann and
    # Spizzichino 1963, Cook and Torrance 1982 (memory); its light 0.8 falls at cos = 200 / 208.8
    middle = float(seen[100])
    cosine = 200 / np.hypot(60, 200)
    assert middle == pytest.approx(0.04 / (np.pi * 0.01) * 0.8 / (4 * cosine * cosine), rel=1e-6)


def test_a_stain_darkens_its_own_place_only() -> None:
    stain = Stain((10.0, 5.0), 8.0, (), (0.7, 0.65, 0.5))
    x = np.linspace(-20, 40, 601)
    left = stained((stain,), x, 0 * x + 5.0)
    assert left[300] == pytest.approx([0.7, 0.65, 0.5])
    assert np.all(left[np.abs(x - 10) > 9] == 1)
    edge = np.interp(0.85, left[300:, 0], x[300:])
    assert edge == pytest.approx(18.0, abs=0.05)
