"""Grooves and flanks: against closed forms, and on the samples."""

import numpy as np
import pytest

from photomeasure.thread.flanks import shear_mm, straight_flank


@pytest.mark.parametrize("half_deg", [27.5, 30.0])
@pytest.mark.parametrize("noise_mm", [0.0, 0.008])
def test_a_flank_has_the_angle_it_was_drawn_with(half_deg: float, noise_mm: float) -> None:
    rng = np.random.default_rng(2)
    deep = np.linspace(0.15, 0.7, 60)
    out = 0.1 + deep * np.tan(np.radians(half_deg)) + rng.normal(0, noise_mm, 60)
    found, off, _ = straight_flank(out, deep)
    assert found == pytest.approx(half_deg, abs=0.01 + 60 * noise_mm)
    assert off == pytest.approx(noise_mm, abs=0.005)


def test_outliers_do_not_turn_a_flank() -> None:
    deep = np.linspace(0.15, 0.7, 30)
    out = 0.1 + deep * np.tan(np.radians(30))
    out[[3, 20]] += 0.2
    assert straight_flank(out, deep)[0] == pytest.approx(30, abs=1.5)


def test_a_lean_hides_one_side_and_clears_the_other() -> None:
    """Square on both sides move alike; the silhouette of r(z + s phi) cos(phi), by brute force."""
    pitch, radius, lean = 1.5, 8.0, np.radians(4.0)
    assert shear_mm(pitch, radius, 0.0, 1) == pytest.approx(pitch / (2 * np.pi))
    near, far = shear_mm(pitch, radius, lean, -1), shear_mm(pitch, radius, lean, 1)
    assert near < far == shear_mm(pitch, radius, lean, 0)
    phi = np.linspace(-0.6, 0.6, 2401)
    root = 0.14 * pitch
    for shear in (near, far):
        place = shear * phi
        rise = np.where(
            np.abs(place) < root * np.cos(np.radians(30)),
            root - np.sqrt(np.maximum(root**2 - place**2, 0)),
            root / 2 + (np.abs(place) - root * np.cos(np.radians(30))) * np.sqrt(3),
        )
        floor = radius - 0.92
        seen = ((floor + rise) * np.cos(phi)).max()
        hidden = shear**2 / (root * floor) > 1
        assert (seen > floor + 0.002) == hidden
