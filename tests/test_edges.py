"""Edges with known places."""

import numpy as np
import pytest
from scipy.special import ndtr

from photomeasure.edges import cheapest_path, half_levels


@pytest.mark.parametrize("blur", [0.7, 1.1])
def test_half_levels_find_a_blurred_step_in_two_colours(blur: float) -> None:
    rng = np.random.default_rng(2)
    truth = rng.uniform(-1.5, 1.5, 200)
    places = np.arange(-7, 7.01, 0.25)
    step = ndtr((places[None] - truth[:, None]) / blur)
    profiles = 0.1 + step[..., None] * np.array([0.5, 0.2]) + rng.normal(0, 0.004, (200, 57, 2))
    error = half_levels(profiles.astype(np.float32), places, blur) - truth
    assert np.abs(np.mean(error)) < 0.01
    assert np.std(error) < 0.05


def test_the_cheapest_path_follows_a_valley() -> None:
    columns = np.arange(120)
    valley = np.rint(20 + 8 * np.sin(columns / 12)).astype(int)
    price = np.ones((40, 120), np.float32)
    price[valley, columns] = 0
    assert np.abs(cheapest_path(price, 3, 0.02) - valley).max() <= 1
