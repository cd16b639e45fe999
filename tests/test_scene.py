"""The joint solve on projected corners with known truth."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.errors import NotConnectedError, SheetNotFlatError, TooFewCornersError
from photomeasure.references.catalogue import print_of
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import solve_scenes
from tests.scenes import draw_scene


def _kept(found: FoundPiece, count: int) -> FoundPiece:
    return replace(
        found,
        corner_ids=found.corner_ids[:count],
        corners_px=found.corners_px[:count],
        noise_px=found.noise_px[:count],
    )


@pytest.mark.parametrize(
    "bend", [{}, {"lift_mm": 2.0}, {"corner_lifts_mm": 4.0}], ids=["flat", "bowl", "corners"]
)
def test_lengths_above_the_paper_are_as_good_as_claimed(bend: dict[str, float]) -> None:
    """16 mm at a height of 11 mm: normalised errors over 40 drawn scenes, curled up to 4 mm."""
    ends = np.array([[-8.0, 0.0, 11.0], [8.0, 0.0, 11.0]])
    normalised = []
    for seed in range(40):
        drawn = draw_scene(np.random.default_rng(seed), **bend)
        (scene,) = solve_scenes([drawn.photo], [[drawn.found]], {"": drawn.bars})
        px = drawn.px(ends)

        def length(solved, px=px):
            return float(np.hypot(*np.diff(solved.sheet_mm(px, 11.0), axis=0)[0]))

        parts = [length(shifted) - length(scene) for _, shifted in scene.variants()]
        normalised.append((length(scene) - 16.0) / np.sqrt(np.sum(np.square(parts))))
    assert np.mean(np.abs(normalised) < 1.96) > 0.87
    assert 0.5 < np.mean(np.square(normalised)) < 1.5


def test_too_few_corners_are_refused() -> None:
    drawn = draw_scene(np.random.default_rng(0))
    with pytest.raises(TooFewCornersError):
        solve_scenes([drawn.photo], [[_kept(drawn.found, 11)]], {})


def test_a_crumpled_sheet_is_refused() -> None:
    rng = np.random.default_rng(0)
    drawn = draw_scene(rng)
    wild = drawn.found.corners_px + 8 * rng.standard_normal(drawn.found.corners_px.shape)
    with pytest.raises(SheetNotFlatError):
        solve_scenes([drawn.photo], [[replace(drawn.found, corners_px=wild)]], {})


def test_photos_of_different_prints_do_not_connect() -> None:
    one = draw_scene(np.random.default_rng(0))
    letter = print_of("sheet", "Letter")
    few = _kept(one.found, 100)
    other = replace(few, print_=letter, piece=letter.pieces[0], corner_ids=np.arange(100))
    with pytest.raises(NotConnectedError):
        solve_scenes([one.photo, one.photo], [[one.found], [other]], {})
