"""What line and floor look like on one side of a line's middle, and which is which."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from photomeasure.errors import NoLineError
from photomeasure.route.tone import unmixed

__all__ = ["OUTER", "Side", "find_stripes", "share_lit_floor"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

INNER = (0.04, 0.36)  # widths from the middle: certainly line, and near enough to its edge
OUTER = (0.85, 1.7)  # widths from the middle: certainly floor
WINDOW_WIDTHS = 6.0  # colours may change slowly along the line
SHOWN = 0.4  # of the usual difference between line and floor
LEAST_NOISE = 1.0  # stored levels of 255
CLEAR = 4.0  # standard deviations of a sample by which brightness alone tells line from floor
SHADE = 100.0  # stored levels by which shade may darken the floor
LEAST_LIT = 15.0  # by which a line must be lighter than the lit floor to be told by that alone
CLEAR_HUE = 3.0  # the same, by hue alone
MOTTLED = 0.45  # scatter on the line over its contrast: a striped tape
FAR_ABOVE = 8.0
SATURATED = 2.5  # a stripe's colour may be so much nearer the floor's than the other
CLEAREST = (0.7, 85)  # share of a percentile: stripes like the floor must not set the scale
STANDS_OUT = 3.0  # standard deviations of the floor's colour by which each stripe must differ
LEAST_KIND = 0.15  # of a striped tape that each of its two colours has
ROUNDS = 10  # in which the limit between two kinds of colour settles
SAMPLES = 20_000
LEAST_KNOWN = 0.25  # of a block of floor that is not under a print


def share_lit_floor(one: "Side", other: "Side") -> None:
    """Hold a line that is lighter than the floor against the side without its shadow."""
    is_one = one.floor[:, :1] >= other.floor[:, :1]
    lit = np.where(is_one, one.floor, other.floor)
    line = 0.5 * (one.line + other.line)
    if np.median(line[:, 0] - lit[:, 0]) < LEAST_LIT:
        return
    for side in (one, other):
        side.floor = lit
        side.compare()


def find_stripes(one: "Side", other: "Side") -> bool:
    """Look for two colours of stripes that stand out from the floor; both on both sides."""
    sides = (one, other)
    for side in sides:
        side.find_stripes()
    is_found = all(side.stripes is not None for side in sides)
    for side in sides:
        side.is_mottled = True
        side.stripes = side.stripes if is_found else None
    return is_found


class Side:
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
        self.compare()
        mottle = np.sqrt(np.trace(scatter[0]))
        self.is_mottled = bool(
            mottle > MOTTLED * self.contrast and mottle > FAR_ABOVE * LEAST_NOISE
        )
        brightness = np.median(np.abs(self.line[:, 0] - self.floor[:, 0]))
        self.is_bright = bool(brightness > CLEAR * np.sqrt(self.noise[0, 0]))
        self.stripes: Matrix | None = None

    def compare(self) -> None:
        """Tell how line and floor differ."""
        difference = self.line - self.floor
        self.contrast = float(np.median(np.linalg.norm(difference, axis=1)))
        self.lighter = float(np.median(difference[:, 0]))

    def shares(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Share of the line's colour in each sample, once surely and once sharply."""
        own = self.coded - self.floor[:, None].astype(np.float32)
        if self.stripes is not None:
            both = _share_of_stripes(own @ self._whitener(), self.stripes)
            return both, both
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

    def shares_beside_shadow(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Share of the line's colour, blind for the floor growing darker, twice.

        By hue where that tells them apart, else by lightness if the line is the lighter.
        """
        difference = self.line - self.floor
        shade = self.floor - [0.0, 128.0, 128.0]
        shade /= np.linalg.norm(shade, axis=1, keepdims=True)
        noise = self.noise + SHADE**2 * shade[:, :, None] * shade[:, None]
        weight = np.asarray(np.linalg.solve(noise, difference[..., None])[..., 0])
        clear = float(np.median(np.sqrt(np.sum(weight * difference, axis=1))))
        own = self.coded - self.floor[:, None].astype(np.float32)
        if clear > CLEAR_HUE:
            sure = _way(own, difference, weight)
        elif self.lighter > 0:
            sure = _way(own, difference, difference * [1.0, 0.0, 0.0])
        else:
            return self.shares()
        return sure, sure

    def _whitener(self) -> NDArray[np.float32]:
        """Colours times this are counted in standard deviations of the floor's."""
        return np.asarray(np.linalg.cholesky(np.linalg.inv(self.floor_noise)), np.float32)

    def find_stripes(self) -> None:
        """Look for two colours of stripes that both stand out from the floor."""
        inner = (self.inner - self.floor[:, None].astype(np.float32))[self.on_line].reshape(-1, 3)
        inner = inner[np.isfinite(inner[:, 0])] @ self._whitener()
        self.stripes = _two_colours(inner[:: max(1, len(inner) // SAMPLES)])

    def _away(self, own: NDArray[np.float32]) -> NDArray[np.float32]:
        """Distance from the floor's colour over what is usual on the line: for striped tape."""
        whitener = self._whitener()
        distance = np.linalg.norm(own @ whitener, axis=2)
        inner = self.inner - self.floor[:, None].astype(np.float32)
        inside = np.linalg.norm(inner[self.on_line] @ whitener, axis=2)
        usual = max(np.nanmedian(inside), CLEAREST[0] * np.nanpercentile(inside, CLEAREST[1]))
        return np.asarray(distance / max(float(usual), 1e-3), np.float32)


def _two_colours(colours: NDArray[np.float32]) -> Matrix | None:
    """Middles of two kinds of colour, (2, 3), if both lie well off zero, the floor."""
    along = colours @ np.linalg.svd(colours - colours.mean(axis=0), full_matrices=False)[2][0]
    limit = float(along.mean())
    for _ in range(ROUNDS):
        limit = 0.5 * float(np.median(along[along > limit]) + np.median(along[along <= limit]))
    kinds = (along > limit, along <= limit)
    if min(kind.mean() for kind in kinds) < LEAST_KIND:
        return None
    middles = np.array([np.median(colours[kind], axis=0) for kind in kinds], np.float64)
    return middles if np.min(np.linalg.norm(middles, axis=1)) > STANDS_OUT else None


def _share_of_stripes(own: NDArray[np.float32], stripes: Matrix) -> NDArray[np.float32]:
    """How far each sample is on the way from the floor to the stripe that it lies nearer to."""
    share = np.empty((2, *own.shape[:2]), np.float32)
    off = np.empty_like(share)
    for number, colour in enumerate(stripes.astype(np.float32)):
        share[number] = own @ (colour / (colour @ colour))
        beside = own - np.clip(share[number], 0.0, 1.0)[..., None] * colour
        off[number] = np.einsum("stc,stc->st", beside, beside)
    return np.asarray(np.where(off[0] <= off[1], share[0], share[1]), np.float32)


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
    if not used.any():
        raise NoLineError(
            "The line hardly differs from the floor.",
            "Use tape that stands out from the floor, and keep shadows and glare off it.",
        )
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
