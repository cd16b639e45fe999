"""The collar as a real ring of paper: cut out, a little bent, stuck a little off the mouth."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.rendering.page import Artwork
from tests.rendering.surfaces import Body

__all__ = ["Collar", "Ring", "collar_body", "crop_px", "rings_of", "sheet_from_page_points"]

Floats = NDArray[np.float64]

ANGLES, STEPS = 360, 36


@dataclass(frozen=True, slots=True)
class Ring:
    """One ring of the page as designed: its outline and hole, page frame."""

    name: str
    left_top_mm: tuple[float, float]
    right_bottom_mm: tuple[float, float]
    hole_centre_mm: tuple[float, float]
    hole_mm: float


@dataclass(frozen=True, slots=True)
class Collar:
    """One ring as printed, cut and stuck; its own sheet frame starts at the outline's middle.

    Attributes
    ----------
    ring : Ring
    scale_x, scale_y : float
        Printed length over designed length.
    thickness_mm : float
    lifts_mm : (4,)
        Of the outline's corners: left top, right top, right bottom, left bottom.
    bow_mm, bow_rad : float
        Height of a cylindrical bow at the outline's edge, and the direction across it.
    hole_wobble_mm : ((cosine, sine), ...)
        Of the cut's radius: once, twice, three times, ... round the hole.
    """

    ring: Ring
    scale_x: float
    scale_y: float
    thickness_mm: float
    lifts_mm: tuple[float, float, float, float]
    bow_mm: float
    bow_rad: float
    hole_wobble_mm: tuple[tuple[float, float], ...]

    @property
    def half_mm(self) -> tuple[float, float]:
        """Half of the printed width and height."""
        (left, top), (right, bottom) = self.ring.left_top_mm, self.ring.right_bottom_mm
        return (right - left) / 2 * self.scale_x, (bottom - top) / 2 * self.scale_y

    @property
    def middle_page_mm(self) -> tuple[float, float]:
        """Where the sheet frame's origin is on the page."""
        (left, top), (right, bottom) = self.ring.left_top_mm, self.ring.right_bottom_mm
        return (left + right) / 2, (top + bottom) / 2

    def height_mm(self, x_mm: Floats, y_mm: Floats) -> Floats:
        """Height of the printed side above the sheet's plane, (...) [mm]; never below it."""
        half_x, half_y = self.half_mm
        height = np.zeros(np.broadcast(x_mm, y_mm).shape)
        signs = ((-1, 1), (1, 1), (1, -1), (-1, -1))
        for lift, (sign_x, sign_y) in zip(self.lifts_mm, signs, strict=True):
            along = (sign_x * x_mm / half_x + sign_y * y_mm / half_y) / 2
            height = height + lift * np.maximum(along, 0) ** 2.5
        across = (x_mm * np.cos(self.bow_rad) + y_mm * np.sin(self.bow_rad)) / max(half_x, half_y)
        return np.asarray(height + self.bow_mm * across**2)

    def cut_radius_mm(self, theta_rad: Floats) -> Floats:
        """Radius of the hole as it was cut, (...) [mm], by direction in the sheet's frame."""
        radius = np.full(theta_rad.shape, self.ring.hole_mm / 2)
        for k, (cosine, sine) in enumerate(self.hole_wobble_mm):
            radius = radius + cosine * np.cos(k * theta_rad) + sine * np.sin(k * theta_rad)
        return np.asarray(radius)


def rings_of(artwork: Artwork) -> tuple[Ring, ...]:
    """The rings of a page of collars, smallest hole first."""
    rings = []
    for piece in artwork.layout["pieces"]:
        outline = np.asarray(piece["outline_mm"], dtype=np.float64)
        low, high = outline.min(axis=0), outline.max(axis=0)
        hole = piece["hole"]
        rings.append(
            Ring(
                name=piece["name"],
                left_top_mm=(float(low[0]), float(low[1])),
                right_bottom_mm=(float(high[0]), float(high[1])),
                hole_centre_mm=tuple(hole["centre_mm"]),
                hole_mm=float(hole["diameter_mm"]),
            )
        )
    return tuple(sorted(rings, key=lambda ring: ring.hole_mm))


def sheet_from_page_points(collar: Collar, points_page_mm: Floats) -> Floats:
    """Where points of the page really are on the stuck collar.

    Parameters
    ----------
    collar : Collar
    points_page_mm : (N, 2) [mm]

    Returns
    -------
    (N, 3) [mm]
        In the sheet's frame: true millimetres from the outline's middle, y up, z out of the paper.
    """
    middle = collar.middle_page_mm
    x = (points_page_mm[:, 0] - middle[0]) * collar.scale_x
    y = (middle[1] - points_page_mm[:, 1]) * collar.scale_y
    return np.column_stack([x, y, collar.height_mm(x, y)])


def crop_px(ring: Ring, artwork: Artwork) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the page's pixels that hold the ring and a little more."""
    (left, top), (right, bottom) = ring.left_top_mm, ring.right_bottom_mm
    rows, columns = artwork.reflectance.shape[:2]
    per_mm = artwork.px_per_mm
    return (
        max(0, int((left - 1) * per_mm)),
        max(0, int((top - 1) * per_mm)),
        min(columns, int((right + 1) * per_mm)),
        min(rows, int((bottom + 1) * per_mm)),
    )


def _edge(collar: Collar, theta: Floats) -> Floats:
    """Distance from the middle to the outline, by direction."""
    half_x, half_y = collar.half_mm
    with np.errstate(divide="ignore"):
        return np.asarray(np.minimum(half_x / abs(np.cos(theta)), half_y / abs(np.sin(theta))))


def collar_body(collar: Collar, artwork: Artwork) -> Body:
    """The collar in its sheet frame as a mesh with the edges of its paper.

    Parameters
    ----------
    collar : Collar
    artwork : Artwork

    Returns
    -------
    Body
        Its texture coordinates are exact for the print's pixels in `crop_px`.
    """
    half_x, half_y = collar.half_mm
    corners = np.arctan2([half_y, half_y, -half_y, -half_y], [half_x, -half_x, -half_x, half_x])
    even = np.linspace(-np.pi, np.pi, ANGLES, endpoint=False)
    theta = np.unique(np.concatenate([even, corners]))
    inner, outer = collar.cut_radius_mm(theta), _edge(collar, theta)
    share = np.linspace(0, 1, STEPS)[:, None]
    r = inner + share * (outer - inner)
    x, y = r * np.cos(theta), r * np.sin(theta)
    z = collar.height_mm(x, y)
    low = z[[0, -1]] - collar.thickness_mm  # the paper's own edges
    x, y = (np.concatenate([v[:1], v, v[-1:]]) for v in (x, y))
    z = np.concatenate([low[:1], z, low[1:]])
    middle = collar.middle_page_mm
    left, top, right, bottom = crop_px(collar.ring, artwork)
    u = ((x / collar.scale_x + middle[0]) * artwork.px_per_mm - left) / (right - left)
    v = ((middle[1] - y / collar.scale_y) * artwork.px_per_mm - top) / (bottom - top)
    index = np.arange(x.size).reshape(x.shape)
    a, b = index[:-1], index[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    vertices = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    return Body(vertices, None, faces, uv=np.stack([u, v], axis=-1).reshape(-1, 2))
