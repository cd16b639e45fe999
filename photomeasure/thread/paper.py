"""Where the bed's paper lies open: there the picture follows the printed dots.

Yellow dots change the share of blue in the light that comes back, and a shade or a lamp's colour
does not do so from dot to dot. Metal mirrors the dots elsewhere or not at all.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from operator import itemgetter

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.edges import linear_light
from photomeasure.errors import WrongPrintError
from photomeasure.photo import Photo
from photomeasure.references.prints import Bed, FoundPiece
from photomeasure.references.speckle import CELL_MM
from photomeasure.scene import Scene

__all__ = ["OFF_BED", "UNKNOWN_SHARE", "OpenPaper", "open_paper", "page_on_sheet"]

Image = NDArray[np.float32]
Points2 = NDArray[np.float64]  # (N, 2)
Vector2 = NDArray[np.float64]  # (2,)

STEP_MM = 0.1
COARSE = 8  # steps between exactly mapped points
WINDOW_MM = 0.45 * CELL_MM  # standard deviation; a cell and its neighbours
DOT_BLUR_MM = 0.1
DARK = 0.004  # of full light: below it colour is noise
LEAST_FIT = 0.3  # correlation squared with the dots on bare paper
FULL_SHARE = 0.7  # of bare paper's fit: within a window of brass it falls early, of grey metal late
BARE_SHARE = 75  # percentile of the fit taken as that of bare paper
UNKNOWN_SHARE = 0.5  # off the bed
OFF_BED = -1.0  # ink there
REMAP_ROW = 1024  # one picture row of cv2.remap holds fewer than 32768 points


@dataclass(frozen=True, slots=True, eq=False)
class OpenPaper:
    """How well the picture follows the dots, over the bed.

    Attributes
    ----------
    share : (rows, columns)
        1 on bare paper, 0 where something covers it.
    ink : (rows, columns)
        Of the printed dots, 0 to 1.
    origin_mm : (2,)
        Sheet frame, of the first pixel's middle.
    step_mm : (2,)
        Along columns and rows, signed.
    """

    share: Image
    ink: Image
    origin_mm: NDArray[np.float64]
    step_mm: NDArray[np.float64]

    def at(self, points_mm: Points2) -> Image:
        """Share at points of the paper, (N,); `UNKNOWN_SHARE` beyond the dots."""
        return self._sampled(self.share, points_mm, UNKNOWN_SHARE)

    def ink_at(self, points_mm: Points2) -> Image:
        """Ink of the dots at points of the paper, (N,); `OFF_BED` beyond them."""
        return self._sampled(self.ink, points_mm, OFF_BED)

    def _sampled(self, field: Image, points_mm: Points2, beyond: float) -> Image:
        places = ((points_mm - self.origin_mm) / self.step_mm).astype(np.float32)
        filled = np.zeros((-len(places) % REMAP_ROW, 2), np.float32)
        grid = np.concatenate([places, filled]).reshape(-1, REMAP_ROW, 2)
        found = cv2.remap(
            field,
            np.ascontiguousarray(grid[..., 0]),
            np.ascontiguousarray(grid[..., 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=beyond,
        )
        return np.asarray(found.ravel()[: len(places)], np.float32)

    def points_mm(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Points2:
        """Sheet frame of pixels, (N, 2)."""
        return np.asarray(self.origin_mm + np.column_stack([columns, rows]) * self.step_mm)


def open_paper(photo: Photo, scene: Scene, sheet: FoundPiece) -> OpenPaper:
    """Compare the bed with its print.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    sheet : FoundPiece
        Of a print with a bed.

    Returns
    -------
    OpenPaper

    Raises
    ------
    WrongPrintError
        If the print has no bed, or its dots cannot be seen.
    """
    print_ = sheet.print_
    if print_.bed is None:
        raise WrongPrintError(
            f"{print_.name} has no bed for a fitting.", "Print the sheet and lay the fitting on it."
        )
    dots, low = _dots(print_.name, print_.bed)
    scale, shift = page_on_sheet(scene, sheet)
    step = STEP_MM * scale
    origin = (low + STEP_MM / 2) * scale + shift
    light = _bed_light(photo, scene, (origin, step), dots.shape)
    bare, fit = max(((_bare(fit), fit) for fit in _fits(_tones(light), dots)), key=itemgetter(0))
    if bare < LEAST_FIT:
        raise WrongPrintError(
            f"{photo.name}: the yellow dots of the bed are not seen.",
            "Print the sheet in colour, not in a draft quality, and take the photo in more light.",
        )
    share = np.clip(fit / (FULL_SHARE * bare), 0, 1)
    return OpenPaper(share.astype(np.float32), dots, origin, step)


def page_on_sheet(scene: Scene, sheet: FoundPiece) -> tuple[Vector2, Vector2]:
    """Scale and shift from page to sheet frame that put the print's corners right.

    The print's own scale may be a guess; where its corners are seen is not.

    Parameters
    ----------
    scene : Scene
    sheet : FoundPiece

    Returns
    -------
    scale, shift_mm : (2,)
    """
    page = sheet.piece.corners_page_mm[sheet.corner_ids]
    seen = scene.sheet_mm(sheet.corners_px)
    fits = [np.polyfit(page[:, axis], seen[:, axis], 1) for axis in (0, 1)]
    return np.array([fit[0] for fit in fits]), np.array([fit[1] for fit in fits])


@cache
def _dots_of(name: str, boxes: bytes) -> tuple[Image, NDArray[np.float64]]:
    """Ink over the field at the map's step, row 0 at the page's top, and its first corner."""
    dots = np.frombuffer(boxes).reshape(-1, 4)
    low = dots[:, :2].min(axis=0) - CELL_MM / 2
    size = np.ceil((dots[:, 2:].max(axis=0) + CELL_MM / 2 - low) / STEP_MM).astype(int)
    fine = np.zeros((4 * size[1], 4 * size[0]), np.float32)
    corners = np.rint((dots - np.tile(low, 2)) / STEP_MM * 4).astype(int)
    for left, top, right, bottom in corners:
        fine[top:bottom, left:right] = 1
    ink = cv2.resize(fine, (int(size[0]), int(size[1])), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.GaussianBlur(ink, (0, 0), DOT_BLUR_MM / STEP_MM), np.float32), low


def _dots(name: str, bed: Bed) -> tuple[Image, NDArray[np.float64]]:
    return _dots_of(name, bed.dots_mm.tobytes())


def _bed_light(
    photo: Photo,
    scene: Scene,
    frame: tuple[NDArray[np.float64], NDArray[np.float64]],
    shape: tuple[int, ...],
) -> Image:
    """Linear blue and green light of the bed, seen square on, (rows, columns, 2)."""
    (origin, step), (rows, columns) = frame, shape
    x = origin[0] + step[0] * np.arange(0, columns + COARSE, COARSE)
    y = origin[1] + step[1] * np.arange(0, rows + COARSE, COARSE)
    grid_x, grid_y = np.meshgrid(x, y)
    points = np.column_stack([grid_x.ravel(), grid_y.ravel(), np.zeros(grid_x.size)])
    coarse = scene.px(points).astype(np.float32).reshape(*grid_x.shape, 2)
    column, row = np.meshgrid(
        np.arange(columns, dtype=np.float32) / COARSE, np.arange(rows, dtype=np.float32) / COARSE
    )
    maps = cv2.remap(coarse, column, row, cv2.INTER_LINEAR)
    stored = cv2.remap(photo.colour, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR)
    light = linear_light(np.asarray(stored[..., :2], np.uint8))
    smooth = cv2.GaussianBlur(light, (0, 0), 0.8)
    return np.asarray(smooth, np.float32)


def _tones(light: Image) -> tuple[Image, Image]:
    """Blue against green for a print in colour; brightness for a grey one."""
    logs = np.log(light + DARK)
    return logs[..., 0] - logs[..., 1], logs[..., 1]


def _fits(tones: Sequence[Image], dots: Image) -> Iterator[Image]:
    """Local correlation squared of each tone's darkening with ink, in a Gaussian window."""

    def mean(values: Image) -> Image:
        return np.asarray(cv2.GaussianBlur(values, (0, 0), WINDOW_MM / STEP_MM), np.float32)

    ink = mean(dots)
    spread_ink = mean(dots * dots) - ink * ink
    for tone in tones:
        seen = mean(tone)
        both = ink * seen - mean(dots * tone)
        spread_seen = mean(tone * tone) - seen * seen
        yield np.asarray(both * np.abs(both) / ((spread_ink + 1e-4) * (spread_seen + 1e-4)))


def _bare(fit: Image) -> float:
    return float(np.percentile(fit, BARE_SHARE))
