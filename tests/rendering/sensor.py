"""From light to a phone's JPEG: blur, mosaic, noise, denoising, tone curve, sharpening, notes."""

import io
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image as PilImage

__all__ = ["STORED_TURNS", "Development", "develop", "draw_development", "save_jpeg"]

Image = NDArray[np.float32]

STORED_TURNS = {1: 0, 3: 2, 6: 1, 8: 3}  # quarter turns anticlockwise from upright to stored


@dataclass(frozen=True, slots=True)
class Development:
    """All that a phone does to one exposure.

    Attributes
    ----------
    paper_level : float
        Where the paper comes to lie, 1 being where the sensor clips.
    blur_px : float
        Standard deviation of the lens' blur.
    motion_px, motion_rad : float
        Length and direction of the hand's movement.
    shot, read : float
        Noise: variance = shot * signal + read^2.
    denoise, s_curve, sharpen, sharpen_px : float
    quality : int
    red_gain, blue_gain : float
        White balance as the phone got it, about 1.
    orientation : 1, 3, 6, 8 or None
        EXIF; None: no EXIF at all.
    focal_35mm, focal_mm : int, float
    seed : int
    """

    paper_level: float
    blur_px: float
    motion_px: float
    motion_rad: float
    shot: float
    read: float
    denoise: float
    s_curve: float
    sharpen: float
    sharpen_px: float
    quality: int
    red_gain: float
    blue_gain: float
    orientation: int | None
    focal_35mm: int
    focal_mm: float
    seed: int


def draw_development(
    orientation: int | None, focal: tuple[int, float], rng: np.random.Generator
) -> Development:
    """One phone's way with one exposure; `focal` is (35 mm equivalent, millimetres)."""
    return Development(
        paper_level=float(rng.uniform(0.5, 0.82)),
        blur_px=float(rng.uniform(0.6, 1.15)),
        motion_px=float(rng.choice([0.0, rng.uniform(0, 1.5)])),
        motion_rad=float(rng.uniform(0, np.pi)),
        shot=float(10 ** rng.uniform(-4.1, -3.3)),
        read=float(rng.uniform(0.001, 0.003)),
        denoise=float(rng.uniform(0.3, 0.75)),
        s_curve=float(rng.uniform(0.0, 0.35)),
        sharpen=float(rng.uniform(0.3, 0.9)),
        sharpen_px=float(rng.uniform(0.9, 1.6)),
        quality=int(rng.integers(85, 96)),
        red_gain=float(rng.normal(1, 0.02)),
        blue_gain=float(rng.normal(1, 0.03)),
        orientation=orientation,
        focal_35mm=focal[0],
        focal_mm=focal[1],
        seed=int(rng.integers(2**31)),
    )


def _blurred(light: Image, dev: Development) -> Image:
    out = cv2.GaussianBlur(light, (0, 0), dev.blur_px)
    if dev.motion_px < 0.2:
        return np.asarray(out)
    kernel = np.zeros((9, 9), np.float32)
    for t in np.linspace(-0.5, 0.5, 41) * dev.motion_px:
        x, y = 4 + t * np.cos(dev.motion_rad), 4 + t * np.sin(dev.motion_rad)
        i, j = int(np.floor(y)), int(np.floor(x))
        for di, wy in ((0, 1 - (y - i)), (1, y - i)):
            for dj, wx in ((0, 1 - (x - j)), (1, x - j)):
                kernel[i + di, j + dj] += wy * wx
    return np.asarray(cv2.filter2D(out, -1, kernel / kernel.sum()))


def _mosaic(light: Image, dev: Development, rng: np.random.Generator) -> NDArray[np.uint16]:
    """Raw values of an RGGB sensor, 14 bits used, clipped at 1."""
    gains = (0.55, 1.0, 0.65)  # the sensor's own sensitivity to red, green, blue
    raw = np.empty(light.shape[:2], np.float32)
    for i, j, channel in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        raw[i::2, j::2] = light[i::2, j::2, channel] * gains[channel]
    spread = np.sqrt(dev.shot * np.maximum(raw, 0) + dev.read**2)
    raw += spread * rng.standard_normal(raw.shape, dtype=np.float32)
    return np.clip(raw * 16000 + 400, 0, 16400).astype(np.uint16)


def _demosaic(raw: NDArray[np.uint16]) -> Image:
    """Colour from the mosaic; the constant's name counts from the second row and column."""
    rgb = cv2.cvtColor(raw, cv2.COLOR_BayerBG2RGB_EA).astype(np.float32)
    rgb = (rgb - 400) / 16000
    rgb[..., 0] /= 0.55
    rgb[..., 2] /= 0.65
    np.clip(rgb, 0, 1, out=rgb)
    return rgb


def _toned(rgb: Image, dev: Development) -> Image:
    """Gamma of sRGB with a mild s-curve, by table."""
    x = np.linspace(0, 1, 4096)
    y = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055)
    y = (1 - dev.s_curve) * y + dev.s_curve * (3 * y**2 - 2 * y**3)
    index = np.round(rgb * 4095).astype(np.uint16)
    return np.asarray(y.astype(np.float32)[index])


def _finished(rgb: Image, dev: Development) -> NDArray[np.uint8]:
    """Denoise flat areas and all colour, sharpen brightness, round to bytes."""
    ycc = cv2.cvtColor(rgb, cv2.COLOR_RGB2YCrCb)
    y = np.ascontiguousarray(ycc[..., 0])
    smooth = cv2.GaussianBlur(y, (0, 0), 1.4)
    flat = np.exp(-(((y - smooth) / 0.03) ** 2)) * dev.denoise
    y += flat * (smooth - y)
    y += dev.sharpen * (y - cv2.GaussianBlur(y, (0, 0), dev.sharpen_px))
    ycc[..., 0] = y
    for k in (1, 2):
        ycc[..., k] = cv2.GaussianBlur(np.ascontiguousarray(ycc[..., k]), (0, 0), 1.5)
    out = cv2.cvtColor(ycc, cv2.COLOR_YCrCb2RGB)
    return np.asarray(np.clip(out * 255 + 0.5, 0, 255).astype(np.uint8))


def develop(light: Image, dev: Development) -> NDArray[np.uint8]:
    """Turn a linear upright picture into the stored one, as the phone's file holds it.

    Parameters
    ----------
    light : (height, width, 3) float32
        Linear; overwritten.
    dev : Development

    Returns
    -------
    (rows, columns, 3) uint8
        RGB, turned as the orientation asks.
    """
    rng = np.random.default_rng(dev.seed)
    light *= np.array([dev.red_gain, 1, dev.blue_gain], np.float32)
    blurred = _blurred(light, dev)
    turns = STORED_TURNS[dev.orientation or 1]
    stored = np.ascontiguousarray(np.rot90(blurred, turns))
    return _finished(_toned(_demosaic(_mosaic(stored, dev, rng)), dev), dev)


def save_jpeg(path: Path, stored: NDArray[np.uint8], dev: Development) -> None:
    """Write the file with the notes of a phone, which call it rendered.

    Parameters
    ----------
    path : Path
    stored : (rows, columns, 3) uint8
    dev : Development
    """
    picture = PilImage.fromarray(stored)
    buffer = io.BytesIO()
    if dev.orientation is None:
        picture.save(buffer, "JPEG", quality=dev.quality, subsampling=2)
    else:
        notes = PilImage.Exif()
        notes[0x0131] = "photomeasure test renderer"
        notes[0x010E] = "rendered, not photographed"
        notes[0x0112] = dev.orientation
        ifd = notes.get_ifd(0x8769)
        ifd[0x920A] = round(dev.focal_mm, 2)
        ifd[0xA405] = dev.focal_35mm
        ifd[0xA002], ifd[0xA003] = picture.size
        picture.save(buffer, "JPEG", quality=dev.quality, subsampling=2, exif=notes)
    path.write_bytes(buffer.getvalue())
