"""How far a faint side's edge may lie from where it was traced.

Fitted to the sides of rendered scenes kept for tuning, their errors on the true axis: a strong,
unbroken edge scatters by a fifth of a pixel, a faint or broken one by up to two.
"""

import numpy as np

from photomeasure.thread.outline import Side, edge_strength
from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import Followed

__all__ = ["side_doubt_mm"]

SURE_PX, FAINT_PX = 0.2, 1.2
STRONG, FAINT = 0.65, 0.50  # mean edge strength along the turns
WHOLE, BROKEN = 0.97, 0.75  # share of the turns' length where the edge was found
MOST = 1.5


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
    return strip.pixel_mm * (SURE_PX + FAINT_PX * min(faint + broken, MOST))
