"""A photo file becomes upright pixels and what the camera said of itself."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["FocalHint", "Photo"]


@dataclass(frozen=True, slots=True)
class FocalHint:
    """What EXIF says of the lens: focal length of the whole upright picture in pixels."""

    focal_px: float
    relative_u: float
    focal_mm: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """An upright photo.

    Attributes
    ----------
    name : str
        The file's name, for messages.
    grey : NDArray[np.uint8]  # (height, width)
        Brightness as stored (tone curve not undone).
    colour : NDArray[np.uint8]  # (height, width, 3)
        Blue, green, red, as OpenCV has them.
    key : str
        Hash of the file's bytes: names this photo's own sources of uncertainty.
    focal_hint : FocalHint or None
        None where EXIF says nothing usable.
    lens_key : str
        Make, model, lens and size, as far as known: which lens profile fits.
    reduction : float
        Pixels of the file per pixel here (1 unless the file was too large).
    warnings : tuple of str
    """

    name: str
    grey: NDArray[np.uint8]
    colour: NDArray[np.uint8]
    key: str
    focal_hint: FocalHint | None
    lens_key: str
    reduction: float = 1.0
    warnings: tuple[str, ...] = ()

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.grey.shape[1], self.grey.shape[0]
