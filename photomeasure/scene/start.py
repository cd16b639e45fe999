"""A first guess of every pose, good enough for the least squares to converge."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, lens_prior, rays
from photomeasure.errors import NotConnectedError
from photomeasure.photo import Photo
from photomeasure.references.prints import FoundPiece
from photomeasure.scene.model import Model, piece_middle, pose_matrix
from photomeasure.scene.scale import PageScale

__all__ = ["start"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (4, 4)

USUAL_DISTANCE_MM = 250.0


def start(
    model: Model,
    photos: Sequence[Photo],
    found: Sequence[Sequence[FoundPiece]],
    scales: Sequence[PageScale],
) -> Vector:
    """Chain flat poses from piece to piece and photo to photo.

    Parameters
    ----------
    model : Model
    photos : sequence of Photo
    found : sequence of sequence of FoundPiece
    scales : sequence of PageScale

    Returns
    -------
    (model.size,)

    Raises
    ------
    NotConnectedError
        If a photo shares no piece with the others.
    """
    theta = np.zeros(model.size)
    for print_, scale in zip(model.prints, scales, strict=True):
        theta[model.scale(print_)] = scale.mean
    sheet_from_piece = {0: np.eye(4)}
    waiting = list(range(len(photos)))
    while waiting:
        ready = [i for i in waiting if any(model.index(f) in sheet_from_piece for f in found[i])]
        if not ready:
            raise NotConnectedError(
                f"{photos[waiting[0]].name} shows no reference that the other photos show.",
                "Take it again so that one sheet or card is seen in every photo.",
            )
        waiting.remove(ready[0])
        _place(model, theta, (ready[0], photos[ready[0]], found[ready[0]]), sheet_from_piece)
    return theta


def _place(
    model: Model,
    theta: Vector,
    seen: tuple[int, Photo, Sequence[FoundPiece]],
    sheet_from_piece: dict[int, Matrix],
) -> None:
    index, photo, found = seen
    lens = lens_prior(photo, USUAL_DISTANCE_MM).camera
    camera_from_piece = {model.index(one): _flat_pose(lens, one) for one in found}
    corners = {model.index(one): len(one.corner_ids) for one in found}
    known = max((k for k in camera_from_piece if k in sheet_from_piece), key=corners.__getitem__)
    camera_from_sheet = camera_from_piece[known] @ np.linalg.inv(sheet_from_piece[known])
    for piece, camera_from_this in camera_from_piece.items():
        if piece not in sheet_from_piece:
            sheet_from_piece[piece] = np.linalg.inv(camera_from_sheet) @ camera_from_this
            theta[model.placement(piece)] = _pose_vector(sheet_from_piece[piece])
    theta[model.pose(index)] = _pose_vector(camera_from_sheet)
    lens = lens_prior(photo, float(camera_from_sheet[2, 3])).camera
    theta[model.lens(index)] = lens.focal_px, lens.centre_x_px, lens.centre_y_px, lens.k1, lens.k2


def _flat_pose(lens: Camera, found: FoundPiece) -> Matrix:
    """Pose camera_from_piece of a flat piece, by the better of the plane's two solutions."""
    nominal = found.piece.corners_page_mm[found.corner_ids] - piece_middle(found.piece)
    flat = np.column_stack([nominal * (1.0, -1.0), np.zeros(len(nominal))])
    seen = rays(lens, found.corners_px)[:, :2]
    _, turns, shifts, errors = cv2.solvePnPGeneric(
        flat, np.ascontiguousarray(seen), np.eye(3), None, flags=cv2.SOLVEPNP_IPPE
    )
    best = int(np.argmin(np.asarray(errors).ravel()))
    return pose_matrix(np.concatenate([turns[best].ravel(), shifts[best].ravel()]))


def _pose_vector(matrix: Matrix) -> Vector:
    return np.concatenate([cv2.Rodrigues(matrix[:3, :3])[0].ravel(), matrix[:3, 3]])
