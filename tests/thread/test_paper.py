"""Telling bare paper from what covers it, on drawn beds."""

import numpy as np
import pytest

from photomeasure.errors import WrongPrintError
from photomeasure.photo import Photo
from photomeasure.references.catalogue import print_of
from photomeasure.references.find import find_pieces
from photomeasure.references.speckle import CELL_MM, speckle
from photomeasure.scene import solve_scenes
from photomeasure.thread.locate import Found, locate
from photomeasure.thread.paper import OpenPaper, open_paper
from tests.thread.drawn import bar_outline, bed_photo


def _paper(photo: Photo) -> OpenPaper:
    pieces = find_pieces(photo)
    (scene,) = solve_scenes([photo], [list(pieces)], {})
    return open_paper(photo, scene, pieces[0])


def _along_y(ways: tuple[Found, Found]) -> Found:
    """A bar is as symmetric across as along; one way must be the page's y within 2 degrees."""
    (found,) = (way for way in ways if abs(np.sin(way.axis.heading_rad)) > np.cos(np.radians(2.5)))
    return found


def test_every_cell_has_one_dot_of_a_quarter() -> None:
    dots = speckle((50.0, 40.0), (27.0, 15.0))
    assert len(dots) == 20 * 10
    sides = dots[:, 2:] - dots[:, :2]
    assert np.allclose(sides, CELL_MM / 2)
    cells = np.floor((dots[:, :2] - (50.0 - 12.0, 40.0 - 6.0)) / CELL_MM + 1e-6)
    assert len(np.unique(cells, axis=0)) == len(dots)


def test_the_dots_are_the_same_for_ever() -> None:
    """A printed sheet must be known again by every later version of numpy and of this program."""
    bed = print_of("sheet", "A4").bed
    assert bed is not None
    shifts = np.rint((bed.dots_mm[:8, :2] - bed.dots_mm[:, :2].min(axis=0)) / (CELL_MM / 2))
    assert shifts.astype(int).tolist() == SHIFTS


SHIFTS = [[1, 0], [3, 0], [4, 0], [6, 1], [9, 0], [10, 0], [12, 0], [15, 1]]


@pytest.mark.parametrize("shade", [1.0, 0.25])
def test_an_empty_bed_is_bare_in_any_shade(shade: float) -> None:
    assert np.mean(_paper(bed_photo(shade=shade)).share > 0.5) > 0.97


def test_a_grey_copy_of_the_print_still_shows_a_part_though_with_a_rim() -> None:
    photo = bed_photo(bar_outline((8.0, 25.0)), is_grey=True)
    found = _along_y(locate(photo, _paper(photo)))
    assert 7.6 < found.half_width_mm < 11.0
    assert 49.0 < found.to_mm - found.from_mm < 56.0


def test_a_bed_without_dots_is_the_wrong_print() -> None:
    with pytest.raises(WrongPrintError):
        _paper(bed_photo(has_dots=False))


@pytest.mark.parametrize("shade", [1.0, 0.25])
def test_a_bar_is_found_where_it_lies(shade: float) -> None:
    photo = bed_photo(bar_outline((8.0, 25.0)), shade=shade)
    found = _along_y(locate(photo, _paper(photo)))
    assert found.half_width_mm == pytest.approx(8.0, abs=0.4)
    assert found.to_mm - found.from_mm == pytest.approx(50.0, abs=0.8)
