"""Reading fittings: refusals on doctored sample pictures, and the samples themselves."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.errors import (
    BlurredError,
    NoFittingError,
    NoThreadError,
    TooFarError,
    TooFewCornersError,
    TooUncertainError,
    WrongPrintError,
)
from photomeasure.photo import Photo, load_photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.find import find_pieces
from photomeasure.scene import BarReading
from photomeasure.thread.fitting import (
    FittingOptions,
    demand_certainty,
    read_fitting,
)
from photomeasure.thread.look import _demand_nearness
from photomeasure.thread.outline import Outline
from photomeasure.thread.reading import FittingReading
from tests.thread.drawn import bar_outline, bed_photo

SAMPLES = Path(__file__).parents[2] / "sample_images"


@cache
def _sample(name: str) -> tuple[Photo, dict[str, Any]]:
    truth = json.loads((SAMPLES / f"{name}.json").read_text("utf-8"))
    return load_photo(SAMPLES / f"{name}.jpg"), truth


def _doctored(picture: NDArray[np.uint8]) -> Photo:
    return load_photo(bytes(cv2.imencode(".jpg", picture)[1]), "doctored.jpg")


def _options(truth: dict[str, Any]) -> FittingOptions:
    bars = truth["print"]["bars"]
    return FittingOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])})


@cache
def _alone(name: str) -> FittingReading:
    """As read with the print's bars and nothing else said."""
    photo, truth = _sample(name)
    return read_fitting(photo, find_pieces(photo), _options(truth))


@pytest.mark.parametrize("name", ["fitting_metric", "fitting_inch"])
def test_samples_are_read_within_their_bands(name: str) -> None:
    reading, real = _alone(name), _sample(name)[1]["truth"]
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


@pytest.mark.parametrize("hidden", ["top", "bottom", "left", "right"])
def test_half_a_hidden_sheet_is_named_as_what_to_mend(hidden: str) -> None:
    photo, truth = _sample("fitting_metric")
    picture = photo.colour.copy()
    rows, columns = picture.shape[0] // 2, picture.shape[1] // 2
    halves = {
        "top": np.s_[:rows],
        "bottom": np.s_[rows:],
        "left": np.s_[:, :columns],
        "right": np.s_[:, columns:],
    }
    picture[halves[hidden]] = 60
    doctored = _doctored(picture)
    with pytest.raises(TooFewCornersError, match="hidden"):
        read_fitting(doctored, find_pieces(doctored), _options(truth))


@pytest.mark.parametrize("blur_px", [3, 5, 9])
def test_a_blurred_photo_is_called_blurred(blur_px: int) -> None:
    photo, truth = _sample("fitting_metric")
    doctored = _doctored(np.asarray(cv2.GaussianBlur(photo.colour, (0, 0), blur_px)))
    with pytest.raises(BlurredError):
        read_fitting(doctored, find_pieces(doctored), _options(truth))


def test_too_coarse_and_too_uncertain_are_refused() -> None:
    photo, _ = _sample("fitting_metric")
    wide = Quantity.normal(measured(16.0, {Source("a", "a", "photo", "k"): 1.0}), "mm")
    with pytest.raises(TooUncertainError):
        demand_certainty(photo, wide)
    far = Outline(None, None, None, 0.5, 0.5, 0.0)  # type: ignore[arg-type]
    with pytest.raises(TooFarError):
        _demand_nearness(photo, far)


def test_spanner_and_lie_are_taken_from_the_user() -> None:
    photo, truth = _sample("fitting_metric")
    bars, pieces = _options(truth).bars, find_pieces(photo)
    spanner = truth["truth"]["spanner_mm"]
    told = read_fitting(photo, pieces, FittingOptions(bars, "unknown", spanner))
    alone = _alone("fitting_metric")
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
