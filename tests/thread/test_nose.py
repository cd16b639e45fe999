"""Cones at a part's end, on drawn outlines."""

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.thread.nose import longest_cone

STEP_MM = 0.2


def _outline(half_deg: float, cone_mm: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    along = np.arange(0.0, 6.0 + cone_mm, STEP_MM)
    radius = 7.0 - np.tan(np.radians(half_deg)) * np.maximum(along - 6.0, 0)
    noise = np.random.default_rng(1).normal(0, 0.012, (2, len(along)))
    return along, radius + noise


@pytest.mark.parametrize("half_deg", [12.0, 24.0, 30.0, 37.0, 45.0])
def test_a_cone_is_read_to_a_fraction_of_a_degree(half_deg: float) -> None:
    found = longest_cone(*_outline(half_deg, 5.0))
    assert found is not None
    assert found.half_angle_deg == pytest.approx(half_deg, abs=0.6)
    assert found.length_mm == pytest.approx(5.0, abs=1.2)


def test_a_chamfer_and_a_plain_stub_and_a_taper_are_no_nose() -> None:
    assert longest_cone(*_outline(45.0, 1.0)) is None
    assert longest_cone(*_outline(0.0, 5.0)) is None
    assert longest_cone(*_outline(1.79, 8.0)) is None


def test_a_wrong_heading_falls_out() -> None:
    along, radii = _outline(37.0, 5.0)
    tilt = np.tan(np.radians(1.0)) * along
    found = longest_cone(along, radii + np.stack([tilt, -tilt]))
    assert found is not None
    assert found.half_angle_deg == pytest.approx(37.0, abs=0.6)


def test_a_side_that_is_not_seen_gives_none() -> None:
    along, radii = _outline(37.0, 5.0)
    radii[0] = np.nan
    assert longest_cone(along, radii) is None
