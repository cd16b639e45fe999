"""Photo files: formats, orientation, lens notes, refusals."""

import struct
import zlib
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageOps

from photomeasure.errors import MissingFileError, NotAPictureError, TooLargeError
from photomeasure.photo import load_photo

ORIENTATION, EXIF_IFD = 0x0112, 0x8769
FOCAL_MM, FOCAL_35MM, ZOOM, FLASH = 0x920A, 0xA405, 0xA404, 0x9209
WIDTH, HEIGHT = 0xA002, 0xA003


def picture(width: int = 400, height: int = 300) -> Image.Image:
    """A picture whose corners tell which way it is up."""
    pixels = np.full((height, width, 3), 128, dtype=np.uint8)
    pixels[: height // 3, : width // 4] = (250, 10, 10)
    pixels[2 * height // 3 :, : width // 2] = (10, 250, 10)
    pixels[: height // 4, 3 * width // 4 :] = (10, 10, 250)
    return Image.fromarray(pixels)


def encoded(kind: str, exif: Image.Exif | None = None, image: Image.Image | None = None) -> bytes:
    buffer = BytesIO()
    (image or picture()).save(buffer, kind, exif=exif or Image.Exif(), quality=95)
    return buffer.getvalue()


def exif_of(orientation: int = 1, **camera: float) -> Image.Exif:
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    tags = {
        "focal_mm": FOCAL_MM,
        "focal_35mm": FOCAL_35MM,
        "zoom": ZOOM,
        "flash": FLASH,
        "width": WIDTH,
        "height": HEIGHT,
    }
    exif.get_ifd(EXIF_IFD).update({tags[name]: value for name, value in camera.items()})
    return exif


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_is_turned_upright_once(kind, orientation):
    data = encoded(kind, exif_of(orientation))
    # outside check: Pillow's own transposition by the same tag
    expected = np.asarray(ImageOps.exif_transpose(Image.open(BytesIO(data))).convert("RGB"))
    photo = load_photo(data, "x")
    assert photo.size_px == (expected.shape[1], expected.shape[0])
    assert np.abs(photo.colour[:, :, ::-1].astype(int) - expected).max() <= 40
    assert np.abs(photo.colour[:, :, ::-1].astype(int) - expected).mean() < 1


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_heic_is_turned_by_its_decoder_alone(orientation):
    pillow_heif.register_heif_opener()
    photo = load_photo(encoded("HEIF", exif_of(orientation, focal_35mm=26)), "x.heic")
    assert photo.size_px == (400, 300)  # this file has no rotation box, whatever EXIF says
    assert photo.colour[20, 20, 2] > 200
    assert photo.focal_hint is not None


def test_grey_is_the_brightness_of_colour_and_neither_can_be_changed():
    photo = load_photo(encoded("PNG"))
    # ITU-R BT.601: 0.299 R + 0.587 G + 0.114 B
    assert photo.grey[5, 5] == pytest.approx(0.299 * 250 + 0.587 * 10 + 0.114 * 10, abs=1)
    with pytest.raises(ValueError, match="read-only"):
        photo.grey[0, 0] = 1


def test_the_lens_prior_covers_both_meanings_of_the_35_mm_value():
    photo = load_photo(encoded("JPEG", exif_of(focal_35mm=26, focal_mm=6.8)))
    hint = photo.focal_hint
    # CIPA DCG-001: by the diagonal; some writers use the width: the figures for 4032 x 3024
    # are 3029 and 2912 px, here a 10.08th of them
    assert hint.focal_px == pytest.approx((3029 + 2912) / 2 / 10.08, rel=0.002)
    assert 0.02 < hint.relative_u < 0.04
    assert hint.focal_mm == pytest.approx(6.8)


def test_a_turned_photo_has_the_same_lens():
    hints = [load_photo(encoded("JPEG", exif_of(o, focal_35mm=26))).focal_hint for o in (1, 6)]
    assert hints[0] == hints[1]


@pytest.mark.parametrize(
    ("camera", "expected_u"),
    [
        ({"focal_35mm": 26, "zoom": 2}, 0.33),
        ({"focal_35mm": 26, "width": 4000, "height": 3000}, 0.2),
    ],
)
def test_zoom_and_resizing_widen_the_prior(camera, expected_u):
    photo = load_photo(encoded("JPEG", exif_of(**camera)))
    assert photo.focal_hint.relative_u == pytest.approx(expected_u, rel=0.15)


@pytest.mark.parametrize(
    "camera",
    [
        {},
        {"focal_35mm": 8},
        {"focal_35mm": 0},
        {"focal_35mm": 26, "width": 4000, "height": 2000},
        {"focal_35mm": 26, "zoom": 8},
    ],
)
def test_no_prior_where_exif_cannot_be_trusted(camera):
    assert load_photo(encoded("JPEG", exif_of(**camera))).focal_hint is None


def test_a_square_crop_of_a_wide_sensor_is_covered():
    image = picture(300, 300)
    hint = load_photo(encoded("JPEG", exif_of(focal_35mm=26), image)).focal_hint
    uncropped_px = 26 * np.hypot(400, 300) / np.hypot(36, 24)
    assert abs(uncropped_px / hint.focal_px - 1) < 1.2 * hint.relative_u


def test_damaged_exif_is_no_exif():
    data = encoded("JPEG", exif_of(6, focal_35mm=26))
    at = data.index(b"Exif")
    broken = data[: at + 6] + b"\xff" * 24 + data[at + 30 :]
    photo = load_photo(broken)
    assert photo.focal_hint is None
    assert photo.size_px == (400, 300)


def test_lens_key_tells_lenses_apart_and_not_orientations():
    keys = {
        load_photo(encoded("JPEG", exif_of(o, focal_mm=f, focal_35mm=26))).lens_key
        for o in (1, 8)
        for f in (2.2, 6.8)
    }
    assert len(keys) == 2


def test_warnings_are_told():
    photo = load_photo(encoded("JPEG", exif_of(flash=1, zoom=2, width=4000, height=3000)))
    text = " ".join(photo.warnings)
    for word in ("messenger", "flash", "zoom", "resized"):
        assert word in text


def test_a_whole_phone_photo_warns_of_nothing():
    image = Image.new("RGB", (4032, 3024), "white")
    photo = load_photo(encoded("JPEG", exif_of(focal_35mm=26, width=4032, height=3024), image))
    assert photo.warnings == ()
    assert photo.reduction == 1


def test_bytes_and_file_are_the_same_photo(tmp_path: Path):
    data = encoded("JPEG")
    path = tmp_path / "part.jpg"
    path.write_bytes(data)
    from_file, from_bytes = load_photo(path), load_photo(data)
    assert from_file.name == "part.jpg"
    assert from_file.key == from_bytes.key
    assert from_file.key != load_photo(encoded("PNG")).key


def test_trailing_data_of_a_moving_photo_is_no_damage():
    assert load_photo(encoded("JPEG") + b"\xff\xda moving" * 20).size_px == (400, 300)


# --- refusals -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["nothing.jpg", "folder", "zero\0byte.jpg"])
def test_no_file(tmp_path, name):
    (tmp_path / "folder").mkdir()
    with pytest.raises(MissingFileError) as caught:
        load_photo(tmp_path / name)
    assert caught.value.code == "no-file"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"These are words in a file called photo.jpg.",
        b"\xff\xd8\xff\xe0",
        b"\x89PNG\r\n\x1a\n",
        b"RIFF\x10\0\0\0WEBPVP8 ",
        b"\0\0\0\x18ftypheic",
        b"GIF89a\x01\0\x01\0",
    ],
)
def test_not_a_picture(data):
    with pytest.raises(NotAPictureError) as caught:
        load_photo(data, "photo.jpg")
    assert caught.value.code == "not-a-picture"
    assert "photo.jpg" in caught.value.message


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
@pytest.mark.parametrize("share", [0.3, 0.9])
def test_truncated(kind, share):
    pillow_heif.register_heif_opener()
    rng = np.random.default_rng(5)
    noisy = Image.fromarray(rng.integers(0, 255, (300, 400, 3), dtype=np.uint8))
    data = encoded(kind, image=noisy)
    with pytest.raises(NotAPictureError, match="damaged"):
        load_photo(data[: int(len(data) * share)])


def test_a_progressive_jpeg_is_whole_or_truncated():
    buffer = BytesIO()
    picture().save(buffer, "JPEG", progressive=True)
    data = buffer.getvalue()
    assert load_photo(data).size_px == (400, 300)
    with pytest.raises(NotAPictureError):
        load_photo(data[:-200])


def test_one_pixel():
    with pytest.raises(NotAPictureError, match="1 × 1"):
        load_photo(encoded("PNG", image=Image.new("RGB", (1, 1))))


def test_a_file_of_too_many_bytes(tmp_path):
    path = tmp_path / "large.jpg"
    path.write_bytes(encoded("JPEG") + bytes(51_000_000))
    for source in (path, path.read_bytes()):
        with pytest.raises(TooLargeError) as caught:
            load_photo(source)
        assert caught.value.code == "too-large"


def test_too_many_pixels():
    def chunk(name: bytes, content: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(name + content))
        return struct.pack(">I", len(content)) + name + content + crc

    size = struct.pack(">IIBBBBB", 20000, 20000, 8, 2, 0, 0, 0)
    parts = chunk(b"IHDR", size) + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")
    with pytest.raises(TooLargeError, match="400 million"):
        load_photo(b"\x89PNG\r\n\x1a\n" + parts)


def test_two_hundred_megapixels_are_read_reduced():
    width, height = 16320, 12240
    pixels = np.full((height, width), 200, dtype=np.uint8)
    pixels[6000:6400, 8000:8800] = 20
    data = cv2.imencode(".jpg", pixels)[1].tobytes()
    del pixels
    photo = load_photo(data)
    assert photo.reduction == 4
    assert photo.size_px == (width // 4, height // 4)
    assert any("very large" in warning for warning in photo.warnings)
    rows, columns = np.nonzero(photo.grey < 110)
    # edges between pixels: (first + last) / 2 is the middle of a picture counted from centres
    assert (rows.min() + rows.max()) / 2 == pytest.approx((6200 - 0.5 + 0.5) / 4 - 0.5, abs=0.6)
    assert (columns.min() + columns.max()) / 2 == pytest.approx(8400 / 4 - 0.5, abs=0.6)


def test_a_photo_is_taken_of_its_middle_unless_somebody_points():
    photo = load_photo(encoded("PNG"))
    assert photo.aim_px == (199.5, 149.5)  # of 400 by 300 pixels, counted from their middles
    assert replace(photo, marked_px=((8.0, 10.0), (12.0, 30.0))).aim_px == (10.0, 20.0)
