"""A phone's lens as learnt beforehand: a small file, and which photos it holds for."""

import hashlib
import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import BadProfileError, WrongCameraError
from photomeasure.photo.exif import CameraNotes

__all__ = ["LensName", "LensProfile", "quarter_turn"]

VERSION = 1
SAME_SHAPE = 0.005  # of height over width: a resized copy is rounded, a crop is not that
MOST_BYTES = 100_000
NUMBERS = 5  # focal length, centre x and y, k1, k2
# EXIF 2.32, tag 0x0112: where the stored picture's x and y point once it is upright
_TURNS: dict[int | None, tuple[tuple[int, int], tuple[int, int]]] = {
    1: ((1, 0), (0, 1)),
    3: ((-1, 0), (0, -1)),
    6: ((0, -1), (1, 0)),
    8: ((0, 1), (-1, 0)),
}


def quarter_turn(notes: CameraNotes) -> NDArray[np.float64] | None:
    """How the sensor's axes lie in the upright picture, (2, 2); None where nobody said."""
    turn = _TURNS.get(notes.turned)
    return None if turn is None else np.array(turn, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class LensName:
    """What a camera writes of itself in every photo; empty or None is what it leaves out."""

    make: str = ""
    model: str = ""
    lens: str = ""
    focal_mm: float | None = None
    focal_35mm: float | None = None
    zoom: float = 1.0

    @classmethod
    def of(cls, notes: CameraNotes) -> Self:
        """Take the name from a photo's notes."""
        return cls(**{field.name: getattr(notes, field.name) for field in fields(cls)})

    @property
    def is_told(self) -> bool:
        """Whether there is anything to know it by."""
        return bool(self.make or self.model or self.lens or self.focal_mm)

    def contradicts(self, other: Self) -> bool:
        """Whether both say something, and not the same."""
        pairs = zip(asdict(self).values(), asdict(other).values(), strict=True)
        return any(one and two and one != two for one, two in pairs)

    def __str__(self) -> str:
        words = [self.make, self.model, self.lens]
        words += [f"{self.focal_mm:g} mm"] if self.focal_mm else []
        words += [f"zoom {self.zoom:g}"] if self.zoom > 1 else []
        return " ".join(word for word in words if word) or "a camera that says nothing of itself"


@dataclass(frozen=True, slots=True, eq=False)
class LensProfile:
    """A lens as several photos of the sheet showed it.

    Attributes
    ----------
    name : LensName
    size_px : (long, short)
        Of the photos that it was learnt from.
    values : (5,)
        Focal length focused far off and the centre's place from the picture's middle along the
        sensor's x and y, all over the longer side; k1, k2.
    root : (5, 5)
        Root of their covariance, one column a source.
    near_per_mm : float [1/mm]
        Mean of one over the distance of what was in focus.
    photos : int
        How many it was learnt from.
    """

    name: LensName
    size_px: tuple[int, int]
    values: NDArray[np.float64]
    root: NDArray[np.float64]
    near_per_mm: float
    photos: int

    def __post_init__(self) -> None:
        if self.values.shape != (NUMBERS,) or self.root.shape != (NUMBERS, NUMBERS):
            raise ValueError("a lens profile has five numbers and their covariance")
        if not (np.all(np.isfinite(self.values)) and np.all(np.isfinite(self.root))):
            raise ValueError("a lens profile's numbers are finite")
        if not (self.values[0] > 0 and min(self.size_px) > 0 and self.near_per_mm > 0):
            raise ValueError("a lens profile's lengths are above zero")
        self.values.setflags(write=False)
        self.root.setflags(write=False)

    @property
    def key(self) -> str:
        """Names this profile's own sources of uncertainty."""
        return hashlib.blake2b(self.as_json().encode(), digest_size=12).hexdigest()

    def as_json(self) -> str:
        """Write it as a file's text."""
        body = {
            "lens_profile": VERSION,
            "camera": asdict(self.name),
            "size_px": list(self.size_px),
            "focal": self.values[0],
            "centre": self.values[1:3].tolist(),
            "distortion": self.values[3:].tolist(),
            "root_of_covariance": self.root.tolist(),
            "near_per_mm": self.near_per_mm,
            "photos": self.photos,
        }
        return json.dumps(body, indent=1)

    @classmethod
    def read(cls, path: Path) -> Self:
        """Read a stored profile.

        Parameters
        ----------
        path : Path

        Returns
        -------
        LensProfile

        Raises
        ------
        BadProfileError
            If it cannot be read, or is none.
        """
        remedy = "Learn the lens again: photomeasure camera PHOTO... --out PROFILE."
        try:
            with path.open("rb") as file:
                return cls._from(json.loads(file.read(MOST_BYTES).decode("utf-8")))
        except OSError as error:
            raise BadProfileError(f"{path.name} cannot be read.", remedy) from error
        except (ValueError, KeyError, TypeError, LookupError, OverflowError) as error:
            raise BadProfileError(f"{path.name} is not a lens profile.", remedy) from error

    @classmethod
    def _from(cls, body: dict[str, Any]) -> Self:
        if body["lens_profile"] != VERSION:
            raise ValueError("another version")
        long, short = (int(side) for side in body["size_px"])
        values = [body["focal"], *body["centre"], *body["distortion"]]
        return cls(
            name=_name(body["camera"]),
            size_px=(long, short),
            values=np.array(values, dtype=np.float64),
            root=np.array(body["root_of_covariance"], dtype=np.float64),
            near_per_mm=float(body["near_per_mm"]),
            photos=int(body["photos"]),
        )

    def write(self, path: Path) -> None:
        """Store it, or raise `BadProfileError`."""
        try:
            path.write_text(self.as_json(), encoding="utf-8")
        except OSError as error:
            raise BadProfileError(
                f"{path.name} cannot be written ({error.strerror}).",
                "Name a file in a folder that exists and that you may write to.",
            ) from error

    def demand_same(self, photo: str, notes: CameraNotes, size_px: tuple[int, int]) -> None:
        """Refuse a photo of another lens, or one that was cropped.

        Parameters
        ----------
        photo : str
            Its name, for the message.
        notes : CameraNotes
        size_px : tuple of int
            Of the photo as decoded.

        Raises
        ------
        WrongCameraError
        """
        taken = LensName.of(notes)
        if self.name.contradicts(taken):
            raise WrongCameraError(
                f"{photo} was taken by {taken}, but the lens profile is of {self.name}.",
                "Leave out the profile, or learn this camera's lens at the same zoom.",
            )
        long, short = max(size_px), min(size_px)
        if abs(short / long - self.size_px[1] / self.size_px[0]) > SAME_SHAPE:
            raise WrongCameraError(
                f"{photo} has {long} × {short} pixels, another shape than the "
                f"{self.size_px[0]} × {self.size_px[1]} of the lens profile: it was cropped or "
                "taken in another mode.",
                "Use the photo as the phone took it, in the mode of the profile's photos.",
            )


def _name(said: dict[str, Any]) -> LensName:
    """Take a stored name, its figures as figures."""

    def length(key: str) -> float | None:
        return None if said[key] is None else float(said[key])

    return LensName(
        make=str(said["make"]),
        model=str(said["model"]),
        lens=str(said["lens"]),
        focal_mm=length("focal_mm"),
        focal_35mm=length("focal_35mm"),
        zoom=float(said["zoom"]),
    )
