"""Dots that tell open paper from what lies on it.

One dot a cell, in one of the cell's four quarters by chance: every cell carries the same ink, and
no mirror image or shadow repeats the order.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["CELL_MM", "YELLOW", "speckle"]

CELL_MM = 1.2
YELLOW = (0.0, 0.0, 0.5)  # blue light alone is held back
_RIM_MM = 1.5  # kept white, for the corners of the board round the bed
_SEED = 20


def speckle(centre_mm: tuple[float, float], size_mm: tuple[float, float]) -> NDArray[np.float64]:
    """Fill a field with dots.

    Parameters
    ----------
    centre_mm, size_mm : (2,) [mm]
        Page frame, of the whole field with its white rim.

    Returns
    -------
    (N, 4) [mm]
        Left, top, right, bottom of each dot.
    """
    columns, rows = (int((side - 2 * _RIM_MM) / CELL_MM) for side in size_mm)
    left, top = (
        middle - count * CELL_MM / 2
        for middle, count in zip(centre_mm, (columns, rows), strict=True)
    )
    quarter = np.random.PCG64(_SEED).random_raw(columns * rows) >> np.uint64(62)
    row, column = np.divmod(np.arange(columns * rows), columns)
    x = left + CELL_MM * (column + 0.5 * (quarter & np.uint64(1)))
    y = top + CELL_MM * (row + 0.5 * (quarter >> np.uint64(1)))
    return np.column_stack([x, y, x + CELL_MM / 2, y + CELL_MM / 2])
