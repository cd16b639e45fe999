"""Find the line of tape, cord, rod or hose in a photo, roughly."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from photomeasure.errors import NoLineError
from photomeasure.route.search import SAME_COLOUR, Search, Stripe, View

__all__ = ["RoughLine", "find_line"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)

WORK_SIZE_PX = {"tape": 960, "hose": 960, "cord": 1280, "rod": 1280}
# longest side of the picture in which the line is looked for; 3 px of its width are enough
MOTTLED_SIZE_PX = 640  # the same for striped tape, which is broad
MOTTLED_MERIT = 1.5  # over the best line of one colour, before a striped one is believed
MOTTLED_LENGTH = 3.0  # or times its length, if its merit is no less: then those are its stripes
HUE_LENGTH = 1.1  # times the best line of one colour, before a shaded one of one hue is believed
RIVAL = 0.5  # of the best candidate's merit: too like to choose
GAP_WIDTHS = 8.0  # a line may be hidden over so many widths
SAME_WAY = 0.6  # cosine between a line's end and the way across the gap
BESIDE_WIDTHS = 1.6  # between the middles of sheen, or lit side, and shadow of one round line
LIT_LENGTH = 0.7  # of its shadow's, before a rod's or cord's lit side is taken for the line
LIT_APART = 0.5  # of the mean width: nearer, it is sheen within the line
ALONG = 0.7  # of a stripe that must run beside another one to be part of the same line
LEAST_POINTS = 3  # that show the whole way
POINTED = 0.8  # of the way along the points that what stands out must cover
STEP_PX = 4.0  # of the way along the points
USUAL_MM = {"tape": 30.0, "cord": 5.0, "rod": 6.0, "hose": 19.0}  # common practice, no source
NEAR_WIDTHS = 2.0  # a pointed-at place belongs to a line that is so near


@dataclass(frozen=True, slots=True, eq=False)
class RoughLine:
    """The line's middle to a fraction of its width.

    Attributes
    ----------
    path_px : (N, 2) [px]
        In order along the line.
    width_px : (N,) [px]
    is_striped : bool
        It stands out from the floor as a whole better than any one colour of it.
    """

    path_px: Points2
    width_px: Vector
    is_striped: bool = False


def find_line(view: View) -> RoughLine:
    """Pick out the line by its colour, its even width and its length.

    Parameters
    ----------
    view : View
        The photo, and what is known of it.

    Returns
    -------
    RoughLine

    Raises
    ------
    NoLineError
        Nothing looks like such a line, several do, or it branches and nobody shows the way.
    """
    search = Search(view, WORK_SIZE_PX[view.options.line], "plain")
    stripes = search.stripes()
    if view.options.line == "tape":
        other = Search(view, MOTTLED_SIZE_PX, "mottled")
        others = other.stripes()
        is_better = _is_striped(_best(others), _best(stripes))
    else:
        other = Search(view, WORK_SIZE_PX[view.options.line], "hue")
        others = other.stripes()
        is_better = _best(others).length_mm > HUE_LENGTH * _best(stripes).length_mm
    if is_better:
        search, stripes = other, others
    if view.options.points_px:
        chosen = _pointed_at(search, stripes)
        if _is_short(search, chosen) or _is_astray(search, chosen):
            return _as_pointed(view)
    else:
        chosen = _outstanding(search, stripes)
    _refuse_branches(search, chosen)
    path = np.vstack([s.path for s in chosen])
    width = np.concatenate([s.width for s in chosen])
    is_striped = is_better and view.options.line == "tape"
    return RoughLine(search.full_px(path), width / search.factor, is_striped)


def _refuse_branches(search: Search, chain: list[Stripe]) -> None:
    """Refuse a line whose way is a guess, as it branches or crosses itself or another one."""
    for stripe in chain:
        if stripe.branch is not None:
            x, y = search.full_px(stripe.branch)
            raise NoLineError(
                f"The line branches, or crosses itself or another one, near pixel ({x:.0f}, "
                f"{y:.0f}).",
                f"Clear the other away, or point at {LEAST_POINTS} places or more along the right "
                "way, from end to end, with --points.",
            )


def _is_striped(whole: Stripe, plain: Stripe) -> bool:
    """Whether a tape of several colours explains more than its best stripe of one colour."""
    is_longer = whole.length_mm > MOTTLED_LENGTH * plain.length_mm
    return whole.merit > plain.merit * (1.0 if is_longer else MOTTLED_MERIT)


def _best(stripes: list[Stripe]) -> Stripe:
    nothing = np.zeros((0, 2))
    return stripes[0] if stripes else Stripe(nothing, nothing, 0.0, 0.0, nothing, 0.0, None)


def _outstanding(search: Search, stripes: list[Stripe]) -> list[Stripe]:
    """Take the best candidate with its continuations; refuse if another is as good."""
    if not stripes:
        raise NoLineError(
            f"No line that looks like {search.options.line} is seen on the floor.",
            "Lay tape of another colour than the floor, all of it in the picture, or point at "
            "the line with --points.",
        )
    if search.options.line in {"cord", "rod"}:
        stripes = _lit_first(stripes)
    chain = _with_continuations(stripes[0], stripes[1:])
    used = {id(s) for s in chain}
    merit = sum(s.merit for s in chain)
    rivals = [s for s in stripes if id(s) not in used and s.merit > RIVAL * merit]
    rivals = [s for s in rivals if not _is_beside(s, chain[0])]
    if rivals:
        places = [search.full_px(s.path[len(s.path) // 2]) for s in (chain[0], rivals[0])]
        where = " and ".join(f"({p[0]:.0f}, {p[1]:.0f})" for p in places)
        raise NoLineError(
            f"Several lines could be meant, near pixels {where}.",
            "Point at the right one with --points, or clear the others away.",
        )
    return chain


def _is_beside(stripe: Stripe, other: Stripe) -> bool:
    """Whether one stripe runs along the other: sheen and shadow of one round line."""
    reach = max(float(np.median(stripe.width)), float(np.median(other.width)))
    return bool(np.mean(_away(stripe, other) < BESIDE_WIDTHS * reach) > ALONG)


def _away(stripe: Stripe, other: Stripe) -> Vector:
    """Distances of some places of one stripe's middle from the other's [px]."""
    few = stripe.path[:: max(1, len(stripe.path) // 50)]
    return np.asarray(
        np.min(np.hypot(*(few[:, None] - other.path[None]).transpose(2, 0, 1)), axis=1)
    )


def _lit_first(stripes: list[Stripe]) -> list[Stripe]:
    """Put the lit side of a rod or cord before its own shadow, which may stand out more."""
    first = stripes[0]
    if first.contrast[0] >= 0:
        return stripes
    for stripe in stripes[1:]:
        is_long = stripe.length_mm > LIT_LENGTH * first.length_mm
        if not (stripe.contrast[0] > 0 and is_long and _is_beside(stripe, first)):
            continue
        usual = 0.5 * float(np.median(stripe.width) + np.median(first.width))
        if float(np.median(_away(stripe, first))) > LIT_APART * usual:
            return [stripe, *(s for s in stripes if s is not stripe)]
    return stripes


def _with_continuations(first: Stripe, others: list[Stripe]) -> list[Stripe]:
    """Add like stripes beyond the ends, where something hides the line for a stretch."""
    chain, rest = [first], list(others)
    while True:
        fits = [(k, s, f) for k, s in enumerate(rest) for f in (0, 1, 2, 3) if _fits(chain, s, f)]
        if not fits:
            return chain
        k, stripe, how = fits[0]
        del rest[k]
        turned = _turned(stripe) if how in (1, 2) else stripe
        chain = [*chain, turned] if how < 2 else [turned, *chain]


def _turned(stripe: Stripe) -> Stripe:
    return replace(stripe, path=stripe.path[::-1], width=stripe.width[::-1])


def _fits(chain: list[Stripe], stripe: Stripe, how: int) -> bool:
    """Whether a stripe goes on where the chain ends: 0, 1 after it; 2, 3 before it; 1, 2 turned."""
    turned = _turned(stripe) if how in (1, 2) else stripe
    before, after = (chain[-1], turned) if how < 2 else (turned, chain[0])
    scale = float(np.linalg.norm(chain[0].contrast))
    if np.linalg.norm(stripe.contrast - chain[0].contrast) > SAME_COLOUR * scale:
        return False
    if not 0.5 < stripe.width_mm / chain[0].width_mm < 2.0:
        return False
    width = float(np.median(chain[0].width))
    end, out = _end_and_way(before.path[::-1], width)
    start, back = _end_and_way(after.path, width)
    gap = start - end
    size = float(np.hypot(*gap)) + 1e-9
    along = [float(v @ gap) / (float(np.hypot(*v)) * size + 1e-9) for v in (out, -back)]
    return size < GAP_WIDTHS * width and min(along) > SAME_WAY


def _end_and_way(path: Points2, width: float) -> tuple[Vector, Vector]:
    """Where a path begins, its frayed end left out, and which way it comes from within."""
    first = min(round(0.7 * width), len(path) // 4)
    second = min(round(2.7 * width), len(path) - 1)
    return path[first], path[first] - path[second]


def _pointed_at(search: Search, stripes: list[Stripe]) -> list[Stripe]:
    """Take the stripes that the user pointed at, in that order; else follow the points."""
    points = search.reduced(np.array(search.options.points_px, dtype=np.float64))
    chain: list[Stripe] = []
    for point in points:
        near = [(_distance(s, point), s) for s in stripes]
        near = [(d, s) for d, s in near if d < NEAR_WIDTHS * float(np.median(s.width)) + 4]
        if near:
            stripe = min(near, key=lambda pair: pair[0])[1]
            if all(stripe is not s for s in chain):
                chain.append(stripe)
    if not chain and len(points) < LEAST_POINTS:
        raise NoLineError(
            f"No line that looks like {search.options.line} is seen near the points given.",
            f"Point at the middle of the line at {LEAST_POINTS} places or more from end to end, "
            "in pixels of the upright picture.",
        )
    if len(chain) == 1:
        return _with_continuations(chain[0], [s for s in stripes if s is not chain[0]])
    return _in_order(chain, points) if chain else []


def _is_short(search: Search, chain: list[Stripe]) -> bool:
    """Whether the points, if there are enough, reach far beyond what was found near them."""
    points_px = search.options.points_px
    if len(points_px) < LEAST_POINTS:
        return False
    ground = search.scene.sheet_mm(np.array(points_px, dtype=np.float64))
    pointed_mm = float(np.sum(np.hypot(*np.diff(ground, axis=0).T)))
    return sum(stripe.length_mm for stripe in chain) < POINTED * pointed_mm


def _is_astray(search: Search, chain: list[Stripe]) -> bool:
    """Whether what was found branches, and there are points enough to show the right way."""
    is_shown = len(search.options.points_px) >= LEAST_POINTS
    return is_shown and any(stripe.branch is not None for stripe in chain)


def _as_pointed(view: View) -> RoughLine:
    """Take the way along the points themselves, rounded."""
    points = np.array(view.options.points_px, dtype=np.float64)
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    if np.any(np.diff(at) <= 0):
        raise NoLineError("Two points given are the same.", "Give each place once, in order.")
    every = np.linspace(0.0, at[-1], max(2, round(at[-1] / STEP_PX)))
    path = PchipInterpolator(at, points)(every)
    width_mm = view.options.line_od_mm or USUAL_MM[view.options.line]
    px_mm = view.scene.sheet_mm(path + np.array([1.0, 0.0])) - view.scene.sheet_mm(path)
    return RoughLine(np.asarray(path, np.float64), width_mm / np.hypot(*px_mm.T))


def _distance(stripe: Stripe, point: Vector) -> float:
    return float(np.min(np.hypot(*(stripe.path - point).T)))


def _in_order(chain: list[Stripe], points: Points2) -> list[Stripe]:
    """Turn each stripe so that the gaps between neighbours are shortest."""
    first, second = chain[0], chain[1]
    ends = [np.min(np.hypot(*(second.path[[0, -1]] - e).T)) for e in first.path[[0, -1]]]
    ordered = [_turned(first) if ends[0] < ends[1] else first]
    for stripe in chain[1:]:
        tail = ordered[-1].path[-1]
        gaps = np.hypot(*(stripe.path[[0, -1]] - tail).T)
        ordered.append(_turned(stripe) if gaps[1] < gaps[0] else stripe)
    return ordered
