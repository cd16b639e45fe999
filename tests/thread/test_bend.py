"""Choosing how a part rests by the bend of its crest lines."""

import numpy as np
import pytest

from photomeasure.references.find import find_pieces
from photomeasure.scene import solve_scenes
from photomeasure.thread.axis import Axis
from photomeasure.thread.bend import _fit, _turned, by_crest_lines
from photomeasure.thread.look import look
from tests.thread.test_fitting import _options, _sample


def test_an_axis_turns_to_the_camera_by_its_rise() -> None:
    level, risen = Axis(0, 0, 9, 0.7), Axis(0, 0, 9, 0.7, 0.2)
    assert _turned(level, risen, np.array([0.0, 0.0, 250.0])) == pytest.approx(0.2)
    assert _turned(risen, level, np.array([0.0, 0.0, 250.0])) == pytest.approx(-0.2)


def test_a_posture_that_bends_the_lines_loses_but_is_not_ruled_out() -> None:
    right, wrong = _fit(0.0, 0.01, "flat"), _fit(0.25, 0.01, "tipped to low")
    assert right > 20 * wrong > 0


def test_the_sample_keeps_the_posture_that_it_has() -> None:
    photo, truth = _sample("fitting_metric")
    pieces = find_pieces(photo)
    (scene,) = solve_scenes([photo], [list(pieces)], _options(truth).bars)
    seen = look(photo, scene, pieces[0])
    again = by_crest_lines(seen)
    assert sum(again.chances.values()) == pytest.approx(1)
    assert (again.posture == "flat") == (truth["rest"]["lies"] == "on-hex")
