"""Learn a phone's lens: photos in, a profile and what it says out."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from photomeasure.answers.wire import Json, quantity_json
from photomeasure.answers.words import band
from photomeasure.photo import LensProfile, Photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.find import find_pieces
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import learn_lens

__all__ = ["CameraAnswer", "learn_camera"]

_NAMES = ("focal_length", "centre_x", "centre_y", "k1", "k2")


@dataclass(frozen=True, slots=True, eq=False)
class CameraAnswer:
    """A lens as learnt; lengths in pixels of the profile's photos, k1 and k2 plain numbers."""

    profile: LensProfile
    warnings: tuple[str, ...]

    def quantities(self) -> dict[str, Quantity]:
        """Focal length focused far off, centre from the picture's middle, and distortion."""
        profile, long = self.profile, self.profile.size_px[0]
        scale = np.array([long, long, long, 1.0, 1.0])
        values, root = scale * profile.values, scale[:, None] * profile.root
        sources = [
            Source(f"lens profile/{number}", "the phone's lens as learnt", "camera", profile.key)
            for number in range(1, root.shape[1] + 1)
        ]
        return {
            name: Quantity.normal(
                measured(values[row], dict(zip(sources, root[row], strict=True))),
                "px" if row < 3 else "",
            )
            for row, name in enumerate(_NAMES)
        }

    def as_json(self) -> Json:
        """Give the one object that `--json` prints."""
        return {
            "kind": "camera",
            "camera": str(self.profile.name),
            "size_px": list(self.profile.size_px),
            "photos": self.profile.photos,
            **{name: quantity_json(quantity) for name, quantity in self.quantities().items()},
            "warnings": list(self.warnings),
        }

    def lines(self) -> list[str]:
        """Say it for people."""
        width, height = self.profile.size_px
        return [
            f"Learnt the lens of {self.profile.name} from {self.profile.photos} photos of "
            f"{width} × {height} pixels.",
            *(
                f"  {name.replace('_', ' '):22}{band(quantity)}"
                for name, quantity in self.quantities().items()
            ),
            *(f"Caution: {text}" for text in self.warnings),
        ]


def learn_camera(loads: Sequence[Callable[[], Photo]]) -> CameraAnswer:
    """Learn a lens from photos of a sheet left as it lies, one photo in memory at a time.

    Parameters
    ----------
    loads : sequence of callable
        Each opens one photo.

    Returns
    -------
    CameraAnswer

    Raises
    ------
    MeasuringError
        With what to do about it.
    """
    photos: list[Photo] = []
    found: list[tuple[FoundPiece, ...]] = []
    for load in loads:
        photo = load()
        found.append(find_pieces(photo))
        photos.append(photo.without_pixels())
    told = dict.fromkeys(text for photo in photos for text in photo.warnings)
    return CameraAnswer(learn_lens(photos, found), tuple(told))
