"""A person's two marks on a thread say which way its axis runs and which turns count."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.errors import NoThreadError
from photomeasure.job.demonstration import samples
from photomeasure.photo import load_photo
from photomeasure.scene import BarReading

SAMPLE = samples("fitting")[-1]
PHOTO = load_photo(SAMPLE.photo)


def marked(*places: np.ndarray) -> FittingAnswer:
    marks = tuple((float(x), float(y)) for x, y in places)
    bars = BarReading(SAMPLE.bars.x_mm, SAMPLE.bars.y_mm)
    return fitting([replace(PHOTO, marked_px=marks)], PhotoOptions({"": bars}))


def test_only_the_marked_stretch_counts_and_runs_as_marked() -> None:
    whole = marked()
    first, last = whole.traces[0].axis_px
    half = marked(first, (first + last) / 2)
    assert half.candidates[0].designation == "M18x1.5"  # as it was drawn
    counted = [len(answer.traces[0].crests_px) for answer in (whole, half)]
    assert counted[1] == pytest.approx(counted[0] / 2, abs=2)
    across = np.array([[0.0, 1.0], [-1.0, 0.0]]) @ (last - first)
    with pytest.raises(NoThreadError):
        marked(first - across, first + across)
