"""The bytes of a picture file become pixels, or a refusal."""

import struct
import warnings as python_warnings
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Literal

import cv2
import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import ImageFile
from PIL.Image import Exif
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.WebPImagePlugin import WebPImageFile

from photomeasure.errors import NotAPictureError, TooLargeError
from photomeasure.photo.exif import CameraNotes, read_notes

__all__ = ["PictureFile", "decode", "look_at", "reduction_of"]

_Format = Literal["JPEG", "PNG", "WebP", "HEIC"]

MOST_PIXELS = 220_000_000  # above any phone's sensor; larger files are hostile or stitched
# Above this the picture is decoded at a half or quarter: sensors with more pixels share one
# colour filter among several of them, so that little detail is lost and much memory saved.
FULL_PIXELS = 32_000_000
LEAST_SIDE_PX = 200

_TAKE_ANOTHER = "Choose the photo as the phone took it (JPEG, HEIC, PNG or WebP)."


@dataclass(frozen=True, slots=True)
class PictureFile:
    """What can be known of a file without decoding its pixels; size as stored, not yet upright."""

    format: _Format
    size_px: tuple[int, int]
    notes: CameraNotes


def _sniff(data: bytes) -> _Format | None:
    """Tell the format by its first bytes: names and MIME types are often wrong."""
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    if data[4:8] == b"ftyp" and data[8:12] in {b"heic", b"heix", b"hevc", b"heim", b"mif1"}:
        return "HEIC"
    return None


def _is_whole(data: bytes, kind: _Format) -> bool:
    """Tell whether the file's end is there; decoders fill in a missing rest without a word."""
    if kind == "JPEG":
        return _has_jpeg_end(data)
    if kind == "PNG":
        return b"IEND" in data[-4096:]
    if kind == "WebP":
        return len(data) >= int.from_bytes(data[4:8], "little") + 8
    return True  # the HEIC decoder says so itself


def _has_jpeg_end(data: bytes) -> bool:
    """Walk over tables, EXIF and thumbnail to the picture's own data and look for its end."""
    at = 2
    while data[at : at + 1] == b"\xff" and data[at + 1 : at + 2] != b"\xda":
        is_filler = data[at + 1 : at + 2] == b"\xff"
        at += 1 if is_filler else 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    # there 0xff is never followed by 0xd9 but at the end
    return data[at : at + 1] == b"\xff" and data.find(b"\xff\xd9", at) >= 0


def _damaged(name: str, kind: _Format) -> NotAPictureError:
    return NotAPictureError(
        f"{name} is a damaged {kind} file: a part of the picture is missing.",
        "Copy the photo from the phone again.",
    )


_OPENERS: dict[str, type[ImageFile.ImageFile]] = {
    "JPEG": JpegImageFile,
    "PNG": PngImageFile,
    "WebP": WebPImageFile,
}


def _header(data: bytes, kind: _Format) -> tuple[tuple[int, int], CameraNotes]:
    """Size as stored and EXIF; opened by class, since the general opener caps the pixels."""
    with python_warnings.catch_warnings():
        python_warnings.simplefilter("ignore")  # of damaged EXIF, which is left out below
        if kind == "HEIC":
            heif = pillow_heif.open_heif(BytesIO(data))
            # the decoder turns a HEIC by the file's own rotation box, whatever EXIF says
            return heif.size, _notes(lambda: _loaded(heif.info.get("exif")), is_upright=True)
        with _OPENERS[kind](BytesIO(data)) as image:
            return image.size, _notes(image.getexif, is_upright=False)


def _loaded(block: bytes | None) -> Exif:
    exif = Exif()
    exif.load(block or b"")
    return exif


def _notes(read: Callable[[], Exif], *, is_upright: bool) -> CameraNotes:
    try:
        return read_notes(read(), is_upright=is_upright)
    except (
        OSError,
        ValueError,
        SyntaxError,
        TypeError,
        LookupError,
        ArithmeticError,
        struct.error,
    ):
        return CameraNotes()  # a good picture with damaged EXIF is a picture without EXIF


def look_at(data: bytes, name: str) -> PictureFile:
    """Read the header only.

    Raises
    ------
    NotAPictureError
        No format that is read, a part is missing, or too few pixels for a photo.
    """
    kind = _sniff(data)
    if kind is None:
        what = "is empty" if not data else "is not a picture, whatever its name says"
        raise NotAPictureError(f"{name} {what}.", _TAKE_ANOTHER)
    try:
        size_px, notes = _header(data, kind)
    except (OSError, ValueError, SyntaxError, RuntimeError, EOFError, IndexError) as error:
        raise _damaged(name, kind) from error
    if not _is_whole(data, kind):
        raise _damaged(name, kind)
    if min(size_px) < LEAST_SIDE_PX:
        width, height = size_px
        raise NotAPictureError(
            f"{name} has only {width} × {height} pixels; that is no photo of a print.",
            _TAKE_ANOTHER,
        )
    return PictureFile(kind, size_px, notes)


def reduction_of(size_px: tuple[int, int], name: str) -> int:
    """Choose how far to reduce the picture while decoding (1, 2 or 4)."""
    pixels = size_px[0] * size_px[1]
    if pixels > MOST_PIXELS:
        raise TooLargeError(
            f"{name} has {pixels / 1e6:.0f} million pixels; up to {MOST_PIXELS / 1e6:.0f} million "
            "are read.",
            "Take the photo at the camera's normal size.",
        )
    return next((r for r in (1, 2, 4) if pixels <= FULL_PIXELS * r * r), 4)


_FLAGS = {1: cv2.IMREAD_COLOR, 2: cv2.IMREAD_REDUCED_COLOR_2, 4: cv2.IMREAD_REDUCED_COLOR_4}


def decode(data: bytes, file: PictureFile, reduction: int, name: str) -> NDArray[np.uint8]:
    """Decode once and turn upright once.

    Parameters
    ----------
    data : bytes
    file : PictureFile
    reduction : {1, 2, 4}
    name : str

    Returns
    -------
    (height, width, 3) uint8
        Blue, green, red.
    """
    if file.format == "HEIC":
        return _decode_heic(data, reduction, name)
    flag = _FLAGS[reduction] | cv2.IMREAD_IGNORE_ORIENTATION
    try:
        pixels = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), flag)
    except cv2.error as error:
        raise _damaged(name, file.format) from error
    if pixels is None:
        raise _damaged(name, file.format)
    return _upright(np.asarray(pixels, dtype=np.uint8), file.notes.orientation)


def _decode_heic(data: bytes, reduction: int, name: str) -> NDArray[np.uint8]:
    try:
        heif = pillow_heif.open_heif(BytesIO(data), bgr_mode=True, convert_hdr_to_8bit=True)
        pixels = np.asarray(heif)
    except (OSError, ValueError, RuntimeError, EOFError) as error:
        raise _damaged(name, "HEIC") from error
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    pixels = pixels[:, :, :3]
    if reduction > 1:
        size = pixels.shape[1] // reduction, pixels.shape[0] // reduction
        pixels = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(pixels, dtype=np.uint8)


_Turn = Callable[[NDArray[np.uint8]], NDArray[np.uint8]]
_TURNS: dict[int, _Turn] = {  # EXIF 2.32, tag 0x0112: what brings the stored rows upright
    2: lambda p: np.asarray(cv2.flip(p, 1), dtype=np.uint8),
    3: lambda p: np.asarray(cv2.rotate(p, cv2.ROTATE_180), dtype=np.uint8),
    4: lambda p: np.asarray(cv2.flip(p, 0), dtype=np.uint8),
    5: lambda p: np.asarray(cv2.transpose(p), dtype=np.uint8),
    6: lambda p: np.asarray(cv2.rotate(p, cv2.ROTATE_90_CLOCKWISE), dtype=np.uint8),
    7: lambda p: np.asarray(cv2.flip(cv2.transpose(p), -1), dtype=np.uint8),
    8: lambda p: np.asarray(cv2.rotate(p, cv2.ROTATE_90_COUNTERCLOCKWISE), dtype=np.uint8),
}


def _upright(stored: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    turn = _TURNS.get(orientation)
    return stored if turn is None else turn(stored)
