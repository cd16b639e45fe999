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
WEAK_U = 0.05  # 1/mm: keeps the outermost links where no band holds them


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Bands in order along the route.

    Attributes
    ----------
    points, ways : (N, 3)
        Axis points [mm] and unit directions.
    point_u_mm, way_u : (N,)
        Standard uncertainties across the axis, for the weights.
    """

    points: Points3
    ways: Points3
    point_u_mm: Vector
    way_u: Vector


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


def fit_chain(bands: Bands) -> ChainFit:
    """Fit.

    Parameters
    ----------
    bands : Bands
        Two at least.

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
            rule, level = _rule(chain, smallest)
            normal = slopes.T @ slopes + rule.T @ rule
            step = np.asarray(-np.linalg.solve(normal, slopes.T @ rest + rule.T @ level))
            step *= min(1.0, 0.02 / max(float(np.abs(step[4:]).max()), 1e-12))
            chain = moved(chain, step)
            if float(np.abs(step[4:]).max()) < 1e-7:
                break
    rest, slopes, frames, at = _data(chain, bands, at)
    inverse = np.linalg.inv(normal)
    us = np.column_stack([bands.point_u_mm, bands.point_u_mm, bands.way_u, bands.way_u]).ravel()
    gain = inverse @ slopes.T / us
    return ChainFit(chain, at, gain, frames, inverse @ rule.T, rest.reshape(-1, 4))


def _data(
    chain: Chain, bands: Bands, at: Vector
) -> tuple[Vector, Matrix, NDArray[np.float64], Vector]:
    """Residuals (curve minus band) in standard uncertainties, their slopes, frames, feet."""
    at = chain.feet(bands.points, at)
    here, frames = chain.at(at)
    off, lean = here - bands.points, frames[:, 0] - bands.ways
    count, links = len(at), len(chain.curvature)
    joints, joint_frames = chain.joints
    middle = 0.5 * (joints[1:] + joints[:-1])
    half = 0.5 * (joint_frames[1:] + joint_frames[:-1])
    # how much of each link lies before the band, and where that part acts from
    begin = chain.link_mm * np.arange(links)
    share = np.clip((at[:, None] - begin) / chain.link_mm, 0, 1)
    pivot = np.where((share < 1)[..., None], joints[:-1] + 0.5 * share[..., None]
                     * (joints[1:] - joints[:-1]), middle)  # fmt: skip
    arm = here[:, None] - pivot
    slopes = np.zeros((count, 4, 4 + 2 * links))
    for k, axis in ((0, half[:, 2]), (1, -half[:, 1])):  # bending towards 1 turns about 2
        spin = axis * chain.link_mm
        by_point = np.cross(spin, arm) * share[..., None]
        by_way = np.cross(spin, frames[:, None, 0]) * share[..., None]
        for row, normal in ((0, frames[:, 1]), (1, frames[:, 2])):
            slopes[:, row, 4 + k :: 2] = np.einsum("nmi,ni->nm", by_point, normal)
            slopes[:, 2 + row, 4 + k :: 2] = np.einsum("nmi,ni->nm", by_way, normal)
    start = chain.frame
    for row, normal in ((0, frames[:, 1]), (1, frames[:, 2])):
        slopes[:, row, 0], slopes[:, row, 1] = normal @ start[1], normal @ start[2]
        for k in (0, 1):
            spin = start[1 + k]
            slopes[:, row, 2 + k] = np.sum(np.cross(spin, here - chain.start_mm) * normal, axis=1)
            slopes[:, 2 + row, 2 + k] = np.sum(np.cross(spin, frames[:, 0]) * normal, axis=1)
    rest = np.stack(
        [
            np.sum(off * frames[:, 1], axis=1), np.sum(off * frames[:, 2], axis=1),
            np.sum(lean * frames[:, 1], axis=1), np.sum(lean * frames[:, 2], axis=1),
        ],
        axis=1,
    )  # fmt: skip
    us = np.stack([bands.point_u_mm, bands.point_u_mm, bands.way_u, bands.way_u], axis=1)
    return (
        (rest / us).ravel(),
        (slopes / us[..., None]).reshape(4 * count, -1),
        frames,
        at,
    )


def _rule(chain: Chain, smallest: float) -> tuple[Matrix, Vector]:
    """Rows of the price of changes, as if quadratic about where it is, and their values."""
    links = len(chain.curvature)
    change = np.diff(chain.curvature, axis=0)
    size2 = np.sum(change**2, axis=1) + smallest**2
    weight = np.sqrt(PRICE_MM / np.sqrt(size2))
    rows = np.zeros((2 * (links - 1) + 4, 4 + 2 * links))
    k = np.arange(links - 1)
    for axis in (0, 1):
        rows[2 * k + axis, 4 + 2 * (k + 1) + axis] = weight
        rows[2 * k + axis, 4 + 2 * k + axis] = -weight
    for number, (link, axis) in enumerate(((0, 0), (0, 1), (links - 1, 0), (links - 1, 1))):
        rows[2 * (links - 1) + number, 4 + 2 * link + axis] = 1 / WEAK_U
    values = rows[:, 4:] @ chain.curvature.ravel()
    return rows, values
