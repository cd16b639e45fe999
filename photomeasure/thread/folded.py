"""Where a faint side's crests end, by all its turns laid over each other.

Laid over each other, turns show what one alone hides: beyond the crests lies paper, whose light is
the same all along a turn and changes smoothly away from the part; metal does not keep to it.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.strip import Strip
from photomeasure.thread.turns import BINS, Followed

__all__ = ["Way", "folded_way"]

Array = NDArray[np.float64]
Vector = NDArray[np.float64]  # (N,)
# median turn's light against its paper (bins, rows, 2), rows' places [mm], noise of that light (2,)
Fold = tuple[Array, Vector, Vector]

INSIDE_MM, OUTSIDE_MM = 1.6, 1.6  # of the clear side's crests, laid here
PAPER_MM = (0.3, 1.1)  # beyond them: surely paper
MODEL_MM, MODEL_TERMS = 1.0, 4  # paper's light is a cubic so far from the crests
PAPER_NOISE = 0.015  # of its light: grain, dots and uneven shade that folding leaves
COVER_PRICE = 3.0  # of a pixel called metal, both colours; a pixel of paper costs 1 on average
MOST_MISFIT = 6.0
SHIFTS_MM = np.arange(-0.8, 0.81, 0.1)
PHASES = np.arange(0, BINS, 4)
LEANS = np.arange(-0.1, 0.101, 0.01)  # of the two sides' crests against each other
TAPERS = (0.0, 1 / 32, -1 / 32)  # parallel, 1:16 either way
LEAN_TOLL = 30.0  # 0.05 from the lean of such a thread must make the turns 7 % more alike
SURE_LEAN_TOLL = 3000.0  # where the axis' heading is known: 0.01 against 30 %
COMPARED_MM = 1.2  # either way, where turns are held against each other
PHASE_U = 5.0  # turns of a single start stand half a pitch apart
DARKEST = 0.01  # of the paper's light
FINE_MM = np.arange(-0.12, 0.121, 0.02)
FINE_PHASES = np.arange(-4, 5)
LEVEL_PX = (1.5, 4.0)  # inside and outside of the rim, where light is metal's and paper's own
LEVEL_STEPS, LEVEL_STEP_PX, FARTHEST_STEP_PX = 4, 0.25, 2.0
INWARD_PX, OUTWARD_PX = 3.5, 1.0  # most that the half level moves the rim
LEVEL_BIAS_PX = 0.4  # too far in, median over faint sides of rendered scenes kept for tuning


@dataclass(frozen=True, slots=True)
class Way:
    """How the clear side's turns come to lie on the faint side.

    Attributes
    ----------
    shift_mm : float
        Farther from the axis, in the middle of the turns.
    phase_mm : float
        Along the axis.
    lean : float
        Of the crests' line.
    gain : float
        Of this way over paper that ends in a straight line, as a share of all cost.
    """

    shift_mm: float
    phase_mm: float
    lean: float
    gain: float


def folded_way(strip: Strip, clear: Followed, sign: int, apart_mm: float) -> Way:
    """Lay the clear side's turns on the other side so that paper ends where they begin.

    Parameters
    ----------
    strip : Strip
    clear : Followed
        The other side's turns.
    sign : int
        Of the faint side.
    apart_mm : float
        How much farther from the axis its turns lie, roughly.

    Returns
    -------
    Way
    """
    where = (sign, apart_mm)
    near = _beyond(strip, COMPARED_MM)
    spreads = np.array([_laid(strip, clear, where, (lean, near)).spread for lean in LEANS])
    slope = float(clear.line[0])
    straight = -2 * (slope - min(TAPERS, key=lambda taper: abs(slope - taper)))
    toll = SURE_LEAN_TOLL if strip.is_heading_sure else LEAN_TOLL
    spreads = spreads / spreads.min() + toll * (LEANS - straight) ** 2
    lean = _lowest(LEANS, spreads, int(spreads.argmin()))
    fold = _laid(strip, clear, where, (lean, _beyond(strip, np.inf))).fold
    costs = _costs(fold, clear.shape_mm, PHASES, SHIFTS_MM)
    costs += 0.5 * ((PHASES[:, None] - BINS / 2) / PHASE_U) ** 2
    phase, shift = np.unravel_index(int(costs.argmin()), costs.shape)
    phases, shifts = PHASES[phase] + FINE_PHASES, SHIFTS_MM[shift] + FINE_MM
    costs = _costs(fold, clear.shape_mm, phases, shifts)
    phase, shift = np.unravel_index(int(costs.argmin()), costs.shape)
    flat = _costs(fold, np.zeros(BINS), PHASES[:1], SHIFTS_MM).min()
    bins = (int(phases[phase]) + BINS // 2) % BINS - BINS // 2
    rough = _lowest(shifts, costs[phase], int(shift))
    level = _half_level(fold, np.roll(clear.shape_mm, phases[phase]) + rough, strip.pixel_mm)
    return Way(
        apart_mm + rough + level,
        bins / BINS * clear.pitch_mm,
        lean,
        float(flat / costs[phase, shift] - 1),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """Turns laid over each other: their light against their paper's, and where its rows lie."""

    light: NDArray[np.float32]  # (turns, bins, rows, 2)
    median: NDArray[np.float32]  # (bins, rows, 2)
    beyond: Vector  # (rows,)

    @property
    def spread(self) -> float:
        """How far the turns differ: least at the right lean."""
        return float((np.abs(self.light - self.median) / self.median).mean())

    @property
    def fold(self) -> Fold:
        """The median turn with its noise."""
        paper = np.abs(self.light - self.median)[:, :, _is_paper(self.beyond)]
        scatter = 1.4826 * np.median(paper, axis=(0, 1, 2))
        noise = np.hypot(scatter / np.sqrt(len(self.light)), PAPER_NOISE)
        return np.asarray(self.median, np.float64), self.beyond, np.asarray(noise)


def _beyond(strip: Strip, reach_mm: float) -> Vector:
    """Distances from the clear side's crests at which light is read, nearer than the reach."""
    beyond = np.arange(-INSIDE_MM, OUTSIDE_MM, strip.pixel_mm)
    return np.asarray(beyond[np.abs(beyond) < reach_mm])


def _is_paper(beyond_mm: Vector) -> NDArray[np.bool_]:
    return np.asarray((beyond_mm > PAPER_MM[0]) & (beyond_mm < PAPER_MM[1]))


def _laid(
    strip: Strip, clear: Followed, where: tuple[int, float], way: tuple[float, Vector]
) -> _Laid:
    """Lay the turns over each other along their line leaned so, at these distances from it."""
    (sign, apart), (lean, beyond) = where, way
    places = np.array([turn.along_mm for turn in clear.turns])
    pitch = clear.pitch_mm
    turn = (np.arange(BINS) + 0.5) / BINS - 0.5
    numbers = np.arange(round(float(np.ptp(places)) / pitch) + 1)
    along = (places.min() + pitch * (numbers[:, None] + turn)).ravel()
    line = np.polyval(clear.line, along) + apart + lean * (along - places.mean())
    rows = (sign * (line[:, None] + beyond) - strip.off_mm[0]) / strip.pixel_mm
    columns = np.repeat(((along - strip.along_mm[0]) / strip.pixel_mm)[:, None], len(beyond), 1)
    light = cv2.remap(
        strip.light,
        columns.astype(np.float32),
        rows.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).reshape(len(numbers), BINS, len(beyond), 2)
    level = np.median(light[:, :, _is_paper(beyond)], axis=(1, 2))
    light = np.maximum(light / (level[:, None, None] + 1e-6), DARKEST)
    return _Laid(light, np.median(light, axis=0), beyond)


def _costs(fold: Fold, shape_mm: Vector, phases: NDArray[np.int64], shifts: Vector) -> Array:
    """Misfit of paper beyond each shifted shape and the price of cover, (phases, shifts)."""
    light, beyond, noise = fold
    shapes = np.stack([np.roll(shape_mm, phase) for phase in phases])
    rim = shapes[:, None] + shifts[None, :, None]  # phases, shifts, bins
    open_ = beyond > rim[..., None]
    near = open_ & (beyond < shifts[:, None, None] + MODEL_MM)
    count = near.sum(axis=2).astype(np.float64)  # phases, shifts, rows
    powers = (beyond - shifts[:, None])[..., None] ** np.arange(MODEL_TERMS)
    normal = np.einsum("psr,sri,srj->psij", count, powers, powers) + 1e-9 * np.eye(MODEL_TERMS)
    cost = COVER_PRICE * (~open_).sum(axis=(2, 3), dtype=np.float64)
    for colour in range(2):
        sums = np.einsum("psbr,br->psr", near, light[..., colour])
        right = np.einsum("psr,sri->psi", sums, powers)
        fit = np.linalg.solve(normal, right[..., None])[..., 0]
        paper = np.einsum("psi,sri->psr", fit, powers)
        off = (light[None, None, ..., colour] - paper[:, :, None]) / noise[colour]
        cost += np.where(near, np.minimum(off**2 / 2, MOST_MISFIT), 0).sum(axis=(2, 3))
    return np.asarray(cost / BINS)


def _half_level(fold: Fold, rim_mm: Vector, pixel_mm: float) -> float:
    """How much farther out light is half metal's and half paper's, bins weighed by contrast."""
    light, beyond, _ = fold
    across = np.arange(-5.0, 5.0 + LEVEL_STEP_PX / 2, LEVEL_STEP_PX)
    metal = (across > -LEVEL_PX[1]) & (across < -LEVEL_PX[0])
    paper = (across > LEVEL_PX[0]) & (across < LEVEL_PX[1])
    out_px = 0.0
    for _ in range(LEVEL_STEPS):
        places = rim_mm[:, None] + (out_px + across) * pixel_mm
        rows = np.asarray((places - beyond[0]) / (beyond[1] - beyond[0]), np.float32)
        bins = np.asarray(np.broadcast_to(np.arange(BINS)[:, None], rows.shape), np.float32)
        seen = cv2.remap(light.astype(np.float32), rows, bins, cv2.INTER_LINEAR)
        own = seen[:, paper].mean(axis=1, keepdims=True)
        contrast = seen[:, metal].mean(axis=1, keepdims=True) - own
        share = ((seen - own) * contrast).sum(axis=(0, 2)) / ((contrast**2).sum() + 1e-9)
        inside = np.flatnonzero(share >= 0.5)
        if len(inside) == 0 or inside[-1] == len(across) - 1:
            break
        last = int(inside[-1])
        step = across[last] + LEVEL_STEP_PX * (share[last] - 0.5) / (share[last] - share[last + 1])
        out_px += float(np.clip(step, -FARTHEST_STEP_PX, FARTHEST_STEP_PX))
    return (float(np.clip(out_px, -INWARD_PX, OUTWARD_PX)) + LEVEL_BIAS_PX) * pixel_mm


def _lowest(places: Vector, costs: Vector, at: int) -> float:
    """Bottom of the parabola through the lowest cost and its neighbours."""
    if not 0 < at < len(places) - 1:
        return float(places[at])
    left, middle, right = costs[at - 1 : at + 2]
    bend = left - 2 * middle + right
    step = 0.5 * (left - right) / bend if bend > 0 else 0.0
    return float(places[at] + step * (places[1] - places[0]))
