"""Both ways of drawing the paper, the exact warp and the path tracer, put corners at one place."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.rendering.camera import PhoneCamera, look_at, project
from tests.rendering.compose import paper_body
from tests.rendering.lights import draw_light
from tests.rendering.materials import draw_finish
from tests.rendering.page import Artwork, Sheet, load_artwork, sheet_from_page
from tests.rendering.surfaces import Body
from tests.rendering.tracer import Look, Things, load, part_seen, studio
from tests.rendering.warp import paper_layers

SIZE = (1008, 756)
SQUARE_PX = 236
REACH = 14  # pixels each side of a corner


def _artwork() -> Artwork:
    """A4 with a chessboard at 600 dpi whose squares are SQUARE_PX whole pixels."""
    dark = (np.arange(4961)[None] // SQUARE_PX + np.arange(7016)[:, None] // SQUARE_PX) % 2
    grey = np.where(dark == 1, 3000, 52000).astype(np.uint16)
    return Artwork(np.dstack([grey] * 3), 600 / 25.4, (210.0, 297.0), {})


def _view() -> tuple[PhoneCamera, Sheet]:
    pose = look_at(np.array([40.0, -50.0, 210.0]), np.array([5.0, 3.0, 0.0]), 0.4)
    camera = PhoneCamera(SIZE, 760.0, 507.0, 372.0, 0.03, -0.02, 0.0, 215.0, pose)
    lifts = (2.0, 0.5, 1.5, 1.0)
    return camera, Sheet((210.0, 297.0), 1.004, 0.997, lifts, (0.0, 0.0), 20.0, 60.0)


def _corner_px(patch: np.ndarray) -> np.ndarray:
    grey = np.clip(patch / patch.max() * 255, 0, 255).astype(np.float32)
    start = np.array([[[REACH, REACH]]], np.float32)
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 60, 1e-4)
    return cv2.cornerSubPix(grey, start, (8, 8), (-1, -1), rule)[0, 0]


def _corners(camera: PhoneCamera, sheet: Sheet) -> np.ndarray:
    page = (
        np.array([[x, y] for x in (3, 10, 18) for y in (4, 11, 15, 18, 26)])
        * SQUARE_PX
        * 25.4
        / 600
    )
    pixels = project(camera, sheet_from_page(sheet, page))
    inside = np.all((pixels > 2 * REACH) & (pixels < np.array(SIZE) - 2 * REACH), axis=1)
    return pixels[inside]


def test_the_warp_puts_corners_where_the_camera_projects_them() -> None:
    camera, sheet = _view()
    layer, cover = paper_layers(camera, sheet, _artwork())
    off = []
    for corner in _corners(camera, sheet):
        col, row = np.round(corner).astype(int)
        patch = layer[row - REACH : row + REACH + 1, col - REACH : col + REACH + 1, 1]
        found = _corner_px(cv2.GaussianBlur(patch, (0, 0), 0.7)) - REACH + (col, row)
        off.append(found - corner)
        assert cover[row, col] == 1
    # cornerSubPix alone scatters by 0.03 px on rendered boards
    assert len(off) >= 10
    assert np.mean(off, axis=0) == pytest.approx([0, 0], abs=0.01)
    assert np.std(off) < 0.03


def test_the_tracer_sees_corners_where_the_warp_puts_them() -> None:
    pytest.importorskip("mitsuba")
    mi = load()
    rng = np.random.default_rng(5)
    (camera, sheet), artwork = _view(), _artwork()
    triangle = np.array([[0, 0, -50.0], [1, 0, -50], [0, 1, -50]])
    part = Body(triangle, np.tile([0, 0, 1.0], (3, 1)), np.array([[0, 1, 2]]), dirt=np.zeros(3))
    texture = (artwork.reflectance / 65535).astype(np.float32)
    paper = paper_body(sheet, artwork)
    light = draw_light("overcast", camera.centre_sheet_mm, rng)
    stage = studio(mi, Things(part, draw_finish("zinc", rng), paper, texture, camera, light))
    layer, _ = paper_layers(camera, sheet, artwork)
    look = Look(144, what="anything")
    for corner in _corners(camera, sheet):
        col, row = np.round(corner).astype(int)
        x, y = np.meshgrid(np.arange(-REACH, REACH + 1) + col, np.arange(-REACH, REACH + 1) + row)
        seen = part_seen(mi, stage, camera, np.stack([x, y], -1).reshape(-1, 2), look)
        traced = seen.colour[:, 1].reshape(x.shape).astype(np.float32)
        warped = layer[y, x, 1]
        places = [_corner_px(cv2.GaussianBlur(p, (0, 0), 0.7)) for p in (traced, warped)]
        assert places[0] == pytest.approx(places[1], abs=0.1)


def test_the_print_on_disk_has_the_resolution_its_layout_says(tmp_path: Path) -> None:
    png, layout = tmp_path / "p.png", tmp_path / "p.json"
    cv2.imwrite(str(png), np.full((702, 496), 255, np.uint8))
    layout.write_text('{"page_mm": [210, 297]}', "utf-8")
    assert load_artwork(png, layout).px_per_mm == pytest.approx(60 / 25.4)
