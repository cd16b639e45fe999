"""What is being solved, and which bands are known well enough."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.route.space.model import Points, Thing
from photomeasure.route.space.see import Shot
from photomeasure.route.space.solve import Solved
from photomeasure.scene.scale import PageScale

__all__ = ["Job", "Looked", "bands_in", "is_good", "usable"]

LEAST_FINE = 4  # below which it is left out
LEAST_OUTER = 4  # points of the first and last band, markers' corners too: no length without them
SURE = ((7, 0.6), (5, 0.25))  # fine points and their usual residual [px], either of which is sure:
# a thin hose shows few points of a band


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """What is being solved: the photos that connect, and the things in the state's order."""

    shots: list[Shot]
    things: list[Thing]
    scales: list[PageScale]
    radius_mm: float
    radius_u_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """The solve after a look at the photos: all points, and how many fine ones and photos each."""

    solved: Solved
    points: Points
    counts: NDArray[np.int64]
    views: NDArray[np.int64]


def bands_in(job: Job) -> list[int]:
    """Rows of the bands, in order along the route."""
    rows = [k for k, thing in enumerate(job.things) if thing.is_band]
    return sorted(rows, key=lambda k: job.things[k].piece.order or 0)


def is_good(looked: Looked, row: int) -> bool:
    """Whether a band is known well enough to tell where its neighbours are."""
    if looked.views[row] < 2:
        return False
    own = looked.points.thing == row
    off = float(np.median(np.hypot(*looked.solved.residuals_px[own].T)))
    return any(looked.counts[row] >= least and off < worst for least, worst in SURE)


def usable(job: Job, looked: Looked) -> list[int]:
    """Rows of the bands that enough points were found on, in order along the route."""
    rows = bands_in(job)
    points = np.bincount(looked.points.thing, minlength=len(job.things))
    outer = [k for k in (rows[0], rows[-1]) if points[k] >= LEAST_OUTER]
    rows = [k for k in rows if looked.counts[k] >= LEAST_FINE or k in outer]
    if len(rows) < 2:
        raise NoLineError(
            "Fewer than two hose bands are seen well enough.",
            "Take the photos nearer, in good light, with several bands in each.",
        )
    return rows
