"""Reading fittings: refusals on doctored sample pictures, and the samples themselves."""

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
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
from photomeasure.scene import BarReading, solve_scenes
from photomeasure.thread.fitting import (
    FittingOptions,
    _demand_certainty,
    _demand_nearness,
    read_fitting,
)
from photomeasure.thread.outline import Outline

SAMPLES = Path(__file__).parents[2] / "sample_images"


def _sample(name: str) -> tuple[Photo, dict]:
    truth = json.loads((SAMPLES / f"{name}.json").read_text("utf-8"))
    return load_photo(SAMPLES / f"{name}.jpg"), truth


def _options(truth: dict) -> FittingOptions:
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


def _bed_painted(shape_mm: tuple[float, float] | None) -> Photo:
    """The metric sample with its bed painted over, and a dark plain bar drawn on it if asked."""
    photo, _ = _sample("fitting_metric")
    (scene,) = solve_scenes([photo], [find_pieces(photo)], {})
    column, row = np.rint(scene.px(np.array([[40.0, 60.0, 0.0]]))[0]).astype(int)
    paper = float(np.median(photo.grey[row - 20 : row + 20, column - 20 : column + 20]))

    def blended(grey: np.ndarray, half: tuple[float, float], level: float, soft: float):
        corners = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * (*half, 1)
        mask = np.zeros(grey.shape, np.float32)
        cv2.fillConvexPoly(mask, np.rint(scene.px(corners)).astype(np.int32), 1.0)
        share = cv2.GaussianBlur(mask, (0, 0), soft)
        return (share * level + (1 - share) * grey).astype(np.uint8)

    grey = blended(photo.grey, (41.0, 61.0), paper, 20.0)
    if shape_mm:
        grey = blended(grey, shape_mm, 60.0, 0.8)
    return replace(photo, grey=grey)


def test_an_empty_bed_is_refused() -> None:
    photo = _bed_painted(None)
    with pytest.raises((NoFittingError, NoThreadError)):
        read_fitting(photo, find_pieces(photo), FittingOptions())


def test_a_plain_bar_has_no_thread() -> None:
    photo = _bed_painted((8.0, 25.0))
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
    far = Outline(None, None, None, 0.5, 0.5)  # type: ignore[arg-type]
    with pytest.raises(TooFarError):
        _demand_nearness(photo, far)
