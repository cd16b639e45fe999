"""Edges that the other photos' edges contradict."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from photomeasure.thread.doubt import CLEAR_EDGE_PX
from photomeasure.thread.together import Together, fitted, settled, shown, shown_u, sized_on
from photomeasure.thread.values import Causes, Sizes
from photomeasure.thread.views import View

__all__ = ["settled_without_astray"]

# Squared, of a common axis: by theory one pair in 60 has more, of rendered ones a sixth
MOST_MISFIT = 14.0
LEAST_GAIN = 9.0  # of it by leaving one edge out
ALIKE = 4.0  # edges whose leaving gains nearly as much are doubted, too
CLEAR_PRICE = 5.0  # a clear edge is astray ten times more seldom than a faint one; own estimate
LEFT_OUT_MM = 2.0  # doubt that takes an edge all weight


def settled_without_astray(together: Together, causes: Causes) -> Together:
    """Settle anew where one edge contradicts all others, doubted by as much as it lies off.

    Parameters
    ----------
    together : Together
    causes : Causes

    Returns
    -------
    Together
        The same if no edge is astray.
    """
    whole = _squared(together)
    if whole < MOST_MISFIT:
        return together
    views = together.views
    edges = [(view, side) for view in range(len(views)) for side in (0, 1)]
    without = {edge: settled(_doubted(views, edge, LEFT_OUT_MM), causes) for edge in edges}
    left = {edge: _squared(one) + _price(views, edge) for edge, one in without.items()}
    least = min(left.values())
    if whole - least < LEAST_GAIN:
        return together
    for edge in edges:
        if left[edge] < least + ALIKE:
            views = _doubted(views, edge, _off_mm(without[edge], edge, causes))
    return settled(views, causes)


def _squared(together: Together) -> float:
    return float(together.misfit @ together.misfit)


def _price(views: Sequence[View], edge: tuple[int, int]) -> float:
    seen = views[edge[0]].seen
    doubt_mm = seen.doubts_mm[:: views[edge[0]].sign][edge[1]]
    return CLEAR_PRICE if doubt_mm < CLEAR_EDGE_PX * seen.outline.pixel_mm else 0.0


def _off_mm(without: Together, edge: tuple[int, int], causes: Causes) -> float:
    """How far an edge lies from where the others put it."""
    scenes = [view.seen.scene for view in without.views]
    sized = sized_on(without.views, scenes, without.frame, without.standing, causes)
    seen = shown(without.views, without.frame, sized)[edge]
    middle, half = _common(without, sized)
    return abs(float(seen - (middle + half, half - middle)[edge[1]]))


def _common(without: Together, sized: Sequence[Sizes]) -> tuple[float, float]:
    seen = shown(without.views, without.frame, sized)[:, :2]
    u = np.array([shown_u(view, one)[:2] for view, one in zip(without.views, sized, strict=True)])
    return fitted(seen, u)


def _doubted(views: tuple[View, ...], edge: tuple[int, int], doubt_mm: float) -> tuple[View, ...]:
    index, side = edge
    view = views[index]
    doubts = list(view.seen.doubts_mm[:: view.sign])
    doubts[side] = max(doubt_mm, doubts[side])
    left, right = doubts[:: view.sign]
    features = replace(view.seen.features, doubts_mm=(left, right))
    changed = replace(view, seen=replace(view.seen, features=features))
    return (*views[:index], changed, *views[index + 1 :])
