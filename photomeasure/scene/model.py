"""The unknowns of a joint solve, and where they put every corner in every photo."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.camera import Camera, project
from photomeasure.references.prints import FoundPiece, Piece, Print

__all__ = [
    "LENS",
    "POSE",
    "Bend",
    "Model",
    "bend_height",
    "bend_of",
    "piece_middle",
    "pose_matrix",
]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

LENS, POSE = 5, 6


@dataclass(frozen=True, slots=True)
class Bend:
    """How a piece may bend: polynomial modes, each known to be about `u_mm` at `reach_mm`.

    Attributes
    ----------
    degrees : tuple of int
        Of the polynomials; 0 and 1 are the pose.
    reach_mm : float
        Where a mode's coefficient is its height.
    u_mm : float
        Standard uncertainty of every coefficient beforehand.
    """

    degrees: tuple[int, ...]
    reach_mm: float
    u_mm: float

    @property
    def powers(self) -> tuple[tuple[int, int], ...]:
        """Powers of x and y of every mode."""
        return tuple((i, degree - i) for degree in self.degrees for i in range(degree + 1))

    def modes(self, points_mm: Points2) -> Matrix:
        """Height of every mode at points of the sheet frame, (N, M)."""
        (i, j), (x, y) = np.array(self.powers).T, self._to_powers(points_mm)
        return np.asarray(x[:, i] * y[:, j])

    def slopes(self, bend_mm: Vector, points_mm: Points2) -> Points2:
        """How the height at points changes along x and along y, (N, 2)."""
        (i, j), (x, y) = np.array(self.powers).T, self._to_powers(points_mm)
        along_x = (i * x[:, np.maximum(i - 1, 0)] * y[:, j]) @ bend_mm
        along_y = (j * x[:, i] * y[:, np.maximum(j - 1, 0)]) @ bend_mm
        return np.column_stack([along_x, along_y]) / self.reach_mm

    def _to_powers(self, points_mm: Points2) -> tuple[Matrix, Matrix]:
        """All powers of x and of y over the reach, (N, P) each."""
        x, y = points_mm.T / self.reach_mm
        count = 1 + max(self.degrees)
        return np.vander(x, count, increasing=True), np.vander(y, count, increasing=True)


SHEET_BEND = Bend(degrees=(2, 3, 4), reach_mm=130.0, u_mm=1.0)
COLLAR_DEGREES = (2, 3)  # a small ring has 26 corners
COLLAR_BEND_U_MM = 0.2  # stuck down all round; common practice, no source


def bend_of(print_: Print, piece: Piece) -> Bend:
    """How much a piece may bend: a collar over its own half size, all else like a sheet."""
    if print_.kind != "collar":
        return SHEET_BEND
    half_mm = float(np.ptp(piece.outline_page_mm, axis=0).max()) / 2
    return Bend(COLLAR_DEGREES, half_mm, COLLAR_BEND_U_MM)


def piece_middle(piece: Piece) -> Vector:
    """Middle of a piece's outline on its page, (2,) [mm]."""
    outline = piece.outline_page_mm
    return np.asarray((outline.min(axis=0) + outline.max(axis=0)) / 2)


def bend_height(bend: Bend, bend_mm: Vector, points_mm: Points2) -> Vector:
    """Height of a bent sheet above its own tangent plane at the middle.

    Parameters
    ----------
    bend : Bend
    bend_mm : (M,) [mm]
        Height of each polynomial mode at the bend's reach from the middle.
    points_mm : (N, 2) [mm]
        Sheet frame.

    Returns
    -------
    (N,) [mm]
    """
    return np.asarray(bend.modes(points_mm) @ bend_mm)


def pose_matrix(pose: Vector) -> NDArray[np.float64]:
    """Rotation vector and translation (6,) as a (4, 4) pose."""
    matrix = np.eye(4)
    matrix[:3, :3] = cv2.Rodrigues(pose[:3])[0]
    matrix[:3, 3] = pose[3:]
    return matrix


@dataclass(frozen=True)
class Model:
    """Layout of the vector of unknowns.

    First lens (5) and pose camera_from_sheet (6) of each photo, then scale (2) of each print,
    then the bend of the first piece, then the pose (6) of every other piece on the first.
    """

    prints: tuple[Print, ...]
    pieces: tuple[tuple[Print, Piece], ...]
    photos: int

    def lens(self, photo: int) -> slice:
        """Slice of a photo's lens."""
        start = photo * (LENS + POSE)
        return slice(start, start + LENS)

    def pose(self, photo: int) -> slice:
        """Slice of a photo's pose."""
        start = photo * (LENS + POSE) + LENS
        return slice(start, start + POSE)

    def scale(self, print_: Print) -> slice:
        """Slice of a print's scale in x and y."""
        names = [known.name for known in self.prints]
        start = self.photos * (LENS + POSE) + 2 * names.index(print_.name)
        return slice(start, start + 2)

    @property
    def bend(self) -> slice:
        """Slice of the first piece's bend."""
        start = self.photos * (LENS + POSE) + 2 * len(self.prints)
        return slice(start, start + len(self.shape.powers))

    @cached_property
    def shape(self) -> Bend:
        """How the first piece may bend."""
        return bend_of(*self.pieces[0])

    def placement(self, piece: int) -> slice:
        """Slice of a further piece's pose sheet_from_piece."""
        start = self.bend.stop + POSE * (piece - 1)
        return slice(start, start + POSE)

    @cached_property
    def size(self) -> int:
        """Number of unknowns."""
        return int(self.bend.stop) + POSE * (len(self.pieces) - 1)

    def index(self, found: FoundPiece) -> int:
        """Which piece this is."""
        names = [(print_.name, piece.name) for print_, piece in self.pieces]
        return names.index((found.print_.name, found.piece.name))

    def camera(self, theta: Vector, photo: int) -> Camera:
        """Lens of a photo."""
        return Camera(*(float(value) for value in theta[self.lens(photo)]))

    def sheet_points(self, theta: Vector, found: FoundPiece) -> Points3:
        """Corners of a found piece in the sheet frame, (K, 3) [mm]."""
        index = self.index(found)
        return self.page_points(theta, index, found.piece.corners_page_mm[found.corner_ids])

    def page_points(self, theta: Vector, index: int, points_page_mm: Points2) -> Points3:
        """Points of a piece's page in the sheet frame, (N, 3) [mm]."""
        flat, _ = self.flat_points(theta, index, points_page_mm)
        if index == 0:
            return np.column_stack([flat, bend_height(self.shape, theta[self.bend], flat)])
        matrix = pose_matrix(theta[self.placement(index)])
        return np.column_stack([flat, np.zeros(len(flat))]) @ matrix[:3, :3].T + matrix[:3, 3]

    def flat_points(
        self, theta: Vector, index: int, points_page_mm: Points2
    ) -> tuple[Points2, Points2]:
        """Points of a piece on its own plane, y up, as printed and as drawn, (N, 2) [mm]."""
        print_, piece = self.pieces[index]
        nominal = (points_page_mm - piece_middle(piece)) * (1.0, -1.0)
        return nominal * theta[self.scale(print_)], nominal

    def corners_px(self, theta: Vector, photo: int, found: Sequence[FoundPiece]) -> Points2:
        """Where the corners of a photo's pieces should be seen, (K, 2)."""
        return self.px(theta, photo, np.concatenate([self.sheet_points(theta, f) for f in found]))

    def px(self, theta: Vector, photo: int, points_sheet_mm: Points3) -> Points2:
        """Where points of the sheet frame should be seen in a photo, (N, 2)."""
        matrix = pose_matrix(theta[self.pose(photo)])
        points = points_sheet_mm @ matrix[:3, :3].T + matrix[:3, 3]
        return project(self.camera(theta, photo), points)
