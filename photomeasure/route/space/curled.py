"""Markers that go round a hose: squares whose modules crowd towards the hose's sides."""

from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.board import MARKER_MODULES
from photomeasure.references.catalogue import all_prints
from photomeasure.references.markers import (
    SeenMarkers,
    marker_patterns,
    square_maps,
)

__all__ = ["read_curled"]

Quads = NDArray[np.float64]  # (N, 4, 2)
Grey = NDArray[np.uint8]

SIDES_PX = (12.0, 160.0)
TURNS = (-0.75, -0.4, 0.0, 0.4, 0.75)  # rad: how far the marker's middle faces aside
HALF = 0.42  # rad: half a marker seen from the axis, of hoses of 12 to 25 mm
BOWS = (-0.05, 0.0, 0.05)  # of the side: how far its middle stands off the line between corners
BLUR_MODULES = 0.3
PROMISING = 0.4  # correlation with the square bent in the middle way; of 76 that were right in 23
# rendered photos one had 0.44, the rest 0.49 or more, and 9 of 10 false ones less than 0.4
ALIKE, CLEARER = 0.86, 0.12  # correlation of photo and pattern, and by how much others are less;
# in 25 rendered photos 108 were right and none false
WITHIN = np.array([0.3, 0.7])
LEAST_SIZE = 30.0  # grey levels over all modules: below it a square is blank
ROWS_AT_ONCE = 30000


@cache
def _band_ids() -> NDArray[np.int64]:
    pieces = [piece for p in all_prints() if p.kind == "bands" for piece in p.pieces]
    return np.concatenate([piece.marker_ids for piece in pieces])


@cache
def _patterns() -> NDArray[np.float32]:
    """Of the bands' markers in four turns each, (4 * M, 49)."""
    rows = (_band_ids()[:, None] * 4 + np.arange(4)).ravel()
    return np.asarray(marker_patterns(BLUR_MODULES)[rows], dtype=np.float32)


def _squares(*, is_across: bool, turn: float, bow: float) -> NDArray[np.float64]:
    """Where the modules' samples lie in the unit square between the corners, (196, 2)."""
    steps = ((np.arange(MARKER_MODULES)[:, None] + WITHIN) / MARKER_MODULES).ravel()
    angle = turn + (2 * steps - 1) * HALF
    ends = turn + np.array([-HALF, HALF])
    low, high = np.sin(ends)
    round_ = (np.sin(angle) - low) / (high - low)
    line = np.cos(ends[0]) + round_ * (np.cos(ends[1]) - np.cos(ends[0]))
    lift = bow * (np.cos(angle) - line) / (1 - np.cos(HALF))
    if is_across:
        x, y = np.meshgrid(round_, steps)
        y = y + lift[None, :]
    else:
        x, y = np.meshgrid(steps, round_)
        x = x + lift[:, None]
    return np.column_stack([x.ravel(), y.ravel()])


def _values(grey: Grey, maps: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[Any]:
    """Brightness of the modules of every square, (N, 49), mean 0 and length 1."""
    points = maps @ np.vstack([at.T, np.ones(len(at))])
    px = (points[:, :2] / points[:, 2:]).transpose(0, 2, 1).astype(np.float32)
    values = np.concatenate(
        [
            cv2.remap(
                grey, px[k : k + ROWS_AT_ONCE, :, 0], px[k : k + ROWS_AT_ONCE, :, 1],
                cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
            )
            for k in range(0, len(px), ROWS_AT_ONCE)
        ]
    )  # fmt: skip
    each = len(WITHIN)
    modules = values.reshape(len(px), MARKER_MODULES, each, MARKER_MODULES, each)
    flat = modules.mean(axis=(2, 4), dtype=np.float32).reshape(len(px), -1)
    flat = flat - flat.mean(axis=1, keepdims=True)
    size = np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), LEAST_SIZE)
    return np.asarray(flat / size)


def read_curled(grey: Grey, quads: Quads, known: SeenMarkers) -> SeenMarkers:
    """Read markers of bands that a flat reading missed.

    Parameters
    ----------
    grey : (height, width) uint8
    quads : (N, 4, 2) [px]
        Squares that may be markers.
    known : SeenMarkers
        Already read; squares there are not looked at again.

    Returns
    -------
    SeenMarkers
        The further ones.
    """
    quads = _unread(quads, known)
    found = _Best(len(quads))
    _compare(grey, quads, found, [(0.0, 0.0)])
    likely = found.alike > PROMISING
    quads, found = quads[likely], _Best(int(likely.sum()))
    _compare(grey, quads, found, [(turn, bow) for turn in TURNS for bow in BOWS])
    good = (found.alike >= ALIKE) & (found.clear >= CLEARER)
    which = found.which[good]
    order = (np.arange(4)[None, :] + (which % 4)[:, None]) % 4
    corners = np.take_along_axis(quads[good], order[:, :, None], axis=1)
    ids = _band_ids()[which // 4]
    first = np.sort(np.unique(ids, return_index=True)[1])
    return SeenMarkers(ids[first], corners[first], np.zeros(len(first), np.bool_))


class _Best:
    """The pattern most alike to each square so far, and by how much more than any other."""

    def __init__(self, count: int) -> None:
        self.alike = np.full(count, -1.0)
        self.which = np.zeros(count, np.int64)
        self.clear = np.zeros(count)

    def keep(self, alike: NDArray[Any]) -> None:
        """Take what is better."""
        each = np.arange(len(alike))
        now = alike.argmax(axis=1)
        top = alike[each, now]
        rivals = alike.reshape(len(alike), -1, 4).max(axis=2)
        rivals[each, now // 4] = -1.0
        better = top > self.alike
        self.alike[better], self.which[better] = top[better], now[better]
        self.clear[better] = (top - rivals.max(axis=1))[better]


def _compare(grey: Grey, quads: Quads, found: _Best, bends: list[tuple[float, float]]) -> None:
    """Compare squares with all patterns, bent along either side in each of some ways."""
    if not len(quads):
        return
    maps = square_maps(quads)
    for is_across in (True, False):
        for turn, bow in bends:
            at = _squares(is_across=is_across, turn=turn, bow=bow)
            alike = _values(grey, maps, at) @ _patterns().T
            alike.reshape(len(quads), -1, 4)[:, :, int(is_across) :: 2] = -1.0
            found.keep(alike)


def _unread(quads: Quads, known: SeenMarkers) -> Quads:
    """Squares of a sensible size that lie on no marker read already; one of several alike."""
    sides = np.linalg.norm(quads - np.roll(quads, 1, axis=1), axis=2)
    usual = sides.mean(axis=1)
    good = (usual > SIDES_PX[0]) & (usual < SIDES_PX[1]) & (sides.min(axis=1) > 0.25 * usual)
    quads, usual = quads[good], usual[good]
    if len(quads) and len(known.ids):
        middles = known.corners_px.mean(axis=1)
        away = np.linalg.norm(quads.mean(axis=1)[:, None] - middles[None], axis=2).min(axis=1)
        quads = quads[away > 0.4 * usual]
    return quads
