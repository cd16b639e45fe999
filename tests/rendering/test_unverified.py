"""Prints nobody measured: scales as counted, and edges where a real sheet has them."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rendering.camera import PhoneCamera, look_at, project
from tests.rendering.page import Artwork, Sheet
from tests.rendering.unverified import unverified_print
from tests.rendering.warp import paper_layers

SHEET = Sheet((210.0, 297.0), 1.0, 1.0, (0.0, 0.0, 0.0, 0.0), (0.0, 0.0), 30.0, 60.0)


def test_scales_scatter_by_half_a_per_cent_and_one_in_ten_is_fitted_to_other_paper() -> None:
    rng = np.random.default_rng(1)
    prints = [unverified_print(SHEET, rng) for _ in range(3000)]
    x, y = (np.array([getattr(s, name) for s, _ in prints]) for name in ("scale_x", "scale_y"))
    fitted = x < 0.975
    assert fitted.mean() == pytest.approx(0.10, abs=0.02)
    assert 0.935 < x[fitted].min() < x[fitted].max() < 0.975
    assert x[~fitted].std() == pytest.approx(0.005, rel=0.08)
    assert (x - y).std() == pytest.approx(0.002, rel=0.08)
    assert all(bars.x_read_mm is None and bars.y_read_mm is None for _, bars in prints)


def test_the_papers_edges_are_the_real_sheets_whatever_the_scale() -> None:
    paper = replace(SHEET, scale_x=0.95, scale_y=0.95, paper_mm=(211.0, 296.0))
    paper = replace(paper, paper_at_mm=(2.0, -1.0))
    pose = look_at(np.array([0.0, 0.0, 900.0]), np.zeros(3), 0.0)
    camera = PhoneCamera((800, 1000), 2400.0, 399.5, 499.5, 0.0, 0.0, 0.0, 900.0, pose)
    page = Artwork(np.full((594, 420, 3), 50000, np.uint16), 2.0, (210.0, 297.0), {})
    _, cover = paper_layers(camera, paper, page)
    row, column = cover[500], cover[:, 400]
    edges = np.array([[2 - 105.5, 0, 0], [2 + 105.5, 0, 0], [0, -1 + 148, 0], [0, -1 - 148, 0]])
    expected = project(camera, edges)
    assert row.sum() == pytest.approx(expected[1, 0] - expected[0, 0], abs=0.05)
    assert column.sum() == pytest.approx(expected[3, 1] - expected[2, 1], abs=0.05)
    assert np.interp(0.5, row[:400], np.arange(400)) == pytest.approx(expected[0, 0], abs=0.05)
