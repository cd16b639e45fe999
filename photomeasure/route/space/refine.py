"""Points of bands to sub-pixel: the strip's own picture, bent round the hose, laid over the photo.

Where camera and band are roughly known, what the photo shows round a point of the strip is pulled
flat and compared with the print. Chessboard corners and whole markers serve as points.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.artwork import Marker
from photomeasure.references.board import marker_ink
from photomeasure.references.prints import Piece
from photomeasure.route.space.gather import joined
from photomeasure.route.space.model import PAPER_MM, Points, State, Thing, predict_one

__all__ = ["Grey", "Search", "band_points", "outer_ends"]

Matrix = NDArray[np.float64]  # (N, M)
Vector = NDArray[np.float64]  # (N,)
Grey = NDArray[np.uint8]
Ints = NDArray[np.int64]

TEXELS_PER_MM = 10
STRIP_MM = 85.0  # of a band, as designed
MOST_AGREE = 0.1  # share of all things by which one way of wrapping must prevail
REACH_MM = 4.0  # of a patch, from its middle
STEP_MM = 0.2
LEAST_FACING = 0.3  # cosine between the strip's face and the camera's direction
RIM_FACING = (
    0.15  # the part of a patch that turns away further is left out; on thin hoses it is much
)
ALIKE = 0.8  # correlation of photo and print; glare, a wrong layer or another thing lies below it
FIRST_ALIKE = 0.45  # with only whole steps of the search
NOISE_PX = 0.04  # beside the picture's noise: what bent paper and print do
ROUNDS = 3
ROWS_AT_ONCE = 400
LEAST_CONTRAST = 12.0  # grey levels


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """How far off points may be, and the picture's blur.

    Attributes
    ----------
    reach_mm : (B,)
        For each thing, on the strip; 0 of what is not looked for.
    blur_px : float
        Standard deviation.
    outer : (B,)
        Which end of a strip lies outermost where it overlaps itself: 1 its last, -1 its first, 0
        not known.
    """

    reach_mm: Vector
    blur_px: float
    outer: Vector


@cache
def _drawn(piece: Piece) -> tuple[Grey, Matrix]:
    """A strip, 255 for paper and 0 for ink, and its top left corner on the page."""
    low, high = piece.outline_page_mm.min(axis=0), piece.outline_page_mm.max(axis=0)
    size = np.ceil((high - low) * TEXELS_PER_MM).astype(int)
    picture = np.full((size[1], size[0]), 255, np.uint8)
    boxes = [np.hstack((piece.squares_page_mm[:, 0], piece.squares_page_mm[:, 2]))]
    for number, corners in zip(piece.marker_ids, piece.marker_corners_page_mm, strict=True):
        boxes.append(marker_ink(Marker(int(number), np.hstack((corners[0], corners[2])))).boxes_mm)
    for left, top, right, bottom in np.round((np.vstack(boxes) - np.tile(low, 2)) * TEXELS_PER_MM):
        picture[int(top) : int(bottom), int(left) : int(right)] = 0
    return picture, np.asarray(low)


@cache
def _places(piece: Piece) -> Matrix:
    """Middles of the patches on the page: chessboard corners and markers, (K, 2)."""
    return np.vstack([piece.corners_page_mm, piece.marker_corners_page_mm.mean(axis=1)])


def _grid(reach_mm: float) -> tuple[int, Matrix]:
    """Offsets of a square grid on the strip, (n * n, 2) [mm], row by row along the strip."""
    steps = np.arange(-reach_mm, reach_mm + 1e-9, STEP_MM)
    x, y = np.meshgrid(steps, steps)
    return len(steps), np.column_stack([x.ravel(), y.ravel()])


def band_points(
    grey: Grey, photo: int, state: State, things: list[Thing], search: Search
) -> Points:
    """Find points of every band that a photo can show.

    Parameters
    ----------
    grey : (height, width) uint8
    photo : int
        Row of the state.
    state : State
        Good to the search's reach on the strips.
    things : list of Thing
        In the state's order.
    search : Search

    Returns
    -------
    Points
    """
    parts = []
    for row, thing in enumerate(things):
        if thing.is_band and search.reach_mm[row] > 0:
            found = _band(grey, (photo, row), state, thing, search)
            if found is not None:
                parts.append(found)
    return joined(parts)


def _facing(state: State, photo: int, row: int, nominal: Matrix) -> Vector:
    """Cosine between a band's face and the way to the camera; below zero it faces away."""
    turn = state.thing_turn[row]
    scale = state.scale[state.print_row[row]]
    angle = nominal[:, 0] * scale[0] / (state.radius_mm - 0.05)
    out = np.stack([np.cos(angle), -np.sin(angle), np.zeros_like(angle)], axis=1) @ turn.T
    along = (nominal[:, 1] * scale[1])[:, None] * turn[:, 2]
    eye = -state.turn[photo].T @ state.shift[photo]
    way = eye - (state.thing_shift[row] + state.radius_mm * out + along)
    return np.asarray(np.sum(out * way, axis=1) / np.linalg.norm(way, axis=1))


def outer_ends(state: State, marks: Points, things: list[Thing]) -> Vector:
    """Tell from the markers that are seen which end of each strip lies outermost.

    Parameters
    ----------
    state : State
    marks : Points
        Of markers as read, of all photos.
    things : list of Thing

    Returns
    -------
    (B,)
        1 the last, -1 the first, 0 not known. Where a strip's own markers do not tell, all others'
        do: one hand wraps them all.
    """
    found = np.zeros(len(things))
    for row, thing in enumerate(things):
        own = marks.nominal[marks.thing == row, 0].reshape(-1, 4).mean(axis=1)
        if thing.is_band and len(own):
            half, round_ = _extent(state, row)
            inner = own * state.scale[state.print_row[row], 0]
            last = np.sum(inner > round_ - half) - np.sum(inner < half - round_)
            found[row] = np.sign(last)
    usual = float(np.sign(found.sum())) if abs(found.sum()) >= MOST_AGREE * len(found) else 0.0
    return np.where(found == 0, usual, found)


def _extent(state: State, row: int) -> tuple[float, float]:
    """Half a strip's length, and the way once round the hose [mm]."""
    scale = state.scale[state.print_row[row], 0]
    return STRIP_MM / 2 * float(scale), 2 * np.pi * (state.radius_mm - PAPER_MM / 2)


def _is_shown(state: State, row: int, round_mm: Vector, outer: float) -> NDArray[np.bool_]:
    """Whether places along a strip lie in its outermost layer, clear of its end."""
    half, once = _extent(state, row)
    at = round_mm * state.scale[state.print_row[row], 0]
    room = 0.6 * REACH_MM
    after = at > half - once + room
    before = at < once - half - room
    if outer > 0:
        return np.asarray(after)
    return np.asarray(before) if outer < 0 else np.asarray(after & before)


def _band(
    grey: Grey, which: tuple[int, int], state: State, thing: Thing, search: Search
) -> Points | None:
    photo, row = which
    places = thing.nominal(_places(thing.piece))
    height, width = grey.shape
    facing = _facing(state, photo, row, places)
    px = predict_one(state, photo, row, places)
    depth = state.turn[photo][2] @ state.thing_shift[row] + state.shift[photo][2]
    room = 4 + state.lens[photo][0] / max(depth, 1.0) * REACH_MM
    chosen = (facing > LEAST_FACING) & np.all((px > room) & (px < (width - room, height - room)), 1)
    chosen &= _is_shown(state, row, places[:, 0], float(search.outer[row]))
    if depth < 50 or not chosen.any():
        return None
    places, facing = places[chosen], facing[chosen]
    per_mm = state.lens[photo][0] / depth
    blur_mm = np.stack(
        [
            blur_px_over(search.blur_px, per_mm * facing),
            np.full(len(facing), search.blur_px / per_mm),
        ]
    )
    start, good = _coarse(grey, which, state, thing, (places, blur_mm, float(search.reach_mm[row])))
    if not good.any():
        return None
    return _fine(grey, which, state, thing, (places[good], start[good], blur_mm[:, good]))


def blur_px_over(blur_px: float, px_per_mm: Vector) -> Vector:
    """Blur on the strip [mm]."""
    return np.asarray(blur_px / px_per_mm)


def _open(state: State, which: tuple[int, int], places: Matrix, grid: Matrix) -> NDArray[np.bool_]:
    """Which places round each of some middles the hose does not turn away, (K, n * n)."""
    every = (places[:, None] + grid).reshape(-1, 2)
    return np.asarray(_facing(state, *which, every).reshape(len(places), -1) > RIM_FACING)


def _pulled(grey: Grey, which: tuple[int, int], state: State, nominal: Matrix) -> Matrix:
    """Brightness of the photo at points of a band, shape of all but the last axis."""
    px = predict_one(state, *which, nominal.reshape(-1, 2)).astype(np.float32)
    px = px.reshape(len(nominal), -1, 2)
    values = [
        cv2.remap(
            grey, px[first : first + ROWS_AT_ONCE, :, 0], px[first : first + ROWS_AT_ONCE, :, 1],
            cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
        )
        for first in range(0, len(px), ROWS_AT_ONCE)
    ]  # fmt: skip
    return np.concatenate(values).astype(np.float64)


def _printed(thing: Thing, nominal: Matrix, blur_mm: Matrix) -> NDArray[np.float64]:
    """The print at points of a band, blurred along both ways: (K, n, n) of (K, n * n, 2)."""
    picture, low = _drawn(thing.piece)
    outline = thing.piece.outline_page_mm
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2
    texel = ((nominal + middle - low) * TEXELS_PER_MM - 0.5).astype(np.float32)
    flat = cv2.remap(
        picture, texel[..., 0], texel[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float64)
    side = round(np.sqrt(flat.shape[1]))
    square = flat.reshape(-1, side, side)
    for k in range(len(square)):
        across, along = np.maximum(blur_mm[:, k] / STEP_MM, 0.3)
        square[k] = cv2.GaussianBlur(
            square[k], (0, 0), sigmaX=across, sigmaY=along, borderType=cv2.BORDER_REFLECT
        )
    return square / 255.0


def _coarse(
    grey: Grey,
    which: tuple[int, int],
    state: State,
    thing: Thing,
    what: tuple[Matrix, Matrix, float],
) -> tuple[Matrix, NDArray[np.bool_]]:
    """Slide each patch of the print over the flattened photo: where it fits best, and whether."""
    places, blur_mm, reach_mm = what
    side, grid = _grid(REACH_MM)
    wide, wide_grid = _grid(REACH_MM + reach_mm)
    seen = _pulled(grey, which, state, places[:, None] + wide_grid)
    drawn = _printed(thing, places[:, None] + grid, blur_mm)
    open_ = _open(state, which, places, grid)
    flat = drawn.reshape(len(places), -1)
    middle = np.sum(flat * open_, axis=1) / open_.sum(axis=1)
    drawn = np.where(open_, flat, middle[:, None]).reshape(drawn.shape)  # it says nothing there
    start, good = np.zeros_like(places), np.zeros(len(places), np.bool_)
    for k in range(len(places)):
        field = seen[k].reshape(wide, wide).astype(np.float32)
        if np.ptp(field) < LEAST_CONTRAST:
            continue
        match = cv2.matchTemplate(field, drawn[k].astype(np.float32), cv2.TM_CCOEFF_NORMED)
        _, best, _, at = cv2.minMaxLoc(match)
        start[k] = (np.array(at) - (wide - side) / 2) * STEP_MM
        good[k] = best > FIRST_ALIKE
    return start, good


def _fine(
    grey: Grey,
    which: tuple[int, int],
    state: State,
    thing: Thing,
    what: tuple[Matrix, Matrix, Matrix],
) -> Points | None:
    """Least squares of photo = contrast * print + level + slopes, the print shifted."""
    places, off, blur_mm = what
    _, grid = _grid(REACH_MM)
    drawn = _printed(thing, places[:, None] + grid, blur_mm)
    down, right = np.gradient(drawn, STEP_MM, axis=(1, 2))
    x, y = (np.broadcast_to(grid[:, k] / REACH_MM, (len(places), len(grid))) for k in (0, 1))
    flat = [one.reshape(len(places), -1) for one in (drawn, right, down)]
    design = np.stack([*flat, np.ones_like(x), x, y], axis=2)
    weight = _open(state, which, places, grid)
    turned = (design * weight[..., None]).transpose(0, 2, 1)
    inverse = np.linalg.inv(turned @ design + 1e-9 * np.eye(6))
    for _ in range(ROUNDS):
        seen = _pulled(grey, which, state, places[:, None] + off[:, None] + grid)
        answer = (inverse @ (turned @ seen[..., None]))[..., 0]
        contrast = np.where(np.abs(answer[:, 0]) < 1, 1.0, answer[:, 0])
        step = -np.clip(answer[:, 1:3] / contrast[:, None], -0.4, 0.4)
        off = off + step
    rest = seen - (design @ answer[..., None])[..., 0]
    variance = np.sum(weight * rest**2, axis=1) / weight.sum(axis=1) / contrast**2
    spread = np.sqrt(np.stack([inverse[:, 1, 1], inverse[:, 2, 2]]).max(axis=0) * variance)
    smooth = design[..., 3:] @ answer[:, 3:, None]
    alike = _correlation(seen - smooth[..., 0], drawn.reshape(len(places), -1), weight)
    good = (alike > ALIKE) & (contrast > LEAST_CONTRAST) & (np.abs(step).max(axis=1) < 0.1)
    if not good.any():
        return None
    px = predict_one(state, *which, (places + off)[good])
    per_mm = (
        np.linalg.norm(predict_one(state, *which, (places + off)[good] + [0, 0.5]) - px, axis=1)
        / 0.5
    )
    likeness = max(1.0, 2 * float(np.median(blur_mm)) / STEP_MM)  # neighbours' noise is alike
    noise = np.hypot(NOISE_PX, spread[good] * likeness * per_mm)
    count = int(good.sum())
    return Points(np.full(count, which[0]), np.full(count, which[1]), places[good], px, noise)


def _correlation(one: Matrix, other: Matrix, weight: NDArray[np.bool_]) -> Vector:
    """Of each row, where there is weight."""
    total = weight.sum(axis=1, keepdims=True)
    one, other = (
        weight * (v - np.sum(weight * v, axis=1, keepdims=True) / total) for v in (one, other)
    )
    size = np.linalg.norm(one, axis=1) * np.linalg.norm(other, axis=1)
    return np.asarray(np.sum(one * other, axis=1) / np.maximum(size, 1e-9))
