"""Least squares over lens, poses, print scale and the sheet's bend, with priors and covariance."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import BlurredError, SheetNotFlatError, TooFewCornersError
from photomeasure.photo import Photo
from photomeasure.quantities import Source
from photomeasure.references.paper_edges import paper_widths
from photomeasure.references.prints import FoundPiece, Print
from photomeasure.scene.lens import lens_tie
from photomeasure.scene.model import Model, pose_matrix
from photomeasure.scene.scale import BarReading, PageScale, page_scale, seen_scale
from photomeasure.scene.slopes import corner_slopes
from photomeasure.scene.start import start
from photomeasure.scene.view import Scene
from photomeasure.scene.weights import corner_weights, neighbours

__all__ = ["solve_scenes"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

LEAST_CORNERS = 12
MOST_BLUR_PX = 2.5  # standard deviation; a sharp photo of 12 million pixels has 1
MOST_BLUR_SHARE = 0.0006  # of the longer side: as much of a photo of 50 million
LARGEST_RESIDUAL_PX = 3.0
OUTLIERS_ALLOWED = 0.05
CARD_U = (0.005, 0.005, 0.5)  # [rad, rad, mm] tilt and height of a card on the floor
STEPS = 15
FLATTEN = (
    "Fix the sheet's corners to something flat and take the photo again.",
    "Stick the collar flat on the port's face, all round its hole, and take the photo again.",
)
CONVERGED = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class _Priors:
    """Linear priors, `rows @ theta - mean` of unit covariance.

    `pulls` say what a standard uncertainty of a named source adds to `rows.T @ mean`.
    """

    rows: Matrix
    mean: Vector
    pulls: tuple[tuple[Source, Vector], ...]


def solve_scenes(
    photos: Sequence[Photo],
    found: Sequence[Sequence[FoundPiece]],
    bars: Mapping[str, BarReading],
) -> tuple[Scene, ...]:
    """Solve lens and pose of every photo of one still arrangement of references.

    Parameters
    ----------
    photos : sequence of Photo
    found : sequence of sequence of FoundPiece
        The pieces found in each photo.
    bars : mapping of str to BarReading
        By print name or kind; "" holds for every print.

    Returns
    -------
    tuple of Scene
        One a photo, in one sheet frame, with common sources in common order.

    Raises
    ------
    BlurredError, TooFewCornersError, NotConnectedError, SheetNotFlatError
    """
    for photo, pieces in zip(photos, found, strict=True):
        _demand_corners(photo, pieces)
        _demand_sharpness(photo, pieces)
    model = _model(found)
    scales = [page_scale(print_, _reading(bars, print_)) for print_ in model.prints]
    theta = start(model, photos, found, scales)
    priors = _priors(model, photos, theta, scales)
    theta, hessian, residuals = _fit(model, found, theta, priors)
    by_paper = _by_paper(model, photos, theta, scales[0])
    if by_paper is not None:
        scales[0] = by_paper
        priors = _priors(model, photos, theta, scales)
        theta, hessian, residuals = _fit(model, found, theta, priors)
    _demand_flatness(photos, residuals, model.prints[0])
    shifts = _sources(hessian, priors, "+".join(photo.key for photo in photos))
    return tuple(
        _scene(model, theta, shifts, scales[0], (index, found[index], residuals[index]))
        for index in range(len(photos))
    )


def _by_paper(
    model: Model, photos: Sequence[Photo], theta: Vector, scale: PageScale
) -> PageScale | None:
    """Scale of a sheet nobody measured, by the edges of the paper where a photo shows them."""
    print_, piece = model.pieces[0]
    if scale.known_by != "nothing" or print_.kind != "sheet":
        return None

    def to_px(index: int, page_mm: Matrix) -> Matrix:
        return model.px(theta, index, model.page_points(theta, 0, page_mm))

    seen = {
        photo.key: paper_widths(photo.colour, piece.outline_page_mm, partial(to_px, index))
        for index, photo in enumerate(photos)
        if photo.has_pixels
    }
    best = max(seen, key=lambda key: len(seen[key]), default=None)
    return seen_scale(print_, seen[best], best) if best is not None and seen[best] else None


def _demand_sharpness(photo: Photo, pieces: Sequence[FoundPiece]) -> None:
    blur = min(piece.blur_px for piece in pieces)
    if blur > max(MOST_BLUR_PX, max(photo.size_px) * MOST_BLUR_SHARE):
        raise BlurredError(
            f"{photo.name} is out of focus or shaken: the print's edges are blurred by {blur:.1f} "
            "pixels.",
            "Rest your elbows, tap on the print to focus on it, and take it again.",
        )


def _demand_corners(photo: Photo, pieces: Sequence[FoundPiece]) -> None:
    seen = sum(len(piece.corner_ids) for piece in pieces)
    if seen < LEAST_CORNERS:
        raise TooFewCornersError(
            f"{photo.name} shows {seen} corners of the reference; {LEAST_CORNERS} are needed.",
            "Take the photo again with more of the print in the picture and nothing lying on it.",
        )


def _demand_flatness(photos: Sequence[Photo], residuals: Sequence[Matrix], print_: Print) -> None:
    for photo, residual in zip(photos, residuals, strict=True):
        misses = np.hypot(*residual.T) > LARGEST_RESIDUAL_PX
        if misses.mean() > OUTLIERS_ALLOWED:
            raise SheetNotFlatError(
                f"{photo.name}: {misses.sum()} of {len(misses)} corners of the print are more than "
                f"{LARGEST_RESIDUAL_PX:.0f} pixels off any smooth sheet.",
                FLATTEN[print_.kind == "collar"],
            )


def _reading(bars: Mapping[str, BarReading], print_: Print) -> BarReading | None:
    return bars.get(print_.name) or bars.get(print_.kind) or bars.get("")


def _model(found: Sequence[Sequence[FoundPiece]]) -> Model:
    """Put the piece with the most corners first: it carries the sheet frame."""
    best: dict[tuple[str, str], FoundPiece] = {}
    for one in (piece for pieces in found for piece in pieces):
        name = (one.print_.name, one.piece.name)
        known = best.get(name)
        if known is None or len(one.corner_ids) > len(known.corner_ids):
            best[name] = one
    ordered = sorted(best.values(), key=lambda one: -len(one.corner_ids))
    prints = {one.print_.name: one.print_ for one in ordered}
    pieces = tuple((one.print_, one.piece) for one in ordered)
    return Model(tuple(prints.values()), pieces, len(found))


def _priors(
    model: Model, photos: Sequence[Photo], theta: Vector, scales: Sequence[PageScale]
) -> _Priors:
    blocks: list[tuple[Matrix, Vector]] = []
    pulls: list[tuple[Source, Vector]] = []

    def add(columns: slice, root_inverse: Matrix, mean: Vector) -> None:
        rows = np.zeros((len(root_inverse), model.size))
        rows[:, columns] = root_inverse
        blocks.append((rows, root_inverse @ mean))

    for print_, scale in zip(model.prints, scales, strict=True):
        add(model.scale(print_), np.asarray(np.linalg.inv(scale.root)), scale.mean)
        pulls += zip(scale.sources, blocks[-1][0], strict=True)
    for index in range(len(photos)):
        tie = lens_tie(model, photos, index, theta)
        blocks.append((tie.rows, tie.mean))
        pulls += tie.pulls
    add(model.bend, np.eye(len(theta[model.bend])) / model.shape.u_mm, 0 * theta[model.bend])
    for piece in range(1, len(model.pieces)):
        begin = model.placement(piece).start
        for offset, u in zip((0, 1, 5), CARD_U, strict=True):
            add(slice(begin + offset, begin + offset + 1), np.array([[1 / u]]), np.zeros(1))
    rows, means = zip(*blocks, strict=True)
    return _Priors(np.concatenate(rows), np.concatenate(means), tuple(pulls))


def _fit(
    model: Model, found: Sequence[Sequence[FoundPiece]], theta: Vector, priors: _Priors
) -> tuple[Vector, Matrix, list[Matrix]]:
    """Gauss-Newton with Huber weights; corner noise grows to the residuals that it meets."""
    seen = [np.concatenate([one.corners_px for one in pieces]) for pieces in found]
    noise = [np.concatenate([one.noise_px for one in pieces]) for pieces in found]
    beside = [neighbours(px) for px in seen]
    for _ in range(STEPS):
        hessian = priors.rows.T @ priors.rows
        gradient = priors.rows.T @ (priors.rows @ theta - priors.mean)
        for photo, pieces in enumerate(found):
            residual = model.corners_px(theta, photo, pieces) - seen[photo]
            slopes, columns = corner_slopes(model, theta, photo, pieces)
            weight = np.repeat(corner_weights(residual, noise[photo], beside[photo]), 2)
            hessian[np.ix_(columns, columns)] += (slopes.T * weight) @ slopes
            gradient[columns] += slopes.T @ (weight * residual.ravel())
        step = -np.linalg.solve(hessian, gradient)
        theta = theta + step
        if float(step @ hessian @ step) < CONVERGED:
            break
    residuals = [seen[i] - model.corners_px(theta, i, pieces) for i, pieces in enumerate(found)]
    return theta, hessian, residuals


def _sources(hessian: Matrix, priors: _Priors, key: str) -> list[tuple[Source, Vector]]:
    """Split the covariance: one shift a named source, the rest by its principal directions.

    Notes
    -----
    A change of the priors' mean moves the solution by H^-1 rows.T change (linear least squares).
    """
    covariance = np.linalg.inv(hessian)
    shifts = [(source, covariance @ pull) for source, pull in priors.pulls]
    rest = covariance - sum((np.outer(shift, shift) for _, shift in shifts), 0 * covariance)
    spread = np.sqrt(np.diag(covariance))
    values, vectors = np.linalg.eigh(rest / np.outer(spread, spread))
    for number, index in enumerate(np.argsort(-values), start=1):
        if values[index] > 1e-9 * values.max():
            source = Source(f"sheet pose/{number}", "lens and pose of the sheet", "photo", key)
            shifts.append((source, spread * vectors[:, index] * np.sqrt(values[index])))
    return shifts


def _scene(
    model: Model,
    theta: Vector,
    shifts: Sequence[tuple[Source, Vector]],
    scale: PageScale,
    seen: tuple[int, Sequence[FoundPiece], Matrix],
) -> Scene:
    photo, pieces, residuals = seen
    corners = np.concatenate([one.corners_px for one in pieces])

    def at(theta: Vector, shifted: tuple[Scene, ...] = ()) -> Scene:
        return Scene(
            model.camera(theta, photo),
            pose_matrix(theta[model.pose(photo)]),
            corners,
            residuals,
            scale,
            tuple(source for source, _ in shifts) if shifted else (),
            shifted,
        )

    return at(theta, tuple(at(theta + shift) for _, shift in shifts))
