"""Errors of a set of rendered fittings as a picture: against the axis' tilt, with their bands."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Residual", "residual_plot"]

Image = NDArray[np.uint8]

SIZE = (1000, 330)  # px, of one panel
LEFT, RIGHT, TOP, BOTTOM = 80, 20, 40, 50
MOST_TILT_DEG = 26.0
LEVEL_DEG, LEVEL_WIDE_DEG = 0.5, 4.0
INK, PALE = (40, 40, 40), (215, 215, 215)
BOUNDS = {"parallel": (150, 90, 0), "tapered": (0, 110, 230)}  # BGR, with marks of two forms


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """One scene's errors and standard uncertainties."""

    tilt_deg: float
    is_tapered: bool
    diameter_mm: float
    diameter_u_mm: float
    pitch_percent: float
    pitch_u_percent: float


def residual_plot(residuals: Sequence[Residual]) -> Image:
    """Draw errors of diameter and pitch against the tilt of the part's axis.

    Parameters
    ----------
    residuals : sequence of Residual

    Returns
    -------
    (rows, columns, 3)
        BGR, two panels, bars of two standard uncertainties.
    """
    diameter = [(one, one.diameter_mm, one.diameter_u_mm) for one in residuals]
    pitch = [(one, one.pitch_percent, one.pitch_u_percent) for one in residuals]
    return np.vstack(
        [
            _panel("error of the diameter [mm]", diameter, 0.5),
            _panel("error of the pitch [%]", pitch, 2.0),
        ]
    )


def _panel(title: str, rows: Sequence[tuple[Residual, float, float]], most: float) -> Image:
    width, height = SIZE
    picture = np.full((height, width, 3), 255, np.uint8)

    def place(tilt: float, error: float) -> tuple[int, int]:
        x = LEFT + (width - LEFT - RIGHT) * min(tilt, MOST_TILT_DEG) / MOST_TILT_DEG
        y = TOP + (height - TOP - BOTTOM) * (1 - np.clip(error / most, -1, 1)) / 2
        return round(x), round(float(y))

    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        start, stop = place(0, share * most), place(MOST_TILT_DEG, share * most)
        cv2.line(picture, start, stop, INK if share == 0 else PALE, 1, cv2.LINE_AA)
        _text(picture, f"{share * most:+.2g}", (14, start[1] + 5))
    for tilt in range(0, int(MOST_TILT_DEG) + 1, 5):
        _text(picture, f"{tilt}", (place(tilt, 0)[0] - 8, height - BOTTOM + 20))
    level = [one for one, _, _ in rows if one.tilt_deg < LEVEL_DEG]
    for one, error, u in rows:
        ink = BOUNDS["tapered" if one.is_tapered else "parallel"]
        is_level = one.tilt_deg < LEVEL_DEG
        tilt = LEVEL_WIDE_DEG * level.index(one) / len(level) if is_level else one.tilt_deg
        spot = place(tilt, error)
        bar = place(tilt, error - 2 * u), place(tilt, error + 2 * u)
        cv2.line(picture, *bar, tuple((255 + 2 * c) // 3 for c in ink), 1, cv2.LINE_AA)
        shape = cv2.MARKER_DIAMOND if one.is_tapered else cv2.MARKER_TILTED_CROSS
        cv2.drawMarker(picture, spot, ink, shape, 7, 1, cv2.LINE_AA)
    _text(picture, f"{title}; cross: parallel, diamond: tapered; bars: 2 u", (LEFT, 24))
    told = "tilt of the part's axis [degrees]; level parts stand side by side at the left"
    _text(picture, told, (LEFT, height - 8))
    return picture


def _text(picture: Image, text: str, at: tuple[int, int]) -> None:
    cv2.putText(picture, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.5, INK, 1, cv2.LINE_AA)
