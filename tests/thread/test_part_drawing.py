"""The small drawing of a part: which way it lies, and that every measured thing is on it."""

import cv2
import numpy as np

from photomeasure.answers.fitting import fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.part_drawing import _level, _turned, part_drawing
from photomeasure.answers.wire import quantity_json
from photomeasure.scene import BarReading
from tests.thread.test_fitting import _sample


def test_the_part_lies_level_with_its_free_end_to_the_left() -> None:
    photo, truth = _sample("fitting_metric")
    bars = truth["print"]["bars"]
    answer = fitting([photo], PhotoOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])}))
    (trace,) = answer.traces
    level = _level(trace)
    face, last = _turned(trace.axis_px, level)
    assert np.allclose(face, 0)
    assert last[0] > 0
    assert abs(last[1]) < 1e-6 * last[0]
    assert trace.hexagon_px is not None
    assert _turned(trace.hexagon_px, level)[:, 0].min() > last[0]
    picture = cv2.imdecode(np.frombuffer(part_drawing(photo, answer), np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    assert max(picture.shape[:2]) == 2000
    assert 0.5 < np.mean(picture == 255) < 0.98
    assert quantity_json(answer.across_flats) is not None
    assert answer.hand == truth["truth"]["hand"]
