"""The curve through the bands that are sure, drawn on along the hose where its sides are seen.

Beyond the outermost of them the hose goes on to bands that are poorly seen or not read. Its sides
lead there, a hand's breadth at a time.
"""

import numpy as np

from photomeasure.route.space.chain import Chain
from photomeasure.route.space.chainfit import fit_chain
from photomeasure.route.space.course import SIDES_PRICE_MM, Course
from photomeasure.route.space.follow import FALSE, LEAST_SIDES, Look, stretch_of

__all__ = ["grown"]

BEYOND_MM = 160.0  # beyond the outer bands; bands are 150 mm apart at most
STEP_MM = 35.0  # at a time: so far a hose that starts to bend stays in reach
REACH_MM = 6.0
MOST_STEPS = 5
LEAST_GROWTH_MM = 8.0
NEAR_MM = 75.0  # from an outer band to beside its end's card: there the route ends


def grown(course: Course, things_half_mm: float, look: Look) -> Chain:
    """Draw a curve on beyond its outer bands, where no card says that the route ends there.

    Parameters
    ----------
    course : Course
        Through the bands that are sure.
    things_half_mm : float [mm]
        Half a band's width.
    look : callable
        Gives the sides that are seen along a stretch.

    Returns
    -------
    Chain
        As it was where both ends' cards stand beside the outer bands.
    """
    before, after = (BEYOND_MM * _is_open(to_card) for to_card in _to_cards(course))
    chain, bands, sides = _longer(course.fit.chain, before, after), course.bands, None
    if not before + after:
        return chain
    low = high = 0.0
    for _ in range(MOST_STEPS):
        at = chain.nearest(bands.points)
        known = at if sides is None else np.concatenate([at, sides.at_mm])
        if sides is not None and max(low - known.min(), known.max() - high) < LEAST_GROWTH_MM:
            break
        low, high = float(known.min()), float(known.max())
        limits = max(2.0, low - STEP_MM), min(chain.length_mm - 2.0, high + STEP_MM)
        seen = look(stretch_of(chain, limits, (at, things_half_mm), REACH_MM))
        if len(seen.photo) < LEAST_SIDES:
            break
        fit = fit_chain(bands, SIDES_PRICE_MM, seen, chain)
        sides = seen.of(np.abs(fit.side_residuals) < FALSE)
        chain = fit_chain(bands, SIDES_PRICE_MM, sides, fit.chain).chain
    return chain


def _to_cards(course: Course) -> tuple[float | None, float | None]:
    return course.values.start_to_card_mm, course.values.end_to_card_mm


def _is_open(to_card_mm: float | None) -> bool:
    return to_card_mm is None or to_card_mm > NEAR_MM


def _longer(chain: Chain, before_mm: float, after_mm: float) -> Chain:
    """Let the outermost arcs go on."""
    first, last = (int(np.ceil(one / chain.link_mm)) for one in (before_mm, after_mm))
    points, frames = chain.at(np.array([-first * chain.link_mm]))
    curvature = np.concatenate(
        [
            np.tile(chain.curvature[0], (first, 1)),
            chain.curvature,
            np.tile(chain.curvature[-1], (last, 1)),
        ]
    )
    return Chain(points[0], frames[0], curvature, chain.link_mm)
