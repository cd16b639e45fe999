"""Where an edge is placed, on walls with known edges."""

import numpy as np
import pytest
from scipy.special import ndtr

from photomeasure.port.crests import _Sheared, _steepest

SIDES, LEVELS, EDGE, BLUR = 5, 60, 31.4, 3.0


def _wall(bright: float) -> _Sheared:
    """A flank that ends in a dark crest at level 31.4, blurred."""
    levels = np.arange(LEVELS, dtype=np.float64)
    light = np.tile(0.01 + bright * ndtr((EDGE - levels) / BLUR), (SIDES, 1))
    grid = np.broadcast_to(levels, light.shape)
    return _Sheared(np.zeros(SIDES), levels, grid, 0 * light, light > 0, light)


@pytest.mark.parametrize("bright", [0.05, 0.9])
def test_an_edge_is_found_where_it_is_however_bright_the_flank(bright: float) -> None:
    wall = _wall(bright)
    falls = -np.gradient(np.log(wall.light[0]))
    lines = np.arange(SIDES)
    start = np.full(SIDES, float(np.argmax(falls)))
    places, sharp, _ = _steepest(wall, lines, start, np.full(SIDES, BLUR))
    assert places == pytest.approx(np.full(SIDES, EDGE), abs=0.1)
    assert (sharp > 0.9).all()


def test_the_logarithm_alone_would_place_it_too_deep() -> None:
    falls = -np.gradient(np.log(_wall(0.9).light[0]))
    assert float(np.argmax(falls)) > EDGE + BLUR


def test_a_fading_edge_counts_less() -> None:
    wall = _wall(0.9)
    _, sharp, _ = _steepest(wall, np.arange(SIDES), np.full(SIDES, EDGE), np.full(SIDES, BLUR / 3))
    assert (sharp < 0.5).all()
