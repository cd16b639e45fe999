"""Choosing how a part rests by the bend of its crest lines."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.references.find import find_pieces
from photomeasure.scene import solve_scenes
from photomeasure.thread.axis import Axis, Heading
from photomeasure.thread.bend import _fit, _turned, _widened, by_crest_lines
from photomeasure.thread.look import Seen, look
from photomeasure.thread.values import SIDE_TILT, Causes, sizes
from tests.thread.test_fitting import _options, _sample


def test_an_axis_turns_to_the_camera_by_its_rise() -> None:
    level, risen = Axis(0, 0, 9, 0.7), Axis(0, 0, 9, 0.7, 0.2)
    assert _turned(level, risen, np.array([0.0, 0.0, 250.0])) == pytest.approx(0.2)
    assert _turned(risen, level, np.array([0.0, 0.0, 250.0])) == pytest.approx(-0.2)


def test_a_posture_that_bends_the_lines_loses_but_is_not_ruled_out() -> None:
    right, wrong = _fit(0.0, 0.01, "flat"), _fit(0.25, 0.01, "tipped to low")
    assert right > 20 * wrong > 0


@pytest.fixture(scope="module")
def sample() -> tuple[Seen, bool]:
    """The sample as looked at, and whether it truly lies on a flat."""
    photo, truth = _sample("fitting_metric")
    pieces = find_pieces(photo)
    (scene,) = solve_scenes([photo], [list(pieces)], _options(truth).bars)
    return look(photo, scene, pieces[0]), truth["rest"]["lies"] == "on-hex"


def test_the_sample_keeps_the_posture_that_it_has(sample: tuple[Seen, bool]) -> None:
    seen, is_flat = sample
    again = by_crest_lines(seen)
    assert sum(again.chances.values()) == pytest.approx(1)
    assert (again.posture == "flat") == is_flat
    assert again.features.doubts_mm == seen.features.doubts_mm


def test_a_faint_side_that_runs_against_the_heading_is_doubted(sample: tuple[Seen, bool]) -> None:
    seen, _ = sample
    features = replace(seen.features, doubts_mm=(0.01, 0.1))
    best = sizes(seen.scene, features, seen.axis, seen.posture, Causes())
    right, wrong = (
        Heading(best.rest.axis.heading_rad + turned, np.radians(0.25)) for turned in (0.001, 0.06)
    )
    assert _widened(features, best, right) == features
    left, faint = _widened(features, best, wrong).doubts_mm
    assert left == 0.01
    assert faint == pytest.approx(0.06 * np.ptp(best.rest.along_mm) / SIDE_TILT, rel=0.2)
