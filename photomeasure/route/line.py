"""Find the line of tape, cord, rod or hose in a photo, roughly."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.route.bars import bar_map, lightness_colour
from photomeasure.route.reading import FlatOptions, FlatScene
from photomeasure.route.skeleton import longest_path

__all__ = ["RoughLine", "find_line"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Mask = NDArray[np.bool_]  # (height, width)

WORK_SIZE_PX = 1280  # longest side of the picture in which the line is looked for
WIDTHS_MM = {"tape": (8.0, 90.0), "cord": (1.5, 16.0), "rod": (1.5, 16.0), "hose": (6.0, 60.0)}
# common practice, no source
LEAST_SCORE = 8.0  # 8-bit Lab; grain of concrete and wood stays below 6 in the drawn pictures
LEAST_ASPECT = 4.0  # a shorter stripe is a patch
SEEDS = 40
FAINT = 0.3  # of a line's own score: fainter seeds are neither its rivals nor its continuation
GROW = 0.35  # share of the seed's score that still belongs to it
SAME_COLOUR = 0.55  # difference of contrast over the contrast itself
RIVAL = 0.5  # of the best candidate's merit: too like to choose
GAP_WIDTHS = 8.0  # a line may be hidden over so many widths
SAME_WAY = 0.6  # cosine between a line's end and the way across the gap
NEAR_WIDTHS = 2.0  # a pointed-at place belongs to a line that is so near


@dataclass(frozen=True, slots=True, eq=False)
class RoughLine:
    """The line's middle to a fraction of its width.

    Attributes
    ----------
    path_px : (N, 2) [px]
        In order along the line.
    width_px : (N,) [px]
    share : float [1]
        Of what was found that lies on the path; the rest branches off.
    """

    path_px: Points2
    width_px: Vector
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class _Stripe:
    """A candidate: one run of like bars in the reduced picture."""

    path: Points2
    width: Vector
    width_mm: float
    length_mm: float
    contrast: NDArray[np.float64]
    merit: float
    share: float


def find_line(
    photo: Photo, scene: FlatScene, outlines_px: tuple[Points2, ...], options: FlatOptions
) -> RoughLine:
    """Pick out the line by its colour, its even width and its length.

    Parameters
    ----------
    photo : Photo
    scene : FlatScene
    outlines_px : tuple of (N, 2) [px]
        Of the printed references, where no line is looked for.
    options : FlatOptions
        Kind and width of the line; pixels near it, where the user gave them.

    Returns
    -------
    RoughLine

    Raises
    ------
    NoLineError
        Nothing looks like such a line, or several do.
    """
    search = _Search(photo, scene, outlines_px, options)
    stripes = search.stripes()
    choose = _pointed_at if options.points_px else _outstanding
    chosen = choose(search, stripes)
    path = np.vstack([s.path for s in chosen])
    width = np.concatenate([s.width for s in chosen])
    share = min(s.share for s in chosen)
    return RoughLine(search.full_px(path), width / search.factor, share)


class _Search:
    """The reduced picture with its bars."""

    def __init__(
        self,
        photo: Photo,
        scene: FlatScene,
        outlines_px: tuple[Points2, ...],
        options: FlatOptions,
    ) -> None:
        self.scene, self.options = scene, options
        self.factor = min(1.0, WORK_SIZE_PX / max(photo.size_px))
        size = tuple(max(1, round(self.factor * side)) for side in photo.size_px)
        small = np.asarray(cv2.resize(photo.colour, size, interpolation=cv2.INTER_AREA), np.uint8)
        covered = self._covered(small.shape[:2], outlines_px)
        small = _floor_over(small, covered)
        self.bars = bar_map(small, ~covered)
        self.lab = lightness_colour(small)
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

    def stripes(self) -> list[_Stripe]:
        """Candidates, best first."""
        found: list[_Stripe] = []
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

    def _grown(self, row: int, column: int) -> _Stripe | None:
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

    def _measured(self, blob: Mask, contrast: NDArray[np.float64]) -> _Stripe | None:
        """Length, width and merit of a candidate; None if it is no such line."""
        path, share = longest_path(blob)
        if len(path) < 8:
            return None
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
        return _Stripe(path, width, width_mm, length_mm, contrast, merit, share)

    def _width_mm(self, path: Points2, guess: float, contrast: NDArray[np.float64]) -> float:
        """Median width at half contrast; 0 if the stripe's middle does not stand out."""
        every = max(1, len(path) // 80)
        place = path[2:-2:every]
        tangent = path[4::every][: len(place)] - path[:-4:every][: len(place)]
        normal = np.column_stack((-tangent[:, 1], tangent[:, 0])) / np.hypot(*tangent.T)[:, None]
        offset = np.arange(-2.0 * guess - 2, 2.0 * guess + 2.1, 0.5)
        at = place[:, None] + offset[None, :, None] * normal[:, None]
        across, down = np.moveaxis(at, 2, 0).astype(np.float32)
        colour = cv2.remap(self.lab, across, down, cv2.INTER_LINEAR)
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
        margin = 12.0
        return bool(min(end[0], end[1], width - 1 - end[0], height - 1 - end[1]) < margin)


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


def _outstanding(search: _Search, stripes: list[_Stripe]) -> list[_Stripe]:
    """Take the best candidate with its continuations; refuse if another is as good."""
    if not stripes:
        raise NoLineError(
            f"No line that looks like {search.options.line} is seen on the floor.",
            "Lay tape of another colour than the floor, all of it in the picture, or point at "
            "the line with --points.",
        )
    chain = _with_continuations(stripes[0], stripes[1:])
    used = {id(s) for s in chain}
    merit = sum(s.merit for s in chain)
    rivals = [s for s in stripes if id(s) not in used and s.merit > RIVAL * merit]
    if rivals:
        places = [search.full_px(s.path[len(s.path) // 2]) for s in (chain[0], rivals[0])]
        where = " and ".join(f"({p[0]:.0f}, {p[1]:.0f})" for p in places)
        raise NoLineError(
            f"Several lines could be meant, near pixels {where}.",
            "Point at the right one with --points, or clear the others away.",
        )
    return chain


def _with_continuations(first: _Stripe, others: list[_Stripe]) -> list[_Stripe]:
    """Add like stripes beyond the ends, where something hides the line for a stretch."""
    chain, rest = [first], list(others)
    while True:
        fits = [(k, s, f) for k, s in enumerate(rest) for f in (0, 1, 2, 3) if _fits(chain, s, f)]
        if not fits:
            return chain
        k, stripe, how = fits[0]
        del rest[k]
        turned = _turned(stripe) if how in (1, 2) else stripe
        chain = [*chain, turned] if how < 2 else [turned, *chain]


def _turned(stripe: _Stripe) -> _Stripe:
    return replace(stripe, path=stripe.path[::-1], width=stripe.width[::-1])


def _fits(chain: list[_Stripe], stripe: _Stripe, how: int) -> bool:
    """Whether a stripe goes on where the chain ends: 0, 1 after it; 2, 3 before it; 1, 2 turned."""
    turned = _turned(stripe) if how in (1, 2) else stripe
    before, after = (chain[-1], turned) if how < 2 else (turned, chain[0])
    scale = float(np.linalg.norm(chain[0].contrast))
    if np.linalg.norm(stripe.contrast - chain[0].contrast) > SAME_COLOUR * scale:
        return False
    if not 0.5 < stripe.width_mm / chain[0].width_mm < 2.0:
        return False
    width = float(np.median(chain[0].width))
    end, out = _end_and_way(before.path[::-1], width)
    start, back = _end_and_way(after.path, width)
    gap = start - end
    size = float(np.hypot(*gap)) + 1e-9
    along = [float(v @ gap) / (float(np.hypot(*v)) * size + 1e-9) for v in (out, -back)]
    return size < GAP_WIDTHS * width and min(along) > SAME_WAY


def _end_and_way(path: Points2, width: float) -> tuple[Vector, Vector]:
    """Where a path begins, its frayed end left out, and which way it comes from within."""
    first = min(round(0.7 * width), len(path) // 4)
    second = min(round(2.7 * width), len(path) - 1)
    return path[first], path[first] - path[second]


def _pointed_at(search: _Search, stripes: list[_Stripe]) -> list[_Stripe]:
    """Take the stripes that the user pointed at, in that order; else follow the points."""
    points = search.reduced(np.array(search.options.points_px, dtype=np.float64))
    chain: list[_Stripe] = []
    for point in points:
        near = [(_distance(s, point), s) for s in stripes]
        near = [(d, s) for d, s in near if d < NEAR_WIDTHS * float(np.median(s.width)) + 4]
        if near:
            stripe = min(near, key=lambda pair: pair[0])[1]
            if all(stripe is not s for s in chain):
                chain.append(stripe)
    if not chain:
        raise NoLineError(
            f"No line that looks like {search.options.line} is seen near the points given.",
            "Point at the middle of the line, in pixels of the upright picture.",
        )
    if len(chain) == 1:
        return _with_continuations(chain[0], [s for s in stripes if s is not chain[0]])
    return _in_order(chain, points)


def _distance(stripe: _Stripe, point: Vector) -> float:
    return float(np.min(np.hypot(*(stripe.path - point).T)))


def _in_order(chain: list[_Stripe], points: Points2) -> list[_Stripe]:
    """Turn each stripe so that the gaps between neighbours are shortest."""
    first, second = chain[0], chain[1]
    ends = [np.min(np.hypot(*(second.path[[0, -1]] - e).T)) for e in first.path[[0, -1]]]
    ordered = [_turned(first) if ends[0] < ends[1] else first]
    for stripe in chain[1:]:
        tail = ordered[-1].path[-1]
        gaps = np.hypot(*(stripe.path[[0, -1]] - tail).T)
        ordered.append(_turned(stripe) if gaps[1] < gaps[0] else stripe)
    return ordered
