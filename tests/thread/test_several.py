"""Several photos of one untouched fitting: sizes together, and what makes them fall apart."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from photomeasure.photo import Photo, load_photo
from photomeasure.quantities import Quantity
from photomeasure.references.find import find_pieces
from photomeasure.scene import BarReading
from photomeasure.thread import several
from photomeasure.thread.fitting import FittingOptions, read_fitting
from photomeasure.thread.reading import FittingReading
from photomeasure.thread.several import MOVED, read_fittings

SAMPLES = Path(__file__).parents[2] / "sample_images"
TRUTH = json.loads((SAMPLES / "fitting_metric.json").read_text("utf-8"))
READ = TRUTH["print"]["bars"]
SHOWN = SimpleNamespace(photo=SimpleNamespace(name="one", key="one"))
OPTIONS = FittingOptions({"": BarReading(READ["x_read_mm"], READ["y_read_mm"])})


@pytest.fixture(scope="module")
def photos() -> list[Photo]:
    names = ("fitting_metric", "fitting_metric_second")
    return [load_photo(SAMPLES / f"{name}.jpg") for name in names]


@pytest.fixture(scope="module")
def pair(photos: list[Photo]) -> FittingReading:
    return read_fittings(photos, [find_pieces(photo) for photo in photos], OPTIONS)


@pytest.fixture(scope="module")
def alone(photos: list[Photo]) -> FittingReading:
    return read_fitting(photos[0], find_pieces(photos[0]), OPTIONS)


def test_two_photos_hold_the_truth_in_a_narrower_band(
    pair: FittingReading, alone: FittingReading
) -> None:
    for name, real in (
        ("crest_diameter", TRUTH["truth"]["major_diameter"]),
        ("pitch", TRUTH["truth"]["pitch"]),
        ("across_flats", TRUTH["truth"]["across_flats"]),
    ):
        both, one = getattr(pair, name), getattr(alone, name)
        assert abs(both.value - real) < 3 * both.u, name
        assert name == "across_flats" or both.u < one.u, name
    assert pair.hand == TRUTH["truth"]["hand"]
    assert len(pair.traces) == 2
    assert MOVED not in pair.warnings


def test_what_the_photos_share_is_one_source(pair: FittingReading) -> None:
    numbers = [pair.crest_diameter.number, pair.pitch.number]
    tags = [{variable.tag for variable in number.derivatives} for number in numbers]
    shared = {source.id for source in tags[0] & tags[1]}
    assert {"print scale x", "print scale y", "axis height"} <= shared
    edges = [source for source in tags[0] if source.id == "left edge"]
    assert len({source.key for source in edges}) == 2  # one a photo


def test_a_photo_that_shows_nothing_is_left_out_and_named(
    photos: list[Photo], alone: FittingReading
) -> None:
    grey, colour = photos[1].grey.copy(), photos[1].colour.copy()
    px = find_pieces(photos[1])[0].corners_px
    low, high = np.percentile(px, 20, axis=0).astype(int), np.percentile(px, 80, axis=0).astype(int)
    for picture in (grey, colour):
        picture[low[1] : high[1], low[0] : high[0]] = 255
    covered = replace(photos[1], grey=grey, colour=colour)
    reading = read_fittings(
        [photos[0], covered], [find_pieces(photos[0]), find_pieces(covered)], OPTIONS
    )
    assert reading.crest_diameter.value == alone.crest_diameter.value
    assert any(text.startswith("Left out:") for text in reading.warnings)


def test_a_pair_without_a_common_posture_is_read_singly(
    photos: list[Photo], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(several, "shared_postures", lambda views: set())
    reading = read_fittings(photos, [find_pieces(photo) for photo in photos], OPTIONS)
    assert MOVED in reading.warnings
    assert len(reading.traces) == 1


def _read_apart(monkeypatch: pytest.MonkeyPatch, alone: list[FittingReading]) -> FittingReading:
    """What is made of two photos that have no common axis and read so by themselves."""
    readings = iter(alone)
    monkeypatch.setattr(several, "read_fitting", lambda *_: next(readings))
    monkeypatch.setattr(several, "shared_postures", lambda views: set())
    monkeypatch.setattr(several, "_seen", lambda *_: ([SHOWN, SHOWN], ()))
    monkeypatch.setattr(several, "views_of", lambda seen: ())
    return read_fittings([SHOWN.photo] * 2, [()] * 2, OPTIONS)


@pytest.mark.parametrize(("share", "is_one"), [(1.002, True), (1.06, False)])
def test_photos_of_different_threads_name_none(
    alone: FittingReading, monkeypatch: pytest.MonkeyPatch, share: float, is_one: bool
) -> None:
    other = replace(alone, pitch=Quantity.normal(share * alone.pitch.number, "mm"))
    reading = _read_apart(monkeypatch, [alone, other])
    assert (several.APART not in reading.warnings) == is_one
    assert (reading.misfit_p > 0) == is_one


def test_a_photo_aimed_beside_the_thread_spoils_nothing(
    alone: FittingReading, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = replace(alone, pitch=Quantity.normal(1.3 * alone.pitch.number, "mm"), misfit_p=0.0)
    reading = _read_apart(monkeypatch, [other, alone])
    assert reading.pitch is alone.pitch
    assert reading.misfit_p == alone.misfit_p > 0
    assert several.UNCLEAR in reading.warnings
