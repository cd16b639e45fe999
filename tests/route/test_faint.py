"""A round line as bright as the floor, told by two sharp edges in a drawn strip."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from photomeasure.route.faint import follow_faint
from photomeasure.route.strip import Strip

STEP_MM, BLUR_MM = 0.4, 0.4


def _strip(contrast: float, *, width_mm: float = 20.0, offset_mm: float = 1.3) -> Strip:
    """A line from 0 to 400 mm in its own soft shadow, both edges and ends sharp."""
    rng = np.random.default_rng(1)
    along, across = np.arange(-160.0, 560.0, STEP_MM), np.arange(-44.0, 44.4, STEP_MM)
    x, y = along[:, None], across[None] - offset_mm
    away = np.hypot(np.maximum(np.abs(x - 200.0) - 200.0, 0.0), np.maximum(np.abs(y) - 10.0, 0.0))
    light = 60.0 - contrast * np.exp(-away / 6.0)
    light[(x[:, 0] >= 0) & (x[:, 0] <= 400)] += np.where(np.abs(y) < width_mm / 2, contrast, 0.0)
    light = gaussian_filter(light, BLUR_MM / STEP_MM) + rng.normal(0.0, 3.0, light.shape)
    share = np.zeros(light.shape, np.float32)
    yes, no = np.ones(len(along), bool), np.zeros(len(along), bool)
    return Strip(
        along, across, share, share, False, False, False, yes, yes, no, "dark", width_mm, 5.0,
        np.stack((light, light, light), axis=-1).astype(np.float32), 160.0,
    )  # fmt: skip


@pytest.mark.parametrize("guess_mm", [14.0, 20.0, 29.0])
def test_edges_and_ends_are_found_though_body_and_floor_are_alike(guess_mm: float) -> None:
    strip = _strip(15.0)
    ends, track, is_clear = follow_faint(
        strip, BLUR_MM, (np.ones(len(strip.along_mm)), guess_mm), None
    )
    assert is_clear
    for end, truth_mm in zip(ends, (0.0, 400.0), strict=True):
        assert abs(end.along_mm - truth_mm) < max(3 * end.u_mm, 0.5)
        assert end.u_mm < 2.0
    assert track.width_mm == pytest.approx(20.0, abs=0.4)
    assert np.median(np.abs(track.across_mm - 1.3)) < 0.1


def test_bare_floor_is_not_clear() -> None:
    strip = _strip(0.0)
    assert not follow_faint(strip, BLUR_MM, (np.ones(len(strip.along_mm)), 20.0), None)[2]
