"""Port scenes as drawn: the collar clears the mouth and lies on the face, sizes as asked."""

import json

import numpy as np
import pytest

from photomeasure.references.catalogue import print_of
from tests.rendering.camera import project
from tests.rendering.page import Artwork
from tests.rendering.port_bodies import first_crest_mm
from tests.rendering.port_collar import Ring, collar_body, crop_px, rings_of, sheet_from_page_points
from tests.rendering.port_list import internal_zone, listed_ports
from tests.rendering.port_scenes import PortConditions, PortScene, draw_port_scene
from tests.rendering.port_surroundings import pipe_body
from tests.rendering.port_swarf import chip_body
from tests.rendering.port_truth import circles_mm, port_truth

SEEDS = range(300)


def collar_artwork() -> Artwork:
    """The page of collars with its layout, unprinted: white at 600 dpi."""
    page = print_of("collar", "A4")
    pieces = [
        {
            "name": piece.name,
            "outline_mm": piece.outline_page_mm.tolist(),
            "hole": {
                "centre_mm": list(piece.hole.centre_mm),
                "diameter_mm": piece.hole.diameter_mm,
            },
        }
        for piece in page.pieces
        if piece.hole is not None
    ]
    white = np.full((7016, 4961, 3), 60000, np.uint16)
    return Artwork(white, 600 / 25.4, page.page_mm, {"pieces": pieces})


def conditions(rings: tuple[Ring, ...], **wanted: object) -> PortConditions:
    """What the collar's page asks for, with something else instead."""
    shoot = print_of("collar", "A4").shoot
    return PortConditions(rings, shoot.distance_mm, shoot.tilt_deg, **wanted)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def artwork() -> Artwork:
    return collar_artwork()


@pytest.fixture(scope="module")
def scenes(artwork: Artwork) -> list[PortScene]:
    cond = conditions(rings_of(artwork))
    return [draw_port_scene(seed, cond) for seed in SEEDS]


def test_the_hole_clears_what_it_should_and_the_paper_is_over_the_face(
    scenes: list[PortScene],
) -> None:
    for scene in scenes:
        mouth, circles = scene.port.mouth, circles_mm(scene)
        clear = mouth.spot_face_mm if scene.clears_spot_face else mouth.diameter_mm
        assert np.hypot(*circles["hole"][:, :2].T).min() > clear / 2 - 0.05
        half_x, half_y = scene.collar.half_mm
        x, y = (v.ravel() for v in np.meshgrid(*(np.linspace(-h, h, 9) for h in (half_x, half_y))))
        points = np.column_stack([x, y, scene.collar.height_mm(x, y)])
        turn, shift = scene.port_from_sheet[:3, :3], scene.port_from_sheet[:3, 3]
        over = (points @ turn.T + shift)[:, 2] - mouth.spot_depth_mm
        assert over.min() > 0.04
        assert over.max() < 2.5


def test_sizes_lie_in_their_zone_and_every_thread_is_drawn(scenes: list[PortScene]) -> None:
    for scene in scenes:
        drawn = scene.thread
        if drawn.designation is None:
            continue
        low, high = internal_zone(drawn.port).minor_mm
        assert low <= drawn.size.minor_mm <= high
    seen = {scene.thread.designation for scene in scenes} - {None}
    names = {port.designation for port in listed_ports()}
    assert seen <= names
    assert len(seen) > 0.95 * len(names)


def test_one_in_ten_is_in_no_table(scenes: list[PortScene]) -> None:
    unlisted = sum(scene.thread.designation is None for scene in scenes)
    assert 14 <= unlisted <= 48  # 99.9 % of binomial draws of 300 at 0.1


def test_the_hand_the_slant_and_the_thread_are_as_wanted(artwork: Artwork) -> None:
    rings = rings_of(artwork)
    for seed in range(20):
        left = draw_port_scene(seed, conditions(rings, hand="left", slant_deg=(0.0, 3.0)))
        assert left.thread.size.is_left
        assert left.tilt_deg <= 3
        named = draw_port_scene(seed, conditions(rings, thread="M22x1.5", face="cast"))
        assert named.thread.designation == "M22x1.5"
        assert named.face.kind == "cast"


def test_the_view_is_as_the_truth_says(scenes: list[PortScene]) -> None:
    for scene in scenes[:60]:
        eye = scene.camera.centre_sheet_mm - (0, 0, scene.port.mouth.spot_depth_mm)
        distance = np.linalg.norm(eye)
        assert distance == pytest.approx(scene.distance_mm)
        assert 180 <= distance <= 240
        assert np.degrees(np.arccos(eye[2] / distance)) == pytest.approx(scene.tilt_deg)
        assert 30 <= scene.tilt_deg <= 50


def test_the_truth_is_json_and_its_poses_agree(scenes: list[PortScene]) -> None:
    for scene in scenes[:20]:
        truth = json.loads(json.dumps(port_truth(scene, "tune")))
        camera = truth["camera"]
        both = np.array(camera["camera_from_port"]) @ np.array(truth["port_from_sheet"])
        assert both == pytest.approx(np.array(camera["camera_from_sheet"]))
        assert truth["truth"]["first_crest_depth"] == pytest.approx(first_crest_mm(scene.port))
        below = truth["truth"]["mouth_below_sheet_plane"]
        assert below >= scene.port.mouth.spot_depth_mm
        axis = truth["axis"]
        assert axis["way_sheet"][2] < -0.99
        assert axis["off_square_deg"] < 2
        assert truth["stuck"]["off_centre_mm"] < scene.collar.ring.hole_mm / 4


def test_the_collars_mesh_bears_the_page_where_its_points_really_are(artwork: Artwork) -> None:
    cond = conditions(rings_of(artwork))
    for seed in range(5):
        collar = draw_port_scene(seed, cond).collar
        body = collar_body(collar, artwork)
        left, top, right, bottom = crop_px(collar.ring, artwork)
        assert body.uv is not None
        page = (body.uv * (right - left, bottom - top) + (left, top)) / artwork.px_per_mm
        points = sheet_from_page_points(collar, page)
        off = body.vertices_mm - points
        assert np.abs(off[:, :2]).max() < 1e-9
        on_top = np.abs(off[:, 2]) < 1e-9
        assert on_top.mean() > 0.9
        assert off[~on_top, 2] == pytest.approx(-collar.thickness_mm)
        a, b, c = (body.vertices_mm[body.faces[:, k]] for k in range(3))
        area = np.cross(b - a, c - a)
        assert (area[:, 2] > -1e-9).all()


def test_the_sheets_origin_is_the_middle_of_the_pieces_outline(artwork: Artwork) -> None:
    collar = draw_port_scene(1, conditions(rings_of(artwork))).collar
    piece = next(p for p in print_of("collar", "A4").pieces if p.name == collar.ring.name)
    middle = (piece.outline_page_mm.min(axis=0) + piece.outline_page_mm.max(axis=0)) / 2
    origin = sheet_from_page_points(collar, middle[None])
    assert origin[0, :2] == pytest.approx([0, 0], abs=1e-9)


def test_the_mouth_is_in_the_picture(scenes: list[PortScene]) -> None:
    for scene in scenes[:60]:
        pixels = project(scene.camera, circles_mm(scene)["mouth"])
        assert (pixels > 0).all()
        assert (pixels < np.array(scene.camera.size_px)).all()


def test_the_rings_come_smallest_first(artwork: Artwork) -> None:
    holes = [ring.hole_mm for ring in rings_of(artwork)]
    assert holes == sorted(holes)
    assert len(holes) == len(print_of("collar", "A4").pieces)


def test_some_ports_hold_swarf_inside_the_collars_hole(scenes: list[PortScene]) -> None:
    chips = [(scene, chip) for scene in scenes for chip in scene.chips]
    assert 50 <= len({scene.seed for scene, _ in chips}) <= 130  # 30 % of 300
    for scene, chip in chips:
        assert np.hypot(*chip.at_mm[:2]) < scene.collar.ring.hole_mm / 2
        body = chip_body(chip)
        reach = np.linalg.norm(body.vertices_mm - chip.at_mm, axis=1).max()
        assert reach < 2.5


def _away_from_line(points: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    way = (end - start) / np.linalg.norm(end - start)
    return np.asarray(np.linalg.norm(np.cross(points - start, way), axis=-1))


def test_a_pipe_is_round_and_hides_nothing_of_the_mouth(scenes: list[PortScene]) -> None:
    piped = [(scene, scene.around.pipe) for scene in scenes if scene.around.pipe is not None]
    assert 15 <= len(piped) <= 62  # 12 % of 300
    share = np.linspace(0, 1, 400)[:, None, None]
    for scene, pipe in piped:
        assert pipe is not None
        body, start, end = pipe_body(pipe), np.array(pipe.from_mm), np.array(pipe.to_mm)
        away = _away_from_line(body.vertices_mm, start, end)
        assert away == pytest.approx(pipe.radius_mm)
        assert body.normals is not None
        outside = _away_from_line(body.vertices_mm + 0.1 * body.normals, start, end)
        assert (outside > away + 0.09).all()
        eye, mouth = scene.camera.centre_sheet_mm, circles_mm(scene, 24)["mouth"]
        assert _away_from_line(eye + share * (mouth - eye), start, end).min() > pipe.radius_mm
