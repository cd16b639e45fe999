"""How the corners in a photo move with every unknown of a joint solve, in closed form."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure import camera
from photomeasure.references.prints import FoundPiece
from photomeasure.scene.model import LENS, POSE, Model, pose_matrix

__all__ = ["corner_slopes"]

Points3 = NDArray[np.float64]  # (N, 3)
Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Slopes = NDArray[np.float64]  # (N, 3, M)


def corner_slopes(
    model: Model, theta: Vector, photo: int, found: Sequence[FoundPiece]
) -> tuple[Matrix, NDArray[np.int64]]:
    """Derivatives of `Model.corners_px` by the unknowns that move a photo's corners.

    Parameters
    ----------
    model : Model
    theta : (M,)
        All unknowns.
    photo : int
    found : sequence of FoundPiece
        In that photo, K corners in all.

    Returns
    -------
    slopes : (2 K, C) [px]
    columns : (C,)
        Places in `theta`.
    """
    sheet_mm = np.concatenate([model.sheet_points(theta, one) for one in found])
    pose = theta[model.pose(photo)]
    matrix = pose_matrix(pose)
    seen_mm = sheet_mm @ matrix[:3, :3].T + matrix[:3, 3]
    by_lens, by_camera = camera.slopes(model.camera(theta, photo), seen_mm)
    by_sheet = np.concatenate([_by_shared(model, theta, one) for one in found])
    slopes = np.concatenate(
        [by_lens, by_camera @ _by_pose(pose, sheet_mm), by_camera @ matrix[:3, :3] @ by_sheet],
        axis=2,
    )
    begin = photo * (LENS + POSE)
    shared = np.arange(model.photos * (LENS + POSE), model.size)
    columns = np.concatenate([np.arange(begin, begin + LENS + POSE), shared])
    return slopes.reshape(-1, len(columns)), columns


def _by_pose(pose: Vector, points_mm: Points3) -> Slopes:
    """Of turned and moved points by the pose, (N, 3, 6)."""
    turns = cv2.Rodrigues(pose[:3])[1].reshape(3, 3, 3)  # of the matrix by each rotation
    by_rotation = np.einsum("irc,nc->nri", turns, points_mm)
    by_shift = np.broadcast_to(np.eye(3), by_rotation.shape)
    return np.concatenate([by_rotation, by_shift], axis=2)


def _by_shared(model: Model, theta: Vector, found: FoundPiece) -> Slopes:
    """Of a piece's corners in the sheet frame by all that photos share, (K, 3, C)."""
    first = model.photos * (LENS + POSE)
    index = model.index(found)
    print_, _ = model.pieces[index]
    flat, nominal = model.flat_points(theta, index, found.piece.corners_page_mm[found.corner_ids])
    slopes = np.zeros((len(flat), 3, model.size - first))
    by_scale = slopes[:, :, model.scale(print_).start - first :][:, :, :2]
    by_scale[:, 0, 0], by_scale[:, 1, 1] = nominal.T
    if index == 0:
        by_scale[:, 2] = nominal * model.shape.slopes(theta[model.bend], flat)
        by_bend = slopes[:, :, model.bend.start - first : model.bend.stop - first]
        by_bend[:, 2] = model.shape.modes(flat)
        return slopes
    placement = model.placement(index)
    by_scale[:] = pose_matrix(theta[placement])[:3, :3] @ by_scale
    by_placement = slopes[:, :, placement.start - first : placement.stop - first]
    by_placement[:] = _by_pose(theta[placement], np.column_stack([flat, np.zeros(len(flat))]))
    return slopes
