"""Which ends: every pair of straight, 45° and 90° ends is tried for the shortest sound hose."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from photomeasure.sizing.bending import Aims, shortest_paths
from photomeasure.sizing.checks import Check
from photomeasure.sizing.entries import JobEntries, StyleEntry
from photomeasure.sizing.path import least_axis_radius_mm

__all__ = ["EndsPlan", "EndsSearch", "ends_check", "search_ends"]

_AIMS_DEG = (
    np.arange(0, 360, 30),  # an elbow is aimed at the hours of a clock,
    np.arange(-25, 26, 5),  # then nearer,
    np.arange(-4, 5, 1),  # then to the degree
)
_RADIUS_IN_HAND = 1.2  # own choice: the search plans with a fifth more than the least radius
_STRAIGHT_BEHIND_SOCKET = 1.5  # outside diameters: common practice, no source
_ELBOW_MM = 60.0  # own choice: an elbow must save this much hose to be worth having
_CLOCKING_MM = 100.0  # own choice: two angled ends must also be set to each other

Vector = NDArray[np.float64]  # (3,)


@dataclass(frozen=True, slots=True)
class EndsPlan:
    """One pair of ends; the lower its score, the better.

    `score` is in millimetres of hose: hose + elbows + clocking, as `reasons` says line by line.
    `clocking_deg` is None where one end is straight.
    """

    styles: tuple[str, str]
    hose_mm: float
    clocking_deg: float | None
    turns_deg: tuple[float, float]
    reasons: tuple[tuple[str, float], ...]

    @property
    def score(self) -> float:
        """Sum of the reasons."""
        return sum(value for _, value in self.reasons)

    @property
    def words(self) -> str:
        """Say the plan in one line."""
        parts = " + ".join(f"{value:.0f} {what}" for what, value in self.reasons)
        return f"{' and '.join(map(_style_words, self.styles))}: score {self.score:.0f} = {parts}"

    def as_json(self) -> dict[str, object]:
        """Give the form that goes into the cut's JSON."""
        return {
            "ends": list(self.styles),
            "score": self.score,
            "hose_mm": self.hose_mm,
            "clocking_deg": self.clocking_deg,
            "bends_deg": list(self.turns_deg),
            "reasons": [{"what": what, "mm": value} for what, value in self.reasons],
        }


@dataclass(frozen=True, slots=True)
class EndsSearch:
    """The plans, best first; what lacks for a search; the pairs that no sound hose joins."""

    plans: tuple[EndsPlan, ...]
    lacks: tuple[str, ...]
    refused: tuple[tuple[str, str], ...] = ()


def _style_words(style: str) -> str:
    return style if style == "straight" else f"{style}°"


def search_ends(job: JobEntries) -> EndsSearch:
    """Try every pair of ends that can be had.

    Parameters
    ----------
    job : JobEntries
        Its `space` and `end_styles`, and the hose's radius and outside diameter.

    Returns
    -------
    EndsSearch
    """
    lacks = _lacks(job)
    radius, od = least_axis_radius_mm(job.hose), job.hose.outside_diameter_mm
    if lacks or job.space is None or radius is None or od is None:
        return EndsSearch((), lacks)
    pairs = _pairs(job, _STRAIGHT_BEHIND_SOCKET * od)
    found: list[_Found] = []
    for aims_deg in _AIMS_DEG:
        found = _search(pairs, np.deg2rad(aims_deg), _RADIUS_IN_HAND * radius)
        pairs = [replace(one.pair, at_rad=one.at_rad) for one in found]
    plans = sorted((_plan(one) for one in found), key=lambda plan: plan.score)
    joined = {plan.styles for plan in plans}
    styles = [style.style for style in job.end_styles]
    refused = tuple(pair for pair in product(styles, styles) if pair not in joined)
    return EndsSearch(tuple(plans), (), refused)


def _lacks(job: JobEntries) -> tuple[str, ...]:
    lacks = []
    if job.space is None:
        lacks.append("where seat B lies from seat A, and which way both ports point (space)")
    elif np.linalg.norm(job.space.seat_b_mm) == 0:
        lacks.append("where seat B lies from seat A (both are in one place)")
    elif min(np.linalg.norm(job.space.axis_a), np.linalg.norm(job.space.axis_b)) == 0:
        lacks.append("which way both ports point (an axis is 0, 0, 0)")
    if not job.end_styles:
        lacks.append("the ends that can be had, with cut-off, drop and socket depth (end_styles)")
    lacks += [
        f"the drop of the {style.style}° end"
        for style in job.end_styles
        if style.style != "straight" and style.drop is None
    ]
    if least_axis_radius_mm(job.hose) is None or job.hose.outside_diameter_mm is None:
        lacks.append("least bend radius and outside diameter of the hose")
    return tuple(lacks)


def _unit(vector: Sequence[float] | Vector) -> Vector:
    held = np.asarray(vector, dtype=np.float64)
    return np.asarray(held / np.linalg.norm(held))


@dataclass(frozen=True, slots=True, eq=False)
class _End:
    """An end in space.

    `axis` is its port's unit axis; `across` and `other` complete the frame, `across` towards the
    other port. `stiff_mm` runs from where the axes cross to where the hose may begin to bend.
    """

    style: StyleEntry
    axis: Vector
    across: Vector
    other: Vector
    crossing_mm: Vector
    stiff_mm: float

    def aims(self, turn_rad: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the way in which the hose leaves for each turn (N,) of the elbow; (N, 3)."""
        bend = 0.0 if self.style.style == "straight" else math.radians(float(self.style.style))
        turn = turn_rad[:, None]
        side = np.cos(turn) * self.across + np.sin(turn) * self.other
        return np.asarray(math.cos(bend) * self.axis + math.sin(bend) * side)


def _end(axis: Vector, seats_mm: tuple[Vector, Vector], style: StyleEntry, behind: float) -> _End:
    """Place an end on its own seat, the first of `seats_mm`; the second is the other one."""
    unit, (seat_mm, other_mm) = _unit(axis), seats_mm
    towards = other_mm - seat_mm
    across = towards - (towards @ unit) * unit
    if np.linalg.norm(across) < 1e-6 * np.linalg.norm(towards):
        across = np.cross(unit, np.eye(3)[np.argmin(np.abs(unit))])
    across = _unit(across)
    drop = style.drop.value if style.drop is not None and style.style != "straight" else 0.0
    stiff = style.cut_off.value + style.socket_depth.value + behind
    return _End(style, unit, across, np.cross(unit, across), seat_mm + drop * unit, stiff)


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """Two ends in space, and how both elbows are turned so far."""

    ends: tuple[_End, _End]
    at_rad: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """The shortest path of a pair: its length between the stiff pieces, and its directions."""

    pair: _Pair
    at_rad: tuple[float, float]
    length_mm: float
    way: tuple[Vector, Vector, Vector]
    turns_rad: NDArray[np.float64]  # (2,)


def _pairs(job: JobEntries, behind_mm: float) -> list[_Pair]:
    space = job.space
    if space is None:
        return []
    seats = np.zeros(3), np.asarray(space.seat_b_mm)
    axes = np.asarray(space.axis_a), np.asarray(space.axis_b)
    firsts = [_end(axes[0], seats, style, behind_mm) for style in job.end_styles]
    seconds = [_end(axes[1], (seats[1], seats[0]), style, behind_mm) for style in job.end_styles]
    return [_Pair(ends) for ends in product(firsts, seconds)]


def _search(pairs: list[_Pair], steps_rad: NDArray[np.float64], radius_mm: float) -> list[_Found]:
    """Turn every elbow by every step from where it stands; keep each pair's shortest path."""
    turns = [_turns(pair, steps_rad) for pair in pairs]
    aims = [_aims(pair, turn) for pair, turn in zip(pairs, turns, strict=True)]
    if not aims:
        return []
    paths = shortest_paths(_stacked(aims), radius_mm)
    lengths = np.where(paths.sound, paths.length_mm, np.inf)
    found, begin = [], 0
    for pair, turn, aim in zip(pairs, turns, aims, strict=True):
        best = begin + int(np.argmin(lengths[begin : begin + len(turn)]))
        if paths.sound[best]:
            row = best - begin
            way = (aim.leaving[row], paths.straight[best], aim.arriving[row])
            at = (float(turn[row, 0]), float(turn[row, 1]))
            found.append(_Found(pair, at, float(lengths[best]), way, paths.turns_rad[best]))
        begin += len(turn)
    return found


def _turns(pair: _Pair, steps_rad: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give every turn of both elbows; a straight end is not turned; (N, 2) [rad]."""
    ways = [
        at + (steps_rad if end.style.style != "straight" else np.zeros(1))
        for end, at in zip(pair.ends, pair.at_rad, strict=True)
    ]
    first, second = np.meshgrid(*ways, indexing="ij")
    return np.stack([first.ravel(), second.ravel()], axis=1)


def _aims(pair: _Pair, turns_rad: NDArray[np.float64]) -> Aims:
    a, b = pair.ends
    leaving, coming = a.aims(turns_rad[:, 0]), b.aims(turns_rad[:, 1])
    start, end = a.crossing_mm + a.stiff_mm * leaving, b.crossing_mm + b.stiff_mm * coming
    return Aims(start, leaving, end, -coming)


def _stacked(parts: Sequence[Aims]) -> Aims:
    return Aims(
        np.concatenate([part.start_mm for part in parts]),
        np.concatenate([part.leaving for part in parts]),
        np.concatenate([part.end_mm for part in parts]),
        np.concatenate([part.arriving for part in parts]),
    )


def _plan(found: _Found) -> EndsPlan:
    a, b = found.pair.ends
    styles = (a.style, b.style)
    hose = found.length_mm + sum(end.stiff_mm - end.style.cut_off.value for end in (a, b))
    both = all(style.style != "straight" for style in styles)
    turns = np.rad2deg(found.turns_rad)
    return EndsPlan(
        (a.style.style, b.style.style),
        hose,
        _clocking_deg(a, b, found.way) if both else None,
        (float(turns[0]), float(turns[1])),
        _reasons(styles, hose),
    )


def _reasons(
    styles: tuple[StyleEntry, StyleEntry], hose_mm: float
) -> tuple[tuple[str, float], ...]:
    elbows = sum(style.style != "straight" for style in styles)
    reasons = [("of hose", hose_mm)]
    if elbows:
        reasons.append(("for the elbow" if elbows == 1 else "for two elbows", elbows * _ELBOW_MM))
    if elbows == 2:
        reasons.append(("for setting the clocking", _CLOCKING_MM))
    return tuple(reasons)


def _clocking_deg(a: _End, b: _End, way: tuple[Vector, Vector, Vector]) -> float:
    """Signed clocking: counter-clockwise positive, looking along the hose from end A [deg]."""
    leaving, straight, along = way
    near = _carried(_carried(-a.axis, leaving, straight), straight, along)
    far = -b.axis
    turn = math.atan2(float(along @ np.cross(near, far)), _across(near, far, along))
    return -math.degrees(turn) + 0.0  # no minus before a nought


def _across(one: Vector, other: Vector, along: Vector) -> float:
    """Scalar product of what two vectors have square to a third."""
    return float(one @ other - (one @ along) * (other @ along))


def _carried(vector: Vector, before: Vector, after: Vector) -> Vector:
    """Turn a vector by the bend that turns one direction into the next (no twist)."""
    axis = np.cross(before, after)
    sine, cosine = float(np.linalg.norm(axis)), float(before @ after)
    if sine < 1e-12:
        return vector
    unit = axis / sine
    turned = vector * cosine + np.cross(unit, vector) * sine + unit * (unit @ vector) * (1 - cosine)
    return np.asarray(turned)


def ends_check(job: JobEntries, search: EndsSearch) -> tuple[Check, ...]:
    """Say whether the chosen ends have a sound hose; nothing where no space was entered.

    Parameters
    ----------
    job : JobEntries
    search : EndsSearch

    Returns
    -------
    tuple of Check
    """
    if job.space is None:
        return ()
    name = "ends fit the space"
    if search.lacks:
        return (Check(name, None, f"Missing: {'; '.join(search.lacks)}."),)
    chosen = tuple(end.end for end in job.ends)
    plan = next((plan for plan in search.plans if plan.styles == chosen), None)
    best = f" Best: {search.plans[0].words}." if search.plans else " No pair of ends fits."
    if plan is not None:
        return (Check(name, True, f"{plan.words}.{best if plan != search.plans[0] else ''}"),)
    words = " and ".join(map(_style_words, chosen))
    if chosen in search.refused:
        return (Check(name, False, f"No sound hose joins {words}.{best}"),)
    return (
        Check(name, None, f"Missing: cut-off and drop of {words} in the ends to be had.{best}"),
    )
