"""Brightness of several photos within a limit of memory."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo

__all__ = ["Greys"]

MOST_BYTES = 250_000_000  # kept between two looks at the photos


class Greys:
    """Brightness of the photos, kept while they are small, else decoded again."""

    def __init__(self, loads: Sequence[Callable[[], Photo]]) -> None:
        self.loads = loads
        self.kept: dict[int, NDArray[np.uint8]] = {}

    def keep(self, number: int, grey: NDArray[np.uint8]) -> None:
        """Keep a photo's brightness if there is room."""
        if sum(one.nbytes for one in self.kept.values()) + grey.nbytes <= MOST_BYTES:
            self.kept[number] = grey

    def get(self, number: int) -> NDArray[np.uint8]:
        """Brightness of a photo, (height, width)."""
        return self.kept[number] if number in self.kept else self.loads[number]().grey
