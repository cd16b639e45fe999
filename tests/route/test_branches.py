"""A line that crosses itself: its way is a guess, until points show it. Drawn pictures."""

import cv2
import numpy as np
import pytest

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.route.line import find_line
from photomeasure.route.reading import FlatOptions
from photomeasure.route.search import View
from tests.route.scenes import draw_route

SIZE = (900, 700)
TURN = np.linspace(-0.5 * np.pi, 1.5 * np.pi, 120)
WAY_PX = np.vstack(
    (
        np.column_stack((np.linspace(120, 450, 60), np.full(60, 560.0))),
        np.column_stack((450 + 150 * np.cos(TURN), 410 - 150 * np.sin(TURN))),
        np.column_stack((np.linspace(450, 780, 60), np.full(60, 560.0))),
    )
)


def _view(points_px: tuple[tuple[float, float], ...] = ()) -> View:
    """Blue tape on a grey floor: straight, once round, straight on."""
    colour = np.full((SIZE[1], SIZE[0], 3), (140, 145, 150), np.uint8)
    cv2.polylines(colour, [np.round(WAY_PX).astype(np.int32)], False, (190, 110, 40), 18)
    grey = np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY), np.uint8)
    scene = draw_route(np.random.default_rng(6), SIZE).scene
    photo = Photo("drawn.jpg", grey, colour, "drawn", None, "drawn")
    return View(photo, scene, (), FlatOptions(points_px=points_px))


def test_a_line_that_crosses_itself_is_refused() -> None:
    with pytest.raises(NoLineError, match="branches, or crosses itself"):
        find_line(_view())
    with pytest.raises(NoLineError, match="branches, or crosses itself"):
        find_line(_view(((130.0, 560.0), (770.0, 560.0))))  # both ends show no way


def test_points_all_along_show_its_way() -> None:
    rough = find_line(_view(tuple((float(x), float(y)) for x, y in WAY_PX[5:-5:12])))
    for place in WAY_PX[10:-10:10]:
        assert np.min(np.hypot(*(rough.path_px - place).T)) < 9.0
