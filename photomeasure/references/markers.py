"""Markers in a picture: squares with a black border whose bits are in the dictionary.

OpenCV's detector proposes the squares; the bits are read here, all squares at once, because its
search through 1000 markers takes ten times as long as everything else it does.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.board import DICTIONARY, MARKER_MODULES

__all__ = ["SeenMarkers", "read_markers"]

_BITS = MARKER_MODULES - 2
_MOST_WRONG_BITS = 1  # the dictionary's markers differ in 5 bits at least, turned or not
_MOST_WRONG_BORDER = 2  # of 24 modules
_CLEAR = 0.3  # of half the contrast: how far from grey every module of a sure marker is
_LEAST_CONTRAST = 12.0  # grey levels between black and white modules
_HALVED_ABOVE_PX = 2600
_FEW = 12
_SMALL_SIDE_PX = 36.0  # below this, halving the picture would lose some of the markers

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


def _decode(grey: NDArray[np.uint8], quads: _Quads) -> SeenMarkers:
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
    # a marker seen turned clockwise by n quarters has its own top left at corner n
    order = (np.arange(4)[None, :] + (best % 4)[:, None]) % 4
    own = np.take_along_axis(quads, order[:, :, None], axis=1)
    is_sure = clear & (wrong == 0) & (border == 0)
    return SeenMarkers((best // 4)[is_good].astype(np.int64), own[is_good], is_sure[is_good])


def _quads(grey: NDArray[np.uint8], *, is_thorough: bool) -> _Quads:
    """Propose squares; the detector is given a dictionary of one marker so as to search little."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 5 if is_thorough else 23
    parameters.adaptiveThreshWinSizeMax = 25 if is_thorough else 23
    parameters.minMarkerPerimeterRate = 0.005 if is_thorough else 0.02
    parameters.perspectiveRemovePixelPerCell = 1
    parameters.minMarkerDistanceRate = 0.02
    one = cv2.aruco.getPredefinedDictionary(DICTIONARY).bytesList[:1]
    detector = cv2.aruco.ArucoDetector(cv2.aruco.Dictionary(one, _BITS), parameters)
    found, _, rejected = detector.detectMarkers(grey)
    quads = [np.reshape(quad, (4, 2)) for quad in (*found, *rejected)]
    return np.array(quads, dtype=np.float64).reshape(-1, 4, 2)


def _read(grey: NDArray[np.uint8], factor: int, *, is_thorough: bool) -> SeenMarkers:
    small = grey
    if factor > 1:
        size = grey.shape[1] // factor, grey.shape[0] // factor
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    quads = _quads(small, is_thorough=is_thorough)
    if not len(quads):
        nothing = np.empty(0, dtype=np.int64)
        return SeenMarkers(nothing, np.empty((0, 4, 2)), nothing.astype(np.bool_))
    # pixel centres are whole numbers in both pictures
    return _decode(grey, (quads + 0.5) * factor - 0.5)


def _is_enough(seen: SeenMarkers) -> bool:
    if len(seen.ids) < _FEW:
        return False
    sides = np.linalg.norm(np.diff(seen.corners_px, axis=1), axis=2)
    return bool(np.median(sides) >= _SMALL_SIDE_PX)


def read_markers(grey: NDArray[np.uint8]) -> SeenMarkers:
    """Find and read markers, quickly first, thoroughly where that shows few or small ones.

    Parameters
    ----------
    grey : (height, width) uint8

    Returns
    -------
    SeenMarkers
        Some may be false; the print's geometry must tell.
    """
    factor = 2 if max(grey.shape) > _HALVED_ABOVE_PX else 1
    quick = _read(grey, factor, is_thorough=False)
    if _is_enough(quick):
        return quick
    thorough = _read(grey, 1, is_thorough=True)
    return thorough if len(thorough.ids) >= len(quick.ids) else quick
