"""Paper and bench seen by the camera, without a path tracer: exact maps, area-sampled."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, rays_sheet
from tests.rendering.page import Artwork, Sheet, page_from_sheet

__all__ = ["Ground", "ground_points", "paper_layers", "pixel_grid"]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]

STEP = 4  # pixels between exactly mapped points
FINE = 3  # samples a pixel, each way
BENCH_Z_MM = -0.15


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Where rays meet paper or bench.

    Attributes
    ----------
    points_mm : (..., 3)
    depth_mm : (...)
        Along the camera's axis.
    inside_mm : (...)
        Distance within the paper's edge; negative on the bench.
    """

    points_mm: Floats
    depth_mm: Floats
    inside_mm: Floats


def ground_points(camera: PhoneCamera, sheet: Sheet, x_px: Floats, y_px: Floats) -> Ground:
    """Meet the rays of pixels with the bent sheet, or beyond its edge with the bench.

    Parameters
    ----------
    camera : PhoneCamera
    sheet : Sheet
    x_px, y_px : (...) [px]

    Returns
    -------
    Ground
    """
    eye, way = camera.centre_sheet_mm, rays_sheet(camera, x_px, y_px)
    height = np.zeros(way.shape[:-1])
    for _ in range(6):
        depth = (height - eye[2]) / way[..., 2]
        x, y = eye[0] + depth * way[..., 0], eye[1] + depth * way[..., 1]
        height = sheet.height_mm(x, y)
    return Ground(np.stack([x, y, height], axis=-1), depth, sheet.inside_mm(x, y))


def pixel_grid(size_px: tuple[int, int], step: float, start: float) -> tuple[Floats, Floats]:
    """Pixel coordinates start, start + step, … that cover a picture and one step more."""
    counts = [int(np.ceil((n - start) / step)) + 1 for n in size_px]
    x, y = (start + step * np.arange(-1, count) for count in counts)
    return tuple(np.meshgrid(x, y))  # type: ignore[return-value]


def _upsampled(values: Floats, factor: int, width: int) -> Image:
    """Linear interpolation between exact points, without the half step at the borders."""
    size = (values.shape[1] * factor, values.shape[0] * factor)
    big = cv2.resize(values.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    return np.asarray(big[factor:-factor, factor : factor + width])


def paper_layers(camera: PhoneCamera, sheet: Sheet, artwork: Artwork) -> tuple[Image, Image]:
    """The paper's reflectance as each pixel's area sees it, and its coverage.

    Parameters
    ----------
    camera : PhoneCamera
    sheet : Sheet
    artwork : Artwork

    Returns
    -------
    reflectance : (height, width, 3) float32
    coverage : (height, width) float32
    """
    width, height = camera.size_px
    # the exact points stand where resize() puts the centres of blocks of STEP x STEP pixels
    ground = ground_points(camera, sheet, *pixel_grid(camera.size_px, STEP, (STEP - 1) / 2))
    x, y = page_from_sheet(sheet, ground.points_mm[..., 0], ground.points_mm[..., 1])
    u, v = (artwork.px_per_mm * value - 0.5 for value in (x, y))
    wide = -(-width // STEP) * STEP
    out = np.empty((height, width, 3), np.float32)
    for row in range(0, len(u) - 2, 32):
        part = slice(row, min(row + 34, len(u)))
        factor = STEP * FINE
        maps = [_upsampled(m[part], factor, wide * FINE) for m in (u, v)]
        fine = cv2.remap(
            artwork.reflectance, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        size = (wide, fine.shape[0] // FINE)
        block = cv2.resize(fine.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        top = row * STEP
        rows = min(len(block), height - top)
        out[top : top + rows] = block[:rows, :width] / 65535
    px_per_mm = camera.focal_px / ground.depth_mm
    cover = _upsampled(np.clip(0.5 + ground.inside_mm * px_per_mm, -9, 9), STEP, wide)
    return out, np.clip(cover[:height, :width], 0, 1)
