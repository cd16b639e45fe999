"""Markers in a picture: squares with a black border whose bits are in the dictionary.

OpenCV's detector proposes the squares; the bits are read here, all squares at once, because its
search through 1000 markers takes ten times as long as everything else it does. Where modules are
smaller than some 4 px, blur mixes neighbours and bits alone are lost: there the whole pattern is
compared with every marker's, blurred.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.board import DICTIONARY, MARKER_MODULES

__all__ = [
    "SeenMarkers",
    "marker_patterns",
    "propose_bent",
    "propose_quads",
    "read_markers",
    "square_maps",
]

_BITS = MARKER_MODULES - 2
_MOST_WRONG_BITS = 1  # the dictionary's markers differ in 5 bits at least, turned or not
_MOST_WRONG_BORDER = 2  # of 24 modules
_CLEAR = 0.3  # of half the contrast: how far from grey every module of a sure marker is
_LEAST_CONTRAST = 12.0  # grey levels between black and white modules
_HALVED_ABOVE_PX = 2600
_FEW = 12
_SMALL_SIDE_PX = 36.0  # below this, halving the picture would lose some of the markers
_BLURS_MODULES = (0.3, 0.5)  # of the patterns; of either markers of 13 to 33 px in rendered photos
# correlate by 0.96 with their own
_WORTH_A_LOOK = 0.65  # correlation as proposed; false squares in rendered photos stay below 0.8
_MOST_LOOKED_AT = 400  # squares; a photo of eight cards has 100: a picture of noise has thousands
_ALIKE, _CLEARER = 0.85, 0.08  # correlation when well placed, and by how much the next best is less
_BENT_RATE, _BENT_WINDOW_PX = 0.09, 15  # of a bowed square's rim, which is no polygon of four
_SHIFTS = np.array([-0.05, 0.0, 0.05])  # of a side: proposed corners are a pixel off
_GROWTHS = np.array([0.92, 1.0, 1.08])

_Quads = NDArray[np.float64]  # (N, 4, 2)


@dataclass(frozen=True, slots=True, eq=False)
class SeenMarkers:
    """Markers as seen.

    Attributes
    ----------
    ids : (M,)
    corners_px : (M, 4, 2)
        Clockwise from the marker's own top left; good to a pixel or two.
    is_sure : (M,)
        Every module is right and clearly black or white: good enough to stand alone.
    """

    ids: NDArray[np.int64]
    corners_px: NDArray[np.float64]
    is_sure: NDArray[np.bool_]


@cache
def _codes() -> NDArray[np.float32]:
    """(4000, 25) bits as -1 and 1 of every marker in its four turns: marker * 4 + turn."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    number = len(dictionary.bytesList)
    pages = [dictionary.generateImageMarker(i, MARKER_MODULES)[1:-1, 1:-1] for i in range(number)]
    bits = np.array(pages) > 127
    turned = np.stack([np.rot90(bits, -turn, axes=(1, 2)) for turn in range(4)], axis=1)
    return np.where(turned.reshape(-1, _BITS * _BITS), 1, -1).astype(np.float32)


def _square_maps(quads: _Quads) -> NDArray[np.float64]:
    """(N, 3, 3) maps from the unit square, y down, to each quadrilateral (closed form)."""
    a, b, c, d = (quads[:, i] for i in range(4))
    s, u, v = a - b + c - d, b - c, d - c
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    cross = np.where(np.abs(cross) < 1e-9, 1e-9, cross)
    g = (s[:, 0] * v[:, 1] - s[:, 1] * v[:, 0]) / cross
    h = (u[:, 0] * s[:, 1] - u[:, 1] * s[:, 0]) / cross
    maps = np.empty((len(quads), 3, 3))
    maps[:, :2, 0] = b - a + g[:, None] * b
    maps[:, :2, 1] = d - a + h[:, None] * d
    maps[:, :2, 2] = a
    maps[:, 2, 0], maps[:, 2, 1], maps[:, 2, 2] = g, h, 1.0
    return maps


def _module_values(grey: NDArray[np.uint8], quads: _Quads) -> NDArray[np.float64]:
    """(N, 7, 7) brightness of every module: the mean of nine points in its middle."""
    steps = (np.arange(MARKER_MODULES)[:, None] + np.array([0.3, 0.5, 0.7])).ravel()
    y, x = np.meshgrid(steps / MARKER_MODULES, steps / MARKER_MODULES, indexing="ij")
    points = np.stack((x.ravel(), y.ravel(), np.ones(x.size)))
    at = _square_maps(quads) @ points
    at = (at[:, :2] / at[:, 2:]).astype(np.float32)
    values = cv2.remap(grey, at[:, 0], at[:, 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shape = (len(quads), MARKER_MODULES, 3, MARKER_MODULES, 3)
    return np.asarray(values.reshape(shape).mean(axis=(2, 4)), dtype=np.float64)


@cache
def _patterns(blur_modules: float) -> NDArray[np.float32]:
    """(4000, 49) blurred modules of every marker in its four turns, mean 0 and length 1."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    fine, rim = 8, 2
    size = MARKER_MODULES + 2 * rim
    kernel = cv2.getGaussianKernel(2 * rim * fine + 1, blur_modules * fine).ravel()
    bars = np.repeat(np.eye(size), fine, axis=0)
    blurred = np.apply_along_axis(np.convolve, 0, bars, kernel, "same")
    along = blurred.reshape(size, fine, size).mean(axis=1)[rim:-rim]  # modules from modules
    pages = [
        np.pad(dictionary.generateImageMarker(number, MARKER_MODULES), rim, "maximum")
        for number in range(len(dictionary.bytesList))
    ]
    modules = along @ np.array(pages, dtype=np.float64) @ along.T
    turned = np.stack([np.rot90(modules, -turn, axes=(1, 2)) for turn in range(4)], axis=1)
    return _normalised(turned.reshape(-1, MARKER_MODULES**2))


def _normalised(values: NDArray[Any]) -> NDArray[np.float32]:
    """Rows with mean 0 and length 1."""
    away = values - values.mean(axis=1, keepdims=True)
    size = np.linalg.norm(away, axis=1, keepdims=True)
    return np.asarray(away / np.maximum(size, 1e-6), dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _Match:
    """The pattern most alike to each square: marker * 4 + turn, and how much better than others."""

    best: NDArray[np.int64]
    alike: NDArray[np.float32]
    clearer: NDArray[np.float32]


def _match(grey: NDArray[np.uint8], quads: _Quads) -> _Match:
    values = _module_values(grey, quads).reshape(len(quads), -1)
    seen = _normalised(values)
    alike = np.max([seen @ _patterns(blur).T for blur in _BLURS_MODULES], axis=0)
    each = np.arange(len(quads))
    best = alike.argmax(axis=1)
    top = alike[each, best]
    rivals = alike.reshape(len(quads), -1, 4).max(axis=2)
    rivals[each, best // 4] = -1.0
    top = np.where(np.ptp(values, axis=1) >= _LEAST_CONTRAST, top, 0.0)
    return _Match(best, top, top - rivals.max(axis=1))


def _decode_blurred(grey: NDArray[np.uint8], quads: _Quads) -> SeenMarkers:
    """Compare whole patterns, each square moved and resized to where it is most like one."""
    alike = _match(grey, quads).alike
    likely = np.argsort(-alike, kind="stable")[:_MOST_LOOKED_AT]
    quads = quads[np.sort(likely[alike[likely] > _WORTH_A_LOOK])]
    if not len(quads):
        return _nothing()
    middle = quads.mean(axis=1, keepdims=True)
    right, down = (quads[:, [1]] - quads[:, [0]]), (quads[:, [3]] - quads[:, [0]])
    moves = [
        middle + x * right + y * down + growth * (quads - middle)
        for x in _SHIFTS
        for y in _SHIFTS
        for growth in _GROWTHS
    ]
    tried = [_match(grey, moved) for moved in moves]
    which = np.argmax([one.alike for one in tried], axis=0)
    each = np.arange(len(quads))
    best, alike, clearer = (
        np.array([getattr(one, name) for one in tried])[which, each]
        for name in ("best", "alike", "clearer")
    )
    is_good = (alike >= _ALIKE) & (clearer >= _CLEARER)
    own = _own_order(np.array(moves)[which, each], best)
    return SeenMarkers(best[is_good] // 4, own[is_good], np.zeros(int(is_good.sum()), np.bool_))


def _own_order(quads: _Quads, best: NDArray[np.int64]) -> _Quads:
    """Corners from the marker's own top left: a marker turned by n quarters has it at corner n."""
    order = (np.arange(4)[None, :] + (best % 4)[:, None]) % 4
    return np.take_along_axis(quads, order[:, :, None], axis=1)


def _nothing() -> SeenMarkers:
    none = np.empty(0, dtype=np.int64)
    return SeenMarkers(none, np.empty((0, 4, 2)), none.astype(np.bool_))


def _decode(grey: NDArray[np.uint8], quads: _Quads, *, is_thorough: bool) -> SeenMarkers:
    """Read bits; in a thorough search whole patterns too, where bits do not settle it."""
    if not len(quads):
        return _nothing()
    sharp, is_good = _decode_sharp(grey, quads)
    if not is_thorough:
        return sharp
    blurred = _decode_blurred(grey, quads[~is_good])
    return SeenMarkers(
        np.concatenate((sharp.ids, blurred.ids)),
        np.concatenate((sharp.corners_px, blurred.corners_px)),
        np.concatenate((sharp.is_sure, blurred.is_sure)),
    )


def _decode_sharp(grey: NDArray[np.uint8], quads: _Quads) -> tuple[SeenMarkers, NDArray[np.bool_]]:
    values = _module_values(grey, quads)
    flat = values.reshape(len(quads), -1)
    low, high = flat.min(axis=1), flat.max(axis=1)
    above = values - ((low + high) / 2)[:, None, None]
    is_white = above > 0
    clear = np.abs(above).min(axis=(1, 2)) > _CLEAR * (high - low) / 2
    border = is_white.sum(axis=(1, 2)) - is_white[:, 1:-1, 1:-1].sum(axis=(1, 2))
    bits = np.where(is_white[:, 1:-1, 1:-1], 1, -1).reshape(len(quads), -1).astype(np.float32)
    agree = bits @ _codes().T
    best = agree.argmax(axis=1)
    wrong = (_BITS * _BITS - agree[np.arange(len(quads)), best]) / 2
    is_good = (
        (wrong <= _MOST_WRONG_BITS)
        & (border <= _MOST_WRONG_BORDER)
        & (high - low >= _LEAST_CONTRAST)
    )
    own = _own_order(quads, best)
    is_sure = clear & (wrong == 0) & (border == 0)
    ids = (best // 4)[is_good].astype(np.int64)
    return SeenMarkers(ids, own[is_good], is_sure[is_good]), is_good


def _quads(grey: NDArray[np.uint8], *, is_thorough: bool, is_bent: bool = False) -> _Quads:
    """Propose squares; the detector is given a dictionary of one marker so as to search little."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 5 if is_thorough else 23
    parameters.adaptiveThreshWinSizeMax = 25 if is_thorough else 23
    parameters.minMarkerPerimeterRate = 0.005 if is_thorough else 0.02
    if is_bent:
        parameters.polygonalApproxAccuracyRate = _BENT_RATE
        parameters.adaptiveThreshWinSizeMin = _BENT_WINDOW_PX
        parameters.adaptiveThreshWinSizeMax = _BENT_WINDOW_PX
    parameters.perspectiveRemovePixelPerCell = 1
    parameters.minMarkerDistanceRate = 0.02
    one = cv2.aruco.getPredefinedDictionary(DICTIONARY).bytesList[:1]
    detector = cv2.aruco.ArucoDetector(cv2.aruco.Dictionary(one, _BITS), parameters)
    found, _, rejected = detector.detectMarkers(grey)
    quads = [np.reshape(quad, (4, 2)) for quad in (*found, *rejected)]
    return np.array(quads, dtype=np.float64).reshape(-1, 4, 2)


def _quads_of_half(grey: NDArray[np.uint8], factor: int) -> _Quads:
    small = grey
    if factor > 1:
        size = grey.shape[1] // factor, grey.shape[0] // factor
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    # pixel centres are whole numbers in both pictures
    return (_quads(small, is_thorough=False) + 0.5) * factor - 0.5


def _is_enough(seen: SeenMarkers) -> bool:
    if len(seen.ids) < _FEW:
        return False
    sides = np.linalg.norm(np.diff(seen.corners_px, axis=1), axis=2)
    return bool(np.median(sides) >= _SMALL_SIDE_PX)


def read_markers(grey: NDArray[np.uint8], quads: _Quads | None = None) -> SeenMarkers:
    """Find and read markers, quickly first, thoroughly where that shows few or small ones.

    Parameters
    ----------
    grey : (height, width) uint8
    quads : (N, 4, 2), optional
        What `propose_quads` gave, so as not to look for squares again.

    Returns
    -------
    SeenMarkers
        Some may be false; the print's geometry must tell.
    """
    factor = 2 if max(grey.shape) > _HALVED_ABOVE_PX else 1
    quick = _decode(grey, _quads_of_half(grey, factor), is_thorough=False)
    if _is_enough(quick):
        return quick
    thorough = _decode(grey, propose_quads(grey) if quads is None else quads, is_thorough=True)
    return thorough if len(thorough.ids) >= len(quick.ids) else quick


def propose_quads(grey: NDArray[np.uint8]) -> _Quads:
    """Every square that may be a marker, (N, 4, 2), thoroughly looked for."""
    return _quads(grey, is_thorough=True)


def propose_bent(grey: NDArray[np.uint8]) -> _Quads:
    """Squares whose sides may be bowed, as of markers round a hose, (N, 4, 2)."""
    return _quads(grey, is_thorough=True, is_bent=True)


def square_maps(quads: _Quads) -> NDArray[np.float64]:
    """Maps from the unit square, y down, to each quadrilateral, (N, 3, 3)."""
    return _square_maps(quads)


def marker_patterns(blur_modules: float) -> NDArray[np.float32]:
    """(4000, 49) blurred modules of every marker in its four turns, mean 0 and length 1."""
    return _patterns(blur_modules)
