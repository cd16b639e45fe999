"""The common axis of several photos, from projected turns with known truth."""

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from photomeasure.camera import Camera
from photomeasure.scene import BarReading, Scene, page_scale
from photomeasure.thread.axis import Axis, contour_points
from photomeasure.thread.look import Seen
from photomeasure.thread.rest import Features
from photomeasure.thread.together import settled, shown, sized_on
from photomeasure.thread.values import Causes
from photomeasure.thread.views import views_of
from tests.scenes import A4, looking_at

PITCH_MM, RADIUS_MM = 1.5, 8.0
TRUE = Axis(x_mm=3.0, y_mm=-2.0, height_mm=RADIUS_MM + 0.25, heading_rad=0.4, rise_rad=0.02)
CAMERA = Camera(3000.0, 2015.5, 1511.5, 0.0, 0.0)


def _scene(tilt_deg: float, heading_rad: float) -> Scene:
    pose = looking_at(TRUE.point_mm, 220.0, np.radians(tilt_deg), heading_rad, 0.3)
    none = np.zeros((0, 2))
    return Scene(CAMERA, pose, none, none, page_scale(A4, BarReading(100.0, 100.0)))


def _seen(scene: Scene, *, is_turned: bool = False, out_mm: tuple[float, float] = (0, 0)) -> Seen:
    """Turns of both sides as seen; each side may be traced too far out."""
    numbers = np.arange(-4, 5)
    along = np.concatenate([numbers, numbers]) * PITCH_MM
    signs = np.repeat([1.0, -1.0], len(numbers))
    off = signs * RADIUS_MM + np.repeat([out_mm[0], -out_mm[1]], len(numbers))
    px = scene.px(contour_points(scene, TRUE, along, off))
    way = -1 if is_turned else 1
    axis = Axis(3.1, -2.1, RADIUS_MM, 0.41 + np.pi * is_turned)
    doubts = tuple(abs(one) for one in out_mm)[::way]
    features = Features(
        px,
        way * signs,
        way * np.concatenate([numbers, numbers]).astype(float),
        (px[:0], px[:0]),
        px,
        way * signs,
        None,
        cast("tuple[float, float]", doubts),
    )
    return cast(
        "Seen",
        SimpleNamespace(
            scene=scene,
            features=features,
            axis=axis,
            posture="on thread",
            chances={"on thread": 1.0},
            gravity={"on thread": 1.0},
            doubts_mm=doubts,
            bent_rise_rad=None,
        ),
    )


@pytest.mark.parametrize("is_turned", [False, True])
def test_two_sights_across_the_axis_find_height_and_rise(is_turned: bool) -> None:
    across = TRUE.heading_rad + np.pi / 2
    pair = [
        _seen(_scene(18.0, across)),
        _seen(_scene(18.0, across + np.pi), is_turned=is_turned),
    ]
    views = views_of(pair)
    assert views[1].is_turned == is_turned
    found = settled(views, Causes())
    said = np.array([RADIUS_MM, 0.0])
    truth = np.array([TRUE.height_mm, TRUE.rise_rad])
    height = found.frame.standing(views[0], TRUE)[0]
    assert abs(found.standing[0] - height) < 0.35 * abs(said[0] - height)
    assert abs(found.standing[1] - truth[1]) < 0.6 * abs(said[1] - truth[1])


def test_a_faint_side_is_outvoted_by_three_clear_ones() -> None:
    across = TRUE.heading_rad + np.pi / 2
    faint = _seen(_scene(15.0, across), out_mm=(-0.3, 0.0))
    clear = _seen(_scene(15.0, across + np.pi))
    found = settled(views_of([faint, clear]), Causes())
    scenes = [faint.scene, clear.scene]
    sized = sized_on(found.views, scenes, found.frame, found.standing, Causes())
    alone = [2 * row[:2].mean() for row in shown(found.views, found.frame, sized)]
    together = 2 * found.cone(sized)[0]
    assert abs(alone[0] - 2 * RADIUS_MM) > 0.2
    assert abs(together - 2 * RADIUS_MM) < 0.08
