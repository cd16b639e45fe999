"""Paper in a traced picture: its print exact, the light on it traced and smoothed."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera
from tests.rendering.tracer import LANES, pixel_rays

__all__ = ["MOST", "PaperLook", "paper_seen"]

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
EDGE_PX = 1.2  # blur of what is seen beside the paper in the pixels of its edge
MOST = 4.0  # a brighter sample is cut to it: the sensor clips near 1


@dataclass(frozen=True, slots=True)
class PaperLook:
    """Samples a pixel for what is where and for light, both square; blur of the latter."""

    print_spp: int = 49
    light_spp: int = 16
    smooth_px: float = 3.0
    depth: int = 9
    seed: int = 3


def _means(values: list[Any], spp: int) -> Floats:
    """Means over the samples of each pixel, (N, len(values))."""
    import drjit as dr  # noqa: PLC0415

    dr.eval(values)
    sums = [np.array(dr.block_sum(value, spp)) for value in values]
    return np.stack(sums, axis=-1).astype(np.float64) / spp


def _prints(mi: Any, stage: tuple[Any, Any], rays: Any) -> tuple[Any, list[Any]]:
    """Where rays first meet the paper, and what the print throws back there."""
    import drjit as dr  # noqa: PLC0415

    scene, paper = stage
    met = scene.ray_intersect(rays)
    on = met.is_valid() & (met.shape == mi.ShapePtr(paper))
    colour = met.bsdf(rays).eval_diffuse_reflectance(met, on)
    return on, [dr.select(on, c, 0.0) for c in colour]


def _print_of(
    mi: Any, stage: tuple[Any, Any], camera: PhoneCamera, pixels: NDArray[np.int64], spp: int
) -> Floats:
    """Reflectance of the paper and its share of each pixel, (N, 4)."""
    import drjit as dr  # noqa: PLC0415

    side = int(np.sqrt(spp))
    out = np.zeros((len(pixels), 4))
    step = max(1, LANES // side**2)
    for first in range(0, len(pixels), step):
        rays = pixel_rays(mi, camera, pixels[first : first + step], side, first + 29)
        on, colour = _prints(mi, stage, rays)
        share = dr.select(on, mi.Float(1), mi.Float(0))
        out[first : first + step] = _means([*colour, share], side**2)
    return out


def _light_of(
    mi: Any,
    stage: tuple[Any, Any],
    camera: PhoneCamera,
    pixels: NDArray[np.int64],
    look: PaperLook,
) -> Floats:
    """Light from paper, light from all else, print and share of paper, (N, 3 + 3 + 4)."""
    import drjit as dr  # noqa: PLC0415

    side = int(np.sqrt(look.light_spp))
    out = np.zeros((len(pixels), 10))
    step = max(1, LANES // side**2)
    integrator = mi.load_dict({"type": "path", "max_depth": look.depth, "rr_depth": 4})
    for first in range(0, len(pixels), step):
        some = pixels[first : first + step]
        rays = pixel_rays(mi, camera, some, side, look.seed * 7919 + first + 17)
        on, colour = _prints(mi, stage, rays)
        sampler = mi.load_dict({"type": "independent", "sample_count": side**2})
        sampler.seed(look.seed * 104729 + first + 5, len(some) * side**2)
        light, _, _ = integrator.sample(stage[0], sampler, rays)
        good = dr.isfinite(light.x + light.y + light.z)
        kept = [dr.select(good, dr.minimum(c, MOST), 0.0) for c in light]
        paper = [dr.select(on, c, 0.0) for c in kept]
        other = [dr.select(on, 0.0, c) for c in kept]
        share = dr.select(on, mi.Float(1), mi.Float(0))
        out[first : first + step] = _means([*paper, *other, *colour, share], side**2)
    return out


def _ratio(
    above: Floats, below: Floats, place: tuple[NDArray[np.int64], ...], sigma: float
) -> Floats:
    """Quotient of two fields known at pixels, each blurred first, (N, 3)."""
    size = tuple(int(p.max()) + 1 for p in place)
    sums = np.zeros((*size, 6), np.float32)
    sums[place] = np.column_stack([above, np.broadcast_to(below, above.shape)])
    smooth = cv2.GaussianBlur(sums, (0, 0), sigma)[place]
    return np.asarray(smooth[:, :3] / np.maximum(smooth[:, 3:], 1e-6), dtype=np.float64)


def paper_seen(
    mi: Any,
    stage: tuple[Any, Any],
    camera: PhoneCamera,
    mask: NDArray[np.uint8],
    look: PaperLook,
) -> Floats:
    """What pixels of a mask see, paper free of the tracer's noise.

    Light on paper varies slowly, the print on it does not: both are sampled apart and multiplied.
    What is not paper is as traced.

    Parameters
    ----------
    mi : module
    stage : (scene, the paper's shape)
    camera : PhoneCamera
    mask : (height, width)
    look : PaperLook

    Returns
    -------
    (N, 3)
        Of the mask's pixels, row by row.
    """
    rows, cols = np.nonzero(mask)
    pixels = np.column_stack([cols, rows]).astype(np.int64)
    fine = _print_of(mi, stage, camera, pixels, look.print_spp)
    coarse = _light_of(mi, stage, camera, pixels, look)
    place = (rows - rows.min(), cols - cols.min())
    light = _ratio(coarse[:, :3], coarse[:, 6:9], place, look.smooth_px)
    rest = _ratio(coarse[:, 3:6], 1 - coarse[:, 9:], place, EDGE_PX)
    is_edge = (fine[:, 3:] > 0) & (fine[:, 3:] < 1)
    beside = np.where(is_edge, (1 - fine[:, 3:]) * rest, coarse[:, 3:6])
    return np.asarray(fine[:, :3] * light + beside)
