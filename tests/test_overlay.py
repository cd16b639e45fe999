"""A thread's profile at its true size, against the standard's figures and on a photo."""

import io

import numpy as np
import pytest
from PIL import Image

from photomeasure.answers.candidates import names_near
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.overlay import profile_picture, tooth_mm
from photomeasure.errors import UsageError
from photomeasure.job.demonstration import samples
from photomeasure.photo import Photo, load_photo
from photomeasure.standards import thread


@pytest.mark.parametrize(
    ("designation", "major_mm", "depth_mm"),
    [
        ("M18x1.5", 18.0, 0.920),  # h3 = 0.61343 P, ISO 68-1 and DIN 13-19
        ("M16x1.5", 16.0, 0.920),
        ("3/4-16 UNF", 19.05, 0.974),  # the same profile at 1/16 in: 0.61343 x 1.5875
    ],
)
def test_the_tooth_has_the_standards_depth(
    designation: str, major_mm: float, depth_mm: float
) -> None:
    profile = tooth_mm(thread(designation), 3)
    assert 2 * profile[:, 1].max() == pytest.approx(major_mm)
    assert np.ptp(profile[:, 1]) == pytest.approx(depth_mm, abs=0.0006)
    assert np.all(np.diff(profile[:, 0]) >= 0)
    assert profile[-1, 0] == pytest.approx(3 * thread(designation).pitch_mm)


@pytest.fixture(scope="module")
def measured() -> tuple[Photo, FittingAnswer]:
    sample = samples("fitting")[-1]
    photo = load_photo(sample.photo)
    return photo, fitting([photo], PhotoOptions({"": sample.bars}))


def test_the_pictures_differ_where_the_threads_do(measured: tuple[Photo, FittingAnswer]) -> None:
    pictures = [
        np.asarray(Image.open(io.BytesIO(profile_picture(*measured, name))).convert("L"), float)
        for name in ("M18x1.5", "M18x1.5", "3/4-16 UNF")
    ]
    assert np.array_equal(pictures[0], pictures[1])
    assert np.abs(pictures[0] - pictures[2]).max() > 100


def test_a_photo_that_was_not_measured_is_refused(measured: tuple[Photo, FittingAnswer]) -> None:
    other = load_photo(samples("fitting")[0].photo)
    with pytest.raises(UsageError):
        profile_picture(other, measured[1], "M18x1.5")


def test_lookalikes_may_be_laid_over_too(measured: tuple[Photo, FittingAnswer]) -> None:
    names = names_near(measured[1].candidates)
    assert names[0] == "M18x1.5"
    assert "none of these" not in names
    assert len(names) == len(set(names)) > 1
