"""Brightness and hue of several photos within a limit of memory."""

from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.photo import Photo

__all__ = ["Greys", "Views", "views_of"]

Views = tuple[NDArray[np.uint8], NDArray[np.uint8]]

MOST_BYTES = 250_000_000  # kept between two looks at the photos


def views_of(photo: Photo) -> Views:
    """Brightness of a photo (height, width), and its hue (red and blue), half as large."""
    half = cv2.resize(photo.colour, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    hue = cv2.cvtColor(half, cv2.COLOR_BGR2YCrCb)[..., 1:]
    return photo.grey, np.ascontiguousarray(hue, dtype=np.uint8)


class Greys:
    """Brightness and hue of the photos, kept while they are small, else decoded again."""

    def __init__(self, loads: Sequence[Callable[[], Photo]]) -> None:
        self.loads = loads
        self.kept: dict[int, Views] = {}

    def keep(self, number: int, views: Views) -> None:
        """Keep a photo's brightness and hue if there is room."""
        held = sum(one.nbytes for both in self.kept.values() for one in both)
        if held + sum(one.nbytes for one in views) <= MOST_BYTES:
            self.kept[number] = views

    def get(self, number: int) -> NDArray[np.uint8]:
        """Brightness of a photo, (height, width)."""
        return self.kept[number][0] if number in self.kept else self.loads[number]().grey

    def both(self, number: int) -> Views:
        """Brightness and hue of a photo."""
        return self.kept[number] if number in self.kept else views_of(self.loads[number]())
