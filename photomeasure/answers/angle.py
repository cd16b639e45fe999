"""The thread angle as one of the two that there are, from the angle measured."""

import math

from photomeasure.quantities import Quantity, components, measured

__all__ = ["nominal_angle"]

ANGLES_DEG = (55.0, 60.0)  # Whitworth form (ISO 228-1, ISO 7-1); ISO, unified and NPT threads
SLIP, SLIP_RANGE_DEG = 0.03, 30.0  # a flank that was traced along its glow
LEAST_SURE = 0.9


def nominal_angle(angle: Quantity | None) -> Quantity | None:
    """Say 55 or 60 degrees where the measured angle tells which.

    Parameters
    ----------
    angle : Quantity or None [deg]
        As measured.

    Returns
    -------
    Quantity or None [deg]
        None where neither is nine times as likely as the other. Its u is that of a choice between
        the two.
    """
    if angle is None:
        return None
    chances = [_chance((angle.value - one) / angle.u) / angle.u for one in ANGLES_DEG]
    chances = [(1 - SLIP) * one + SLIP / SLIP_RANGE_DEG for one in chances]
    sure = max(chances) / sum(chances)
    if sure < LEAST_SURE:
        return None
    u = (ANGLES_DEG[1] - ANGLES_DEG[0]) * math.sqrt(sure * (1 - sure))
    parts = {source: part * u / angle.u for source, part in components(angle.number).items()}
    nominal = ANGLES_DEG[chances.index(max(chances))]
    return Quantity.normal(measured(nominal, parts), "deg")


def _chance(off: float) -> float:
    return math.exp(-0.5 * off * off) / math.sqrt(2 * math.pi)
