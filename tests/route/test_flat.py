"""A route read from drawn pictures: length against truth, and every refusal.

The pictures are drawn (tests/route/pictures.py), not photographs and not rendered by light.
"""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.route.arcs import Arcs
from photomeasure.route.flat import read_flat
from photomeasure.route.line import find_line
from photomeasure.route.reading import FlatOptions, RouteReading
from photomeasure.route.search import View
from tests.route.pictures import FLOORS_BGR, TAPES_BGR, Look, photo_of
from tests.route.scenes import DrawnRoute, FlatScene, draw_route, found_piece, known_scene

SIZE = (2000, 1500)
SCENES = 10
BLUR_PX = 0.9


def _photo_and_scene(
    route: DrawnRoute, look: Look, rng: np.random.Generator
) -> tuple[Photo, FlatScene]:
    photo = photo_of(route, look, rng, SIZE)
    return photo, known_scene(route.scene, route.sheets, rng, corner_u_px=0.08)


def _read(
    route: DrawnRoute, photo: Photo, scene: FlatScene, options: FlatOptions | None = None
) -> RouteReading:
    pieces = tuple(found_piece(route, sheet, BLUR_PX) for sheet in route.sheets)
    return read_flat(photo, scene, pieces, options or FlatOptions(hose_od_mm=16.0))


@pytest.fixture(scope="module")
def readings() -> list[tuple[DrawnRoute, RouteReading]]:
    done = []
    for seed in range(1000, 1000 + SCENES):
        rng = np.random.default_rng(seed)
        route = draw_route(rng, SIZE)
        look = Look(rng.choice(list(TAPES_BGR)), rng.choice(list(FLOORS_BGR)))
        done.append((route, _read(route, *_photo_and_scene(route, look, rng))))
    return done


def test_length_error_keeps_the_bar(readings: list[tuple[DrawnRoute, RouteReading]]) -> None:
    """Within 0.4 % + 0.5 mm, all of them: the pictures have a quarter of a phone's pixels."""
    for route, reading in readings:
        limit = 0.004 * route.length_mm + 0.5
        assert reading.length.value == pytest.approx(route.length_mm, abs=limit)


def test_length_bands_are_honest(readings: list[tuple[DrawnRoute, RouteReading]]) -> None:
    """Of 10 bands of 95 % three or more miss once in ninety runs; chi-square 10, 0.1 to 99.9 %."""
    z = np.array([(r.length.value - route.length_mm) / r.length.u for route, r in readings])
    assert np.sum(np.abs(z) > 1.96) <= 2
    assert 0.15 < np.mean(z**2) < 2.96


def test_bends_are_those_of_the_line(readings: list[tuple[DrawnRoute, RouteReading]]) -> None:
    """Sharp bends (60 degrees or more, well above the threshold) are all found and no others."""
    for route, reading in readings:
        angle = np.rad2deg(np.abs(route.arcs.curvature_per_mm) * np.diff(route.arcs.knots_mm))
        assert np.sum(angle > 60) <= len(reading.bends) <= np.sum(angle > 0)


def test_width_of_the_tape(readings: list[tuple[DrawnRoute, RouteReading]]) -> None:
    """Tone, blur and JPEG may shift an edge by half a pixel (1 mm here)."""
    for route, reading in readings:
        assert reading.line_width.value == pytest.approx(route.width_mm, abs=1.0)


def test_trace_lies_on_the_line(readings: list[tuple[DrawnRoute, RouteReading]]) -> None:
    for route, reading in readings[:5]:
        at = np.linspace(0.0, route.length_mm, 400)
        true = np.column_stack((route.arcs.points(at), np.zeros(400)))
        px = route.scene.px(true)
        for point in reading.trace.centre_px[::40]:
            assert np.min(np.hypot(*(px - point).T)) < 3.0
        ends = reading.trace.ends_px
        gaps = np.hypot(*(ends[:, None] - px[[0, -1]][None]).transpose(2, 0, 1))
        assert max(np.min(gaps, axis=0)) < 2.0


@cache
def _one(
    seed: int, sheets: int = 2, look: Look | None = None
) -> tuple[DrawnRoute, Photo, FlatScene]:
    rng = np.random.default_rng(seed)
    route = draw_route(rng, SIZE, sheets)
    return route, *_photo_and_scene(route, look or Look("blue", "concrete"), rng)


@cache
def _first(seed: int) -> RouteReading:
    """Give the reading of such a route, read once."""
    return _read(*_one(seed))


def test_one_sheet_gets_a_warning_and_two_do_not() -> None:
    lone, both = _read(*_one(3, sheets=1)), _first(6)
    assert any("One reference in one place" in w for w in lone.warnings)
    assert not any("One reference" in w for w in both.warnings)


def test_a_hose_is_measured_along_its_axis() -> None:
    """A tube of 19 mm lies on the floor: its axis is 9.5 mm up, found from its visible width."""
    rng = np.random.default_rng(11)
    route = replace(draw_route(rng, SIZE), width_mm=19.0)
    look = Look("red", "concrete", is_round=True)
    photo, scene = _photo_and_scene(route, look, rng)
    reading = _read(route, photo, scene, FlatOptions(line="hose"))
    assert reading.length.value == pytest.approx(route.length_mm, abs=0.005 * route.length_mm + 1)
    assert reading.points_mm[0, 2] == pytest.approx(9.5, abs=0.6)
    known = _read(route, photo, scene, FlatOptions(line="hose", line_od_mm=19.0))
    assert known.length.value == pytest.approx(route.length_mm, abs=0.005 * route.length_mm + 1)
    as_tape = _read(route, photo, scene, FlatOptions(line="tape"))
    assert as_tape.length.value > known.length.value  # what is nearer looks longer


def test_first_point_says_where_the_start_is() -> None:
    route, photo, scene = _one(6)
    reading = _first(6)
    ends = reading.trace.ends_px
    turned = _read(route, photo, scene, FlatOptions(points_px=(tuple(ends[1]), tuple(ends[0]))))
    assert turned.trace.ends_px[0] == pytest.approx(ends[1], abs=1.0)
    assert turned.length.value == pytest.approx(reading.length.value, abs=0.2)


def _painted(photo: Photo, colour: np.ndarray) -> Photo:
    grey = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY)
    return replace(photo, colour=colour, grey=np.asarray(grey, np.uint8))


def test_a_patch_over_the_line_is_bridged_and_said() -> None:
    route, photo, scene = _one(6)
    reading = _first(6)
    colour = photo.colour.copy()
    middle = reading.trace.centre_px[len(reading.trace.centre_px) // 2]
    reach = 1.5 * reading.line_width.value / 2 * 1.3
    cv2.circle(colour, (round(middle[0]), round(middle[1])), round(reach), (90, 95, 100), -1)
    hidden = _read(route, _painted(photo, colour), scene)
    assert hidden.length.value == pytest.approx(reading.length.value, abs=0.5)
    assert len(hidden.trace.ignored_px) >= 1


def test_no_line_is_refused() -> None:
    route, photo, scene = _one(7)
    bare = replace(route, arcs=Arcs(route.arcs.start_mm, 0.0, np.array([0.0, 1e-3]), np.zeros(1)))
    photo, scene = _photo_and_scene(bare, Look("blue", "planks"), np.random.default_rng(7))
    with pytest.raises(NoLineError) as refused:
        _read(bare, photo, scene)
    assert refused.value.code == "no-line"


@cache
def _nearly_straight(seed: int) -> tuple[DrawnRoute, Photo, FlatScene]:
    """Draw a route with one slight bend, so that its shifted copy does not cross it."""
    rng = np.random.default_rng(seed)
    while True:
        route = draw_route(rng, SIZE)
        chord = float(
            np.hypot(*np.diff(route.arcs.points(route.arcs.knots_mm[[0, -1]]), axis=0)[0])
        )
        if chord > 0.93 * route.length_mm and route.width_mm < 30:
            return route, *_photo_and_scene(route, Look("blue", "concrete"), rng)


@cache
def _first_straight(seed: int) -> RouteReading:
    """Give the reading of a route that is nearly straight, read once."""
    return _read(*_nearly_straight(seed))


def _second_line(photo: Photo, reading: RouteReading) -> Photo:
    """Paint the same line again beside it, as wide as the first."""
    line, cut = reading.trace.centre_px, reading.trace.end_cuts_px[0]
    across = cut[1] - cut[0]  # one and a half widths
    width = float(np.hypot(*across)) / 1.5
    middle = line.mean(axis=0)
    away = min(
        (5 * across, -5 * across), key=lambda a: np.hypot(*(middle + a - np.array(SIZE) / 2))
    )
    row, column = np.round(line[len(line) // 2]).astype(int)[::-1]
    colour = photo.colour.copy()
    tone = photo.colour[row, column].tolist()
    cv2.polylines(colour, [np.round(line + away).astype(np.int32)], False, tone, round(width))
    return _painted(photo, colour)


def test_two_like_lines_are_refused_until_one_is_pointed_at() -> None:
    route, photo, scene = _nearly_straight(8)
    reading = _first_straight(8)
    doubled = _second_line(photo, reading)
    with pytest.raises(NoLineError, match="Several lines"):
        _read(route, doubled, scene)
    pointed = tuple(reading.trace.centre_px[len(reading.trace.centre_px) // 3])
    chosen = _read(route, doubled, scene, FlatOptions(points_px=(pointed,)))
    assert chosen.length.value == pytest.approx(reading.length.value, abs=1.0)


def test_a_forked_line_is_refused_until_it_is_pointed_at() -> None:
    route, photo, scene = _nearly_straight(8)
    reading = _first_straight(8)
    line, cut = reading.trace.centre_px, reading.trace.end_cuts_px[0]
    colour = photo.colour.copy()
    row, column = np.round(line[len(line) // 2]).astype(int)[::-1]
    stroke = np.round(line[len(line) // 2] + np.array([[0, 0], [6, 6]]) * (cut[1] - cut[0]))
    width = round(float(np.hypot(*(cut[1] - cut[0]))) / 1.5)
    tone = photo.colour[row, column].tolist()
    cv2.polylines(colour, [stroke.astype(np.int32)], False, tone, width)
    forked = _painted(photo, colour)
    with pytest.raises(NoLineError, match=r"Several lines|branches"):
        _read(route, forked, scene)
    pointed = tuple(line[len(line) // 4])
    chosen = _read(route, forked, scene, FlatOptions(points_px=(pointed,)))
    assert chosen.length.value == pytest.approx(reading.length.value, abs=0.5)


def test_a_line_out_of_the_picture_is_refused() -> None:
    route, photo, scene = _nearly_straight(8)
    reading = _first_straight(8)
    cut = int(reading.trace.ends_px[:, 0].max()) - 60
    cropped = _painted(photo, photo.colour[:, :cut].copy())
    with pytest.raises(NoLineError, match="out of the picture"):
        _read(route, cropped, scene)


def test_points_far_from_any_line_are_refused() -> None:
    route, photo, scene = _one(10)
    with pytest.raises(NoLineError, match="near the points"):
        _read(route, photo, scene, FlatOptions(points_px=((5.0, 5.0),)))


def test_points_show_the_way_where_nothing_stands_out() -> None:
    """No line is drawn near the points: the way goes through them, as wide as was said."""
    _, photo, scene = _one(10)
    points = ((300.0, 300.0), (500.0, 340.0), (700.0, 300.0), (900.0, 320.0))
    said = FlatOptions(line="hose", line_od_mm=20.0, points_px=points)
    rough = find_line(View(photo, scene, (), said))
    for point in points:
        assert np.min(np.hypot(*(rough.path_px - point).T)) < 3.0
    px_mm = np.hypot(
        *np.diff(scene.sheet_mm(np.array([[600.0, 320.0], [601.0, 320.0]])), axis=0)[0]
    )
    assert np.median(rough.width_px) * px_mm == pytest.approx(20.0, rel=0.15)


def test_same_photo_same_answer() -> None:
    first, second = _first(6), _read(*_one(6))
    assert first.length.value == second.length.value
    assert first.length.u == second.length.u


def test_the_line_ends_where_it_is_marked_and_a_finger_is_less_sure() -> None:
    route, photo, scene = _one(6)
    whole = _first(6)
    middle = whole.trace.centre_px  # at even steps along the line
    first, last = len(middle) // 20, len(middle) // 10 * 9
    marks = tuple((float(x), float(y)) for x, y in middle[[last, first]])
    part = _read(route, replace(photo, marked_px=marks), scene)
    share = (last - first) / (len(middle) - 1)
    assert part.length.value == pytest.approx(share * whole.length.value, abs=1.0)
    assert part.length.u > whole.length.u
