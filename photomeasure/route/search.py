"""Search a reduced picture for stripes that could be the line."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from photomeasure.photo import Photo
from photomeasure.route.bars import bar_map, lightness_colour
from photomeasure.route.reading import FlatOptions, FlatScene
from photomeasure.route.skeleton import longest_path

__all__ = ["SAME_COLOUR", "Search", "Stripe", "View"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Mask = NDArray[np.bool_]  # (height, width)
Image3 = NDArray[np.float32]  # (height, width, 3)

WIDTHS_MM = {"tape": (8.0, 90.0), "cord": (1.5, 16.0), "rod": (1.5, 16.0), "hose": (6.0, 60.0)}
# common practice, no source
LEAST_SCORE = 8.0  # 8-bit Lab; grain of concrete and wood stays below 6 in the drawn pictures
LEAST_ASPECT = 4.0  # a shorter stripe is a patch
SEEDS = 40
FAINT = 0.3  # of a line's own score: fainter seeds are neither its rivals nor its continuation
GROW = 0.35  # share of the seed's score that still belongs to it
SAME_COLOUR = 0.55  # difference of contrast over the contrast itself
LIGHTNESS = (0.6, 0.15)  # weight against hue, usual and where shading is to be looked through
MARGIN = 0.0125  # of the picture's longer side: a line that comes so near its rim leaves it
BRANCH_WIDTHS = 1.6  # off the way: what branches off, not a ragged rim or a broad end's corners
MOTTLE_MM = 40.0  # stripes printed across a tape are no longer than this


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What is searched.

    Attributes
    ----------
    photo : Photo
    scene : FlatScene
    outlines_px : tuple of (N, 2) [px]
        Of the printed references, where no line is looked for.
    options : FlatOptions
    """

    photo: Photo
    scene: FlatScene
    outlines_px: tuple[Points2, ...]
    options: FlatOptions


@dataclass(frozen=True, slots=True, eq=False)
class Stripe:
    """A candidate: one run of like bars in the reduced picture."""

    path: Points2
    width: Vector
    width_mm: float
    length_mm: float
    contrast: NDArray[np.float64]
    merit: float
    branch: Vector | None  # (2,) [px], the farthest place off the path of what branches off


class Search:
    """The reduced picture with its bars."""

    def __init__(self, view: View, size_px: int, kind: Literal["plain", "hue", "mottled"]) -> None:
        """Reduce the picture and look for bars of one colour, of one hue, or of all but floor."""
        self.scene, self.options = view.scene, view.options
        self.factor = min(1.0, size_px / max(view.photo.size_px))
        size = tuple(max(1, round(self.factor * side)) for side in view.photo.size_px)
        small = np.asarray(cv2.resize(view.photo.colour, size, interpolation=cv2.INTER_AREA))
        covered = self._covered(small.shape[:2], view.outlines_px)
        painted = _floor_over(np.asarray(small, np.uint8), covered)
        self.image = lightness_colour(painted, LIGHTNESS[kind == "hue"])
        if kind == "mottled":
            middle = np.array([[size[0] / 2, size[1] / 2]])
            self.image = _off_floor(self.image, MOTTLE_MM / float(self.mm_per_px(middle)[0]))
        self.bars = bar_map(self.image, ~covered)
        self.left = self.bars.score.copy()
        self.strong = np.nonzero(self.left > GROW * LEAST_SCORE)

    def full_px(self, points: Points2) -> Points2:
        """From the reduced picture to the photo (pixel centres are whole numbers in both)."""
        return np.asarray((points + 0.5) / self.factor - 0.5)

    def reduced(self, points_px: Points2) -> Points2:
        """From the photo to the reduced picture."""
        return np.asarray((points_px + 0.5) * self.factor - 0.5)

    def _covered(self, shape: tuple[int, ...], outlines_px: tuple[Points2, ...]) -> Mask:
        covered = np.zeros(shape, np.uint8)
        for outline in outlines_px:
            cv2.fillPoly(covered, [np.round(self.reduced(outline)).astype(np.int32)], 1)
        return np.asarray(cv2.dilate(covered, np.ones((5, 5), np.uint8)), bool)

    def mm_per_px(self, points: Points2) -> Vector:
        """Geometric mean scale of the reduced picture at its points."""
        steps = [self.scene.sheet_mm(self.full_px(points + s)) for s in ((0, 0), (1, 0), (0, 1))]
        (a, b), (c, d) = (steps[1] - steps[0]).T, (steps[2] - steps[0]).T
        return np.asarray(np.sqrt(np.abs(a * d - b * c)))

    def stripes(self) -> list[Stripe]:
        """Candidates, best first."""
        found: list[Stripe] = []
        least = LEAST_SCORE
        for _ in range(SEEDS):
            row, column = np.unravel_index(int(np.argmax(self.left)), self.left.shape)
            score = float(self.left[row, column])
            if score < least:
                break
            stripe = self._grown(int(row), int(column))
            if stripe is not None:
                found.append(stripe)
                least = max(least, FAINT * score)
        return sorted(found, key=lambda s: -s.merit)

    def _grown(self, row: int, column: int) -> Stripe | None:
        """Take everything joined to a seed that looks like it."""
        seed = self.bars.contrast[row, column].astype(np.float64)
        rows, columns = self.strong
        score = self.left[rows, columns]
        like = score > GROW * self.bars.score[row, column]
        ratio = self.bars.width[rows, columns] / self.bars.width[row, column]
        like &= (ratio > 0.45) & (ratio < 2.2)
        rows, columns = rows[like], columns[like]
        away = self.bars.contrast[rows, columns] - seed
        like = np.einsum("ij,ij->i", away, away) < SAME_COLOUR**2 * float(seed @ seed)
        mask = np.zeros(self.left.shape, np.uint8)
        mask[rows[like], columns[like]] = 1
        cv2.floodFill(mask, None, (column, row), 2, flags=8)
        blob = mask == 2
        reach = max(1, round(1.2 * float(self.bars.width[row, column])))
        around = cv2.dilate(blob.astype(np.uint8), np.ones((2 * reach + 1,) * 2, np.uint8))
        self.left[around > 0] = 0.0
        return self._measured(blob, seed)

    def _measured(self, blob: Mask, contrast: NDArray[np.float64]) -> Stripe | None:
        """Length, width and merit of a candidate; None if it is no such line."""
        path, thinned = longest_path(blob)
        if len(path) < 8:
            return None
        share = len(path) / len(thinned)
        rows, columns = np.round(path.T[::-1]).astype(int)
        guess = float(np.median(self.bars.width[rows, columns]))
        width_mm = self._width_mm(path, guess, contrast)
        width = width_mm / self.mm_per_px(path)
        ground = self.scene.sheet_mm(self.full_px(path[:: max(1, len(path) // 60)]))
        length_mm = float(np.sum(np.hypot(*np.diff(ground, axis=0).T)))
        low, high = self._width_limits()
        if length_mm < LEAST_ASPECT * width_mm or not low < width_mm < high:
            return None
        merit = length_mm * float(np.linalg.norm(contrast)) * share**2
        merit *= 0.25 ** sum(self._leaves(end) for end in (path[0], path[-1]))
        branch = _farthest(thinned, path, float(np.median(width)))
        return Stripe(path, width, width_mm, length_mm, contrast, merit, branch)

    def _width_mm(self, path: Points2, guess: float, contrast: NDArray[np.float64]) -> float:
        """Median width at half contrast; 0 if the stripe's middle does not stand out."""
        every = max(1, len(path) // 80)
        place = path[2:-2:every]
        tangent = path[4::every][: len(place)] - path[:-4:every][: len(place)]
        normal = np.column_stack((-tangent[:, 1], tangent[:, 0])) / np.hypot(*tangent.T)[:, None]
        offset = np.arange(-2.0 * guess - 2, 2.0 * guess + 2.1, 0.5)
        at = place[:, None] + offset[None, :, None] * normal[:, None]
        across, down = np.moveaxis(at, 2, 0).astype(np.float32)
        colour = cv2.remap(self.image, across, down, cv2.INTER_LINEAR)
        profile = colour @ (contrast / (contrast @ contrast)).astype(np.float32)
        floor = np.minimum(*(profile[:, cut].mean(axis=1) for cut in (slice(4), slice(-4, None))))
        share = profile - floor[:, None]
        middle = share[:, np.abs(offset) <= 0.25 * guess].mean(axis=1, keepdims=True)
        wide = 0.5 * np.sum(share > 0.5 * np.maximum(middle, 0.3), axis=1)
        wide = np.where(middle[:, 0] > 0.5, wide, 0.0)
        return float(np.median(wide * self.mm_per_px(place)))

    def _width_limits(self) -> tuple[float, float]:
        """Plausible widths; the bar that fits best is known to a factor of 1.5 or so."""
        if self.options.line_od_mm:
            return 0.5 * self.options.line_od_mm, 2.0 * self.options.line_od_mm
        return WIDTHS_MM[self.options.line]

    def _leaves(self, end: Vector) -> bool:
        """Whether a candidate runs out of the picture there, as seams of a floor do."""
        height, width = self.bars.score.shape
        margin = MARGIN * max(height, width)
        return bool(min(end[0], end[1], width - 1 - end[0], height - 1 - end[1]) < margin)


def _farthest(thinned: Points2, path: Points2, width: float) -> Vector | None:
    """Give the place farthest off the path, if it lies too far off for a ragged rim or an end."""
    away, _ = cKDTree(path).query(thinned)
    k = int(np.argmax(away))
    return thinned[k] if away[k] > BRANCH_WIDTHS * width else None


def _floor_over(colour: NDArray[np.uint8], covered: Mask) -> NDArray[np.uint8]:
    """Paint the references over with what lies round them, so that they make no bars."""
    if not covered.any():
        return colour
    keep = (~covered).astype(np.float32)
    size = (round(0.08 * max(colour.shape[:2])) | 1,) * 2
    total = cv2.blur(cv2.blur(colour * keep[..., None], size), size)
    weight = cv2.blur(cv2.blur(keep, size), size)
    mean = cv2.blur(colour.astype(np.float32), size)
    seen = weight > 1e-3
    mean[seen] = total[seen] / weight[seen][:, None]
    painted = colour.copy()
    painted[covered] = np.clip(mean[covered], 0, 255).astype(np.uint8)
    return painted


def _off_floor(image: Image3, mottle_px: float) -> Image3:
    """Distance of every colour from the floor's near by, holes of a mottle's size closed."""
    reach = round(0.15 * max(image.shape[:2])) | 1
    tiny = cv2.resize(image, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    stored = np.clip(tiny, 0, 255).astype(np.uint8)
    floor = cv2.medianBlur(stored, min(255, (reach // 4) | 1)).astype(np.float32)
    floor = np.asarray(cv2.resize(floor, image.shape[1::-1]), np.float32)
    distance = np.linalg.norm(image - np.asarray(floor), axis=2).astype(np.float32)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (max(3, round(mottle_px)) | 1,) * 2)
    closed = np.asarray(cv2.morphologyEx(distance, cv2.MORPH_CLOSE, kernel), np.float32)
    nothing = np.zeros_like(closed)
    return np.dstack((closed, nothing, nothing))
