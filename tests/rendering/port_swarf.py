"""Swarf: curled chips of metal left on a port's thread or spot face."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.rendering.port_bodies import INTO_PORT, Port
from tests.rendering.surfaces import Body

__all__ = ["Chip", "chip_body", "draw_chips"]

Floats = NDArray[np.float64]
SWARF_SHARE = 0.3  # of scenes; common practice, no source


@dataclass(frozen=True, slots=True)
class Chip:
    """A ribbon wound into a curl.

    Attributes
    ----------
    at_mm : (3,)
        Its middle, port frame.
    way : (3,)
        The curl's axis.
    curl_mm, width_mm, turns, rise_mm : float
        Radius, width, turns, and rise for each of them.
    """

    at_mm: tuple[float, float, float]
    way: tuple[float, float, float]
    curl_mm: float
    width_mm: float
    turns: float
    rise_mm: float


def _place(port: Port, reach_mm: float, curl_mm: float, rng: np.random.Generator) -> Floats:
    """On the spot face, or caught on the thread."""
    mouth, turn = port.mouth, rng.uniform(0, 2 * np.pi)
    room = min(mouth.spot_face_mm / 2, reach_mm) - mouth.diameter_mm / 2 - 2 * curl_mm
    if room > 0.1 and rng.random() < 0.5:
        r, z = mouth.diameter_mm / 2 + curl_mm + rng.uniform(0, room), -curl_mm
    else:
        r, z = port.size.minor_mm / 2 - 0.8 * curl_mm, rng.uniform(1.5, 8.0)
    return np.asarray(INTO_PORT @ np.array([r * np.cos(turn), r * np.sin(turn), z]))


def draw_chips(port: Port, reach_mm: float, rng: np.random.Generator) -> tuple[Chip, ...]:
    """The chips of one port, all within a distance of its axis; most have none."""
    if rng.random() > SWARF_SHARE:
        return ()
    chips = []
    for _ in range(int(rng.integers(1, 5))):
        curl = float(rng.uniform(0.25, 0.7))
        x, y, z = (float(v) for v in _place(port, reach_mm, curl, rng))
        way = rng.normal(0, 1, 3)
        a, b, c = (float(v) for v in way / np.linalg.norm(way))
        sizes = [float(rng.uniform(*limits)) for limits in ((0.1, 0.4), (0.5, 2.5), (0.1, 0.5))]
        chips.append(Chip((x, y, z), (a, b, c), curl, *sizes))
    return tuple(chips)


def chip_body(chip: Chip) -> Body:
    """The ribbon as a mesh, port frame, clean."""
    along = np.linspace(-0.5, 0.5, 60)[:, None] * chip.turns
    across = np.array([[-0.5, 0.5]]) * chip.width_mm
    turn = 2 * np.pi * along
    axis = np.asarray(chip.way)
    side = np.cross(axis, [1.0, 0, 0] if abs(axis[0]) < 0.7 else [0, 1.0, 0])
    side /= np.linalg.norm(side)
    up = np.cross(axis, side)
    radial = np.cos(turn)[..., None] * side + np.sin(turn)[..., None] * up
    rise = (along * chip.rise_mm + across)[..., None] * axis
    points = np.asarray(chip.at_mm) + chip.curl_mm * radial + rise
    index = np.arange(points[..., 0].size).reshape(points.shape[:2])
    a, b, c, d = index[:-1, 0], index[:-1, 1], index[1:, 1], index[1:, 0]
    faces = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    vertices = points.reshape(-1, 3)
    return Body(vertices, None, faces, dirt=np.zeros(len(vertices)))
