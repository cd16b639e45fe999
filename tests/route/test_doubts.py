"""What is refused rather than measured short; and photos of one line joined. Drawn pictures."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure.answers.route import _joined
from photomeasure.errors import NoLineError
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.flat import read_flat
from photomeasure.route.reading import FlatOptions, RouteReading
from tests.route.pictures import Look, photo_of
from tests.route.scenes import draw_route, found_piece, known_scene

SIZE = (2000, 1500)


def _drawn(seed: int, look: Look, options: FlatOptions, hidden_widths: float = 0.0) -> RouteReading:
    """Read a drawn line, a stretch of it painted over with the floor's colour."""
    rng = np.random.default_rng(seed)
    route = draw_route(rng, SIZE)
    if look.is_round:
        route = replace(route, width_mm=19.0)
    photo = photo_of(route, look, rng, SIZE)
    if hidden_widths:
        middle = route.arcs.points(np.array([0.5 * route.length_mm]))
        px = route.scene.px(np.array([[*middle[0], 0.0], [*middle[0] + (route.width_mm, 0), 0.0]]))
        reach = round(0.5 * hidden_widths * float(np.hypot(*(px[1] - px[0]))))
        colour = photo.colour.copy()
        cv2.circle(colour, tuple(np.round(px[0]).astype(int).tolist()), reach, (90, 95, 100), -1)
        photo = replace(photo, colour=colour, grey=cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY))
    scene = known_scene(route.scene, route.sheets, rng, corner_u_px=0.08)
    pieces = tuple(found_piece(route, sheet, 0.9) for sheet in route.sheets)
    return read_flat(photo, scene, pieces, options)


def test_a_line_hidden_for_long_is_refused_not_measured_short() -> None:
    look = Look("blue", "concrete")
    whole = _drawn(6, look, FlatOptions())
    assert whole.length.value > 300
    with pytest.raises(NoLineError):
        _drawn(6, look, FlatOptions(), hidden_widths=9.0)


def test_a_hose_as_dark_as_the_floor_is_refused() -> None:
    with pytest.raises(NoLineError, match=r"hardly differs|Several lines|No line"):
        _drawn(11, Look("black", "dark", is_round=True), FlatOptions(line="hose"))


def _reading(like: RouteReading, length_mm: float, parts: dict[Source, float]) -> RouteReading:
    return replace(like, length=Quantity.normal(measured(length_mm, parts), "mm"))


def test_joined_photos_share_what_they_share() -> None:
    """Two readings of u = 5 of which 4 is common: sqrt(4 ** 2 + 3 ** 2 / 2), by hand."""
    like = _drawn(6, Look("blue", "concrete"), FlatOptions())
    shared = Source("print above the floor", "", "photo", "both")
    own = [Source("line start", "", "photo", key) for key in ("one", "other")]
    one, other = (
        _reading(like, length, {shared: 4.0, mine: 3.0})
        for length, mine in zip((1000.0, 1002.0), own, strict=True)
    )
    joined = _joined([one, other])
    assert joined.length.value == pytest.approx(1001.0)
    assert joined.length.u == pytest.approx(np.sqrt(16 + 4.5))
    assert not any("disagree" in text for text in joined.warnings)
    far = _reading(like, 1020.0, {shared: 4.0, own[1]: 3.0})
    assert any("disagree" in text for text in _joined([one, far]).warnings)
