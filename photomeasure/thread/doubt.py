"""How far a faint side's edge may lie from where it was traced.

Fitted to the sides of rendered scenes kept for tuning, their errors on the true axis: a strong,
unbroken edge scatters by a fifth of a pixel, a faint or broken one by up to two.
"""

import numpy as np

from photomeasure.thread.mirror import Likeness
from photomeasure.thread.outline import Side, edge_strength
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import LEAST_TURNS, Followed

__all__ = [
    "CLEAR_EDGE_PX",
    "FAINT_EDGE_PX",
    "apart_px",
    "is_astray",
    "is_contradicted",
    "side_doubt_mm",
]

SURE_PX, FAINT_PX = 0.2, 0.8
STRONG, FAINT = 0.65, 0.50  # mean edge strength along the turns
WHOLE, BROKEN = 0.97, 0.75  # share of the turns' length where the edge was found
MOST = 1.5
FAINT_EDGE_PX, CLEAR_EDGE_PX = 0.55, 0.3  # doubt of a side's edge
ASTRAY_PX = 2.5  # between crests traced and crests laid by the paper's end
LEAST_OF_BETTER = 0.5  # of the clearer side's turns: fewer are taken from its likeness


def side_doubt_mm(strip: Strip, side: Side, followed: Followed) -> float:
    """Standard uncertainty of one side's crests, by how clear its edge is.

    Parameters
    ----------
    strip : Strip
    side : Side
    followed : Followed

    Returns
    -------
    float [mm]
    """
    if followed.laid_u_px is not None:
        return followed.laid_u_px * strip.pixel_mm
    places = [turn.along_mm for turn in followed.turns]
    low, high = min(places) - followed.pitch_mm / 2, max(places) + followed.pitch_mm / 2
    here = (side.along_mm > low) & (side.along_mm < high)
    found = float(here.sum()) * strip.pixel_mm / (high - low)
    columns = (side.along_mm[here] - strip.along_mm[0]) / strip.pixel_mm
    rows = (side.sign * side.off_mm[here] - strip.off_mm[0]) / strip.pixel_mm
    strength = edge_strength(strip)
    last = np.array(strength.shape) - 1
    at = np.clip(np.rint(np.column_stack([rows, columns])).astype(int), 0, last)
    mean = float(strength[at[:, 0], at[:, 1]].mean()) if len(at) else 0.0
    faint = max(0.0, (STRONG - mean) / (STRONG - FAINT))
    broken = max(0.0, (WHOLE - found) / (WHOLE - BROKEN))
    return strip.pixel_mm * (SURE_PX + FAINT_PX * min(faint + broken, MOST) ** 2)


def is_astray(
    strip: Strip, sides: tuple[Followed, Followed], poor: tuple[int, Side], like: Likeness
) -> bool:
    """Whether a side traced again shows few turns, or faint ones far from where paper ends.

    Parameters
    ----------
    strip : Strip
    sides : (left, right)
    poor : (index, Side)
        Which of them was traced again.
    like : Likeness
        By which it was.

    Returns
    -------
    bool
    """
    which, side = poor
    traced, clear = sides[which], sides[1 - which]
    if len(traced.turns) < LEAST_OF_BETTER * len(clear.turns):
        return True
    if not like.is_sure or len(traced.turns) < LEAST_TURNS:
        return like.is_sure
    is_faint = side_doubt_mm(strip, side, traced) > FAINT_EDGE_PX * strip.pixel_mm
    return is_faint and apart_px(strip, traced, like) > ASTRAY_PX


def is_contradicted(strip: Strip, side: Side, traced: Followed, like: Likeness) -> bool:
    """Whether the few turns that a side shows are clear and lie elsewhere than they are laid.

    Parameters
    ----------
    strip : Strip
    side : Side
    traced : Followed
    like : Likeness

    Returns
    -------
    bool
    """
    if len(traced.turns) < LEAST_TURNS:
        return False
    is_clear = side_doubt_mm(strip, side, traced) < CLEAR_EDGE_PX * strip.pixel_mm
    return is_clear and apart_px(strip, traced, like) > ASTRAY_PX


def apart_px(strip: Strip, traced: Followed, like: Likeness) -> float:
    """How far crests traced lie from crests laid [px].

    Parameters
    ----------
    strip : Strip
    traced : Followed
    like : Likeness

    Returns
    -------
    float [px]
    """
    off = [turn.off_mm - np.polyval(like.followed.line, turn.along_mm) for turn in traced.turns]
    return abs(float(np.median(off))) / strip.pixel_mm
