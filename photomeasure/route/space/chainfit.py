"""Fit a chain to bands: through their axis points, along their directions, with little change.

Between bands nothing is seen, so of all curves through them the one is taken whose curvature
changes least in sum (its total variation). That gives arcs and straights where they fit, soft bends
where they do not, and does not pull the curve short or a bend wide.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chain import Chain, chain_through, turns

__all__ = ["Bands", "ChainFit", "fit_chain"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)
Points3 = NDArray[np.float64]  # (N, 3)

BEYOND_MM = 25.0
PRICE_MM = 2000.0  # of a change of curvature by 1/mm, in units of a squared residual: of 1500,
# 3000 and 6000 over 36 drawn routes 1500 gave radii with least scatter, 3000 with least bias
SMALLEST = (5e-3, 2e-3, 1e-3, 5e-4, 3e-4)  # 1/mm: changes below count less, round by round
ROUNDS = 6  # with each
FAR = 5.0  # of all four residuals of a band together, in standard uncertainties
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
    gain : (P, 4 * N)
        Change of the parameters with each band (across 1, across 2, way 1, way 2) [its unit].
    frames : (N, 3, 3)
        At the bands.
    loose : (P, R)
        Columns that span what the data leaves to the rule between the bands.
    residuals : (N, 4)
        In standard uncertainties.
    """

    chain: Chain
    at_mm: Vector
    gain: Matrix
    frames: NDArray[np.float64]
    loose: Matrix
    residuals: Matrix


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


def fit_chain(bands: Bands, price_mm: float = PRICE_MM) -> ChainFit:
    """Fit.

    Parameters
    ----------
    bands : Bands
        Two at least.
    price_mm : float
        Of a change of curvature by 1/mm, in units of a squared residual.

    Returns
    -------
    ChainFit
    """
    chain = chain_through(bands.points, bands.ways, BEYOND_MM, BEYOND_MM)
    at = BEYOND_MM + np.concatenate(
        [[0.0], np.cumsum(np.linalg.norm(np.diff(bands.points, axis=0), axis=1))]
    )
    at = chain.feet(bands.points, at, 12)
    for smallest in SMALLEST:
        for _ in range(ROUNDS):
            rest, slopes, frames, at = _data(chain, bands, at)
            rule, level = _rule(chain, smallest, price_mm)
            normal = slopes.T @ slopes + rule.T @ rule
            step = np.asarray(-np.linalg.solve(normal, slopes.T @ rest + rule.T @ level))
            step *= min(1.0, 0.02 / max(float(np.abs(step[4:]).max()), 1e-12))
            chain = moved(chain, step)
            if float(np.abs(step[4:]).max()) < 1e-7:
                break
    rest, slopes, frames, at = _data(chain, bands, at)
    inverse = np.linalg.inv(normal)
    off = _off(chain, bands, at, frames)
    weights = _weights(bands, frames, off)
    gain = np.einsum("pni,nij->pnj", (inverse @ slopes.T).reshape(len(inverse), -1, 4), weights)
    gain = gain.reshape(len(inverse), -1)
    return ChainFit(chain, at, gain, frames, inverse @ rule.T, rest.reshape(-1, 4))


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


def _data(
    chain: Chain, bands: Bands, at: Vector
) -> tuple[Vector, Matrix, NDArray[np.float64], Vector]:
    """Residuals (curve minus band) in standard uncertainties, their slopes, frames, feet."""
    at = chain.feet(bands.points, at)
    here, frames = chain.at(at)
    off, lean = here - bands.points, frames[:, 0] - bands.ways
    rest = np.stack([np.sum(v * frames[:, k], axis=1) for v in (off, lean) for k in (1, 2)], axis=1)
    slopes = np.concatenate(
        [_by_start(chain, here, frames), _by_curvature(chain, at, here, frames)], axis=2
    )
    weights = _weights(bands, frames, rest)
    rest = np.einsum("nij,nj->ni", weights, rest)
    return rest.ravel(), (weights @ slopes).reshape(4 * len(at), -1), frames, at


def _off(chain: Chain, bands: Bands, at: Vector, frames: NDArray[np.float64]) -> Matrix:
    """Curve minus band: across 1, across 2, way 1, way 2; (N, 4) [mm, 1]."""
    both = (chain.at(at)[0] - bands.points, frames[:, 0] - bands.ways)
    return np.stack([np.sum(v * frames[:, k], axis=1) for v in both for k in (1, 2)], axis=1)


def _by_start(chain: Chain, here: Points3, frames: NDArray[np.float64]) -> NDArray[np.float64]:
    """How the residuals change with the chain's start and first direction, (N, 4, 4)."""
    slopes = np.zeros((len(here), 4, 4))
    for row, normal in ((0, frames[:, 1]), (1, frames[:, 2])):
        for k in (0, 1):
            spin = chain.frame[1 + k]
            slopes[:, row, k] = normal @ spin
            arm = np.cross(spin, here - chain.start_mm)
            slopes[:, row, 2 + k] = np.sum(arm * normal, axis=1)
            slopes[:, 2 + row, 2 + k] = np.sum(np.cross(spin, frames[:, 0]) * normal, axis=1)
    return slopes


def _by_curvature(
    chain: Chain, at: Vector, here: Points3, frames: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How they change with each link's curvature, (N, 4, 2 M)."""
    links = len(chain.curvature)
    joints, joint_frames = chain.joints
    half = 0.5 * (joint_frames[1:] + joint_frames[:-1])
    share = np.clip((at[:, None] - chain.link_mm * np.arange(links)) / chain.link_mm, 0, 1)
    pivot = joints[:-1] + 0.5 * share[..., None] * (joints[1:] - joints[:-1])
    arm = here[:, None] - pivot
    slopes = np.zeros((len(at), 4, 2 * links))
    for k, axis in ((0, half[:, 2]), (1, -half[:, 1])):  # bending towards 1 turns about 2
        spin = axis * chain.link_mm
        by_point = np.cross(spin, arm) * share[..., None]
        by_way = np.cross(spin, frames[:, None, 0]) * share[..., None]
        for row in (0, 1):
            normal = frames[:, 1 + row]
            slopes[:, row, k::2] = np.einsum("nmi,ni->nm", by_point, normal)
            slopes[:, 2 + row, k::2] = np.einsum("nmi,ni->nm", by_way, normal)
    return slopes


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
