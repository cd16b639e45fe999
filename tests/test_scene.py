"""The joint solve on projected corners with known truth."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.errors import NotConnectedError, SheetNotFlatError, TooFewCornersError
from photomeasure.references.catalogue import print_of
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import solve_scenes
from photomeasure.scene.model import Model
from photomeasure.scene.slopes import corner_slopes
from photomeasure.scene.weights import corner_weights, neighbours
from tests.scenes import draw_scene


def _kept(found: FoundPiece, count: int) -> FoundPiece:
    return replace(
        found,
        corner_ids=found.corner_ids[:count],
        corners_px=found.corners_px[:count],
        noise_px=found.noise_px[:count],
    )


@pytest.mark.parametrize(
    "bend",
    [{}, {"lift_mm": 2.0}, {"corner_lifts_mm": 4.0}, {"crease_deg": 2.0}],
    ids=["flat", "bowl", "corners", "crease"],
)
def test_lengths_above_the_paper_are_as_good_as_claimed(bend: dict[str, float]) -> None:
    """16 mm at a height of 11 mm: normalised errors over 30 drawn scenes, curled up to 4 mm."""
    ends = np.array([[-8.0, 0.0, 11.0], [8.0, 0.0, 11.0]])
    normalised = []
    for seed in range(30):
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


@pytest.mark.parametrize("seed", range(4))
def test_a_creased_sheet_is_refused(seed: int) -> None:
    drawn = draw_scene(np.random.default_rng([seed, 2]), crease_deg=20.0)
    with pytest.raises(SheetNotFlatError, match="something flat"):
        solve_scenes([drawn.photo], [[drawn.found]], {})


def test_neighbours_that_err_alike_count_for_less() -> None:
    """One common shift of all corners: 12 of them tell no more than one does."""
    rng = np.random.default_rng(0)
    grid = 10.0 * np.stack(np.meshgrid(np.arange(12), np.arange(12)), -1).reshape(-1, 2)
    pairs = neighbours(grid)
    assert len(pairs) == 2 * 12 * 11 + 2 * 11 * 11  # along, across, and both diagonals
    noise = np.full(len(grid), 0.05)
    white = 0.05 * rng.standard_normal(grid.shape)
    swell = 0.05 * np.sin(grid / 30) * np.sqrt(2)
    free, tied = (corner_weights(r, noise, pairs) for r in (white, swell))
    assert np.median(free) == pytest.approx(0.05**-2, rel=0.3)
    assert np.median(tied) < 0.15 * np.median(free)


def test_photos_of_different_prints_do_not_connect() -> None:
    one = draw_scene(np.random.default_rng(0))
    letter = print_of("sheet", "Letter")
    few = _kept(one.found, 100)
    other = replace(few, print_=letter, piece=letter.pieces[0], corner_ids=np.arange(100))
    with pytest.raises(NotConnectedError):
        solve_scenes([one.photo, one.photo], [[one.found], [other]], {})


@pytest.mark.parametrize("photo", [0, 1])
def test_slopes_are_those_of_the_corners_themselves(photo: int) -> None:
    drawn = draw_scene(np.random.default_rng(3))
    card = print_of("markers", "A4")
    beside = replace(drawn.found, print_=card, piece=card.pieces[0], corner_ids=np.arange(9))
    found = [drawn.found, beside]
    model = Model((drawn.found.print_, card), tuple((f.print_, f.piece) for f in found), 2)
    lens = np.array([3000.0, 2000.0, 1500.0, 0.05, -0.02])
    pose = np.array([2.9, 0.3, -0.2, 10.0, -20.0, 300.0])
    bend = np.random.default_rng(0).normal(0.0, 1.0, len(model.shape.powers))
    placement = np.array([0.02, -0.01, 0.6, 90.0, 40.0, 2.0])
    ways = [lens, pose, lens * 1.01, pose * 0.9, [1.01, 0.99, 1.02, 0.98], bend, placement]
    theta = np.concatenate(ways)
    slopes, columns = corner_slopes(model, theta, photo, found)
    assert set(columns) == set(range(photo * 11, photo * 11 + 11)) | set(range(22, model.size))
    for step, column in zip(np.maximum(1e-6 * np.abs(theta[columns]), 1e-6), columns, strict=True):
        moved = step * (np.arange(model.size) == column)
        ahead, behind = (model.corners_px(theta + s * moved, photo, found) for s in (1, -1))
        own = slopes[:, list(columns).index(column)]
        np.testing.assert_allclose((ahead - behind).ravel() / (2 * step), own, rtol=1e-4, atol=1e-3)
