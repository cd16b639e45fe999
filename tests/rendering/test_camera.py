"""The camera model against OpenCV's, and the phone's file against its own notes."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from tests.rendering.camera import PhoneCamera, look_at, project, rays_sheet
from tests.rendering.page import Sheet, page_from_sheet, sheet_from_page
from tests.rendering.sensor import develop, draw_development, save_jpeg


def _camera() -> PhoneCamera:
    pose = look_at(np.array([60.0, -40.0, 210.0]), np.array([5.0, 8.0, 0.0]), 0.7)
    return PhoneCamera((4032, 3024), 3010.0, 2031.0, 1498.0, 0.02, -0.015, 1.5, 215.0, pose)


def test_projection_agrees_with_opencv() -> None:
    camera = _camera()
    points = np.random.default_rng(0).uniform(-90, 90, (50, 3)) * (1, 1, 0.1)
    pose = camera.camera_from_sheet
    matrix = np.array([[3010.0, 0, 2031], [0, 3010, 1498], [0, 0, 1]])
    lens = np.array([0.02, -0.015, 0, 0, 0])
    expected, _ = cv2.projectPoints(
        points, cv2.Rodrigues(pose[:3, :3])[0], pose[:3, 3], matrix, lens
    )
    assert project(camera, points) == pytest.approx(expected.reshape(-1, 2), abs=1e-6)


def test_rays_invert_the_projection() -> None:
    camera = _camera()
    pixels = np.random.default_rng(1).uniform((0, 0), (4031, 3023), (60, 2))
    way = rays_sheet(camera, pixels[:, 0], pixels[:, 1])
    back = project(camera, camera.centre_sheet_mm + 200 * way)
    assert back == pytest.approx(pixels, abs=1e-6)


def test_the_paper_is_flat_under_the_part_and_lifts_at_its_corners() -> None:
    sheet = Sheet((210.0, 297.0), 1.004, 0.998, (2.0, 0.0, 1.0, 0.5), (10.0, 5.0), 30.0, 60.0)
    page = np.array([[0.0, 0.0], [210.0, 0.0], [115.0, 143.5], [210.0, 297.0]])
    real = sheet_from_page(sheet, page)
    assert real[:, 2] == pytest.approx([2.0, 0.0, 0.0, 1.0], abs=0.03)
    assert real[3, :2] == pytest.approx([105 * 1.004, -148.5 * 0.998])
    x, y = page_from_sheet(sheet, real[:, 0], real[:, 1])
    assert np.column_stack([x, y]) == pytest.approx(page)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8, None])
def test_the_file_comes_back_upright_and_says_that_it_is_rendered(
    tmp_path: Path, orientation: int | None
) -> None:
    light = np.full((96, 128, 3), 0.1, np.float32)
    light[:40, :60] = 0.7
    development = draw_development(orientation, (26, 5.4), np.random.default_rng(3))
    path = tmp_path / "p.jpg"
    save_jpeg(path, develop(light.copy(), development), development)
    with Image.open(path) as picture:
        upright = np.asarray(ImageOps.exif_transpose(picture)).astype(float).mean(axis=-1)
        exif = picture.getexif()
    assert upright.shape == (96, 128)
    assert upright[:30, :50].mean() > 2 * upright[50:, 70:].mean()
    assert (0x0131 in exif) == (orientation is not None)


def test_development_keeps_colours_and_shifts_nothing() -> None:
    light = np.full((120, 160, 3), 0.15, np.float32)
    light[:, 80:] = (0.5, 0.3, 0.15)
    development = draw_development(1, (26, 5.4), np.random.default_rng(5))
    out = develop(light, development).astype(float)
    red, green, blue = out[60:, 120:].reshape(-1, 3).mean(axis=0)
    assert red > green > blue
    row = out[40:80].mean(axis=(0, 2))
    middle = (row[20:60].mean() + row[100:140].mean()) / 2
    crossing = np.interp(middle, row[70:90], np.arange(70, 90))
    assert crossing == pytest.approx(79.5, abs=0.9)
