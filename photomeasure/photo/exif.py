"""What a camera wrote beside the picture, and what it says of the lens."""

import math
from dataclasses import dataclass
from typing import Literal

from PIL import ExifTags
from PIL.Image import Exif

__all__ = ["CameraNotes", "FocalHint", "change_of_size", "focal_hint", "lens_key", "read_notes"]

_FILM_DIAGONAL_MM, _FILM_WIDTH_MM = math.hypot(36, 24), 36.0


@dataclass(frozen=True, slots=True)
class FocalHint:
    """What EXIF says of the lens: principal distance of the upright picture, focused far off."""

    focal_px: float
    relative_u: float
    focal_mm: float | None


@dataclass(frozen=True, slots=True)
class CameraNotes:
    """The few EXIF entries that matter, each None or empty where absent or nonsense.

    `size_px` is the size that the camera wrote, which a resized copy no longer has; `orientation`
    is how the stored rows are to be turned, `turned` how the camera was held.
    """

    orientation: int = 1
    turned: int | None = None
    make: str = ""
    model: str = ""
    lens: str = ""
    focal_mm: float | None = None
    focal_35mm: float | None = None
    zoom: float = 1.0
    size_px: tuple[int, int] | None = None
    has_flash: bool = False


def _number(value: object, low: float, high: float) -> float | None:
    """Take an EXIF entry that is a number in a sensible range."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if low <= number <= high else None


def _word(value: object) -> str:
    return "".join(c for c in str(value or "") if c.isprintable()).strip()[:60]


def read_notes(exif: Exif, *, is_upright: bool) -> CameraNotes:
    """Take what is sensible; `is_upright` drops the orientation."""
    base, camera = ExifTags.Base, exif.get_ifd(ExifTags.IFD.Exif)
    width = _number(camera.get(base.ExifImageWidth), 1, 1e6)
    height = _number(camera.get(base.ExifImageHeight), 1, 1e6)
    orientation = _number(exif.get(base.Orientation), 1, 8)
    turned = None if orientation is None else int(orientation)
    return CameraNotes(
        orientation=1 if is_upright or turned is None else turned,
        turned=turned,
        make=_word(exif.get(base.Make)),
        model=_word(exif.get(base.Model)),
        lens=_word(camera.get(base.LensModel)),
        focal_mm=_number(camera.get(base.FocalLength), 0.5, 500),
        # wide lenses of phones have 12 mm; smaller figures are the true focal length misplaced
        focal_35mm=_number(camera.get(base.FocalLengthIn35mmFilm), 12, 300),
        zoom=_number(camera.get(base.DigitalZoomRatio), 1, 100) or 1.0,
        size_px=(int(width), int(height)) if width and height else None,
        has_flash=bool(int(_number(camera.get(base.Flash), 0, 255) or 0) & 1),
    )


def focal_hint(
    notes: CameraNotes, stored_px: tuple[int, int], size_px: tuple[int, int]
) -> FocalHint | None:
    """Focal length in pixels with what is unsure about it.

    Parameters
    ----------
    notes : CameraNotes
    stored_px, size_px : tuple of int
        Width and height of the file and of the picture as decoded.

    Returns
    -------
    FocalHint or None

    Notes
    -----
    The 35 mm value is defined by the diagonal, but some writers use the width, and a picture that
    is not 4:3 may be a crop of a 4:3 sensor: the middle of these readings is taken, their half
    range is the standard uncertainty, with the rounding to whole millimetres and 1.5 % for lenses
    that are not what is written. Zoom may or may not be in the value; a resized picture may have
    been cropped as well.
    """
    if notes.focal_35mm is None:
        return None
    long, short = max(size_px), min(size_px)
    whole = max(long, short * 4 / 3), max(short, long * 3 / 4)  # the 4:3 frame it was cut from
    readings = (
        math.hypot(long, short) / _FILM_DIAGONAL_MM,
        long / _FILM_WIDTH_MM,
        math.hypot(*whole) / _FILM_DIAGONAL_MM,
    )
    low, high = min(readings), max(readings) * notes.zoom
    middle = (low + high) / 2
    u = math.hypot((high - low) / 2 / middle, 0.5 / math.sqrt(3) / notes.focal_35mm, 0.015)
    if notes.zoom > 1 or change_of_size(notes, stored_px) == "scaled":
        u = max(u, 0.2)
    if u > 0.4 or change_of_size(notes, stored_px) == "cropped":
        return None
    return FocalHint(middle * notes.focal_35mm, u, notes.focal_mm)


def change_of_size(
    notes: CameraNotes, stored_px: tuple[int, int]
) -> Literal["none", "scaled", "cropped"]:
    """Compare the picture's size with what the camera wrote."""
    if notes.size_px is None:
        return "none"
    said, now = sorted(notes.size_px), sorted(stored_px)
    if said == now:
        return "none"
    return "scaled" if abs(said[1] * now[0] / (said[0] * now[1]) - 1) < 0.01 else "cropped"


def lens_key(notes: CameraNotes, stored_px: tuple[int, int]) -> str:
    """Make, model, lens, focal length and size, as far as known."""
    words = [notes.make, notes.model, notes.lens]
    words += [f"{notes.focal_mm:g} mm"] if notes.focal_mm else []
    words += [f"as {notes.focal_35mm:g} mm"] if notes.focal_35mm else []
    words += [f"zoom {notes.zoom:g}"] if notes.zoom > 1 else []
    size = f"{max(stored_px)}x{min(stored_px)}"
    return ", ".join([*(word for word in words if word), size])
