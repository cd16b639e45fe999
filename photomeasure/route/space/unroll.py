"""The hose pulled flat along the curve, where markers that were too bent to read are squares.

The curve through the bands found so far runs on beyond both ends, so that outer bands turn up too.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.catalogue import all_prints
from photomeasure.references.markers import SeenMarkers, read_markers
from photomeasure.references.prints import Piece, Print
from photomeasure.route.space.chain import Chain
from photomeasure.route.space.model import PAPER_MM, State, predict_world
from photomeasure.route.space.see import BandMark

__all__ = ["marks_along"]

Grey = NDArray[np.uint8]
Points3 = NDArray[np.float64]  # (N, 3)

BEYOND_MM = 130.0
STEP_MM = 0.25
SIDE_RAD = 1.3  # how far round, either way from the side that faces the camera
PAD = 40  # pixels of grey beside the strip, so that squares at its edge are closed


def marks_along(grey: Grey, photo: int, state: State, chain: Chain) -> tuple[BandMark, ...]:
    """Read the bands' markers on the hose's unrolled face.

    Parameters
    ----------
    grey : (height, width) uint8
    photo : int
        Row of the state.
    state : State
    chain : Chain
        Good to a millimetre or so.

    Returns
    -------
    tuple of BandMark
    """
    faces = _faces(photo, state, chain)
    rows, columns = faces.shape[:2]
    flat = predict_world(state, photo, faces.reshape(-1, 3))
    px = np.asarray(np.nan_to_num(flat, nan=-1e6), np.float32).reshape(rows, columns, 2)
    strip = cv2.remap(
        grey, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT,
        borderValue=128.0,
    )  # fmt: skip
    strip = cv2.copyMakeBorder(strip, 0, 0, PAD, PAD, cv2.BORDER_CONSTANT, value=128.0)
    seen = read_markers(np.asarray(strip, dtype=np.uint8))
    return _marks(seen, px)


def _faces(photo: int, state: State, chain: Chain) -> NDArray[np.float64]:
    """Points of the hose's face that may be seen: rows along, columns round, (N, M, 3)."""
    at = np.arange(-BEYOND_MM, chain.length_mm + BEYOND_MM, STEP_MM)
    axis, frames = chain.at(at)
    way = frames[:, 0]
    eye = -state.turn[photo].T @ state.shift[photo]
    out = eye - axis
    out = out - np.sum(out * way, axis=1)[:, None] * way
    out /= np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-9)
    side = np.cross(out, way)  # to the right, seen from outside with the way down
    step = STEP_MM / (state.radius_mm - PAPER_MM / 2)
    angle = np.arange(-SIDE_RAD, SIDE_RAD, step)
    round_ = np.cos(angle)[:, None] * out[:, None] + np.sin(angle)[:, None] * side[:, None]
    return np.asarray(axis[:, None] + state.radius_mm * round_)


def _marks(seen: SeenMarkers, px: NDArray[np.float32]) -> tuple[BandMark, ...]:
    """Back to the photo's pixels."""
    found = []
    for marker, corners in zip(seen.ids, seen.corners_px, strict=True):
        owner = _owner(int(marker))
        if owner is None:
            continue
        places = (corners - (PAD, 0)).astype(np.float32)
        at = cv2.remap(px, places[:, :1], places[:, 1:], cv2.INTER_LINEAR)[:, 0]
        if np.all(at > 0):
            print_, piece, row = owner
            found.append(BandMark(print_, piece, row, np.asarray(at, dtype=np.float64)))
    return tuple(found)


def _owner(marker: int) -> tuple[Print, Piece, int] | None:
    for print_ in all_prints():
        if print_.kind == "bands":
            for piece in print_.pieces:
                rows = np.flatnonzero(piece.marker_ids == marker)
                if len(rows):
                    return print_, piece, int(rows[0])
    return None
