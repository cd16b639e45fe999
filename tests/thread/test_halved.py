"""A shade in the grooves that looks like crests between: the outline is drawn."""

import numpy as np
import pytest

from photomeasure.thread.axis import Axis
from photomeasure.thread.outline import Outline, Side
from photomeasure.thread.turns import follow

PITCH_MM, RADIUS_MM = 2.0, 10.0


def _outline(between_mm: float) -> Outline:
    """Crests a pitch apart, and others so much lower between them."""
    along = np.arange(0.0, 18.0, 0.06)

    def side(sign: int) -> Side:
        turn = 2 * np.pi * along / PITCH_MM + (0 if sign > 0 else np.pi)
        off = RADIUS_MM + 0.15 * np.cos(2 * turn) + between_mm / 2 * np.cos(turn)
        noise = np.random.default_rng(sign + 2).normal(0, 0.004, len(along))
        return Side(along, off + noise, sign)

    return Outline(Axis(0.0, 0.0, 0.0, 0.0), side(1), side(-1), 0.06, 0.06, 9.0)


@pytest.mark.parametrize(("between_mm", "pitch_mm"), [(0.24, PITCH_MM), (0.0, PITCH_MM / 2)])
def test_every_other_crest_is_a_thread_of_twice_the_pitch(
    between_mm: float, pitch_mm: float
) -> None:
    sides = follow(_outline(between_mm))
    assert sides is not None
    for side in sides:
        assert len(side.turns) >= 6
        assert side.pitch_mm == pytest.approx(pitch_mm, rel=0.01)
