"""Threads on prints nobody measured: every size of the print is weighed, ratio and all."""

import numpy as np
import pytest

from photomeasure.quantities import Source, measured
from photomeasure.references.catalogue import print_of
from photomeasure.references.paper_edges import PaperWidth
from photomeasure.scene import BarReading, PageScale, page_scale
from photomeasure.scene.scale import seen_scale
from photomeasure.sizing.judge import Readings, judge
from photomeasure.sizing.match import Match, ThreadReading, match
from photomeasure.sizing.spread import judge_spread
from photomeasure.sizing.zones import Prior

A4 = print_of("sheet", "A4")
# M18x1.5 (ISO 261) on a print of 94.5 % looks like 3/4-16 UNF (ASME B1.1: 19.05 mm, 1.5875 mm)
MAJOR_MM, PITCH_MM, FITTED = 17.93, 1.5, 0.945
ASIDE = {"pitch": 0.003, "taper": 0.003}


def _reading(scale: PageScale, true: float, major_mm: float, pitch_mm: float) -> ThreadReading:
    """What a photo says that takes a print of the true scale for one of the median."""

    def seen(value: float, u: float, name: str):
        value *= scale.mean[0] / true
        by_print = dict(zip(scale.sources, value / scale.mean[0] * scale.root[0], strict=True))
        return measured(value, {Source(name, name, "photo", "p"): u, **by_print})

    taper = measured(0.0, {Source("taper", "taper", "photo", "p"): ASIDE["taper"]})
    diameter = seen(major_mm, 0.05, "edge")
    return ThreadReading(
        "external", diameter, 0.0, seen(pitch_mm, ASIDE["pitch"] * pitch_mm, "pitch"), taper
    )


def _chances(found: Match) -> dict[str, float]:
    return {one.designation: one.probability for one in found.candidates}


def test_a_fitted_page_never_makes_a_wrong_thread_certain() -> None:
    blind = match(_reading(page_scale(A4, None), FITTED, MAJOR_MM, PITCH_MM))
    chances = _chances(blind)
    assert chances["3/4-16 UNF"] < 0.99
    assert 0.005 < chances["M18x1.5"] < 0.2
    true = BarReading(100 * FITTED, 100 * FITTED)
    told = match(_reading(page_scale(A4, true), FITTED, MAJOR_MM, PITCH_MM))
    assert told.candidates[0].designation == "M18x1.5"


def test_the_papers_edges_name_the_thread_of_a_fitted_page() -> None:
    paper = seen_scale(A4, (PaperWidth(0, 210.0 / FITTED, 0.2),), "photo")
    named = match(_reading(paper, FITTED, MAJOR_MM, PITCH_MM))
    assert named.candidates[0].designation == "M18x1.5"
    true = seen_scale(A4, (PaperWidth(0, 210.0, 0.2),), "photo")
    named = match(_reading(true, 1.0, 18.98, 25.4 / 16))
    assert (named.verdict, named.candidates[0].designation) == ("identified", "3/4-16 UNF")


@pytest.mark.parametrize("true", [0.94, 0.975, 1.004])
def test_the_ratio_still_does_its_work(true: float) -> None:
    """M16x1.5 and 5/8-18 differ by 5 % in diameter over pitch, whatever the print's size."""
    found = _chances(match(_reading(page_scale(A4, None), true, 15.9, 1.5)))
    assert found.get("5/8-18 UNF", 0.0) < 0.02
    assert found["M16x1.5"] > 0.6


def test_all_ways_together_are_what_sampling_gives() -> None:
    """JCGM 101: draw the print's scale, judge each draw as if it were known, pool the draws."""
    scale = page_scale(A4, None)
    reading = _reading(scale, 0.97, MAJOR_MM, PITCH_MM)
    numbers = list(reading.quantities().values())
    values = np.array([[number.nominal_value for number in numbers]])
    own = np.array([0.05, ASIDE["pitch"] * values[0, 1], ASIDE["taper"]])
    by_print = values[0] / scale.mean[0] * scale.root[0, 0] * (1, 1, 0)
    names = tuple(reading.quantities())

    def rows(values, covariances):
        return Readings("external", names, values, covariances, np.zeros(len(values)), True)

    together = judge_spread(
        rows(values, (np.diag(own**2) + np.outer(by_print, by_print))[None]), numbers, Prior()
    )
    rng, count = np.random.default_rng(1), 6000
    chosen = rng.choice(
        len(scale.sources[0].mixture), count, p=[part.share for part in scale.sources[0].mixture]
    )
    parts = [scale.sources[0].mixture[k] for k in chosen]
    draws = np.array([part.mean + part.u * rng.standard_normal() for part in parts])
    each = judge(
        rows(values + draws[:, None] * by_print, np.repeat(np.diag(own**2)[None], count, axis=0)),
        Prior(),
    )
    weight = np.exp(each.log_evidence)
    expected = weight @ each.probabilities / weight.sum()
    np.testing.assert_allclose(together.probabilities[0], expected, atol=0.03)
    assert together.log_evidence[0] == pytest.approx(np.log(weight.mean()), abs=0.15)
