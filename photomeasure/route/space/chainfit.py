"""Fit a chain to bands and to the hose's own sides between them, with little change of curvature.

Where between bands the sides do not stand out either, of all curves the one is taken whose
curvature changes least in sum (its total variation). That gives arcs and straights where they fit,
soft bends where they do not, and does not pull the curve short or a bend wide.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chain import Chain, chain_through, turns
from photomeasure.route.space.sides import Sides, none_seen

__all__ = ["Bands", "ChainFit", "fit_chain"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Points3 = NDArray[np.float64]  # (N, 3)

BEYOND_MM = 25.0
PRICE_MM = 2000.0  # of a change of curvature by 1/mm, in units of a squared residual: of 1500,
# 3000 and 6000 over 36 drawn routes 1500 gave radii with least scatter, 3000 with least bias
SMALLEST = (5e-3, 2e-3, 1e-3, 5e-4, 3e-4)  # 1/mm: changes below count less, round by round
ROUNDS = 6  # with each
LAST_ROUNDS = 2  # of these, from a chain that is nearly right
MOST_WORSE, SHORTER = 1.5, 4  # times the squared residuals after a step; tries to shorten it
FAR = 5.0  # of all four residuals of a band together, in standard uncertainties
FALSE_SIDE = 3.0  # in standard uncertainties: beyond, a side counts ever less
WEAK_U = 0.05  # 1/mm: keeps the outermost links where no band holds them


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Bands in order along the route.

    Attributes
    ----------
    points, ways : (N, 3)
        Axis points [mm] and unit directions.
    covariance : (N, 6, 6)
        Of each band's axis point and direction, for the weights [mm², mm, 1].
    wrap : (4,)
        Standard uncertainties across and of the direction that come on top.
    """

    points: Points3
    ways: Points3
    covariance: NDArray[np.float64]
    wrap: Vector


@dataclass(frozen=True, slots=True, eq=False)
class ChainFit:
    """A fitted chain and how it moves with its data.

    Attributes
    ----------
    chain : Chain
    at_mm : (N,)
        Arc lengths of the bands' axis points.
    gain : (P, 4 * N + K)
        Change of the parameters with each band (across 1, across 2, way 1, way 2) and with how
        far off each side is seen [its unit].
    frames : (N, 3, 3)
        At the bands.
    loose : (P, R)
        Columns that span what the data leaves to the rule between the bands.
    residuals : (N, 4)
        Of the bands, in standard uncertainties.
    sides : Sides
    side_residuals : (K,)
        In standard uncertainties.
    price_mm : float
    """

    chain: Chain
    at_mm: Vector
    gain: Matrix
    frames: NDArray[np.float64]
    loose: Matrix
    residuals: Matrix
    sides: Sides
    side_residuals: Vector
    price_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Data:
    """What a chain is fitted to: bands, sides, and where along the chain they lie."""

    bands: Bands
    sides: Sides
    at_mm: Vector
    sides_at_mm: Vector


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """All residuals (curve minus data) and slopes, weighted; `by_data` makes them so."""

    rest: Vector
    slopes: Matrix
    frames: NDArray[np.float64]
    weights: NDArray[np.float64]
    side_weights: Vector
    side_rest: Vector


def moved(chain: Chain, step: Vector) -> Chain:
    """Move a chain by (across 1, across 2, turn 1, turn 2, then two curvatures a link)."""
    frame = chain.frame
    spin = turns((step[2] * frame[1] + step[3] * frame[2])[None])[0]
    return Chain(
        chain.start_mm + step[0] * frame[1] + step[1] * frame[2],
        frame @ spin.T,
        chain.curvature + step[4:].reshape(-1, 2),
        chain.link_mm,
    )


def fit_chain(
    bands: Bands,
    price_mm: float = PRICE_MM,
    sides: Sides | None = None,
    start: Chain | None = None,
) -> ChainFit:
    """Fit.

    Parameters
    ----------
    bands : Bands
        Two at least.
    price_mm : float
        Of a change of curvature by 1/mm, in units of a squared residual.
    sides : Sides, optional
        Of the hose between the bands.
    start : Chain, optional
        Nearly right.

    Returns
    -------
    ChainFit
    """
    sides = sides or none_seen()
    if start:
        chain, at = start, start.nearest(bands.points)
    else:
        chain, at = chain_through(bands.points, bands.ways, BEYOND_MM, BEYOND_MM)
    data = _Data(bands, sides, at, sides.at_mm)
    rows, data = _rows(chain, data)
    for smallest in SMALLEST[-LAST_ROUNDS:] if start else SMALLEST:
        for _ in range(ROUNDS):
            rule, level = _rule(chain, smallest, price_mm)
            normal = rows.slopes.T @ rows.slopes + rule.T @ rule
            side = rows.slopes.T @ rows.rest + rule.T @ level
            step = np.asarray(-np.linalg.solve(normal, side))
            step *= min(1.0, 0.02 / max(float(np.abs(step[4:]).max()), 1e-12))
            chain, rows, data, step = _stepped(chain, (rows, data), step)
            if float(np.abs(step[4:]).max()) < 1e-7:
                break
    inverse = np.asarray(np.linalg.inv(normal), np.float64)
    return _fitted((chain, price_mm), data, rows, (inverse, inverse @ rule.T))


def _stepped(
    chain: Chain, here: tuple[_Rows, _Data], step: Vector
) -> tuple[Chain, _Rows, _Data, Vector]:
    """Take a step, shorter where the whole of it leads away from bands and sides."""
    rows, data = here
    most = MOST_WORSE * float(rows.rest @ rows.rest) + len(rows.rest)
    for _ in range(SHORTER):
        tried = moved(chain, step)
        found, at = _rows(tried, data)
        if float(found.rest @ found.rest) <= most:
            break
        step = step * 0.4
    return tried, found, at, step


def _fitted(
    made: tuple[Chain, float], data: _Data, rows: _Rows, solved: tuple[Matrix, Matrix]
) -> ChainFit:
    (chain, price_mm), (inverse, loose) = made, solved
    by_rows, count = inverse @ rows.slopes.T, 4 * len(data.at_mm)
    by_bands = by_rows[:, :count].reshape(len(inverse), -1, 4)
    by_bands = np.einsum("pni,nij->pnj", by_bands, rows.weights).reshape(len(inverse), -1)
    gain = np.concatenate([by_bands, by_rows[:, count:] * rows.side_weights], axis=1)
    rest = rows.rest[:count].reshape(-1, 4)
    return ChainFit(
        chain, data.at_mm, gain, rows.frames, loose, rest, data.sides, rows.side_rest, price_mm
    )  # fmt: skip


def _weights(bands: Bands, frames: NDArray[np.float64], rest: Matrix) -> NDArray[np.float64]:
    """Matrices that make the four residuals of each band independent with variance 1.

    A band that lies further off than is likely counts less (Huber).
    """
    across = np.zeros((len(frames), 4, 6))
    across[:, 0, :3], across[:, 1, :3] = frames[:, 1], frames[:, 2]
    across[:, 2, 3:], across[:, 3, 3:] = frames[:, 1], frames[:, 2]
    covariance = across @ bands.covariance @ across.transpose(0, 2, 1)
    covariance += np.diag(bands.wrap**2)
    whole = np.linalg.inv(np.linalg.cholesky(covariance))
    size = np.linalg.norm(np.einsum("nij,nj->ni", whole, rest), axis=1)
    return np.asarray(whole * np.sqrt(np.minimum(1.0, FAR / np.maximum(size, 1e-9)))[:, None, None])


def _rows(chain: Chain, data: _Data) -> tuple[_Rows, _Data]:
    """Residuals and slopes in standard uncertainties, and the data at their feet."""
    bands, sides = data.bands, data.sides
    at = chain.feet(bands.points, data.at_mm)
    here, frames = chain.at(at)
    off, lean = here - bands.points, frames[:, 0] - bands.ways
    rest = np.stack([np.sum(v * frames[:, k], axis=1) for v in (off, lean) for k in (1, 2)], axis=1)
    weights = _weights(bands, frames, rest)
    by_point, by_way = _jacobians(chain, at, (here, frames))
    slopes = weights @ np.concatenate([frames[:, 1:] @ by_point, frames[:, 1:] @ by_way], axis=1)
    rest = np.einsum("nij,nj->ni", weights, rest).ravel()
    slopes = slopes.reshape(len(rest), -1)
    seen = sides.points + sides.off_mm[:, None] * sides.across
    sides_at = chain.feet(seen, data.sides_at_mm) if len(seen) else data.sides_at_mm
    here, own = chain.at(sides_at)
    beside = np.sum((here - seen) * sides.across, axis=1) / sides.u_mm
    share = 1 / np.sqrt(1 + (beside / FALSE_SIDE) ** 2) / sides.u_mm
    by_point, _ = _jacobians(chain, sides_at, (here, own))
    of_sides = share[:, None] * (sides.across[:, None] @ by_point)[:, 0]
    rest = np.concatenate([rest, beside * sides.u_mm * share])
    slopes = np.concatenate([slopes, of_sides])
    return (
        _Rows(rest, slopes, frames, weights, share, beside),
        _Data(bands, sides, at, sides_at),
    )


def _jacobians(
    chain: Chain, at: Vector, where: tuple[Points3, NDArray[np.float64]]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How points and ways change with the chain's start, first way and curvature, (N, 3, P)."""
    here, frames = where
    links = len(chain.curvature)
    by_point, by_way = (np.zeros((len(at), 3, 4 + 2 * links)) for _ in range(2))
    for k in (0, 1):
        spin = chain.frame[1 + k]
        by_point[:, :, k] = spin
        by_point[:, :, 2 + k] = np.cross(spin, here - chain.start_mm)
        by_way[:, :, 2 + k] = np.cross(spin, frames[:, 0])
    joints, joint_frames = chain.joints
    half = 0.5 * (joint_frames[1:] + joint_frames[:-1])
    share = np.clip((at[:, None] - chain.link_mm * np.arange(links)) / chain.link_mm, 0, 1)
    pivot = joints[:-1] + 0.5 * share[..., None] * (joints[1:] - joints[:-1])
    arm = here[:, None] - pivot
    for k, axis in ((0, half[:, 2]), (1, -half[:, 1])):  # bending towards 1 turns about 2
        spin = axis * chain.link_mm
        by_point[:, :, 4 + k :: 2] = (np.cross(spin, arm) * share[..., None]).transpose(0, 2, 1)
        turned = np.cross(spin, frames[:, None, 0]) * share[..., None]
        by_way[:, :, 4 + k :: 2] = turned.transpose(0, 2, 1)
    return by_point, by_way


def _rule(chain: Chain, smallest: float, price_mm: float) -> tuple[Matrix, Vector]:
    """Rows of the price of changes, as if quadratic about where it is, and their values."""
    links = len(chain.curvature)
    change = np.diff(chain.curvature, axis=0)
    size2 = np.sum(change**2, axis=1) + smallest**2
    weight = np.sqrt(price_mm / np.sqrt(size2))
    rows = np.zeros((2 * (links - 1) + 4, 4 + 2 * links))
    k = np.arange(links - 1)
    for axis in (0, 1):
        rows[2 * k + axis, 4 + 2 * (k + 1) + axis] = weight
        rows[2 * k + axis, 4 + 2 * k + axis] = -weight
    for number, (link, axis) in enumerate(((0, 0), (0, 1), (links - 1, 0), (links - 1, 1))):
        rows[2 * (links - 1) + number, 4 + 2 * link + axis] = 1 / WEAK_U
    values = rows[:, 4:] @ chain.curvature.ravel()
    return rows, values
