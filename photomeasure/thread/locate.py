"""Find the part on the bed, roughly: where it lies and which way its axis points."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoFittingError
from photomeasure.photo import Photo
from photomeasure.thread.axis import Axis
from photomeasure.thread.paper import STEP_MM, OpenPaper

__all__ = ["Found", "locate"]

Points2 = NDArray[np.float64]  # (N, 2)

HALF = 0.5
LEAST_AREA_MM2 = 40.0
MOST_COVERED = 0.6  # of the bed by one thing
SPECK_MM, GAP_MM = 0.8, 1.0  # smaller covers are dirt on the print; smaller holes are glints
TURNS_RAD = np.radians(np.arange(0.0, 180.0, 2.0))
SYMMETRY_STEP_MM = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The part's footprint.

    Attributes
    ----------
    axis : Axis
        Rough, level, at half the part's width.
    from_mm, to_mm : float
        Extent along the axis.
    half_width_mm : float
        Extent across it.
    is_heading_sure : bool
        To half a degree.
    """

    axis: Axis
    from_mm: float
    to_mm: float
    half_width_mm: float
    is_heading_sure: bool = False


def locate(photo: Photo, paper: OpenPaper, heading_rad: float | None = None) -> tuple[Found, Found]:
    """Find what covers the bed, and the line about which it is most nearly symmetric.

    Parameters
    ----------
    photo : Photo
        For the message.
    paper : OpenPaper
    heading_rad : float or None [rad]
        Of the axis, where somebody marked it.

    Returns
    -------
    tuple of Found
        The part with its axis along the line of symmetry, and square to it: a part as broad as
        it is long may be as symmetric that way.

    Raises
    ------
    NoFittingError
        If nothing of a fitting's size lies there, or something far larger.
    """
    covered = _opened(paper.share < HALF)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(covered)
    areas = stats[1:, cv2.CC_STAT_AREA] * STEP_MM**2
    if count < 2 or areas.max() < LEAST_AREA_MM2:
        raise NoFittingError(
            f"{photo.name} shows no fitting on the sheet's bed.",
            "Lay one fitting in the middle of the bed, well lit, and take the photo again.",
        )
    if areas.max() > MOST_COVERED * covered.size * STEP_MM**2:
        raise NoFittingError(
            f"{photo.name}: more than half of the sheet's bed is hidden.",
            "Lay one fitting on the bed, keep hands and everything else off it, in even light.",
        )
    points = paper.points_mm(*np.nonzero(labels == 1 + int(np.argmax(areas))))
    heading = _symmetry(points) if heading_rad is None else heading_rad
    return _framed(points, heading), _framed(points, heading + np.pi / 2)


def _opened(covered: NDArray[np.bool_]) -> NDArray[np.uint8]:
    def disc(size_mm: float) -> NDArray[np.uint8]:
        side = round(size_mm / STEP_MM)
        return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), np.uint8)

    closed = cv2.morphologyEx(covered.astype(np.uint8), cv2.MORPH_CLOSE, disc(GAP_MM))
    return np.asarray(cv2.morphologyEx(closed, cv2.MORPH_OPEN, disc(SPECK_MM)), np.uint8)


def _symmetry(points_mm: Points2) -> float:
    """Heading of the line through the centre onto which the footprint mirrors best."""
    x, y = (points_mm - points_mm.mean(axis=0)).T / SYMMETRY_STEP_MM
    half = int(np.ceil(1.5 * max(np.abs(x).max(), np.abs(y).max())))
    quarter = TURNS_RAD[: len(TURNS_RAD) // 2]
    overlaps = np.array([_overlaps(np.exp(-1j * turn) * (x + 1j * y), half) for turn in quarter])
    return float(TURNS_RAD[int(np.argmax(overlaps.T))])


def _overlaps(places: NDArray[np.complex128], half: int) -> tuple[float, float]:
    """How much of the footprint mirrors onto itself about the real axis, and square to it."""
    side = 2 * half + 1
    cells = (np.rint(places.imag) + half) * side + np.rint(places.real) + half
    mask = np.zeros((side, side), np.bool_)
    mask.ravel()[cells.astype(np.int32)] = True
    own = int(mask.sum())
    return int((mask & mask[::-1]).sum()) / own, int((mask & mask[:, ::-1]).sum()) / own


def _framed(points: Points2, heading: float) -> Found:
    along = np.array([np.cos(heading), np.sin(heading)])
    across = np.array([-along[1], along[0]])
    low, high = np.percentile(points @ across, (0.5, 99.5))
    begin, end = np.percentile(points @ along, (0.2, 99.8))
    middle = (begin + end) / 2 * along + (low + high) / 2 * across
    axis = Axis(float(middle[0]), float(middle[1]), 0.85 * (high - low) / 2, heading)
    half = (end - begin) / 2
    return Found(axis, -half, half, (high - low) / 2)
