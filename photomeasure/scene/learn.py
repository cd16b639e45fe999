"""Learn a phone's lens from several photos of one sheet."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import DRIFT, Camera, growth
from photomeasure.errors import (
    TooFewPhotosError,
    TooUncertainError,
    WrongCameraError,
    WrongPrintError,
)
from photomeasure.photo import LensName, LensProfile, Photo, quarter_turn
from photomeasure.references.prints import FoundPiece
from photomeasure.scene.solve import solve_scenes
from photomeasure.scene.view import Scene

__all__ = ["learn_lens"]

Vector = NDArray[np.float64]  # (N,)

LEAST_PHOTOS = 3
LARGEST_FOCAL_U = 0.006  # relative: a photo by itself is often as good
LEAN = (
    "Take five or more photos of the sheet as it lies: one from straight above, the others leaning "
    "20 to 40 degrees from different sides, the phone once upright and once across."
)


def learn_lens(photos: Sequence[Photo], found: Sequence[Sequence[FoundPiece]]) -> LensProfile:
    """Solve one lens from several photos of references left as they lie.

    Parameters
    ----------
    photos : sequence of Photo
        Their pixels are not used.
    found : sequence of sequence of FoundPiece
        The pieces found in each photo.

    Returns
    -------
    LensProfile

    Raises
    ------
    TooFewPhotosError, WrongCameraError, WrongPrintError, TooUncertainError
        Too few, of unlike lenses or sizes, without the sheet, or too alike in pose.
    MeasuringError
        As `solve_scenes`.
    """
    if len(photos) < LEAST_PHOTOS:
        raise TooFewPhotosError(
            f"A lens is learnt from {LEAST_PHOTOS} photos or more; {len(photos)} given.", LEAN
        )
    _demand_one_lens(photos)
    scenes = solve_scenes(photos, [_sheets(*pair) for pair in zip(photos, found, strict=True)], {})
    values = np.stack([_values(one, s.camera, s) for one, s in zip(photos, scenes, strict=True)])
    shifts = np.mean([_shifts(*pair) for pair in zip(photos, scenes, strict=True)], axis=0)
    covariance = shifts.T @ shifts + np.diag(np.square(DRIFT) * _per_side(values)) / len(photos)
    _demand_certainty(values.mean(axis=0), covariance)
    depths = np.array([scene.camera_from_sheet[2, 3] for scene in scenes])
    return LensProfile(
        name=LensName.of(photos[0].notes),
        size_px=(max(photos[0].size_px), min(photos[0].size_px)),
        values=values.mean(axis=0),
        root=np.asarray(np.linalg.cholesky(covariance)),
        near_per_mm=float(np.mean(1 / depths)),
        photos=len(photos),
    )


def _sheets(photo: Photo, pieces: Sequence[FoundPiece]) -> list[FoundPiece]:
    """Only the sheet lies flat and is large enough."""
    sheets = [piece for piece in pieces if piece.print_.kind == "sheet"]
    if not sheets:
        raise WrongPrintError(
            f"{photo.name} does not show the sheet, from which a lens is learnt.",
            "Print the sheet, fix it flat, and photograph that.",
        )
    return sheets


def _per_side(values: NDArray[np.float64]) -> Vector:
    """What the drift's figures are relative to, squared, (5,)."""
    focal = float(values[:, 0].mean())
    return np.array([focal, focal, focal, 1.0, 1.0]) ** 2


def _values(photo: Photo, camera: Camera, scene: Scene) -> Vector:
    """A photo's lens as a profile has it, (5,)."""
    long = max(photo.size_px)
    near = growth(photo, float(scene.camera_from_sheet[2, 3]))
    middle = (np.array(photo.size_px) - 1) / 2
    off = np.array([camera.centre_x_px, camera.centre_y_px]) - middle
    off = off @ _told_turn(photo)
    return np.array([camera.focal_px / near / long, *(off / long), camera.k1, camera.k2])


def _shifts(photo: Photo, scene: Scene) -> NDArray[np.float64]:
    """What each source does to that lens, (S, 5)."""
    base = _values(photo, scene.camera, scene)
    return np.stack([_values(photo, one.camera, scene) - base for _, one in scene.variants()])


def _demand_one_lens(photos: Sequence[Photo]) -> None:
    first = photos[0]
    name, sizes = LensName.of(first.notes), sorted(first.size_px)
    for photo in photos:
        _told_turn(photo)
        taken = LensName.of(photo.notes)
        if taken != name:
            raise WrongCameraError(
                f"{first.name} was taken by {name}, but {photo.name} by {taken}.",
                "Take all photos with one lens of one phone, at the same zoom.",
            )
        if sorted(photo.size_px) != sizes:
            width, height = photo.size_px
            raise WrongCameraError(
                f"{photo.name} has {width} × {height} pixels, unlike {first.name} with "
                f"{first.size_px[0]} × {first.size_px[1]}.",
                "Give the photos as the phone took them, all of one size.",
            )


def _told_turn(photo: Photo) -> NDArray[np.float64]:
    turn = quarter_turn(photo.notes)
    if turn is None:
        raise WrongCameraError(
            f"{photo.name} does not say which camera took it, and how it was held.",
            "Give the photos as the phone took them: a messenger's copy has lost that.",
        )
    return turn


def _demand_certainty(values: Vector, covariance: NDArray[np.float64]) -> None:
    u = float(np.sqrt(covariance[0, 0])) / float(values[0])
    if u > LARGEST_FOCAL_U:
        raise TooUncertainError(
            f"The photos are too much alike to tell the lens: its focal length would be uncertain "
            f"by {100 * u:.1f} %, and up to {100 * LARGEST_FOCAL_U:.1f} % is of use.",
            LEAN,
        )
