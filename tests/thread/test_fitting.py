"""Reading fittings: refusals on doctored sample pictures, and the samples themselves."""

import json
from pathlib import Path
from typing import Any

import pytest

from photomeasure.errors import (
    NoFittingError,
    NoThreadError,
    TooFarError,
    TooUncertainError,
    WrongPrintError,
)
from photomeasure.photo import Photo, load_photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.find import find_pieces
from photomeasure.scene import BarReading
from photomeasure.thread.fitting import (
    FittingOptions,
    _demand_certainty,
    read_fitting,
)
from photomeasure.thread.look import _demand_nearness
from photomeasure.thread.outline import Outline
from tests.thread.drawn import bar_outline, bed_photo

SAMPLES = Path(__file__).parents[2] / "sample_images"


def _sample(name: str) -> tuple[Photo, dict[str, Any]]:
    truth = json.loads((SAMPLES / f"{name}.json").read_text("utf-8"))
    return load_photo(SAMPLES / f"{name}.jpg"), truth


def _options(truth: dict[str, Any]) -> FittingOptions:
    bars = truth["print"]["bars"]
    return FittingOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])})


@pytest.mark.parametrize("name", ["fitting_metric", "fitting_inch"])
def test_samples_are_read_within_their_bands(name: str) -> None:
    photo, truth = _sample(name)
    reading = read_fitting(photo, find_pieces(photo), _options(truth))
    real = truth["truth"]
    assert abs(reading.crest_diameter.value - real["major_diameter"]) < 0.2  # mm
    assert reading.pitch.value == pytest.approx(real["pitch"], rel=0.01)
    assert abs(reading.crest_diameter.value - real["major_diameter"]) < 3 * reading.crest_diameter.u


@pytest.mark.parametrize("name", ["fitting_metric", "fitting_inch"])
def test_samples_are_read_without_the_bars_too(name: str) -> None:
    photo, truth = _sample(name)
    reading = read_fitting(photo, find_pieces(photo), FittingOptions())
    real = truth["truth"]
    assert abs(reading.crest_diameter.value - real["major_diameter"]) < 3 * reading.crest_diameter.u
    ratio = reading.crest_diameter.value / reading.pitch.value
    assert ratio == pytest.approx(real["major_diameter"] / real["pitch"], rel=0.015)


def test_an_empty_bed_is_refused() -> None:
    photo = bed_photo()
    with pytest.raises(NoFittingError):
        read_fitting(photo, find_pieces(photo), FittingOptions())


def test_a_plain_bar_has_no_thread() -> None:
    photo = bed_photo(bar_outline((8.0, 25.0)))
    with pytest.raises(NoThreadError):
        read_fitting(photo, find_pieces(photo), FittingOptions())


def test_a_photo_without_the_sheet_is_refused() -> None:
    photo, _ = _sample("fitting_metric")
    with pytest.raises(WrongPrintError):
        read_fitting(photo, (), FittingOptions())


def test_too_coarse_and_too_uncertain_are_refused() -> None:
    photo, _ = _sample("fitting_metric")
    wide = Quantity.normal(measured(16.0, {Source("a", "a", "photo", "k"): 1.0}), "mm")
    with pytest.raises(TooUncertainError):
        _demand_certainty(photo, wide)
    far = Outline(None, None, None, 0.5, 0.5, 0.0)  # type: ignore[arg-type]
    with pytest.raises(TooFarError):
        _demand_nearness(photo, far)


def test_spanner_and_lie_are_taken_from_the_user() -> None:
    photo, truth = _sample("fitting_metric")
    bars, pieces = _options(truth).bars, find_pieces(photo)
    spanner = truth["truth"]["spanner_mm"]
    told = read_fitting(photo, pieces, FittingOptions(bars, "unknown", spanner))
    alone = read_fitting(photo, pieces, FittingOptions(bars))
    assert told.across_flats is not None
    assert alone.across_flats is not None
    assert told.across_flats.u <= alone.across_flats.u
    real = truth["truth"]["across_flats"]
    assert abs(told.across_flats.value - real) < 3 * told.across_flats.u
    assert told.crest_diameter.u <= 1.01 * alone.crest_diameter.u
    assert alone.hand == truth["truth"]["hand"]
    assert len(told.spanner) == 1
    wrong = read_fitting(photo, pieces, FittingOptions(bars, "unknown", spanner + 6))
    assert any("spanner" in text for text in wrong.warnings)
    lying = read_fitting(photo, pieces, FittingOptions(bars, truth["rest"]["lies"]))
    assert not any("lay" in text for text in lying.warnings)
