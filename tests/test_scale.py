"""How large a print is taken to be: by its bars, by its paper, and where neither is known."""

import numpy as np
import pytest
from scipy.special import ndtr

from photomeasure.quantities import Quantity, measured
from photomeasure.references.catalogue import print_of
from photomeasure.references.paper_edges import PaperWidth
from photomeasure.scene import BarReading, PageScale, page_scale, solve_scenes
from photomeasure.scene.scale import seen_scale
from tests.scenes import A4, View, draw_paper, draw_phone, paper_picture, take

LETTER = print_of("sheet", "Letter")
A4_MM, LETTER_MM = (210.0, 297.0), (215.9, 279.4)  # ISO 216; ANSI/ASME Y14.1


def _band(scale: PageScale) -> tuple[float, float]:
    """Central 95 % of the scale along x."""
    number = measured(scale.mean[0], dict(zip(scale.sources, scale.root[0], strict=True)))
    quantity = Quantity.normal(number, "")
    return quantity.low, quantity.high


def _wide(scale: float, paper_mm: tuple[float, float], axes: tuple[int, ...] = (0,)):
    return tuple(PaperWidth(axis, paper_mm[axis] / scale, 0.2) for axis in axes)


def test_an_unmeasured_print_is_the_mixture_it_is_said_to_be() -> None:
    """85 % of normal 1, 0.4 %, and 15 % of 0.93 to 1.00, by sampling (JCGM 101)."""
    rng = np.random.default_rng(0)
    draws = np.where(
        rng.random(400_000) < 0.85, rng.normal(1, 0.004, 400_000), rng.uniform(0.93, 1.0, 400_000)
    )
    scale = page_scale(A4, None)
    assert scale.mean == pytest.approx(np.median(draws), abs=2e-4)
    assert scale.root[0, 0] == pytest.approx(draws.std(), rel=0.03)
    assert _band(scale) == pytest.approx(np.quantile(draws, (0.025, 0.975)), abs=6e-4)
    assert sum(part.share for part in scale.sources[0].mixture) == pytest.approx(1)
    assert not scale.is_verified


def test_measured_bars_leave_no_mixture() -> None:
    scale = page_scale(A4, BarReading(99.5, 99.7))
    assert scale.mean == pytest.approx([0.995, 0.997])
    assert scale.sources[0].mixture == ()
    assert scale.is_verified
    assert not page_scale(A4, BarReading(99.5, None)).is_verified


def _near(scale: PageScale, true: float, within: float = 0.006) -> float:
    """Chance that the scale along x is so near to the true one."""
    middle, u = scale.mean[0], scale.root[0, 0]
    return sum(
        part.share
        * float(np.diff(ndtr((true + within * np.array([-1, 1]) - place) / (part.u * u)))[0])
        for part in scale.sources[0].mixture
        for place in [middle + part.mean * u]
    )


@pytest.mark.parametrize("true", [0.945, 0.955, 0.995, 1.0, 1.006])
def test_the_paper_tells_a_fitted_page_from_a_true_one(true: float) -> None:
    """Without it a true page is the likelier by far, whatever it is."""
    scale = seen_scale(A4, _wide(true, A4_MM), "k")
    low, high = _band(scale)
    assert low < true < high
    assert scale.mean[0] == pytest.approx(true, abs=0.003)
    assert _near(scale, true) > 0.85
    assert _near(page_scale(A4, None), true) < (0.04 if true < 0.96 else 0.85)


def test_a_page_fitted_to_the_other_paper_is_told_by_both_widths() -> None:
    """An A4 page fitted to Letter fills its height: 279.4 / 297."""
    true = LETTER_MM[1] / A4_MM[1]
    scale = seen_scale(A4, _wide(true, LETTER_MM, (0, 1)), "k")
    assert scale.mean == pytest.approx([true, true], abs=0.002)
    again = seen_scale(LETTER, _wide(A4_MM[0] / LETTER_MM[0], A4_MM, (0, 1)), "k")
    assert again.mean == pytest.approx(A4_MM[0] / LETTER_MM[0], abs=0.002)


def test_what_two_papers_explain_stays_open() -> None:
    """216.3 mm: A4 paper round a page of 97.1 %, or Letter round a true one."""
    low, high = _band(seen_scale(A4, _wide(0.971, A4_MM), "k"))
    assert low < 0.971 < high
    assert high > 0.99
    low, high = _band(seen_scale(A4, _wide(0.971, A4_MM, (0, 1)), "k"))
    assert low < 0.971 < high < 0.98


def test_trimmed_paper_is_not_believed() -> None:
    """200 mm between the edges would make the page 5 % too large, which no printer does."""
    scale = seen_scale(A4, (PaperWidth(0, 200.0, 0.2),), "k")
    assert scale.mean[0] == pytest.approx(1.0, abs=0.003)
    assert scale.root[0, 0] == pytest.approx(page_scale(A4, None).root[0, 0], rel=0.05)


def test_x_and_y_are_told_apart_by_both_widths() -> None:
    widths = (PaperWidth(0, 210.0 / 1.003, 0.2), PaperWidth(1, 297.0 / 0.997, 0.2))
    scale = seen_scale(A4, widths, "k")
    assert scale.mean[0] > scale.mean[1] + 0.003
    assert scale.root[1, 1] < 0.0035


def test_a_photo_that_shows_its_papers_edges_knows_its_scale() -> None:
    """A whole solve on a drawn photo of 12 million pixels; corners are given, edges are seen."""
    rng = np.random.default_rng(3)
    paper = draw_paper(rng, scale=(0.953, 0.955))
    drawn = take(draw_phone(rng), paper, View((240.0, 250.0), (0.0, 8.0)), rng)
    (blind,) = solve_scenes([drawn.photo], [[drawn.found]], {})
    (seeing,) = solve_scenes([paper_picture(drawn)], [[drawn.found]], {})
    assert not drawn.photo.has_pixels
    assert blind.scale.mean[0] > 0.99
    assert blind.scale.root[0, 0] > 0.012
    assert seeing.scale.mean == pytest.approx([0.953, 0.955], abs=0.004)
    assert seeing.scale.root[0, 0] < 0.006
    assert not seeing.scale.is_verified
    (told,) = solve_scenes([paper_picture(drawn)], [[drawn.found]], {"": drawn.bars})
    assert told.scale.is_verified
    ends = drawn.px(np.array([[-40.0, 0.0, 0.0], [40.0, 0.0, 0.0]]))
    length = float(np.hypot(*np.diff(seeing.sheet_mm(ends), axis=0)[0]))
    assert length == pytest.approx(80.0, rel=0.006)
