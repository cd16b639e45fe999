"""What looking refuses to follow."""

import numpy as np
import pytest

from photomeasure.errors import NoThreadError
from photomeasure.thread import look
from photomeasure.thread.axis import Axis

PART = Axis(10.0, -5.0, 8.0, 0.3)
NAME = "part.jpg"


@pytest.mark.parametrize(
    "axis", [Axis(-157.0, -105.0, 57.0, 3.7, 0.19), Axis(10.0, -5.0, 0.3, 2.3, np.radians(77.0))]
)
def test_an_axis_that_runs_off_the_part_is_refused(axis: Axis) -> None:
    with pytest.raises(NoThreadError, match=r"part\.jpg"):
        look._demand_near_part(NAME, axis, PART)


def test_a_tipped_axis_through_the_part_is_followed() -> None:
    look._demand_near_part(NAME, Axis(14.0, -7.0, 9.0, 0.4, np.radians(28.0)), PART)
