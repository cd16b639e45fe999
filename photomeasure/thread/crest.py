"""How far blur draws a thread's crest back: a narrow crest loses height in the picture."""

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

__all__ = ["crest_loss_mm"]

FLANK_SLOPE = float(np.tan(np.radians(60)))  # of a 60 degree thread; 55 degrees differs by 11 %
STANDARD_FLAT = 1 / 8  # of a pitch, ISO 68-1
# Of the loss by a Gaussian alone: phones sharpen; over rendered scenes kept for tuning
SEEN_SHARE, SEEN_SHARE_U = 0.6, 0.4
SAMPLES = 161


def crest_loss_mm(pitch_mm: float, blur_mm: float) -> tuple[float, float]:
    """Height that the crest's top loses to blur.

    Parameters
    ----------
    pitch_mm : float [mm]
    blur_mm : float [mm]
        Standard deviation of the blur.

    Returns
    -------
    loss : float [mm]
        To be added to the radius.
    u : float [mm]

    Notes
    -----
    Top of the half-brightness contour of a trapezoid crest blurred by a Gaussian (own derivation).
    """
    loss = -_top(STANDARD_FLAT * pitch_mm, blur_mm)
    return SEEN_SHARE * loss, SEEN_SHARE_U * loss


def _top(flat_mm: float, blur_mm: float) -> float:
    """Height of the half-brightness contour over the crest's middle, top of metal at 0."""
    spot = np.linspace(-4, 4, SAMPLES) * blur_mm
    weight = np.exp(-((spot / blur_mm) ** 2) / 2)
    metal = -np.maximum(np.abs(spot) - flat_mm / 2, 0) * FLANK_SLOPE

    def excess(y: float) -> float:
        return float((weight * ndtr((metal - y) / blur_mm)).sum() / weight.sum() - 0.5)

    return float(brentq(excess, -12 * blur_mm, 4 * blur_mm))
