"""From a port to a hose end: the chain of adapters, joint by joint.

The graph is small: a node is a face that a part shows (seat, thread, sex), an edge is an adapter
that mates with one face and shows another. The shortest path to a face that a hose end mates
with is the chain.
"""

import heapq
import itertools
from dataclasses import dataclass

from photomeasure.errors import NoPlanError
from photomeasure.sizing.shelf import Adapter, Face, HoseEnd, Seat, adapters, hose_ends, seat_named
from photomeasure.standards import thread

__all__ = ["Chain", "Connection", "Joint", "chain_to", "connect", "why_not"]

_COST_A_PART = 100.0  # fewer joints beat everything else
_COST_FROM_MEMORY = 10.0  # a row that nobody confirmed is a last choice
_SIZE_OVER_THREAD = 0.67  # tube outside diameter over port thread in ISO 11926-1: 0.57 to 0.76
_COST_A_MM_HIGH = 0.1  # stacked between port and hose end: a low part wins where room is short
_USUAL_HEIGHT_MM = 25.0  # of a part that does not say: own choice, so that silence wins nothing
_COST_TO_BUY = 1.0  # what lies on the shelf is taken first


@dataclass(frozen=True, slots=True)
class Joint:
    """Two faces screwed together, and how they seal."""

    upper: str
    lower: str
    thread: str
    seat: Seat


@dataclass(frozen=True, slots=True)
class Chain:
    """From a port to its hose end."""

    port: Face
    adapters: tuple[Adapter, ...]
    hose_end: HoseEnd
    cost: float

    @property
    def height_mm(self) -> float | None:
        """Height of the adapters from the port's face to the hose end's seat, if all say theirs."""
        heights = [part.stand_off_mm for part in self.adapters]
        known = [height for height in heights if height is not None]
        return sum(known) if len(known) == len(heights) else None

    @property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint from the port outwards."""
        names = ["port", *(part.name for part in self.adapters), f"hose end -{self.hose_end.dash}"]
        shown = [self.port, *(part.b for part in self.adapters)]
        pairs = zip(itertools.pairwise(names), shown, strict=True)
        return tuple(
            Joint(upper, lower, face.thread, seat_named(face.seat))
            for (upper, lower), face in pairs
        )


@dataclass(frozen=True, slots=True)
class Connection:
    """Both ports' chains to one hose size."""

    dash: int
    chains: tuple[Chain, Chain]


_Wanted = tuple[tuple[Face, str | None], tuple[Face, str | None]]  # port, shape of its adapter


def _shape(form: str) -> str:
    return form if form == "straight" else f"{form}°"


def _is_taper(thread: str) -> bool:
    return thread.startswith("R") or "NPT" in thread


def _threads_mate(male: str, female: str) -> bool:
    if not male.startswith("R"):
        return male == female
    # ISO 7-1: R is the external thread; it goes into Rc (taper) and into Rp (parallel).
    return female.startswith(("Rc", "Rp")) and male[1:] == female[2:]


def why_not(one: Face, other: Face) -> str | None:
    """Say in plain words why two faces do not belong together, or None where they do."""
    if one.sex == other.sex:
        return f"both are {one.sex}"
    male, female = (one, other) if one.sex == "male" else (other, one)
    if not _threads_mate(male.thread, female.thread):
        if _is_taper(male.thread) != _is_taper(female.thread):
            return f"taper never goes into parallel ({male.thread} and {female.thread})"
        return f"the threads differ ({male.thread} and {female.thread})"
    if one.seat != other.seat:
        return f"the seats differ ({male.seat} and {female.seat}): threads alike, but no seal"
    return None


def _step_cost(part: Adapter) -> float:
    cost = _COST_A_PART
    cost += 0 if part.on_shelf else _COST_TO_BUY
    cost += _COST_FROM_MEMORY if part.checked == "memory" else 0
    if part.stand_off_mm is not None:
        cost += _COST_A_MM_HIGH * (part.stand_off_mm - _USUAL_HEIGHT_MM)
    return cost + (0 if part.form == "straight" else _COST_TO_BUY / 2)


def chain_to(
    port: Face, dash: int, shelf: tuple[Adapter, ...] = (), form: str | None = None
) -> Chain | None:
    """Find the cheapest chain from a port to a hose end of one size.

    Parameters
    ----------
    port : Face
        What the port shows.
    dash : int
        Hose size in sixteenths of an inch.
    shelf : tuple of Adapter
        The user's own parts, taken before those that must be bought.
    form : {"straight", "45", "90"}, optional
        The shape that the adapter in the port must have.

    Returns
    -------
    Chain or None

    Notes
    -----
    Dijkstra's search over the faces; ties are settled by the order of the tables.
    """
    parts = (*shelf, *adapters())
    ends = [end for end in hose_ends() if end.dash == dash]
    order = itertools.count()
    queue: list[tuple[float, int, Face, tuple[Adapter, ...]]] = [(0.0, next(order), port, ())]
    settled: set[Face] = set()
    while queue:
        cost, _, face, way = heapq.heappop(queue)
        if face in settled:
            continue
        settled.add(face)
        for end in ends:
            if why_not(face, end.face) is None and (way or form in (None, "straight")):
                return Chain(port, way, end, cost)
        for part in parts:
            if not way and form not in (None, part.form):
                continue
            if part.b not in settled and why_not(face, part.a) is None:
                item = (cost + _step_cost(part), next(order), part.b, (*way, part))
                heapq.heappush(queue, item)
    return None


def connect(
    ports: tuple[Face, Face],
    *,
    dash: int | None = None,
    shelf: tuple[Adapter, ...] = (),
    forms: tuple[str | None, str | None] = (None, None),
) -> Connection:
    """Bring both ports to one hose size.

    Parameters
    ----------
    ports : tuple of two Face
    dash : int, optional
        The hose size; without it the one with the fewest adapters, then the one whose nominal
        size is nearest to two thirds of the ports' thread.
    shelf : tuple of Adapter
    forms : tuple of two str or None
        The shape that the adapter in each port must have, where one is wanted.

    Returns
    -------
    Connection

    Raises
    ------
    NoPlanError
        If no chain is known.
    """
    dashes = sorted({end.dash for end in hose_ends()}, reverse=True) if dash is None else [dash]
    wanted = (ports[0], forms[0]), (ports[1], forms[1])
    plans = [plan for size in dashes if (plan := _both(wanted, size, shelf)) is not None]
    if plans:
        return min(plans, key=_rank)
    raise _no_chain(wanted, dash, shelf)


def _rank(plan: Connection) -> tuple[float, float]:
    """Order plans by cost, then by how far the size is from what the ports were made for."""
    cost = sum(chain.cost for chain in plan.chains)
    size_mm = plan.dash * 25.4 / 16
    majors_mm = [thread(chain.port.thread).major_diameter_mm for chain in plan.chains]
    return cost, sum(abs(size_mm - _SIZE_OVER_THREAD * major) for major in majors_mm)


def _both(wanted: _Wanted, dash: int, shelf: tuple[Adapter, ...]) -> Connection | None:
    first, second = (chain_to(port, dash, shelf, form) for port, form in wanted)
    return None if first is None or second is None else Connection(dash, (first, second))


def _no_chain(wanted: _Wanted, dash: int | None, shelf: tuple[Adapter, ...]) -> NoPlanError:
    sizes = sorted({end.dash for end in hose_ends()})
    reach = [[size for size in sizes if chain_to(port, size, shelf, form)] for port, form in wanted]
    lost = [
        f"{port}" if form is None else f"{port} by a {_shape(form)} adapter"
        for (port, form), found in zip(wanted, reach, strict=True)
        if not found
    ]
    if lost:
        return NoPlanError(
            f"No chain of adapters is known from {' and '.join(lost)} to a hose end.",
            "Look at the seat again, add the adapter that you have to the shelf, or ask a hose "
            "shop; a flared tube is the next way, a welded one the last.",
        )
    sizes_a, sizes_b = (", ".join(f"-{size}" for size in found) for found in reach)
    size = "one hose size" if dash is None else f"hose size -{dash}"
    return NoPlanError(
        f"No chain of adapters brings both ports to {size}: the first reaches {sizes_a}, "
        f"the second {sizes_b}.",
        "Choose a hose size that both reach, or add an adapter to the shelf.",
    )
