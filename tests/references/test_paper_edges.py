"""The paper's edges round a print, on drawn pictures whose truth is known."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.references.page import page_outline
from photomeasure.references.paper_edges import paper_widths

SIZE_PX = (1600, 1200)
PX_PER_MM = 6.5
Points2 = NDArray[np.float64]


def _looking(middle_mm: tuple[float, float], turn_deg: float) -> Callable[[Points2], Points2]:
    """A camera that leans a little: the far side is a tenth smaller."""
    turn = np.radians(turn_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def to_px(page_mm: Points2) -> Points2:
        seen = (page_mm - middle_mm) @ rotation.T * PX_PER_MM
        depth = 1 + 0.1 * seen[:, 1:] / SIZE_PX[1]
        return np.asarray(seen / depth + np.array(SIZE_PX) / 2)

    return to_px


def _picture(
    to_px: Callable[[Points2], Points2], paper_mm: Points2, bench: float = 0.3, seed: int = 0
) -> NDArray[np.uint8]:
    """White paper on a mottled bench, blurred and noisy; `paper_mm` are its corners."""
    rng = np.random.default_rng(seed)
    width, height = SIZE_PX
    mottle = cv2.GaussianBlur(rng.standard_normal((height, width)).astype(np.float32), (0, 0), 6)
    ground = np.float32(bench) * (1 + 2 * mottle)
    cover = _inside(to_px(paper_mm))
    light = cv2.GaussianBlur(cover * 0.8 + (1 - cover) * ground, (0, 0), 0.8)
    stored = 255 * np.clip(light, 0, 1) ** (1 / 2.2) + 2 * rng.standard_normal(light.shape)
    grey = np.clip(stored, 0, 255).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


def _inside(corners_px: Points2) -> NDArray[np.float32]:
    """Share of each pixel inside a convex outline, clockwise, by its distance from the edges."""
    x, y = np.meshgrid(*(np.arange(n, dtype=np.float64) for n in SIZE_PX))
    inside = np.full(x.shape, 9.0)
    for (x0, y0), (x1, y1) in zip(corners_px, np.roll(corners_px, -1, axis=0), strict=True):
        way = np.array([x1 - x0, y1 - y0]) / np.hypot(x1 - x0, y1 - y0)
        inside = np.minimum(inside, way[0] * (y - y0) - way[1] * (x - x0))
    return np.clip(inside + 0.5, 0, 1).astype(np.float32)


def _paper(width_mm: float, height_mm: float, turn_deg: float = 0.3) -> Points2:
    """Corners of paper fed a little askew under an A4 page."""
    turn = np.radians(turn_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * (width_mm / 2, height_mm / 2)
    return np.asarray(box @ rotation.T + (105.7, 148.2))


@pytest.mark.parametrize("width_mm", [205.0, 210.0, 215.9, 221.0])
@pytest.mark.parametrize("bench", [0.05, 0.5])
def test_the_distance_of_opposite_edges_is_found(width_mm: float, bench: float) -> None:
    to_px = _looking((105.0, 148.5), 3.0)
    picture = _picture(to_px, _paper(width_mm, 297.0), bench)
    (found,) = paper_widths(picture, page_outline("A4"), to_px)
    assert found.axis == 0
    assert found.nominal_mm == pytest.approx(width_mm, abs=0.15)
    assert 0.1 < found.u_mm < 0.5


def test_the_page_across_shows_top_and_bottom() -> None:
    to_px = _looking((105.0, 148.5), 91.0)

    def small(page_mm: Points2) -> Points2:
        return np.asarray((to_px(page_mm) - np.array(SIZE_PX) / 2) * 0.75 + (800, 600))

    picture = _picture(small, _paper(210.0, 300.0))
    found = {one.axis: one.nominal_mm for one in paper_widths(picture, page_outline("A4"), small)}
    assert found[1] == pytest.approx(300.0, abs=0.2)


def test_one_edge_alone_tells_nothing() -> None:
    to_px = _looking((150.0, 148.5), 0.0)
    picture = _picture(to_px, _paper(210.0, 297.0))
    assert paper_widths(picture, page_outline("A4"), to_px) == ()


def test_white_paper_on_a_white_bench_has_no_edges() -> None:
    to_px = _looking((105.0, 148.5), 3.0)
    picture = _picture(to_px, _paper(210.0, 297.0), bench=0.8)
    assert paper_widths(picture, page_outline("A4"), to_px) == ()


def test_edges_that_are_not_parallel_are_no_paper() -> None:
    to_px = _looking((105.0, 148.5), 3.0)
    corners = _paper(210.0, 297.0)
    corners[1] += (5.0, 0.0)
    picture = _picture(to_px, corners)
    assert paper_widths(picture, page_outline("A4"), to_px) == ()
