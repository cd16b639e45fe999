"""The surroundings of a line pulled straight: colours over arc length and offset, both in mm."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.route.arcs import Arcs
from photomeasure.route.reading import FlatScene, LineKind
from photomeasure.route.sides import OUTER, Side, find_stripes, share_lit_floor

__all__ = ["Ground", "Strip", "pull_straight"]

RoundLook = Literal["flat", "dark", "light"]
Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

HALF_WIDTHS = 2.2  # the strip reaches so many line widths to either side
BEYOND_WIDTHS = 8.0  # and so many beyond the ends, where floor must be seen
LEAST_BEYOND_PX = 60.0
QUICK_WIDTH_PX = 24.0
COARSE = 4  # picture pixels to one of the map of prints
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
    is_striped : bool
        The line has stripes or spots.
    is_mottled : bool
        Some of these look like the floor.
    seen : (S,)
        False where the middle of the line's width is not in the picture.
    whole : (S,)
        False where the line's edges are not.
    covered : (S,)
        True where a printed reference lies within the line's width.
    round_look : str
        "flat" for tape; whether a round line is darker or lighter than the floor.
    width_mm : float [mm]
        As guessed when the strip was made.
    contrast : float [stored levels of 255]
        Between line and floor, on the side where it is less.
    colour : (S, T, 3) float32 [stored levels of 255]
        Brightness and colours (YCrCb); not a number where there is neither line nor floor.
    beyond_mm : float [mm]
        How far the strip reaches beyond either end of the guide.
    """

    along_mm: Vector
    across_mm: Vector
    sure: NDArray[np.float32]
    sharp: NDArray[np.float32]
    is_bright: bool
    is_striped: bool
    is_mottled: bool
    seen: NDArray[np.bool_]
    whole: NDArray[np.bool_]
    covered: NDArray[np.bool_]
    round_look: RoundLook
    width_mm: float
    contrast: float
    colour: NDArray[np.float32]
    beyond_mm: float

    @property
    def light(self) -> NDArray[np.float32]:
        """Brightness alone, (S, T) [stored levels of 255]."""
        return self.colour[..., 0]

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
    is_striped : bool
        The line is known to be striped tape.
    is_faint : bool
        The line is round and known to be about as bright as the floor.
    """

    photo: Photo
    scene: FlatScene
    outlines_px: tuple[Points2, ...]
    blur_px: float
    line: LineKind = "tape"
    is_quick: bool = False
    is_striped: bool = False
    is_faint: bool = False

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
    along, across = _places(guide, width_mm, step, beyond)
    px = _pixels(ground.scene, guide, along, across, height_mm)
    colour = np.asarray(
        cv2.remap(ground.photo.colour, px[..., 0], px[..., 1], cv2.INTER_LINEAR), np.uint8
    )
    size_px = ground.photo.size_px
    seen, whole = (
        _in_picture(px[:, np.abs(across) <= r * width_mm], size_px) for r in (0.35, 0.65)
    )
    coded, covered = _coded(ground, colour, px, across / width_mm)
    inner = guide.knots_mm[[0, -1]] + (0.3 * width_mm, -0.3 * width_mm)
    on_line = (along >= inner[0]) & (along <= inner[1])
    block = max(1, round(0.5 * width_mm / step))
    sure, sharp, looks = _shares(coded, across / width_mm, on_line, block, ground)
    look: RoundLook = "flat" if not ground.is_round else "dark" if looks.is_darker else "light"
    is_bright = looks.is_bright and not ground.is_round  # shading spoils brightness alone
    return Strip(
        along,
        across,
        sure,
        sure if ground.is_round else sharp,
        is_bright,
        looks.is_striped,
        looks.is_mottled,
        seen,
        whole,
        covered,
        look,
        width_mm,
        looks.contrast,
        coded,
        beyond,
    )


def _coded(
    ground: Ground, colour: NDArray[np.uint8], px: NDArray[np.float32], across: Vector
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Brightness and colours, not a number where there is no floor, and which rows lie on prints.

    `across` is in widths.
    """
    on_print = _on_prints(ground, px)
    covered = np.any(on_print[:, np.abs(across) < 0.5], axis=1)
    coded = np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2YCrCb), np.float32)
    coded[on_print & (np.abs(across) > OUTER[0])] = np.nan
    coded[_is_outside(px, ground.photo.size_px)] = np.nan
    return coded, np.asarray(covered, np.bool_)


@dataclass(frozen=True, slots=True)
class _Looks:
    """What both sides of the strip say of the line."""

    is_bright: bool
    is_striped: bool
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


def _in_picture(px: NDArray[np.float32], size_px: tuple[int, int]) -> NDArray[np.bool_]:
    """Which rows lie in the picture with all their samples, (S,)."""
    inside = (px >= 1) & (px <= np.array(size_px) - 2)
    return np.asarray(np.all(inside, axis=(1, 2)), np.bool_)


def _is_outside(px: NDArray[np.float32], size_px: tuple[int, int]) -> NDArray[np.bool_]:
    """Which samples lie outside the picture, (S, T)."""
    return np.asarray(np.any((px < 0) | (px > np.array(size_px) - 1), axis=2))


def _places(
    guide: Arcs, width_mm: float, step_mm: float, beyond_mm: float
) -> tuple[Vector, Vector]:
    """Where the strip is sampled, along and across; refuse what is absurdly long or broad."""
    along = np.arange(guide.knots_mm[0] - beyond_mm, guide.knots_mm[-1] + beyond_mm, step_mm)
    half = max(HALF_WIDTHS * width_mm, 0.5 * width_mm + 12 * step_mm)
    if max(len(along), 2 * half / step_mm) > LONGEST_STRIP:
        raise NoLineError(
            "What looks like the line is too long or too broad for this picture.",
            "Point at the line with --points, and keep other stripes out of the picture.",
        )
    return along, np.arange(-np.ceil(half / step_mm), np.ceil(half / step_mm) + 1) * step_mm


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
    coded: NDArray[np.float32],
    across: Vector,
    on_line: NDArray[np.bool_],
    block: int,
    ground: Ground,
) -> tuple[NDArray[np.float32], NDArray[np.float32], _Looks]:
    """Tell the line from the floor beside it, each side by itself; once surely, once sharply.

    `across` is in widths. Colours that are not a number lie on something that is neither; they are
    given out as floor.
    """
    is_thin = ground.line in {"cord", "rod"}
    is_bright, lighter, contrast = True, 0.0, np.inf
    sure, sharp = (np.empty(coded.shape[:2], np.float32) for _ in range(2))
    halves = (across >= 0, across < 0)
    outward = [sign * across[half] for sign, half in zip((1, -1), halves, strict=True)]
    sides = [
        Side(coded[:, half], out, on_line, block) for half, out in zip(halves, outward, strict=True)
    ]
    if is_thin:
        share_lit_floor(*sides)
    is_striped = not ground.is_round and (
        ground.is_striped or any(look.is_mottled for look in sides)
    )
    is_mottled = is_striped and not find_stripes(*sides)
    for half, look in zip(halves, sides, strict=True):
        shares = look.shares_beside_shadow() if is_thin else look.shares()
        sure[:, half], sharp[:, half] = (np.nan_to_num(one) for one in shares)
        is_bright &= look.is_bright
        lighter += look.lighter
        contrast = min(contrast, look.contrast)
    looks = _Looks(is_bright and not is_striped, is_striped, is_mottled, lighter < 0, contrast)
    return sure, sharp, looks
