"""Width of a hexagon between rays, against its own corners drawn and projected."""

import numpy as np
import pytest

from photomeasure.thread.corners import corner_reach


def _touched(corner_ratio: float, aside_rad: float) -> float:
    """Widest that rays past any point of the rim pass the axis' height, flats one unit apart."""
    theta = np.linspace(0, 2 * np.pi, 72001)
    from_flat = (theta + np.pi / 6) % (np.pi / 3) - np.pi / 6  # a flat lies below, another above
    flat = 0.5 / np.cos(from_flat)
    radius = np.minimum(flat, corner_ratio / 2)
    across, up = radius * np.sin(theta), radius * np.cos(theta)
    foot = across - up * np.tan(aside_rad)
    return float(foot.max() - foot.min())


@pytest.mark.parametrize("corner_ratio", [1.11, 1.13, 1.1547])
@pytest.mark.parametrize("aside_deg", [0.0, 3.0, 12.0, 25.0, 30.0, 37.0])
def test_rays_touch_the_hexagon_that_is_there(corner_ratio: float, aside_deg: float) -> None:
    aside = np.radians(aside_deg)
    expected = _touched(corner_ratio, aside)
    assert corner_reach(corner_ratio, aside) == pytest.approx(expected, abs=2e-4)


def test_at_thirty_degrees_the_flats_alone_tell() -> None:
    reached = [corner_reach(ratio, np.radians(30)) for ratio in (1.11, 1.13, 1.1547)]
    assert np.ptp(reached) < 1e-3
