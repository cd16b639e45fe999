"""One band solved by itself from many starts, all else standing still.

A small patch of a band, seen from afar, looks nearly the same leaning the other way.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.chain import turns
from photomeasure.route.space.model import LENS, OBJECT, POSE, Points, State, local, predict
from photomeasure.route.space.solve import BEND_U, SKEW_U

__all__ = ["best_alone", "misfit"]

Vector = NDArray[np.float64]  # (N,)

LEANS_RAD = (-0.5, 0.0, 0.5)  # tried both ways about the patch that is seen
STEPS = 20
SOFT = 5.0  # standard uncertainties: a point further off counts ever less
CAPPED_PX = 3.0  # a point further off says no more than that it is false
OWN = slice(LENS + POSE, LENS + POSE + OBJECT)  # of a prediction's slopes
PRIOR = np.array([0.0] * POSE + [1 / SKEW_U**2, 1 / BEND_U[0] ** 2, 1 / BEND_U[1] ** 2])


def misfit(state: State, points: Points) -> float:
    """How badly a state explains points, none of them counting without limit.

    Parameters
    ----------
    state : State
    points : Points

    Returns
    -------
    float
    """
    px, _, _ = predict(state, points, slopes=False)
    off = np.minimum(np.hypot(*(px - points.px).T), CAPPED_PX)
    return float(np.sum((off / points.noise_px) ** 2))


def best_alone(state: State, points: Points, row: int) -> State:
    """Solve one band from many starts and keep the best.

    Parameters
    ----------
    state : State
    points : Points
        Of that band alone.
    row : int

    Returns
    -------
    State
    """
    inner = local(state, points.thing, points.nominal)[0].mean(axis=0)
    patch = state.thing_turn[row] @ inner + state.thing_shift[row]
    way = state.thing_turn[row][:, 2]
    out = state.thing_turn[row] @ (inner * (1.0, 1.0, 0.0))
    out /= np.linalg.norm(out)
    best, least = state, misfit(state, points)
    for lean in LEANS_RAD:
        for tilt in LEANS_RAD:
            spin = turns((lean * out + tilt * np.cross(way, out))[None])[0]
            poses, shifts = state.thing_turn.copy(), state.thing_shift.copy()
            poses[row] = spin @ poses[row]
            shifts[row] = patch + spin @ (shifts[row] - patch)
            bend = state.bend.copy()
            bend[row] = 0.0
            tried = replace(state, thing_turn=poses, thing_shift=shifts, bend=bend)
            tried = _solved(tried, points, row)
            found = misfit(tried, points)
            if found < least:
                best, least = tried, found
    return best


def _solved(state: State, points: Points, row: int) -> State:
    """Gauss-Newton of one band's pose, skew and bend."""
    slot, damp, cost = state.thing_slot(row), 1e-3, np.inf
    for _ in range(STEPS):
        px, slopes, _ = predict(state, points)
        rest, own = px - points.px, slopes[:, :, OWN]
        size = np.hypot(*rest.T) / points.noise_px
        weight = 1 / points.noise_px**2 / (1 + (size / SOFT) ** 2)
        known = np.concatenate([np.zeros(POSE), [state.skew[row], *state.bend[row]]])
        normal = np.einsum("nki,n,nkj->ij", own, weight, own) + np.diag(PRIOR)
        side = np.einsum("nki,n,nk->i", own, weight, rest) + PRIOR * known
        step = np.zeros(state.size)
        damped = normal + damp * np.diag(np.diag(normal)) + 1e-9 * np.eye(OBJECT)
        step[slot : slot + OBJECT] = -np.linalg.solve(damped, side)
        tried = state.moved(step)
        new = _cost(tried, points, row)
        if new < cost:
            state, cost, damp = tried, new, max(damp / 10, 1e-9)
        else:
            damp *= 10
        if damp > 1e6:
            break
    return state


def _cost(state: State, points: Points, row: int) -> float:
    px, _, _ = predict(state, points, slopes=False)
    size = np.hypot(*(px - points.px).T) / points.noise_px
    own = np.concatenate([[state.skew[row]], state.bend[row]])
    return float(SOFT**2 * np.sum(np.log1p((size / SOFT) ** 2)) + own**2 @ PRIOR[POSE:])
