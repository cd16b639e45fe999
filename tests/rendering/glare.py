"""A phone's torch mirrored in paper and toner."""

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera
from tests.rendering.lights import Panel

__all__ = ["mirrored"]

Floats = NDArray[np.float64]

HEAD_ON = 0.04  # share of light that paper and toner (index near 1.5) mirror head-on


def mirrored(camera: PhoneCamera, panel: Panel, points_mm: Floats, roughness: float) -> Floats:
    """Radiance that a level, slightly rough surface mirrors from a small lamp.

    Parameters
    ----------
    camera : PhoneCamera
    panel : Panel
    points_mm : (..., 3) [mm]
    roughness : float
        Of Beckmann's distribution of slopes.

    Returns
    -------
    (...)
        In the tracer's units: a white surface at the origin has panel.irradiance / pi.

    Notes
    -----
    Torrance and Sparrow's model without its shading term, which is near 1 here.
    """
    lamp = np.asarray(panel.centre_mm)
    to_lamp, to_eye = lamp - points_mm, camera.centre_sheet_mm - points_mm
    far, near = (np.linalg.norm(v, axis=-1, keepdims=True) for v in (to_lamp, to_eye))
    to_lamp, to_eye = to_lamp / far, to_eye / near
    half = to_lamp + to_eye
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    tangent2 = 1 / half[..., 2] ** 2 - 1
    slopes = np.exp(-tangent2 / roughness**2) / (np.pi * roughness**2 * half[..., 2] ** 4)
    distance = float(np.linalg.norm(lamp))
    aim = to_lamp @ (lamp / distance)
    strength = panel.irradiance * distance**2 / (lamp[2] / distance)
    falling = strength * aim * to_lamp[..., 2] / far[..., 0] ** 2
    return np.asarray(HEAD_ON * slopes * falling / (4 * to_lamp[..., 2] * to_eye[..., 2]))
