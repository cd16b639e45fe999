"""Measured values as people read them: rounded to what is known, millimetres and inches."""

import math

from photomeasure.quantities import Quantity

__all__ = ["band", "band_inches", "both_units"]

MM_PER_INCH = 25.4
UNIT_SIGNS = {"mm": " mm", "deg": "°", "MPa": " MPa"}
MOST_DECIMALS = 4
LOPSIDED = 0.15  # of the half width: from here both ends are printed


def band(quantity: Quantity | None) -> str:
    """Say a value with its 95 % band: `15.871 ± 0.047 mm`.

    Parameters
    ----------
    quantity : Quantity or None

    Returns
    -------
    str
        `not seen` for None.
    """
    if quantity is None:
        return "not seen"
    return _band(quantity, 1.0, UNIT_SIGNS.get(quantity.unit, f" {quantity.unit}"))


def band_inches(quantity: Quantity | None) -> str:
    """Say a length in inches with its 95 % band: `0.6248 ± 0.0019 in`.

    Parameters
    ----------
    quantity : Quantity or None [mm]

    Returns
    -------
    str
        Empty for None and for what is no length.
    """
    if quantity is None or quantity.unit != "mm":
        return ""
    return _band(quantity, MM_PER_INCH, " in")


def both_units(quantity: Quantity | None) -> str:
    """Say a value in millimetres and, for a length, in inches.

    Parameters
    ----------
    quantity : Quantity or None

    Returns
    -------
    str
    """
    inches = band_inches(quantity)
    return f"{band(quantity)} ({inches})" if inches else band(quantity)


def _band(quantity: Quantity, divisor: float, sign: str) -> str:
    value, low, high = (
        figure / divisor for figure in (quantity.value, quantity.low, quantity.high)
    )
    half = (high - low) / 2
    decimals = _decimals(half)
    if abs((high - value) - (value - low)) > 2 * LOPSIDED * half:
        return f"{value:.{decimals}f} ({low:.{decimals}f} to {high:.{decimals}f}){sign}"
    return f"{value:.{decimals}f} ± {half:.{decimals}f}{sign}"


def _decimals(half: float) -> int:
    """Two digits of the half width."""
    if half <= 0 or not math.isfinite(half):
        return MOST_DECIMALS
    return min(MOST_DECIMALS, max(0, 1 - math.floor(math.log10(half))))
