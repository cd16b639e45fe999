"""Where a reduced picture shows a bar: a stripe whose colour differs from both its sides alike."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["BarMap", "bar_map", "lightness_colour"]

Image3 = NDArray[np.float32]  # (height, width, 3)
Map = NDArray[np.float32]  # (height, width)

FINE_WIDTHS = (3.0, 4.5)  # px of each level of the pyramid; together a step of 1.5
LEVELS = 5  # up to 72 px at the finest level
DIRECTIONS = 8
SIDE = 1.25  # widths from the middle of the bar to the middle of the floor beside it


@dataclass(frozen=True, slots=True, eq=False)
class BarMap:
    """How much like the middle of a bar each place is.

    Attributes
    ----------
    score : (height, width) [8-bit Lab]
        Difference to the less different side.
    width : (height, width) [px]
        Of the bar that fits best.
    contrast : (height, width, 3) [8-bit Lab]
        Bar minus floor.
    """

    score: Map
    width: Map
    contrast: Image3


def bar_map(image: Image3, valid: NDArray[np.bool_]) -> BarMap:
    """Look for bars of all widths in eight directions.

    Parameters
    ----------
    image : (height, width, 3) float32 [8-bit Lab]
    valid : (height, width)
        False where nothing is to be looked for.

    Returns
    -------
    BarMap
    """
    size = (image.shape[1], image.shape[0])
    best = _empty(image.shape[:2])
    for level in range(LEVELS):
        found = _level(image)
        best = _better(best, _enlarged(found, size, 2.0**level))
        image = np.asarray(cv2.pyrDown(image), np.float32)
    best.score[~valid] = 0.0
    return best


def lightness_colour(colour: NDArray[np.uint8], lightness: float) -> Image3:
    """Give colours a distance that feels even: 8-bit Lab with its lightness held back.

    Parameters
    ----------
    colour : (height, width, 3) uint8
        Blue, green, red.
    lightness : float [1]
        Weight of lightness against hue.

    Returns
    -------
    (height, width, 3) float32 [8-bit Lab]
    """
    image = np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2Lab), np.float32)
    image[..., 0] *= lightness
    return image


def _empty(shape: tuple[int, ...]) -> BarMap:
    return BarMap(
        np.zeros(shape, np.float32), np.zeros(shape, np.float32), np.zeros((*shape, 3), np.float32)
    )


def _level(image: Image3) -> BarMap:
    """Best bar of both widths and all directions at one level."""
    best = _empty(image.shape[:2])
    for width in FINE_WIDTHS:
        spread = np.asarray(cv2.GaussianBlur(image, (0, 0), 0.28 * width), np.float32)
        for angle in np.arange(DIRECTIONS) * np.pi / DIRECTIONS:
            x, y = (round(SIDE * width * f) for f in (np.cos(angle), np.sin(angle)))
            _try_direction(best, spread, (x, y), width)
    return best


def _try_direction(best: BarMap, spread: Image3, step: tuple[int, int], width: float) -> None:
    """Compare each place with its neighbours one step to either side."""
    x, y = abs(step[0]), step[1]
    height, breadth = spread.shape[:2]
    if height <= 2 * y or breadth <= 2 * x:
        return
    here = spread[y : height - y, x : breadth - x]
    one, other = spread[: height - 2 * y], spread[2 * y :]
    if step[0] >= 0:
        one, other = one[:, : breadth - 2 * x], other[:, 2 * x :]
    else:
        one, other = one[:, 2 * x :], other[:, : breadth - 2 * x]
    one, other = here - one, here - other
    both = one + other
    size = np.sqrt(np.einsum("ijk,ijk->ij", both, both)) + np.float32(1e-6)
    one = np.einsum("ijk,ijk->ij", one, both)
    other = np.einsum("ijk,ijk->ij", other, both)
    score = np.minimum(one, other) / size
    window = (slice(y, height - y), slice(x, breadth - x))
    wins = score > best.score[window]
    best.score[window][wins] = score[wins]
    best.width[window][wins] = width
    best.contrast[window][wins] = 0.5 * both[wins]


def _enlarged(found: BarMap, size: tuple[int, int], factor: float) -> BarMap:
    def enlarge(image: NDArray[np.float32], how: int) -> NDArray[np.float32]:
        return np.asarray(cv2.resize(image, size, interpolation=how), np.float32)

    return BarMap(
        enlarge(found.score, cv2.INTER_LINEAR),
        enlarge(found.width, cv2.INTER_NEAREST) * np.float32(factor),
        enlarge(found.contrast, cv2.INTER_LINEAR),
    )


def _better(one: BarMap, other: BarMap) -> BarMap:
    wins = other.score > one.score
    return BarMap(
        np.where(wins, other.score, one.score),
        np.where(wins, other.width, one.width),
        np.where(wins[..., None], other.contrast, one.contrast),
    )
