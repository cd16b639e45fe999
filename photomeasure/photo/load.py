"""A photo file becomes upright pixels and what the camera said of itself."""

import hashlib
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Self

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import MissingFileError, TooLargeError
from photomeasure.photo.decode import PictureFile, decode, look_at, reduction_of
from photomeasure.photo.exif import CameraNotes, FocalHint, change_of_size, focal_hint, lens_key
from photomeasure.photo.profile import LensName, LensProfile, quarter_turn

__all__ = ["Photo", "load_photo"]

MOST_BYTES = 50_000_000
UNTOLD = "The photo does not say which camera took it, and how it was held; it is taken to be of"
SHRUNK_BELOW_PX = 3000  # phones of the last ten years are wider; messengers send 1600 or 2048


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
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
    marked_px : tuple of (x, y)
        Where somebody pointed: at what is meant, at both ends of its thread, or round its rim.
    notes : CameraNotes
        What the camera wrote of itself.
    profile : LensProfile or None
        What was learnt of its lens beforehand.
    """

    name: str
    grey: NDArray[np.uint8]
    colour: NDArray[np.uint8]
    key: str
    focal_hint: FocalHint | None
    lens_key: str
    reduction: float = 1.0
    warnings: tuple[str, ...] = ()
    marked_px: tuple[tuple[float, float], ...] = ()
    notes: CameraNotes = field(default_factory=CameraNotes)
    profile: LensProfile | None = None

    def __post_init__(self) -> None:
        if self.grey.ndim != 2 or self.colour.shape != (*self.grey.shape, 3):
            raise ValueError(f"grey {self.grey.shape} and colour {self.colour.shape} do not fit")
        self.grey.setflags(write=False)
        self.colour.setflags(write=False)

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.grey.shape[1], self.grey.shape[0]

    def with_profile(self, profile: LensProfile) -> Self:
        """The same photo with what was learnt of its lens.

        Parameters
        ----------
        profile : LensProfile

        Returns
        -------
        Photo

        Raises
        ------
        WrongCameraError
            If another camera took it, or it was cropped.
        """
        profile.demand_same(self.name, self.notes, self.size_px)
        is_told = LensName.of(self.notes).is_told and quarter_turn(self.notes) is not None
        told = () if is_told else (f"{UNTOLD} {profile.name}.",)
        return replace(self, profile=profile, warnings=(*self.warnings, *told))

    def without_pixels(self) -> Self:
        """The same photo with nothing left to see: what was found in it is kept elsewhere."""
        nothing = np.uint8(0)
        return replace(
            self,
            grey=np.broadcast_to(nothing, self.grey.shape),
            colour=np.broadcast_to(nothing, self.colour.shape),
        )

    @property
    def has_pixels(self) -> bool:
        """Whether there is anything to see."""
        return any(self.grey.strides)

    @property
    def aim_px(self) -> tuple[float, float]:
        """What the photo is taken of: its middle, unless somebody pointed."""
        width, height = self.size_px
        marked = self.marked_px or (((width - 1) / 2, (height - 1) / 2),)
        x, y = (sum(place) / len(marked) for place in zip(*marked, strict=True))
        return x, y


def load_photo(source: Path | str | bytes, name: str | None = None) -> Photo:
    """Read a photo, turn it upright once, and read what its camera said.

    Parameters
    ----------
    source : Path, str or bytes
        A file, or the bytes of one.
    name : str, optional
        What to call it in messages; the file's name unless given.

    Returns
    -------
    Photo

    Raises
    ------
    MissingFileError
        No such file, or it may not be read.
    NotAPictureError
        Not a JPEG, PNG, WebP or HEIC, damaged, or too small to be a photo.
    TooLargeError
        More bytes or pixels than the limits.
    """
    name = name or ("the photo" if isinstance(source, bytes) else Path(source).name)
    data = source if isinstance(source, bytes) else _read(Path(source), name)
    if len(data) > MOST_BYTES:
        raise _too_large_file(len(data), name)
    file = look_at(data, name)
    reduction = reduction_of(file.size_px, name)
    colour = decode(data, file, reduction, name)
    size_px = colour.shape[1], colour.shape[0]
    return Photo(
        name=name,
        grey=np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY), dtype=np.uint8),
        colour=colour,
        key=hashlib.blake2b(data, digest_size=12).hexdigest(),
        focal_hint=focal_hint(file.notes, file.size_px, size_px),
        lens_key=lens_key(file.notes, file.size_px),
        reduction=max(file.size_px) / max(size_px),
        warnings=_warnings(file, reduction),
        notes=file.notes,
    )


def _too_large_file(size: int, name: str) -> TooLargeError:
    return TooLargeError(
        f"{name} has {size / 1e6:.0f} MB; up to {MOST_BYTES / 1e6:.0f} MB are read.",
        "Save the photo as a JPEG at the phone's normal quality.",
    )


def _read(path: Path, name: str) -> bytes:
    try:
        if (size := path.stat().st_size) > MOST_BYTES:
            raise _too_large_file(size, name)
        return path.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        raise MissingFileError(
            f"{name} cannot be read: there is no such file, or it may not be opened.",
            "Check the file's name and folder.",
        ) from error


def _warnings(file: PictureFile, reduction: int) -> tuple[str, ...]:
    notes, long = file.notes, max(file.size_px)
    told = []
    if long < SHRUNK_BELOW_PX:
        told.append(
            f"The picture is only {long} pixels long; a messenger or an upload has probably shrunk "
            "it. Send it as a file, not as a picture."
        )
    if reduction > 1:
        told.append(f"The picture is very large; it was read at 1/{reduction} of its size.")
    if notes.zoom > 1:
        told.append(
            f"The photo was taken with {notes.zoom:g}x digital zoom. Take it without zoom and step "
            "nearer instead."
        )
    if change_of_size(notes, file.size_px) != "none":
        told.append("The picture was resized or cropped after it was taken. Use the original.")
    if notes.has_flash:
        told.append("The flash was on; its glare and shadows move edges. Take it without flash.")
    return tuple(told)
