"""The surroundings of a line pulled straight: colours over arc length and offset, both in mm."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.route.arcs import Arcs
from photomeasure.route.reading import FlatScene, LineKind
from photomeasure.route.tone import unmixed

__all__ = ["Ground", "Strip", "pull_straight"]

RoundLook = Literal["flat", "dark", "light"]
Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

HALF_WIDTHS = 2.2  # the strip reaches so many line widths to either side
BEYOND_WIDTHS = 8.0  # and so many beyond the ends, where floor must be seen
LEAST_BEYOND_PX = 60.0
INNER = (0.04, 0.36)  # widths from the middle: certainly line, and near enough to its edge
OUTER = (0.85, 1.7)  # widths from the middle: certainly floor
WINDOW_WIDTHS = 6.0  # colours may change slowly along the line
SHOWN = 0.4  # of the usual difference between line and floor
LEAST_NOISE = 1.0  # stored levels of 255
CLEAR = 4.0  # standard deviations of a sample by which brightness alone tells line from floor
MOTTLED = 0.45  # scatter on the line over its contrast: a striped tape
FAR_ABOVE = 8.0
SATURATED = 2.5  # a stripe's colour may be so much nearer the floor's than the other
QUICK_WIDTH_PX = 24.0
CLEAREST = (0.7, 85)  # share of a percentile: stripes like the floor must not set the scale
COARSE = 4  # picture pixels to one of the map of prints
LEAST_KNOWN = 0.25  # of a block of floor that is not under a print
ROWS_AT_ONCE = 400  # keeps memory small
LONGEST_STRIP = 30_000  # samples either way; the library that samples the picture ends at 32 767


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """How much of the line's colour each place has.

    Attributes
    ----------
    along_mm : (S,) [mm]
        Arc length on the guiding curve.
    across_mm : (T,) [mm]
        Offset, positive to the left.
    sure : (S, T) float32 [1]
        0 on the floor, 1 on the line, by all colours: for finding.
    sharp : (S, T) float32 [1]
        The same, by brightness alone where that is clear enough: for measuring. A JPEG blurs
        colour after the tone curve, which moves edges, and keeps brightness sharp.
    is_bright : bool
        Brightness alone was clear enough on both sides.
    is_mottled : bool
        The line has stripes or spots, some of which may look like the floor.
    seen : (S,)
        False where the middle of the line's width is not in the picture.
    whole : (S,)
        False where the line's edges are not.
    covered : (S,)
        True where the guiding curve runs over a printed reference.
    round_look : str
        "flat" for tape; whether a round line is darker or lighter than the floor.
    width_mm : float [mm]
        As guessed when the strip was made.
    contrast : float [stored levels of 255]
        Between line and floor, on the side where it is less.
    """

    along_mm: Vector
    across_mm: Vector
    sure: NDArray[np.float32]
    sharp: NDArray[np.float32]
    is_bright: bool
    is_mottled: bool
    seen: NDArray[np.bool_]
    whole: NDArray[np.bool_]
    covered: NDArray[np.bool_]
    round_look: RoundLook
    width_mm: float
    contrast: float

    @property
    def step_mm(self) -> float:
        """Distance of samples."""
        return float(self.across_mm[1] - self.across_mm[0])


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A photo with what is known of it.

    Attributes
    ----------
    photo : Photo
    scene : FlatScene
    outlines_px : tuple of (N, 2) [px]
        Of the printed references.
    blur_px : float [px]
        Standard deviation of the picture's blur.
    line : LineKind
        Cord, rod and hose are shaded, and have a shadow beside them.
    is_quick : bool
        Every second pixel will do, if the line is broad enough.
    """

    photo: Photo
    scene: FlatScene
    outlines_px: tuple[Points2, ...]
    blur_px: float
    line: LineKind = "tape"
    is_quick: bool = False

    @property
    def is_round(self) -> bool:
        """Whether the line is no tape."""
        return self.line != "tape"


def pull_straight(ground: Ground, guide: Arcs, width_mm: float, height_mm: float) -> Strip:
    """Sample the photo at full resolution along a guiding curve.

    Parameters
    ----------
    ground : Ground
    guide : Arcs [mm]
        Close to the line's middle, from end to end, in the plane `height_mm` above the sheet.
    width_mm : float [mm]
    height_mm : float [mm]

    Returns
    -------
    Strip

    Raises
    ------
    NoLineError
        The guide is absurdly long for the picture.
    """
    step = _step_mm(ground.scene, guide, height_mm)
    step *= 2.0 if ground.is_quick and width_mm > QUICK_WIDTH_PX * step else 1.0
    beyond = max(BEYOND_WIDTHS * width_mm, LEAST_BEYOND_PX * step)
    along = np.arange(guide.knots_mm[0] - beyond, guide.knots_mm[-1] + beyond, step)
    half = max(HALF_WIDTHS * width_mm, 0.5 * width_mm + 12 * step)
    if max(len(along), 2 * half / step) > LONGEST_STRIP:
        raise NoLineError(
            "What looks like the line is too long or too broad for this picture.",
            "Point at the line with --points, and keep other stripes out of the picture.",
        )
    across = np.arange(-np.ceil(half / step), np.ceil(half / step) + 1) * step
    px = _pixels(ground.scene, guide, along, across, height_mm)
    colour = np.asarray(
        cv2.remap(ground.photo.colour, px[..., 0], px[..., 1], cv2.INTER_LINEAR), np.uint8
    )
    width, height = ground.photo.size_px
    middle = px[:, len(across) // 2]
    seen, whole = (
        np.all((part >= 1) & (part <= (width - 2, height - 2)), axis=(1, 2))
        for part in (px[:, np.abs(across) <= reach * width_mm] for reach in (0.35, 0.65))
    )
    covered = np.zeros(len(along), np.bool_)
    for outline in ground.outlines_px:
        shape = outline.astype(np.float32)
        covered |= [
            cv2.pointPolygonTest(shape, (float(x), float(y)), False) >= 0 for x, y in middle
        ]
    on_print = _on_prints(ground, px)
    coded = np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2YCrCb), np.float32)
    coded[on_print & (np.abs(across) > OUTER[0] * width_mm)] = np.nan
    sure, sharp, looks = _shares(coded, along, across, width_mm, guide)
    look: RoundLook = "flat" if not ground.is_round else "dark" if looks.is_darker else "light"
    is_bright = looks.is_bright and not ground.is_round  # shading spoils brightness alone
    return Strip(
        along,
        across,
        sure,
        sure if ground.is_round else sharp,
        is_bright,
        looks.is_mottled,
        seen,
        whole,
        covered,
        look,
        width_mm,
        looks.contrast,
    )


@dataclass(frozen=True, slots=True)
class _Looks:
    """What both sides of the strip say of the line."""

    is_bright: bool
    is_mottled: bool
    is_darker: bool
    contrast: float


def _on_prints(ground: Ground, px: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Which samples fall on a printed reference, (S, T)."""
    width, height = ground.photo.size_px
    mask = np.zeros((height // COARSE + 1, width // COARSE + 1), np.uint8)
    for outline in ground.outlines_px:
        cv2.fillPoly(mask, [np.round(outline / COARSE).astype(np.int32)], 1)
    mask = np.asarray(cv2.dilate(mask, np.ones((3, 3), np.uint8)), np.uint8)
    at = px / np.float32(COARSE)
    return np.asarray(cv2.remap(mask, at[..., 0], at[..., 1], cv2.INTER_NEAREST), bool)


def _step_mm(scene: FlatScene, guide: Arcs, height_mm: float) -> float:
    """A pixel's typical size along the guide."""
    at = np.linspace(guide.knots_mm[0], guide.knots_mm[-1], 40)
    ground = np.column_stack((guide.points(at), np.full(len(at), height_mm)))
    px = scene.px(ground)
    size = []
    for shift in ((1.0, 0.0), (0.0, 1.0)):
        moved = scene.sheet_mm(px + shift, height_mm) - ground[:, :2]
        size.append(np.hypot(moved[:, 0], moved[:, 1]))
    return float(np.median(np.minimum(*size)))


def _pixels(
    scene: FlatScene, guide: Arcs, along: Vector, across: Vector, height_mm: float
) -> NDArray[np.float32]:
    """Photo pixel of every sample, (S, T, 2)."""
    heading = guide.headings(along)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    middle = guide.points(along)
    px = np.empty((len(along), len(across), 2), np.float32)
    for rows in np.array_split(np.arange(len(along)), len(along) // ROWS_AT_ONCE + 1):
        ground = middle[rows, None] + across[None, :, None] * normal[rows, None]
        flat = ground.reshape(-1, 2)
        points = np.column_stack((flat, np.full(len(flat), height_mm)))
        px[rows] = scene.px(points).reshape(ground.shape)
    return px


def _shares(
    coded: NDArray[np.float32], along: Vector, across: Vector, width_mm: float, guide: Arcs
) -> tuple[NDArray[np.float32], NDArray[np.float32], _Looks]:
    """Tell the line from the floor beside it, each side by itself; once surely, once sharply.

    Colours that are not a number lie on something that is neither; they are given out as floor.
    """
    block = max(1, round(0.5 * width_mm / (along[1] - along[0])))
    ends = (guide.knots_mm[0] + 0.3 * width_mm, guide.knots_mm[-1] - 0.3 * width_mm)
    on_line = (along >= ends[0]) & (along <= ends[1])
    is_bright, is_mottled, lighter, contrast = True, False, 0.0, np.inf
    sure, sharp = (np.empty(coded.shape[:2], np.float32) for _ in range(2))
    for sign in (1, -1):
        side = across >= 0 if sign > 0 else across < 0
        look = _Side(coded[:, side], sign * across[side] / width_mm, on_line, block)
        sure[:, side], sharp[:, side] = (np.nan_to_num(one) for one in look.shares())
        is_bright &= look.is_bright
        is_mottled |= look.is_mottled
        lighter += look.lighter
        contrast = min(contrast, look.contrast)
    looks = _Looks(is_bright and not is_mottled, is_mottled, lighter < 0, contrast)
    return sure, sharp, looks


class _Side:
    """One half of the strip: what line and floor look like there."""

    def __init__(
        self,
        coded: NDArray[np.float32],
        outward: Vector,
        on_line: NDArray[np.bool_],
        block: int,
    ) -> None:
        inner = (outward > INNER[0]) & (outward < INNER[1])
        outer = (outward > OUTER[0]) & (outward < OUTER[1])
        self.coded, self.inner = coded, coded[:, inner]
        self.on_line = on_line
        self.line, self.floor = _levels([self.inner, coded[:, outer]], block, on_line)
        parts = ((self.inner, self.line), (coded[:, outer], self.floor))
        scatter = [_covariance(part, level, on_line) for part, level in parts]
        self.noise = LEAST_NOISE**2 * np.eye(3) + 0.5 * (scatter[0] + scatter[1])
        self.floor_noise = LEAST_NOISE**2 * np.eye(3) + scatter[1]
        difference = self.line - self.floor
        self.contrast = float(np.median(np.linalg.norm(difference, axis=1)))
        mottle = np.sqrt(np.trace(scatter[0]))
        self.is_mottled = bool(
            mottle > MOTTLED * self.contrast and mottle > FAR_ABOVE * LEAST_NOISE
        )
        self.lighter = float(np.median(difference[:, 0]))
        brightness = np.median(np.abs(difference[:, 0]))
        self.is_bright = bool(brightness > CLEAR * np.sqrt(self.noise[0, 0]))

    def shares(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Share of the line's colour in each sample, once surely and once sharply."""
        own = self.coded - self.floor[:, None].astype(np.float32)
        if self.is_mottled:
            away = self._away(own)
            return np.minimum(SATURATED * away, 1.0), away
        difference = self.line - self.floor
        weight = np.asarray(np.linalg.solve(self.noise, difference.T).T)
        sure = _way(own, difference, weight)
        if not self.is_bright:
            return sure, sure
        brightness = difference * [1.0, 0.0, 0.0]
        return sure, unmixed(_way(own, difference, brightness), self.line, self.floor)

    def _away(self, own: NDArray[np.float32]) -> NDArray[np.float32]:
        """Distance from the floor's colour over what is usual on the line: for striped tape."""
        whitener = np.linalg.cholesky(np.linalg.inv(self.floor_noise)).astype(np.float32)
        distance = np.linalg.norm(own @ whitener, axis=2)
        inner = self.inner - self.floor[:, None].astype(np.float32)
        inside = np.linalg.norm(inner[self.on_line] @ whitener, axis=2)
        usual = max(np.median(inside), CLEAREST[0] * np.percentile(inside, CLEAREST[1]))
        return np.asarray(distance / max(float(usual), 1e-3), np.float32)


def _way(own: NDArray[np.float32], difference: Matrix, weight: Matrix) -> NDArray[np.float32]:
    """How far each sample is on the way from floor to line, colours weighted."""
    scale = np.sum(weight * difference, axis=1, keepdims=True)
    weight = weight / np.maximum(scale, 1e-6)
    return np.asarray(np.einsum("stc,sc->st", own, weight.astype(np.float32)))


def _levels(
    parts: list[NDArray[np.float32]], block: int, on_line: NDArray[np.bool_]
) -> list[Matrix]:
    """Colours of line and floors along the strip, smoothed.

    Beyond the line's ends, and where the line hardly shows, those of the nearest good stretch.
    """
    count = len(on_line) // block
    used = on_line[: count * block].reshape(count, block).mean(axis=1) > 0.5
    levels = [_medians(p[: count * block].reshape(count, -1, 3)) for p in parts]
    shown = np.min([np.linalg.norm(levels[0] - floor, axis=1) for floor in levels[1:]], axis=0)
    used &= np.isfinite(shown)
    used &= shown > SHOWN * np.median(shown[used])
    place = np.nonzero(used)[0]
    at = (np.arange(len(on_line)) + 0.5) / block - 0.5
    window = (round(2 * WINDOW_WIDTHS) | 1, 1)
    filled = []
    for level in levels:
        smooth = median_filter(level[place], size=window, mode="nearest")
        smooth = cv2.blur(smooth, window[::-1], borderType=cv2.BORDER_REPLICATE)
        smooth = smooth.reshape(len(place), 3)
        filled.append(np.column_stack([np.interp(at, place, smooth[:, k]) for k in range(3)]))
    return filled


def _medians(blocks: NDArray[np.float32]) -> Matrix:
    """Median colour of each block (B, N, 3), not a number where nothing of it is known."""
    known = np.isfinite(blocks[..., 0])
    result = np.full((len(blocks), 3), np.nan)
    whole = known.all(axis=1)
    result[whole] = np.median(blocks[whole], axis=1)
    for row in np.nonzero(~whole & (known.mean(axis=1) > LEAST_KNOWN))[0]:
        result[row] = np.median(blocks[row][known[row]], axis=0)
    return result


def _covariance(part: NDArray[np.float32], level: Matrix, on_line: NDArray[np.bool_]) -> Matrix:
    """Scatter of colours about their smoothed level, the wildest held back."""
    rest = (part - level[:, None])[on_line].reshape(-1, 3)
    rest = rest[np.isfinite(rest[:, 0])]
    rest = rest[:: max(1, len(rest) // 20000)]
    limit = 4 * np.median(np.abs(rest), axis=0) + 1.0
    return np.asarray(np.cov(np.clip(rest, -limit, limit).T))
