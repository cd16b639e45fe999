"""How accurate the reading of flat routes is over rendered photographs with known truth.

`python -m tests.route.accuracy DIR [DIR ...]` measures every `route_*.jpg` there.
"""

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.errors import MeasuringError
from photomeasure.photo import load_photo
from photomeasure.route.reading import FlatOptions, LineKind
from photomeasure.scene import BarReading

__all__ = ["RouteOutcome", "route_outcome", "route_table"]

LEAST_CARDS = 3
SHARE, CONSTANT_MM = {"spread": 0.003, "one place": 0.01}, {"spread": 0.5, "one place": 1.0}
TIGHT_DEG, TIGHT_MM = 45.0, 150.0  # bends that are held to the tighter of the two bars
RADIUS_BARS = (0.10, 0.20)
NEAR_MM = 30.0  # a bend that is so near to a true one is that


@dataclass(frozen=True, slots=True)
class RouteOutcome:
    """One scene: what was said, and how far off the figures are."""

    name: str
    line: str
    layout: str  # "spread": three cards or two sheets at least; "one place": one sheet
    said: str  # measured, or refused
    length_mm: float
    error_mm: float | None = None
    u_mm: float | None = None
    is_inside: bool = True
    turning_error_deg: float | None = None
    turning_u_deg: float | None = None
    tightest_error: float | None = None
    tightest_u: float | None = None
    is_warned: bool = False
    tight_bends: tuple[float, ...] = ()  # relative errors of their radii
    other_bends: tuple[float, ...] = ()

    @property
    def bar_mm(self) -> float:
        """Largest error that is meant for such a scene."""
        return SHARE[self.layout] * self.length_mm + CONSTANT_MM[self.layout]


def route_outcome(picture: Path) -> RouteOutcome:
    """Measure one rendered photograph and hold the answer against its truth.

    Told are the bars' readings and what kind of line it is; its diameter is not.
    """
    scene: dict[str, Any] = json.loads(picture.with_suffix(".json").read_text("utf-8"))
    truth, bars, laid = scene["truth"], scene["print"]["bars"], scene["print"]["laid"]
    names = [piece["name"] for piece in laid]
    is_spread = len(names) >= (2 if names[0] == "sheet" else LEAST_CARDS)
    layout = "spread" if is_spread else "one place"
    kind: LineKind = "tape" if truth["line"] == "hazard" else truth["line"]
    options = PhotoOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])})
    known = (picture.stem, truth["line"], layout)
    try:
        answer = route([load_photo(picture)], options, FlatOptions(line=kind))
    except MeasuringError as error:
        return RouteOutcome(*known, f"refused: {error.code}", truth["length"])
    return _measured(known, answer, truth)


def _measured(
    known: tuple[str, str, str], answer: RouteAnswer, truth: dict[str, Any]
) -> RouteOutcome:
    length, turning, tightest = answer.length, answer.turning, answer.tightest_radius
    if length is None:
        return RouteOutcome(*known, "refused: no length", truth["length"])
    radii = [bend["radius"] for bend in truth["bends"]]
    is_bent = bool(radii) and tightest is not None
    return RouteOutcome(
        *known,
        "measured",
        truth["length"],
        length.value - truth["length"],
        length.u,
        length.low <= truth["length"] <= length.high,
        turning.value - truth["turning"] if turning else None,
        turning.u if turning else None,
        tightest.value / min(radii) - 1 if is_bent and tightest else None,
        tightest.u / min(radii) if is_bent and tightest else None,
        any("one place" in text for text in answer.warnings),
        *_bend_errors(answer, truth),
    )


def _bend_errors(
    answer: RouteAnswer, truth: dict[str, Any]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Relative errors of radii, of tight bends and of others; either end may be the start."""
    turns = []
    for is_turned in (False, True):
        errors: tuple[list[float], list[float]] = ([], [])
        for bend in truth["bends"]:
            at = truth["length"] - bend["at"] if is_turned else bend["at"]
            near = [
                one.radius.value / bend["radius"] - 1
                for one in answer.bends
                if one.radius and one.at and abs(one.at.value - at) < NEAR_MM
            ]
            is_tight = bend["angle"] >= TIGHT_DEG and bend["radius"] <= TIGHT_MM
            errors[not is_tight].extend(near[:1])
        turns.append(errors)
    best = max(turns, key=lambda errors: len(errors[0]) + len(errors[1]))
    return tuple(best[0]), tuple(best[1])


def _figures(name: str, errors: Sequence[float], us: Sequence[float], unit: str) -> str:
    size, z = np.abs(errors), np.array(errors) / np.array(us)
    return (
        f"  {name}: median |error| {np.median(size):.2f} {unit}, 95 % "
        f"{np.percentile(size, 95):.2f} {unit}, median u {np.median(us):.2f} {unit}, "
        f"95 % bands hold {np.mean(np.abs(z) < 1.96):.0%}, "
        f"mean squared normalised error {np.mean(z**2):.2f}"
    )


def _lines(outcomes: Sequence[RouteOutcome], title: str) -> list[str]:
    """Give the table of one kind of layout."""
    measured = [one for one in outcomes if one.error_mm is not None]
    refused = len(outcomes) - len(measured)
    rows = [f"{title}: {len(outcomes)} scenes, refused {refused} ({refused / len(outcomes):.0%})"]
    if not measured:
        return rows
    errors, us = [one.error_mm or 0.0 for one in measured], [one.u_mm or 1.0 for one in measured]
    rows.append(_figures("length", errors, us, "mm"))
    beyond = sum(abs(one.error_mm or 0.0) > one.bar_mm for one in measured)
    share, constant = SHARE[measured[0].layout], CONSTANT_MM[measured[0].layout]
    inside = np.mean([one.is_inside for one in measured])
    rows.append(
        f"  beyond {share:.1%} + {constant:g} mm: {beyond} of {len(measured)} "
        f"(allowed {len(measured) // 20}); truth between low and high {inside:.0%}"
    )
    warned = sum(one.is_warned for one in measured)
    rows.append(f"  warned that the reference lies in one place: {warned}")
    turned = [one for one in measured if one.turning_u_deg]
    if turned:
        off = [one.turning_error_deg or 0.0 for one in turned]
        rows.append(_figures("turning", off, [one.turning_u_deg or 1.0 for one in turned], "deg"))
    bent = [one for one in measured if one.tightest_u]
    for bar, name, own in zip(
        RADIUS_BARS,
        (f"radius, bends of {TIGHT_DEG:g} deg or more within R {TIGHT_MM:g} mm", "other bends"),
        ([e for one in measured for e in one.tight_bends],
         [e for one in measured for e in one.other_bends]),
        strict=True,
    ):  # fmt: skip
        beyond = sum(abs(error) > bar for error in own)
        rows.append(f"  {name}: {len(own)} found, beyond {bar:.0%}: {beyond}")
    if bent:
        off = [100 * (one.tightest_error or 0.0) for one in bent]
        us = [100 * (one.tightest_u or 1.0) for one in bent]
        rows.append(_figures("tightest radius", off, us, "%"))
    return rows


def route_table(outcomes: Sequence[RouteOutcome]) -> str:
    """Put the figures together, each layout by itself, then each kind of line.

    Parameters
    ----------
    outcomes : sequence of RouteOutcome

    Returns
    -------
    str
    """
    rows: list[str] = []
    for layout in ("spread", "one place"):
        own = [one for one in outcomes if one.layout == layout]
        rows += _lines(own, layout) if own else []
    for line in sorted({one.line for one in outcomes}):
        own = [one for one in outcomes if one.line == line]
        good = [one for one in own if one.error_mm is not None]
        worst = max((abs(one.error_mm or 0.0) / one.bar_mm for one in good), default=0.0)
        held = sum(one.is_inside for one in good)
        rows.append(f"{line}: {len(own)} scenes, {len(own) - len(good)} refused, bands hold "
                    f"{held} of {len(good)}, worst error {worst:.2f} of its bar")  # fmt: skip
    return "\n".join(rows)


def main() -> None:
    """Measure what the command line names and print the table."""
    pictures = [p for name in sys.argv[1:] for p in sorted(Path(name).glob("route_*.jpg"))]
    outcomes = []
    for picture in pictures:
        outcomes.append(route_outcome(picture))
        one = outcomes[-1]
        error = "" if one.error_mm is None else f" {one.error_mm:+.2f} mm, u {one.u_mm:.2f}"
        print(f"{one.name} {one.line} {one.length_mm:.0f} mm: {one.said}{error}", flush=True)
    print(route_table(outcomes))


if __name__ == "__main__":
    main()
