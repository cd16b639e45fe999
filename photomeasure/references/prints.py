"""What a printed reference is: markers, corners, pieces and bars, in millimetres on the page."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.references.artwork import Shape

__all__ = ["Bar", "Bed", "FoundPiece", "Hole", "Kind", "Paper", "Piece", "Print", "Shoot"]

Kind = Literal["sheet", "collar", "markers", "bands"]
Paper = Literal["A4", "Letter"]
Points2 = NDArray[np.float64]  # (N, 2)


@dataclass(frozen=True, slots=True)
class Hole:
    """A round hole to cut out of a piece."""

    centre_mm: tuple[float, float]
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class Bar:
    """A check bar to measure with a caliper, from end to end."""

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    length_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Bed:
    """Where the fitting is to lie.

    Attributes
    ----------
    centre_mm, size_mm : (2,)
        Page frame.
    dots_mm : (N, 4)
        Left, top, right, bottom of pale yellow dots: where they show, nothing covers the paper.
    """

    centre_mm: tuple[float, float]
    size_mm: tuple[float, float]
    dots_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shoot:
    """From where the print's instructions ask the photo to be taken."""

    distance_mm: tuple[float, float]
    tilt_deg: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One part of the page that is cut out and stays flat by itself; the sheet is one piece.

    Attributes
    ----------
    name : str
    outline_page_mm : (N, 2)
    marker_ids : (M,)
    marker_corners_page_mm : (M, 4, 2)
        Clockwise as printed, from each marker's top left.
    corners_page_mm : (K, 2)
        Chessboard-type corners, the points that are measured on.
    hole, direction, order, role
        As in the layout file.
    squares_page_mm : (S, 4, 2)
        Corners of the black squares, clockwise as printed: edges of known width.
    """

    name: str
    outline_page_mm: Points2
    marker_ids: NDArray[np.int64]
    marker_corners_page_mm: NDArray[np.float64]
    corners_page_mm: Points2
    hole: Hole | None = None
    direction: tuple[float, float] | None = None
    order: int | None = None
    role: Literal["start", "end"] | None = None
    squares_page_mm: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 4, 2)))


@dataclass(frozen=True, slots=True, eq=False)
class Print:
    """One page of one version of a reference, as data; `artwork` is all that is inked."""

    name: str
    kind: Kind
    version: int
    paper: Paper
    page_mm: tuple[float, float]
    pieces: tuple[Piece, ...]
    bar_x: Bar
    bar_y: Bar
    bed: Bed | None
    shoot: Shoot
    artwork: tuple[Shape, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class FoundPiece:
    """A piece as found in one photo.

    Attributes
    ----------
    print_, piece
        What it is.
    corner_ids : (K,)
        Rows of `piece.corners_page_mm` that were found.
    corners_px : (K, 2)
        Sub-pixel, upright photo, (0, 0) the centre of the top left pixel.
    noise_px : (K,)
        Standard deviation of each corner from image noise and blur alone.
    blur_px : float
        Standard deviation of the picture's blur near the corners.
    is_mirrored : bool
        The photo shows the print in a mirror.
    """

    print_: Print
    piece: Piece
    corner_ids: NDArray[np.int64]
    corners_px: Points2
    noise_px: NDArray[np.float64]
    blur_px: float
    is_mirrored: bool
