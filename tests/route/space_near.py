"""Marked things beside a drawn hose: where a person would click, and how far they truly are.

`python -m tests.route.space_near FIRST COUNT` prints how far off the distances are.
"""

import sys

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.near import Hose, clearances
from photomeasure.route.space.reading import Mark, SpaceSaid
from photomeasure.route.space.vary import Variation
from tests.route.space_projected import solved_scene
from tests.route.space_scenes import SpaceScene, draw_space_scene, px_of
from tests.route.space_sides import drawn_sides

Floats = NDArray[np.float64]

MARK_BAR_MM = 4.0  # accuracy bar of a least distance
CLICK_PX = 3.0  # how well a person clicks in a photo of 12 MP; own estimate
NEAREST_MM, FARTHEST_MM = 3.0, 150.0
LEAST_VIEWS = 2


def hose_of(scene: SpaceScene) -> tuple[Hose, list[str]] | None:
    """Solve a scene of projected corners; None where an outer band is out of sight."""
    made = solved_scene(scene, drawn_sides)
    if made is None:
        return None
    solved, things, course, shots, measured = made
    hose = Hose(solved, shots, Variation(solved, things, course), measured.line_od)
    return hose, [shot.name for shot in shots]


def marked(scene: SpaceScene, rng: np.random.Generator) -> tuple[list[Mark], dict[str, float]]:
    """Two things near the hose, a spot and an edge of two spots; marks and true distances."""
    first, last = scene.ends
    axis = scene.curve.points[first : last + 1]
    marks: list[Mark] = []
    truth: dict[str, float] = {}
    for name, count in (("bolt", 1), ("edge", 2)):
        index = int(rng.uniform(0.1, 0.9) * len(axis))
        out = rng.standard_normal(3)
        out /= np.linalg.norm(out)
        away = scene.radius_mm + rng.uniform(NEAREST_MM, FARTHEST_MM)
        spots = [axis[index] + away * out]
        if count == 2:
            spots.append(spots[0] + rng.uniform(40, 120) * _unit(rng))
        truth[name] = _least(axis, np.array(spots)) - scene.radius_mm
        marks += _clicks(scene, name, np.array(spots), rng)
    return marks, truth


def _unit(rng: np.random.Generator) -> Floats:
    way = rng.standard_normal(3)
    return np.asarray(way / np.linalg.norm(way))


def _least(axis: Floats, spots: Floats) -> float:
    """Least distance by close points of the axis and of the line between the spots."""
    line = spots[0] + np.linspace(0, 1, 400)[:, None] * (spots[-1] - spots[0])
    return float(min(np.linalg.norm(axis - one, axis=1).min() for one in line))


def _clicks(scene: SpaceScene, name: str, spots: Floats, rng: np.random.Generator) -> list[Mark]:
    """Clicks in two or three of the photos that show all spots."""
    shown = []
    for number, camera in enumerate(scene.cameras):
        px = px_of(camera, spots)
        if np.all((px > 0) & (px < np.array(camera.size_px))):
            shown.append((number, px))
    chosen = rng.permutation(len(shown))[: int(rng.integers(LEAST_VIEWS, 4))]
    marks = []
    for k in chosen:
        number, px = shown[k]
        for at in px + CLICK_PX * rng.standard_normal(px.shape):
            marks.append(Mark(name, f"photo{number}", (float(at[0]), float(at[1]))))
    return marks


def main(first: int, count: int) -> None:
    """Print error, uncertainty and coverage over scenes."""
    cv2.setNumThreads(1)
    rows = []
    said = 0
    for seed in range(first, first + count):
        scene = draw_space_scene(seed, photos=4 + seed % 4)
        made = hose_of(scene)
        if made is None:
            continue
        marks, truth = marked(scene, np.random.default_rng(seed + 77))
        found, _ = clearances(*made, SpaceSaid(marks=tuple(marks)))
        said += len(truth) - len(found)
        rows += [(one.distance.value - truth[one.name], one.distance.u) for one in found]
    error, u = np.array(rows).T
    size, z = np.abs(error), error / u
    print(f"{len(rows)} distances, {said} not told: median |error| {np.median(size):.2f} mm,")
    print(f"95 % {np.percentile(size, 95):.2f} mm, beyond {MARK_BAR_MM:g} mm", end=" ")
    print(f"{np.sum(size > MARK_BAR_MM)}, median u {np.median(u):.2f} mm, bands hold", end=" ")
    print(f"{np.mean(np.abs(z) < 1.96):.0%}, mean squared normalised error {np.mean(z**2):.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
