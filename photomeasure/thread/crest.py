"""How far blur draws a thread's crest back: a narrow crest loses height in the picture."""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtr

__all__ = ["crest_loss_mm"]

Vector = NDArray[np.float64]

FLANK_SLOPE = float(np.tan(np.radians(60)))  # of a 60 degree thread; 55 degrees differs by 11 %
STANDARD_FLAT = 1 / 8  # of a pitch, ISO 68-1
PROBE = 0.12  # of a pitch under the top, where the crest's width is taken
SAMPLES = 161


def crest_loss_mm(shape_mm: Vector, pitch_mm: float, blur_mm: float) -> tuple[float, float]:
    """Height that the crest's top loses to blur.

    Parameters
    ----------
    shape_mm : (N,) [mm]
        One turn of the outline as seen, top at zero.
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
    The half-brightness contour of a trapezoid crest blurred by a Gaussian (own derivation); the
    crest's flat is the one whose blurred contour is as wide as the seen one.
    """
    seen = _width(shape_mm, pitch_mm)
    flats = np.linspace(0.02, 0.4, 20) * pitch_mm
    widths = np.array([_blurred_width(flat, pitch_mm, blur_mm) for flat in flats])
    flat = float(np.interp(seen, widths, flats))
    flat = 0.5 * flat + 0.5 * STANDARD_FLAT * pitch_mm
    loss = -_contour(0.0, flat, blur_mm)
    sharper = -_contour(0.0, 0.6 * flat, blur_mm)
    return loss, abs(sharper - loss) + 0.15 * loss


def _width(shape_mm: Vector, pitch_mm: float) -> float:
    """Width of the crest at the probe's depth, from the share of samples above it."""
    fine = np.interp(
        np.linspace(0, len(shape_mm) - 1, 20 * len(shape_mm)), np.arange(len(shape_mm)), shape_mm
    )
    return float(np.mean(fine > -PROBE * pitch_mm) * pitch_mm)


def _contour(x_mm: float, flat_mm: float, blur_mm: float) -> float:
    """Height of the half-brightness contour at x from the crest's middle, top of metal at 0."""
    spot = np.linspace(-4, 4, SAMPLES) * blur_mm
    weight = np.exp(-((spot / blur_mm) ** 2) / 2)
    metal = -np.maximum(np.abs(x_mm + spot) - flat_mm / 2, 0) * FLANK_SLOPE

    def excess(y: float) -> float:
        return float((weight * ndtr((metal - y) / blur_mm)).sum() / weight.sum() - 0.5)

    return float(brentq(excess, -12 * blur_mm - abs(x_mm) * FLANK_SLOPE, 4 * blur_mm))


def _blurred_width(flat_mm: float, pitch_mm: float, blur_mm: float) -> float:
    top = _contour(0.0, flat_mm, blur_mm)
    places = np.linspace(0, 0.45 * pitch_mm, 24)
    heights = np.array([_contour(float(x), flat_mm, blur_mm) for x in places]) - top
    return 2 * float(np.interp(PROBE * pitch_mm, -heights, places))
