"""Both ends of a line as a person marked them."""

from dataclasses import replace

import pytest

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.job.demonstration import samples
from photomeasure.photo import Photo, load_photo
from photomeasure.quantities import Quantity
from photomeasure.route.reading import FlatOptions
from photomeasure.scene import BarReading

SAMPLE = samples("route")[0]


def measured(photo: Photo) -> RouteAnswer:
    bars = BarReading(SAMPLE.bars.x_mm, SAMPLE.bars.y_mm)
    return route([photo], PhotoOptions({"": bars}), FlatOptions(line=SAMPLE.line))


def length(answer: RouteAnswer) -> Quantity:
    assert answer.length is not None
    return answer.length


def test_the_line_ends_where_it_is_marked_and_a_finger_is_less_sure() -> None:
    photo = load_photo(SAMPLE.photo)
    whole = measured(photo)
    assert whole.trace is not None
    middle = whole.trace.centre_px  # at even steps along the line
    first, last = len(middle) // 20, len(middle) // 10 * 9
    marks = tuple((float(x), float(y)) for x, y in middle[[last, first]])
    part = measured(replace(photo, marked_px=marks))
    share = (last - first) / (len(middle) - 1)
    assert length(part).value == pytest.approx(share * length(whole).value, abs=1.0)
    assert length(part).u > length(whole).u
