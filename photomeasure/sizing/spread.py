"""A reading whose print nobody measured, judged for every size the print may have come out in.

Diameter and pitch grow together with the print, so that their ratio still speaks, while a print
fitted to another page is five per cent off and not the two of a standard uncertainty.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from uncertainties import UFloat

from photomeasure.quantities import components, mixtures
from photomeasure.sizing.body import Body
from photomeasure.sizing.judge import Posterior, Readings, judge
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.zones import Floats, Prior

__all__ = ["judge_spread"]


def judge_spread(
    readings: Readings,
    numbers: Sequence[UFloat],
    prior: Prior,
    seen: SeatLook | None = None,
    body: Body | None = None,
) -> Posterior:
    """Weigh every thread by one reading, over all mixtures among its sources.

    Parameters
    ----------
    readings : Readings
        One of them.
    numbers : sequence of UFloat [any]
        The same values with their sources.
    prior : Prior
    seen : SeatLook or None
    body : Body or None

    Returns
    -------
    Posterior
        Of one reading.
    """
    parts = [components(number) for number in numbers]
    ways = mixtures(source for one in parts for source in one)
    if not ways[0][1]:
        return judge(readings, prior, seen, body)
    values = np.repeat(readings.values, len(ways), axis=0)
    covariances = np.repeat(readings.covariances, len(ways), axis=0)
    for row, (_, way) in enumerate(ways):
        for source, normal in way.items():
            slope = np.array([one.get(source, 0.0) for one in parts])
            values[row] += slope * normal.mean
            covariances[row] += np.outer(slope, slope) * (normal.u**2 - 1)
    spread = replace(
        readings,
        values=values,
        covariances=covariances,
        diameter_at_mm=np.repeat(readings.diameter_at_mm, len(ways)),
    )
    return _pooled(judge(spread, prior, seen, body), np.array([chance for chance, _ in ways]))


def _pooled(every: Posterior, chances: Floats) -> Posterior:
    """One posterior of many, each by its chance and by how well it explains the reading."""
    top = float(every.log_evidence.max())
    weight = chances * np.exp(every.log_evidence - top)
    total = float(weight.sum())
    share = weight[:, None] / total * every.probabilities
    pooled = share.sum(axis=0)
    threads = share[:, :-1]
    misfit = (threads * every.misfit_p).sum(axis=0) / np.maximum(threads.sum(axis=0), 1e-300)
    return Posterior(
        zones=every.zones,
        probabilities=pooled[None],
        misfit_p=misfit[None],
        log_evidence=np.array([top + np.log(total)]),
    )
