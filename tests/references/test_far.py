"""Cards and sheets as far off as their instructions allow, against the projection itself."""

import numpy as np
import pytest

from photomeasure.errors import NoReferenceError
from photomeasure.references.catalogue import print_of
from photomeasure.references.find import find_pieces
from photomeasure.references.markers import read_markers
from tests.references.projected import View, developed, ideal, photo_of

FARTHEST = View((1000, 800), 2970, 1500, tilt_deg=10, tilt_towards_deg=100, turn_deg=-30)
LEANING = View((1000, 800), 2970, 1400, tilt_deg=40, tilt_towards_deg=20, turn_deg=75)


@pytest.mark.parametrize("view", [FARTHEST, LEANING], ids=["farthest", "leaning"])
@pytest.mark.parametrize("kind", ["markers", "sheet"])
@pytest.mark.parametrize("blur_px", [0.7, 1.1])
def test_far_prints_are_found_to_a_fraction_of_a_pixel(kind, view, blur_px):
    print_ = print_of(kind, "A4")
    rng = np.random.default_rng(8)
    grey = developed(ideal(print_, view), rng, blur_px=blur_px, noise=3.0, levels=(50, 190))
    found = find_pieces(photo_of(grey))
    assert {one.piece.name for one in found} == {piece.name for piece in print_.pieces}
    error, score = [], []
    for one in found:
        error.append(one.corners_px - view.project(one.piece.corners_page_mm[one.corner_ids]))
        score.append(error[-1] / one.noise_px[:, None])
    assert sum(map(len, error)) >= 0.97 * sum(len(p.corners_page_mm) for p in print_.pieces)
    assert np.sqrt(np.mean(np.vstack(error) ** 2)) < 0.03
    assert 0.55 < np.sqrt(np.mean(np.vstack(score) ** 2)) < 1.35
    assert found[0].blur_px == pytest.approx(np.hypot(blur_px, 12**-0.5), rel=0.17)


def test_cards_are_found_in_a_dim_blurred_picture_and_no_marker_is_made_up():
    print_ = print_of("markers", "A4")
    rng = np.random.default_rng(3)
    grey = developed(ideal(print_, FARTHEST), rng, blur_px=1.2, noise=4.0, levels=(60, 170))
    true = np.concatenate([piece.marker_ids for piece in print_.pieces])
    seen = set(read_markers(grey).ids.tolist())
    assert len(seen & set(true.tolist())) >= 0.7 * len(true)
    assert not seen - set(true.tolist())
    assert len(find_pieces(photo_of(grey))) == len(print_.pieces)


@pytest.mark.parametrize("seed", range(3))
def test_a_chequered_floor_is_no_print(seed):
    rng = np.random.default_rng(seed)
    rows, columns = np.indices((800, 1000))
    floor = 128 + 80 * np.sign(np.sin(rows / (3.8 + seed / 3)) * np.sin(columns / 4.7))
    picture = np.clip(floor + rng.normal(0, 25, floor.shape), 0, 255).astype(np.uint8)
    with pytest.raises(NoReferenceError):
        find_pieces(photo_of(picture))
