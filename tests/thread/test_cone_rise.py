"""The cone's slope from two sides, one of them lost in shade; the pitch from outline and face."""

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.thread.values import FACE_CLOSER, cone_rise, with_face

TRUE = np.tan(np.radians(1.79))
CLEAR, FAINT = 0.002, 0.012


def _fit(left: float, right: float) -> NDArray[np.float64]:
    return np.array([8.0, (left + right) / 2, 0.0, (left - right) / 2])


def test_a_clear_side_outvotes_a_faint_one_where_the_heading_is_known() -> None:
    heading = 0.008
    seen = _fit(TRUE + heading, TRUE - heading - 0.02)
    rise, shares = cone_rise(seen, np.array([CLEAR, FAINT]), (heading, 0.004))
    assert abs(rise - TRUE) < 0.4 * abs(seen[1] - TRUE)
    assert shares[0] > 0.8
    assert shares.sum() == pytest.approx(1.0)
    mirrored, _ = cone_rise(
        _fit(seen[1] - seen[3], seen[1] + seen[3]), np.array([FAINT, CLEAR]), (-heading, 0.004)
    )
    assert mirrored == pytest.approx(rise)


def test_without_a_heading_both_sides_count_alike() -> None:
    rise, shares = cone_rise(_fit(TRUE, TRUE - 0.02), np.array([CLEAR, FAINT]), None)
    assert rise == pytest.approx(TRUE - 0.01)
    assert shares == pytest.approx([0.5, 0.5])


def test_a_heading_far_from_what_the_sides_show_is_left_out() -> None:
    seen = _fit(TRUE, TRUE)
    rise, _ = cone_rise(seen, np.array([CLEAR, FAINT]), (0.08, 0.004))
    assert rise == pytest.approx(TRUE)


def test_the_face_mends_a_doubtful_pitch_and_leaves_a_sure_one() -> None:
    spacing = 0.985 / (1 + FACE_CLOSER)
    doubtful, u = with_face(1.5, 0.015, spacing)
    assert doubtful == pytest.approx(1.5 * 0.985, rel=0.005)
    assert u < 0.015
    sure, _ = with_face(1.5, 0.0015, spacing)
    assert sure == pytest.approx(1.5, rel=0.001)


def test_a_face_that_shows_quite_another_pitch_is_not_averaged() -> None:
    assert with_face(1.5, 0.015, 0.92) == (1.5, 0.015)
    assert with_face(1.5, 0.015, None) == (1.5, 0.015)
