"""What ties the lenses of a joint solve: what is known beforehand, and that one phone took all."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import BREATHING_U, DRIFT, growth, lens_prior
from photomeasure.photo import Photo, quarter_turn
from photomeasure.quantities import Source
from photomeasure.scene.model import LENS, Model

__all__ = ["LensTie", "lens_tie"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)


@dataclass(frozen=True, slots=True, eq=False)
class LensTie:
    """Linear prior of one photo's lens.

    Attributes
    ----------
    rows : (5, M)
        `rows @ theta - mean` has unit covariance.
    mean : (5,)
    pulls : tuple of (Source, (M,))
        What a standard uncertainty of a shared cause adds to `rows.T @ mean`.
    """

    rows: Matrix
    mean: Vector
    pulls: tuple[tuple[Source, Vector], ...] = ()


def lens_tie(model: Model, photos: Sequence[Photo], index: int, theta: Vector) -> LensTie:
    """Tie a lens to what is known of it, or to the first photo taken with the same lens.

    Parameters
    ----------
    model : Model
    photos : sequence of Photo
    index : int
        Which of them.
    theta : (M,)
        First guess of all unknowns.

    Returns
    -------
    LensTie
    """
    twin = next(i for i, other in enumerate(photos) if _same_lens(other, photos[index]))
    if twin != index:
        return _twin_tie(model, photos, (index, twin), theta)
    prior = lens_prior(photos[index], float(theta[model.pose(index)][5]))
    whitener = np.linalg.inv(np.linalg.cholesky(prior.covariance))
    rows = np.zeros((LENS, model.size))
    rows[:, model.lens(index)] = whitener
    camera = prior.camera
    expected = np.array(
        [camera.focal_px, camera.centre_x_px, camera.centre_y_px, camera.k1, camera.k2]
    )
    pulls = rows.T @ (whitener @ prior.shared)
    return LensTie(rows, whitener @ expected, tuple(zip(prior.sources, pulls.T, strict=True)))


def _twin_tie(
    model: Model, photos: Sequence[Photo], pair: tuple[int, int], theta: Vector
) -> LensTie:
    """One lens in two photos: held as it may be, focused as near as each is."""
    index, twin = pair
    photo, other = photos[index], photos[twin]
    near, near_other = (growth(photos[i], float(theta[model.pose(i)][5])) for i in pair)
    turn = _turn_between(other, photo)
    moved = np.eye(LENS)
    moved[0, 0] = near / near_other
    moved[1:3, 1:3] = turn
    middle, middle_other = ((np.array(one.size_px) - 1) / 2 for one in (photo, other))
    offset = np.zeros(LENS)
    offset[1:3] = middle - turn @ middle_other
    u = np.array(DRIFT)
    u[0] = np.hypot(u[0], BREATHING_U * (near - near_other))
    u[:3] *= theta[model.lens(twin)][0]
    rows = np.zeros((LENS, model.size))
    rows[:, model.lens(index)] = np.diag(1 / u)
    rows[:, model.lens(twin)] = -moved / u[:, None]
    return LensTie(rows, offset / u)


def _turn_between(one: Photo, other: Photo) -> Matrix:
    first, second = quarter_turn(one.notes), quarter_turn(other.notes)
    return np.eye(2) if first is None or second is None else np.asarray(second @ first.T)


def _same_lens(one: Photo, other: Photo) -> bool:
    """One lens by what the camera wrote, and it is known how the one was held to the other."""
    is_held_alike = one.size_px == other.size_px
    is_told = quarter_turn(one.notes) is not None and quarter_turn(other.notes) is not None
    sizes = (sorted(one.size_px), sorted(other.size_px))
    return one.lens_key == other.lens_key and sizes[0] == sizes[1] and (is_held_alike or is_told)
