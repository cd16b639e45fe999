"""Edges of one photo that the other's contradict, from projected turns with known truth."""

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from photomeasure.scene import Scene
from photomeasure.thread.astray import settled_without_astray
from photomeasure.thread.look import Seen
from photomeasure.thread.rest import Features
from photomeasure.thread.together import Together, settled, sized_on
from photomeasure.thread.values import Causes
from photomeasure.thread.views import views_of
from tests.thread.test_together import RADIUS_MM, TRUE, _scene, _seen

PIXEL_MM = 0.07


@dataclass(frozen=True, slots=True, eq=False)
class _Shown:
    """What a common axis needs of `Seen`."""

    scene: Scene
    features: Features
    axis: object
    outline: object
    posture: str = "on thread"
    bent_rise_rad: float | None = None

    @property
    def doubts_mm(self) -> tuple[float, float]:
        return self.features.doubts_mm

    @property
    def chances(self) -> dict[str, float]:
        return {"on thread": 1.0}

    gravity = chances


def _photo(turn_rad: float, out_mm: tuple[float, float], doubts_px: tuple[float, float]) -> Seen:
    across = TRUE.heading_rad + np.pi / 2 + turn_rad
    seen = _seen(_scene(15.0, across), out_mm=out_mm)
    left, right = (one * PIXEL_MM for one in doubts_px)
    features = replace(seen.features, doubts_mm=(left, right))
    outline = SimpleNamespace(pixel_mm=PIXEL_MM)
    return cast("Seen", _Shown(seen.scene, features, seen.axis, outline))


def _diameter(found: Together) -> float:
    scenes = [view.seen.scene for view in found.views]
    return 2 * found.cone(sized_on(found.views, scenes, found.frame, found.standing, Causes()))[0]


@pytest.mark.parametrize("off_mm", [-0.6, 0.5])
def test_a_faint_edge_that_lies_far_off_is_outvoted(off_mm: float) -> None:
    pair = [_photo(0.0, (off_mm, 0.0), (0.6, 0.2)), _photo(np.pi, (0.0, 0.0), (0.2, 0.2))]
    plain = settled(views_of(pair), Causes())
    found = settled_without_astray(plain, Causes())
    assert abs(_diameter(plain) - 2 * RADIUS_MM) > 0.05
    assert abs(_diameter(found) - 2 * RADIUS_MM) < 0.03
    doubts = np.array([view.seen.doubts_mm for view in found.views])
    assert doubts[0, 0] == pytest.approx(abs(off_mm), abs=0.1)
    assert np.all(doubts.ravel()[1:] < 0.1)


def test_two_faint_edges_that_contradict_are_both_doubted() -> None:
    pair = [_photo(0.0, (-0.6, 0.0), (0.6, 0.2)), _photo(np.pi, (0.0, 0.0), (0.6, 0.2))]
    found = settled_without_astray(settled(views_of(pair), Causes()), Causes())
    doubts = [view.seen.doubts_mm[0] for view in found.views]
    assert min(doubts) > 0.4


def test_edges_that_agree_keep_their_doubt() -> None:
    pair = [_photo(0.0, (0.01, -0.01), (0.2, 0.2)), _photo(np.pi, (0.0, 0.02), (0.2, 0.2))]
    plain = settled(views_of(pair), Causes())
    assert settled_without_astray(plain, Causes()) is plain
