"""From a solved arrangement of bands and cards to values with named sources."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.reading import Bend
from photomeasure.route.space.course import Course
from photomeasure.route.space.model import Thing
from photomeasure.route.space.solve import Solved
from photomeasure.route.space.vary import DRAWS, Variation, root_of

__all__ = ["Measured", "measure"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

TURNING, TIGHTEST = 1, 2  # their places among the values
FITTED, FITTED_U = 0.7, 0.4  # times what such noise turns: over projected routes 1.1, over
# rendered ones, whose points scatter less than they claim, 0.5
DRIFTED = 1.0  # and of how much tighter it seems
OTHER_PRICES = (0.5, 2.0)  # times a change of curvature's, as well as might be
BETWEEN = "curve between bands"
LABELS = {
    "photo geometry": "lens, poses and places of cards and bands",
    "band wrap": "how snugly and squarely the bands are wrapped, and cut",
    "hose outline": "how well the hose's own sides are seen",
    BETWEEN: "the hose's shape where no band shows it",
}


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """All values as quantities."""

    length: Quantity
    turning: Quantity
    bends: tuple[Bend, ...]
    tightest: Quantity | None
    clocking: Quantity | None
    start_to_card: Quantity | None
    end_to_card: Quantity | None
    line_od: Quantity


def measure(solved: Solved, things: list[Thing], course: Course, key: str) -> Measured:
    """Values with their sources.

    Parameters
    ----------
    solved : Solved
    things : list of Thing
    course : Course
    key : str
        Names the photos.

    Returns
    -------
    Measured
    """
    vary = Variation(solved, things, course)
    parts: dict[Source, Vector] = {s: vary.at_state(shift) for s, shift in solved.shifts}
    rest = solved.covariance - sum(
        (np.outer(shift, shift) for _, shift in solved.shifts), 0 * solved.covariance
    )
    rng = np.random.default_rng(0)
    wraps, curves = 4 * len(course.rows) + 2, course.fit.loose.shape[1]
    turned = 0.0
    for name, change, root in (
        ("photo geometry", vary.at_state, root_of(rest)),
        ("band wrap", vary.at_wrap, np.eye(wraps)),
        ("hose outline", vary.at_sides, np.eye(len(course.fit.sides.photo))),
        (BETWEEN, vary.at_curve, np.eye(curves)),
    ):
        if not len(root):
            continue
        own, mean = _group(name, key, change, root, rng)
        parts |= own
        turned += float(mean[TURNING])
    for label, shift in (
        *((f"rule {k}", vary.at_rule(times)) for k, times in enumerate(OTHER_PRICES, start=1)),
        ("shape", vary.at_shape()),
    ):
        parts[Source(f"{BETWEEN}/{label}", LABELS[BETWEEN], "photo", key)] = shift
    base, unsure = vary.base.copy(), np.zeros_like(vary.base)
    unsure[TURNING] = FITTED_U * turned
    parts[Source(f"{BETWEEN}/turning", LABELS[BETWEEN], "photo", key)] = unsure
    base[TURNING] -= FITTED * turned  # noise turns a straight to and fro, which adds up
    od_mm = 2 * solved.state.bare_radius_mm
    base[TIGHTEST] -= DRIFTED * vary.drift_mm(od_mm)
    return _measured(base, parts, solved, key)


def _group(
    name: str,
    key: str,
    change: Callable[[Vector], Vector],
    root: Matrix,
    rng: np.random.Generator,
) -> tuple[dict[Source, Vector], Vector]:
    """Draw a cause and split the covariance of all values into independent sources.

    The mean change is given too: what noise of this kind does to the values on the whole.
    """
    draws = rng.standard_normal((DRAWS, root.shape[1]))
    changes = np.array([change(root @ draw) for draw in draws])
    mean = changes.mean(axis=0)
    changes[:, TURNING] -= FITTED * mean[TURNING]  # which is taken off the value
    covariance = changes.T @ changes / DRAWS
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    size, ways = np.linalg.eigh(covariance / np.outer(spread, spread))
    found = {}
    for number, k in enumerate(np.argsort(-size), start=1):
        if size[k] > 1e-6:
            source = Source(f"{name}/{number}", LABELS[name], "photo", key)
            found[source] = spread * ways[:, k] * np.sqrt(size[k])
    return found, mean


def _measured(base: Vector, parts: dict[Source, Vector], solved: Solved, key: str) -> Measured:
    def quantity(k: int, unit: str) -> Quantity | None:
        if not np.isfinite(base[k]):
            return None
        number = measured(float(base[k]), {s: float(v[k]) for s, v in parts.items()})
        return Quantity.normal(number, unit)

    def certain(found: Quantity | None) -> Quantity:
        if found is None:
            raise AssertionError("a route always has a length")
        return found

    bends = tuple(
        Bend(quantity(k, "mm"), quantity(k + 1, "mm"), quantity(k + 2, "deg"))
        for k in range(6, len(base), 3)
    )
    u_od = 2 * float(np.sqrt(solved.covariance[-2, -2]))
    od = 2 * (solved.state.radius_mm - 0.1)
    own = Source("line diameter", "outside diameter of what the bands go round", "photo", key)
    return Measured(
        certain(quantity(0, "mm")), certain(quantity(1, "deg")), bends,
        quantity(2, "mm"), quantity(3, "deg"), quantity(4, "mm"), quantity(5, "mm"),
        Quantity.normal(measured(od, {own: u_od}), "mm"),
    )  # fmt: skip
