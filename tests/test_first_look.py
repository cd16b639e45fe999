"""The first look at a photo: it complains at once, and of the right thing."""

import cv2
import numpy as np
import pytest

from photomeasure.answers.first_look import first_look
from photomeasure.errors import (
    BlurredError,
    NoReferenceError,
    PhotomeasureError,
    TooFarError,
    WrongPrintError,
)
from photomeasure.job.demonstration import samples
from photomeasure.photo import Photo, load_photo

FITTING = load_photo(samples("fitting")[-1].photo)  # rendered, like all samples


def changed(picture: np.ndarray) -> Photo:
    """Give the sample with other pixels, through a file as a phone would send it."""
    return load_photo(bytes(cv2.imencode(".jpg", picture)[1]), "changed.jpg")


def test_a_good_photo_gets_no_complaint() -> None:
    assert first_look(FITTING, "fitting") == ()


def _blurred(picture: np.ndarray) -> np.ndarray:
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), 40))


def _without_print(picture: np.ndarray) -> np.ndarray:
    return np.full_like(picture, 128)


def _far(picture: np.ndarray) -> np.ndarray:
    small = cv2.resize(picture, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.copyMakeBorder(small, 900, 900, 700, 700, cv2.BORDER_CONSTANT, value=90))


@pytest.mark.parametrize(
    ("spoil", "refusal"),
    [(_blurred, BlurredError), (_without_print, NoReferenceError), (_far, TooFarError)],
    ids=["blurred", "no print", "far"],
)
def test_what_cannot_be_measured_is_refused_at_once(
    spoil: object, refusal: type[PhotomeasureError]
) -> None:
    assert callable(spoil)
    with pytest.raises(refusal) as told:
        first_look(changed(spoil(FITTING.colour)), "fitting")
    assert told.value.remedy


def test_cards_are_not_the_sheet() -> None:
    cards = load_photo(samples("route")[0].photo)
    with pytest.raises(WrongPrintError):
        first_look(cards, "fitting")
    assert first_look(cards, "route") == ()


def test_a_burnt_out_print_is_told() -> None:
    bright = np.clip(FITTING.colour.astype(int) * 1.35, 0, 255).astype(np.uint8)
    assert any("burnt out" in words for words in first_look(changed(bright), "fitting"))


def test_a_softer_photo_is_told() -> None:
    soft = np.asarray(cv2.GaussianBlur(FITTING.colour, (0, 0), 2.2))
    assert any("soft" in words for words in first_look(changed(soft), "fitting"))


def test_a_blurred_photo_is_told() -> None:
    blurred = np.asarray(cv2.GaussianBlur(FITTING.colour, (0, 0), 9))
    assert any("Blurred" in words for words in first_look(changed(blurred), "fitting"))


def test_a_print_half_out_of_sight_is_told() -> None:
    half = FITTING.colour.copy()
    half[: int(half.shape[0] * 0.65)] = 90
    assert any("out of sight" in words for words in first_look(changed(half), "fitting"))
