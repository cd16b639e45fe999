"""The paper's own edges round a print: two opposite ones tell how large the print is.

A page is printed on paper of a known size. Where two opposite edges show, their distance in the
print's own millimetres tells what those millimetres are.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.edges import half_levels, linear_light

__all__ = ["PaperWidth", "paper_widths"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Light = NDArray[np.float32]  # (rows, steps, 3), one row for each place along an edge
Place = Callable[[Points2], Points2]  # page [mm] to picture [px]

INSIDE_MM = 10.0  # nothing is inked nearer to the page's edge
WIDEST = 1.145  # of the page: A4 paper round a Letter page printed at 93 %
ROW_MM, STEP_MM, FINE_MM = 2.0, 0.15, 0.05
ALONG = 0.92  # of an edge: its corners curl
NARROW_MM = 0.45  # light is compared so far to either side
LEANS = np.linspace(-0.02, 0.02, 21)  # of the paper against the print: a printer's feed
LEAST_STEP = 0.07  # of the paper's own light
FIRST = 0.4  # of the strongest line: the innermost such is the paper's edge
LEAST_ROWS = 12
REACH_MM, BLUR_MM = 1.2, 0.22
NEAR_MM, LARGEST_SCATTER_MM = 0.5, 0.3
UNPARALLEL = 0.008
EDGE_U_MM = 0.15  # of each edge: its shadow, and how it curls; own estimate


@dataclass(frozen=True, slots=True)
class PaperWidth:
    """Distance of two opposite edges of the paper.

    Attributes
    ----------
    axis : int
        0 across the page, 1 down it.
    nominal_mm, u_mm : float [mm]
        As the print's own millimetres count it, and its standard uncertainty.
    """

    axis: int
    nominal_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class _Edge:
    """A straight edge: how far out at a place along it, its lean, and how well that is known."""

    out_mm: float
    at_mm: float
    lean: float
    u_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """One side of a page; `place` turns distances outwards and along it into pixels."""

    colour: NDArray[np.uint8]
    place: Callable[[Vector, Vector], Points2]
    half_mm: float
    half_along_mm: float

    def light(self, out_mm: NDArray[np.float64], along_mm: Vector) -> Light:
        """Linear light at (rows, steps) distances out, not a number beyond the picture."""
        along = np.broadcast_to(along_mm[:, None], out_mm.shape)
        px = self.place(out_mm.ravel(), along.ravel()).reshape(*out_mm.shape, 2)
        x, y = (px[..., k].astype(np.float32) for k in (0, 1))
        light = linear_light(np.asarray(cv2.remap(self.colour, x, y, cv2.INTER_LINEAR), np.uint8))
        height, width = self.colour.shape[:2]
        inside = np.all((px > 2) & (px < (width - 3, height - 3)), axis=2)
        return np.where(inside[..., None], light, np.float32(np.nan))


def paper_widths(
    colour: NDArray[np.uint8], outline_page_mm: Points2, to_px: Place
) -> tuple[PaperWidth, ...]:
    """Find opposite edges of the paper round a whole page.

    Parameters
    ----------
    colour : (height, width, 3) uint8
    outline_page_mm : (4, 2) [mm]
        The page as designed.
    to_px : callable
        Points of the page, (N, 2) [mm], to where they are seen, (N, 2) [px].

    Returns
    -------
    tuple of PaperWidth
        None where fewer than two opposite edges are seen.
    """
    low, high = outline_page_mm.min(axis=0), outline_page_mm.max(axis=0)
    middle, half = (low + high) / 2, (high - low) / 2
    found = []
    for axis in (0, 1):
        pair = [_edge(_side(colour, to_px, (middle, half), (axis, sign))) for sign in (-1, 1)]
        width = _between(pair[0], pair[1])
        if width is not None:
            found.append(PaperWidth(axis, *width))
    return tuple(found)


def _side(
    colour: NDArray[np.uint8], to_px: Place, box: tuple[Vector, Vector], which: tuple[int, int]
) -> _Side:
    (middle, half), (axis, sign) = box, which

    def place(out_mm: Vector, along_mm: Vector) -> Points2:
        points = np.empty((len(out_mm), 2))
        points[:, axis] = middle[axis] + sign * out_mm
        points[:, 1 - axis] = middle[1 - axis] + along_mm
        return to_px(points)

    return _Side(colour, place, float(half[axis]), float(half[1 - axis]))


def _between(one: _Edge | None, other: _Edge | None) -> tuple[float, float] | None:
    """Distance of two edges and its uncertainty; they lean opposite ways as each looks outwards."""
    if one is None or other is None or abs(one.lean + other.lean) > UNPARALLEL:
        return None
    at = (one.at_mm + other.at_mm) / 2
    out = sum(edge.out_mm + edge.lean * (at - edge.at_mm) for edge in (one, other))
    turn = float(np.cos((one.lean - other.lean) / 2))
    return out * turn, float(np.hypot(one.u_mm, other.u_mm))


def _edge(side: _Side) -> _Edge | None:
    """The innermost straight edge along all that is seen of a side."""
    reach = ALONG * side.half_along_mm
    along = np.arange(-reach, reach, ROW_MM)
    out = np.arange(side.half_mm - INSIDE_MM, WIDEST * side.half_mm, STEP_MM)
    rough = _rough(side.light(np.broadcast_to(out, (len(along), len(out))), along), out, along)
    return None if rough is None else _refined(side, along, rough)


def _rough(light: Light, out: Vector, along: Vector) -> tuple[float, float] | None:
    """Where a straight line has the light change most, its rows taken together."""
    steps = round(NARROW_MM / STEP_MM)
    usable = np.all(np.isfinite(light[:, : 2 * steps, 0]), axis=1)
    if usable.sum() < LEAST_ROWS:
        return None
    paper = np.median(light[usable, : 2 * steps], axis=(1, 2), keepdims=True)
    relative = np.asarray(light[usable] / np.maximum(paper, 1e-3), np.float32)
    change = relative[:, 2 * steps :] - relative[:, : -2 * steps]
    scores = np.stack([_along_lean(change, along[usable], lean) for lean in LEANS])
    best = scores.max(axis=0)
    strong = best > max(LEAST_STEP, FIRST * float(best.max()))
    if not strong.any():
        return None
    first = int(np.argmax(strong))
    top = first + int(np.argmax(best[first : first + 2 * steps + 1]))
    return float(out[top + steps]), float(LEANS[int(np.argmax(scores[:, top]))])


def _along_lean(change: Light, along: Vector, lean: float) -> Vector:
    """Size of the mean change along a line of that lean, for every distance out."""
    columns = (
        np.arange(change.shape[1])[None, :] + np.rint(lean * along / STEP_MM).astype(int)[:, None]
    )
    inside = (columns >= 0) & (columns < change.shape[1])
    rows = np.arange(len(along))[:, None]
    picked = change[rows, np.clip(columns, 0, change.shape[1] - 1)]
    seen = inside & np.isfinite(picked[..., 0])
    count = seen.sum(axis=0)
    total = np.where(seen[..., None], picked, 0).sum(axis=0)
    mean = total / np.maximum(count, 1)[:, None]
    return np.asarray(np.where(count >= LEAST_ROWS, np.linalg.norm(mean, axis=1), 0.0))


def _refined(side: _Side, along: Vector, rough: tuple[float, float]) -> _Edge | None:
    """Half-level points by the rough line, and the straight line through most of them."""
    out, lean = rough
    places = np.arange(-REACH_MM, REACH_MM + FINE_MM / 2, FINE_MM)
    start = out + lean * along
    profiles = side.light(start[:, None] + places, along)
    whole = np.all(np.isfinite(profiles[..., 0]), axis=1)
    if whole.sum() < LEAST_ROWS:
        return None
    place = np.full(len(along), np.nan)
    place[whole] = half_levels(profiles[whole], places, BLUR_MM)
    seen = np.isfinite(place)
    if seen.any():
        seen &= np.abs(place - np.nanmedian(place)) < NEAR_MM
    place += start
    for _ in range(4):
        if seen.sum() < LEAST_ROWS:
            return None
        slope, level = np.polyfit(along[seen], place[seen], 1)
        off = place - level - slope * along
        scatter = 1.4826 * float(np.median(np.abs(off[seen])))
        seen = np.isfinite(place) & (np.abs(off) < max(NEAR_MM / 2, 3 * scatter))
    if scatter > LARGEST_SCATTER_MM or seen.sum() < whole.sum() / 2:
        return None
    at = float(along[seen].mean())
    u = float(np.hypot(EDGE_U_MM, scatter / np.sqrt(seen.sum())))
    return _Edge(float(level + slope * at), at, float(slope), u)
