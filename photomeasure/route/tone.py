"""From stored brightness to light: the tone curve undone between two known colours."""

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["unmixed"]

Matrix = NDArray[np.float64]  # (N, M)

LUMA = np.array([0.114, 0.587, 0.299])  # blue, green, red (ITU-R BT.601, as JPEG has it)
ROWS_OF_A_CURVE = 200


def unmixed(share: NDArray[np.float32], inside: Matrix, floor: Matrix) -> NDArray[np.float32]:
    """Turn the share of the way in stored brightness into the share of light.

    Parameters
    ----------
    share : (S, T) float32 [1]
    inside, floor : (S, 3) [stored levels]
        Brightness and colours (YCrCb) of line and floor in each row.

    Returns
    -------
    (S, T) float32 [1]
    """
    result = np.empty_like(share)
    mix = np.linspace(0, 1, 65)
    for rows in np.array_split(np.arange(len(share)), max(1, len(share) // ROWS_OF_A_CURVE)):
        levels = np.vstack((floor[rows].mean(axis=0), inside[rows].mean(axis=0)))
        stored = cv2.cvtColor(levels[None].astype(np.float32) / 255, cv2.COLOR_YCrCb2BGR)[0]
        light = _tone_to_light(np.clip(stored, 0, 1).astype(np.float64))
        bgr = _light_to_tone(light[0] + mix[:, None] * (light[1] - light[0]))
        way = bgr @ LUMA
        way = np.maximum.accumulate((way - way[0]) / (way[-1] - way[0] + 1e-9) + 1e-6 * mix)
        beyond = np.array([-1.0, 2.0])
        slopes = (way[1] * 64, (way[-1] - way[-2]) * 64)
        table = np.concatenate(([-slopes[0]], way, [way[-1] + slopes[1]]))
        result[rows] = np.interp(share[rows], table, np.insert(beyond, 1, mix))
    return result


def _tone_to_light(stored: NDArray[np.float64]) -> NDArray[np.float64]:
    """Undo the sRGB tone curve (IEC 61966-2-1)."""
    bright = ((stored + 0.055) / 1.055) ** 2.4
    return np.where(stored <= 0.04045, stored / 12.92, bright)


def _light_to_tone(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Apply the sRGB tone curve (IEC 61966-2-1)."""
    bright = 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, bright)
