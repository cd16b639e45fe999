"""Two photos of one scene: the same things, another place, and a part where the truth puts it."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from tests.rendering.camera import project
from tests.rendering.compose import paper_body
from tests.rendering.drawn import SEEDS, SHEET, drawn
from tests.rendering.fitting_picture import part_body
from tests.rendering.page import Artwork
from tests.rendering.pairs import second_photo
from tests.rendering.scenes import FittingScene, draw_aim
from tests.rendering.tracer import Look, Things, load, part_seen, studio
from tests.rendering.truth import fitting_truth


@cache
def _pair(seed: int) -> tuple[FittingScene, FittingScene]:
    return drawn(seed), second_photo(drawn(seed), SHEET)


def _smaller(scene: FittingScene, scale: float) -> FittingScene:
    """The scene in a picture of fewer pixels."""
    camera = scene.camera
    x, y = ((c + 0.5) * scale - 0.5 for c in (camera.centre_x_px, camera.centre_y_px))
    size = (int(camera.size_px[0] * scale), int(camera.size_px[1] * scale))
    focal = camera.focal_px * scale
    small = replace(camera, size_px=size, focal_px=focal, centre_x_px=x, centre_y_px=y)
    return replace(scene, camera=small)


@pytest.mark.parametrize("seed", SEEDS)
def test_both_photos_keep_to_the_prints_limits_and_are_apart(seed: int) -> None:
    first, second = _pair(seed)
    truth = fitting_truth((first, second), "tune")
    for photo in (truth, truth["second"]):
        assert 190 - 1e-6 <= photo["view"]["distance_mm"] <= 260 + 1e-6
        assert 0 <= photo["view"]["tilt_deg"] <= 20 + 1e-6
    sights = [photo.camera.centre_sheet_mm - photo.middle_mm for photo in (first, second)]
    ways = [sight / np.linalg.norm(sight) for sight in sights]
    assert np.degrees(np.arccos(ways[0] @ ways[1])) >= 8


@pytest.mark.parametrize("seed", SEEDS)
def test_the_second_photo_is_of_the_same_phone(seed: int) -> None:
    first, second = (photo.camera for photo in _pair(seed))
    assert (first.k1, first.k2, first.aperture_mm) == (second.k1, second.k2, second.aperture_mm)
    assert second.focal_px == pytest.approx(first.focal_px, rel=0.012)
    assert sorted(second.size_px) == sorted(first.size_px)
    offs = [
        np.array([camera.centre_x_px, camera.centre_y_px]) - (np.array(camera.size_px) - 1) / 2
        for camera in (first, second)
    ]  # the sensor's centre is the same wherever the phone's top is: the offset turns with it
    assert np.linalg.norm(offs[0]) == pytest.approx(np.linalg.norm(offs[1]), abs=25)


def test_an_offset_turned_with_the_stored_picture_stays_on_the_sensor() -> None:
    """Pixels are moved as np.rot90 moves them on the way into the file."""
    pairs = [_pair(seed) for seed in SEEDS]
    turned = [
        (first, second)
        for first, second in pairs
        if first.development.orientation != second.development.orientation
    ]
    assert turned
    for first, second in turned:
        ours = []
        for photo in (first, second):
            centre = (photo.camera.centre_x_px, photo.camera.centre_y_px)
            spot = np.zeros(photo.camera.size_px[::-1], np.uint8)
            spot[round(centre[1]), round(centre[0])] = 1
            turns = {1: 0, 3: 2, 6: 1, 8: 3}[photo.development.orientation or 1]  # EXIF 2.3
            ours.append(np.argwhere(np.rot90(spot, turns))[0])
        assert ours[0] == pytest.approx(ours[1], abs=17)  # four standard deviations


def _silhouette(scene: FittingScene, window: tuple[int, int, int, int]) -> NDArray[np.float64]:
    """Coverage by filling every triangle of the part, projected with the truth's camera."""
    fine = 16
    left, top, right, bottom = window
    body = part_body(scene)
    corners = (project(scene.camera, body.vertices_mm)[body.faces] + 0.5 - (left, top)) * fine
    mask = np.zeros(((bottom - top) * fine, (right - left) * fine), np.uint8)
    for triangle in np.round((corners - 0.5) * 16).astype(np.int32):
        cv2.fillConvexPoly(mask, triangle, 1, shift=4)
    return np.asarray(cv2.resize(mask.astype(np.float64), None, fx=1 / fine, fy=1 / fine,
                                 interpolation=cv2.INTER_AREA))  # fmt: skip


@pytest.mark.parametrize("number", [0, 1])
def test_the_tracer_sees_the_part_where_the_truth_projects_it(number: int) -> None:
    pytest.importorskip("mitsuba")
    mi = load()
    scene = _smaller(_pair(101)[number], 0.3)
    page = Artwork(np.full((330, 234, 3), 50000, np.uint16), 330 / 297, (210.0, 297.0), {})
    paper, texture = paper_body(scene.sheet, page), np.full((4, 4, 3), 0.7, np.float32)
    things = Things(part_body(scene), scene.finish, paper, texture, scene.camera, scene.light)
    pixels = project(scene.camera, things.part.vertices_mm)
    left, top = (int(v) for v in pixels.min(axis=0) - 4)
    right, bottom = (int(v) for v in pixels.max(axis=0) + 5)
    x, y = np.meshgrid(np.arange(left, right), np.arange(top, bottom))
    look = Look(64, shade=False)
    grid = np.stack([x, y], -1).reshape(-1, 2)
    seen = part_seen(mi, studio(mi, things), scene.camera, grid, look).coverage.reshape(x.shape)
    expected = _silhouette(scene, (left, top, right, bottom))
    assert expected.sum() > 3000
    assert seen.sum() == pytest.approx(expected.sum(), rel=0.002)
    for axis in (0, 1):  # centres of mass agree, but for the fill
        at = np.arange(seen.shape[axis])
        middles = [np.sum(m.sum(axis=1 - axis) * at) / m.sum() for m in (seen, expected)]
        assert middles[0] == pytest.approx(middles[1], abs=0.02)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_hand_aims_at_the_thread_that_is_meant(seed: int) -> None:
    scene, rng = drawn(seed), np.random.default_rng(seed)
    reach = scene.reach_mm
    assert (reach is not None) == (scene.fitting.other.kind == "thread")
    reach = np.array([3.0, -4.0]) if reach is None else reach
    off = np.array([draw_aim(np.zeros(3), reach, rng)[:2] for _ in range(200)])
    along = off @ reach / np.hypot(*reach)
    assert np.abs(along).max() == pytest.approx(np.hypot(*reach))
    assert np.abs(off).max() < 17
    assert np.abs(off - np.outer(along, reach) / np.hypot(*reach)).max() > 8
