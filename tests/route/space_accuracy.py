"""How accurate routes in space are: over rendered sets of photographs, or over projected corners.

python -m tests.route.space_accuracy sets DIR...      rendered sets (see space_render)
python -m tests.route.space_accuracy projected FIRST COUNT
"""

import json
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.route_space import route_in_space, shown_angle
from photomeasure.answers.wire import shown
from photomeasure.errors import MeasuringError
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity
from photomeasure.route.reading import Bend
from photomeasure.scene import BarReading
from tests.route.space_projected import outcome
from tests.route.space_scenes import draw_space_scene
from tests.route.space_sides import drawn_sides

NAMES = ("length", "tightest_radius", "clocking", "turning")
LEAST_FOR_BAR = 4  # photos
TIGHT_DEG, TIGHT_MM = 45.0, 150.0  # bends so long and tight have the bar of 10 %, others 20 %
TIGHT_SHARE, OTHER_SHARE = 0.1, 0.2
SAME_BEND_MM = 30.0


@dataclass(slots=True)
class Row:
    """One scene: value, uncertainty and truth of each quantity; bends as error over radius, bar."""

    name: str
    photos: int
    said: str
    seconds: float = 0.0
    truth: dict[str, float | None] = field(default_factory=dict)
    found: dict[str, Quantity | None] = field(default_factory=dict)
    bends: tuple[tuple[float, float], ...] = ()
    tightest_share: float = TIGHT_SHARE


def _share(bend: dict[str, float]) -> float:
    """Bar of a true bend's radius."""
    is_tight = bend["angle"] >= TIGHT_DEG and bend["radius"] <= TIGHT_MM
    return TIGHT_SHARE if is_tight else OTHER_SHARE


def _bends(found: Sequence[Bend], truth: dict[str, Any]) -> tuple[tuple[float, float], ...]:
    """Relative error of each true bend's radius that was told, and its bar."""
    pairs = []
    for bend in truth["bends"]:
        near = [
            one.radius.value / bend["radius"] - 1
            for one in found
            if one.at is not None
            and one.radius is not None
            and abs(one.at.value - bend["at"]) < SAME_BEND_MM
        ]
        pairs += [(error, _share(bend)) for error in near[:1]]
    return tuple(pairs)


def _tightest_share(truth: dict[str, Any]) -> float:
    """Bar of the tightest radius: its own bend's."""
    bends = truth["bends"]
    return _share(min(bends, key=lambda bend: bend["radius"])) if bends else OTHER_SHARE


def of_set(folder: Path) -> Row:
    """Measure one rendered set; told are the bars' readings, not the hose's diameter."""
    scene: dict[str, Any] = json.loads((folder / "truth.json").read_text("utf-8"))
    photos = sorted(folder.glob("photo*.jpg"))
    bars = {kind: BarReading(*reading) for kind, reading in scene["bars"].items()}
    truth = {name: scene["truth"][name] for name in NAMES}
    began = time.process_time()
    try:
        answer = route_in_space([partial(load_photo, p) for p in photos], PhotoOptions(bars))
    except MeasuringError as error:
        return Row(folder.name, len(photos), f"refused: {error.code}", 0.0, truth)
    found = {name: getattr(answer, name) for name in NAMES}
    said = "; ".join(text.partition(".")[0] for text in answer.warnings)
    seconds, whole = time.process_time() - began, scene["truth"]
    return Row(
        folder.name, len(photos), said, seconds, truth, found,
        _bends(answer.bends, whole), _tightest_share(whole),
    )  # fmt: skip


def of_seed(seed: int) -> Row | None:
    """Measure one scene of projected corners; None where an outer band is out of sight."""
    scene = draw_space_scene(seed, photos=4 + seed % 4)
    made = outcome(scene, drawn_sides)
    if made is None:
        return None
    own = made.measured
    found = {
        "length": shown(own.length), "tightest_radius": shown(own.tightest),
        "clocking": shown(own.clocking), "turning": shown_angle(own.turning),
    }  # fmt: skip
    bends = [Bend(shown(one.at), shown(one.radius), shown(one.angle)) for one in own.bends]
    return Row(
        str(seed), made.photos, "", 0.0, made.truth, found,
        _bends(bends, made.truth), _tightest_share(made.truth),
    )  # fmt: skip


def _line(name: str, rows: Sequence[Row]) -> str:
    both = [
        (one.found[name], one.truth[name])
        for one in rows
        if one.found.get(name) is not None and one.truth[name] is not None
    ]
    if not both:
        return f"  {name}: none"
    errors = np.array([q.value - t for q, t in both if q is not None and t is not None])
    us = np.array([q.u for q, _ in both if q is not None])
    z = errors / us
    return (
        f"  {name}: {len(errors)} scenes, median |error| {np.median(np.abs(errors)):.2f}, 95 % "
        f"{np.percentile(np.abs(errors), 95):.2f}, bias {errors.mean():+.2f}, median u "
        f"{np.median(us):.2f}, bands hold {np.mean(np.abs(z) < 1.96):.0%}, mean squared "
        f"normalised error {np.mean(z**2):.2f}"
    )


def table(rows: Sequence[Row]) -> str:
    """Put the figures together and count what lies beyond the bars."""
    answered = [row for row in rows if row.found]
    lines = [f"{len(rows)} scenes, {len(rows) - len(answered)} refused"]
    lines += [_line(name, answered) for name in NAMES]
    many = [row for row in answered if row.photos >= LEAST_FOR_BAR]
    lines += _beyond(many)
    if any(row.seconds for row in rows):
        lines.append(f"  processor time: median {np.median([r.seconds for r in answered]):.1f} s")
    return "\n".join(lines)


def _beyond(rows: Sequence[Row]) -> list[str]:
    """What lies beyond the bars."""
    lines = []
    for name, share, constant in (
        ("length", 0.004, 2.0),
        ("tightest_radius", None, 0.0),
        ("clocking", 0.0, 4.0),
    ):
        both = [(row.found[name], row.truth[name], row.tightest_share) for row in rows]
        told = [(q.value - t, t, own) for q, t, own in both if q is not None and t is not None]
        beyond = sum(
            abs(error) > (own if share is None else share) * abs(t) + constant
            for error, t, own in told
        )
        lines.append(f"  beyond the bar, {name}: {beyond} of {len(told)}")
    for bar in (TIGHT_SHARE, OTHER_SHARE):
        errors = [abs(error) for row in rows for error, own in row.bends if own == bar]
        beyond = sum(error > bar for error in errors)
        lines.append(f"  bends with a bar of {bar:.0%}: {len(errors)} told, beyond it {beyond}")
    return lines


def main(arguments: Sequence[str]) -> None:
    """Run and print."""
    cv2.setNumThreads(1)
    if arguments[0] == "sets":
        folders = [Path(one) for one in arguments[1:]]
        rows: list[Row] = []
        for folder in folders:
            rows.append(of_set(folder))
            print(_told(rows[-1]), flush=True)
    else:
        first, count = int(arguments[1]), int(arguments[2])
        made = [of_seed(seed) for seed in range(first, first + count)]
        rows = [row for row in made if row is not None]
    print(table(rows))


def _told(row: Row) -> str:
    parts = [
        f"{name} {q.value - (row.truth[name] or 0.0):+.2f} (u {q.u:.2f})"
        for name, q in row.found.items()
        if q is not None and row.truth[name] is not None
    ]
    return f"{row.name} {row.photos} photos: {', '.join(parts)} {row.said}"


if __name__ == "__main__":
    main(sys.argv[1:])
