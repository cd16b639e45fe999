"""Fitting scenes that several tests look at, drawn once."""

from functools import cache

from tests.rendering.scenes import Conditions, FittingScene, draw_fitting_scene

__all__ = ["SEEDS", "SHEET", "drawn"]

SHEET = Conditions((210.0, 297.0), (105.0, 150.0), (90.0, 130.0), (190.0, 260.0), (0.0, 20.0))
# made hard they show every hardship; of the first three the phone is turned for a second photo
SEEDS = (101, 104, 107, 125)


@cache
def drawn(seed: int) -> FittingScene:
    """The plain scene of a seed."""
    return draw_fitting_scene(seed, SHEET)
