"""The joint solve: its derivatives, its answers over projected corners, and what is refused."""

import json
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from photomeasure.answers.route import RouteAnswer
from photomeasure.answers.route_space import _answer, route_in_space
from photomeasure.answers.space_pictures import plan_picture
from photomeasure.cli.params import BANDS
from photomeasure.errors import (
    NotConnectedError,
    TooFewPhotosError,
    TooUncertainError,
    UsageError,
    WrongPrintError,
)
from photomeasure.job.demonstration import samples
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.reading import FlatOptions
from photomeasure.route.space.model import Points, State, exp, predict
from photomeasure.route.space.read import _demand_connection
from photomeasure.route.space.reading import SpaceReading, SpaceSaid
from photomeasure.route.space.whole import _first, _last, demand_whole
from tests.route.space_projected import _shot, error_of, outcome, solved_scene
from tests.route.space_scenes import draw_space_scene


def _state(rng: np.random.Generator) -> State:
    return State(
        lens=np.array([[3000, 2000, 1500, 0.02, -0.01], [3010, 2010, 1490, 0.01, 0.01]]),
        turn=exp(rng.normal(0, 0.3, (2, 3))),
        shift=np.array([[0, 0, 600.0], [10, 20, 700]]),
        thing_turn=exp(rng.normal(0, 1, (3, 3))),
        thing_shift=rng.normal(0, 50, (3, 3)),
        skew=np.array([0, 0.01, 0.02]),
        bend=np.array([[0, 0], [0.01, -0.004], [0.002, 0.008]]),
        scale=np.array([[1.01, 0.99], [1.0, 1.01]]),
        radius_mm=9.0,
        give=0.4,
        is_band=np.array([False, True, True]),
        print_row=np.array([0, 1, 1]),
    )


def test_the_slopes_are_those_of_the_prediction() -> None:
    rng = np.random.default_rng(0)
    state = _state(rng)
    points = Points(
        rng.integers(0, 2, 30), rng.integers(0, 3, 30), rng.uniform(-20, 20, (30, 2)),
        np.zeros((30, 2)), np.ones(30),
    )  # fmt: skip
    _, slopes, columns = predict(state, points)
    whole = np.zeros((30, 2, state.size))
    for k in range(30):
        whole[k][:, columns[k]] = slopes[k]
    for k in range(state.size):
        step = np.zeros(state.size)
        step[k] = 1e-6
        ahead, behind = (predict(state.moved(s), points, slopes=False)[0] for s in (step, -step))
        assert np.allclose(whole[:, :, k], (ahead - behind) / 2e-6, rtol=1e-5, atol=1e-3)


@pytest.mark.parametrize("seed", [6003, 6007])
def test_projected_corners_give_the_route(seed: int) -> None:
    made = outcome(draw_space_scene(seed, photos=6))
    assert made is not None
    truth, found = made.truth, made.measured
    error, u = error_of(found.length, truth["length"]) or (np.inf, 1.0)
    assert abs(error) <= 0.004 * truth["length"] + 2.0  # the bar of a route in space
    assert abs(error) < 3 * u
    clocking = error_of(found.clocking, truth["clocking"])
    if clocking is not None and clocking[1] < 3.0:
        assert abs(clocking[0]) <= 4.0
    assert found.line_od.value == pytest.approx(truth["od"], abs=0.3)


def test_two_photos_are_too_few() -> None:
    load = partial(load_photo, samples("route")[0].photo)
    with pytest.raises(TooFewPhotosError):
        route_in_space([load, load])


def test_photos_without_bands_are_the_wrong_print() -> None:
    load = partial(load_photo, samples("route")[0].photo)
    with pytest.raises(WrongPrintError) as refused:
        route_in_space([load, load, load])
    assert "bands" in refused.value.remedy


def _mm(value: float) -> Quantity:
    return Quantity.normal(measured(value, {Source("x", "x", "photo", "k"): 1.0}), "mm")


def test_a_route_whose_first_band_is_not_placed_is_refused() -> None:
    assert _first(1, None, None) == ()
    assert _first(3, None, 3) == ()  # the user wrapped them from band 3 on
    with pytest.raises(TooUncertainError) as refused:
        _first(3, None, None)
    assert "band 3" in refused.value.message
    assert "--bands, as in 3-19" in refused.value.remedy
    with pytest.raises(TooUncertainError):
        _first(3, _mm(120.0), None)
    assert "card START" in _first(3, _mm(40.0), None)[0]  # beside the port's card none is missing
    with pytest.raises(TooUncertainError, match="Band 2, where the route begins"):
        _first(3, _mm(40.0), 2)


@pytest.mark.parametrize(
    ("text", "said"), [("19", (None, 19)), ("2-19", (2, 19)), (" 3 - 7 ", (3, 7))]
)
def test_the_first_and_last_band_are_said(text: str, said: tuple[int | None, int]) -> None:
    assert BANDS.convert(text, None, None) == said


@pytest.mark.parametrize("text", ["1", "0", "7-3", "4-4", "2-", "a"])
def test_bands_that_make_no_route_are_a_usage_error(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        BANDS.convert(text, None, None)
    assert "2-19" in refused.value.remedy


def test_a_last_band_that_may_be_missing_is_said() -> None:
    assert _last(9, _mm(50.0), None) == ()
    assert _last(9, None, 9) == ()
    assert "--bands" in _last(9, None, None)[0]
    assert "--bands" in _last(9, _mm(160.0), None)[0]
    for to_card, last in ((None, 10), (_mm(50.0), 10), (_mm(300.0), None)):
        with pytest.raises(TooUncertainError) as refused:
            _last(9, to_card, last)
        assert "band 9" in refused.value.message


def test_an_outer_band_that_is_read_but_not_placed_is_refused() -> None:
    made = solved_scene(draw_space_scene(6003, photos=6))
    assert made is not None
    _, things, course, _, found = made
    orders = [things[row].piece.order or 0 for row in course.rows]
    with pytest.raises(TooUncertainError, match=f"Band {orders[0]}, where the route begins"):
        demand_whole(things, replace(course, rows=course.rows[1:]), found, SpaceSaid())
    short = replace(course, rows=course.rows[:-1])
    with pytest.raises(TooUncertainError, match=f"Band {orders[-1]}, where the route ends"):
        demand_whole(things, short, found, SpaceSaid())


def test_photos_that_do_not_hang_together_are_named() -> None:
    scene = draw_space_scene(6003, photos=4)
    shots = [replace(_shot(scene, k), name=f"photo{k}.jpg") for k in range(4)]
    _demand_connection(shots, [0, 1, 3])
    with pytest.raises(NotConnectedError) as refused:
        _demand_connection(shots, [0, 3])
    assert "photo1.jpg, photo2.jpg" in refused.value.message


def test_an_answer_has_every_key_and_comes_back_whole() -> None:
    scene = draw_space_scene(6003, photos=6)
    made = outcome(scene)
    assert made is not None
    own = made.measured
    reading = SpaceReading(
        own.length, own.turning, own.bends, own.tightest, own.clocking, own.start_to_card,
        own.end_to_card, own.line_od, scene.curve.points[::20], (), ("a warning",),
    )  # fmt: skip
    answer = _answer(reading, FlatOptions(hose_od_mm=30.0))
    data = json.loads(json.dumps(answer.as_json()))
    assert (data["kind"], data["laid"]) == ("route", "space")
    assert {"start_to_card", "end_to_card", "line_od", "clocking", "points"} <= set(data)
    assert data["clearances"] == []
    parts = data["components"]["length"].values()
    assert sum(part**2 for part in parts) == pytest.approx(data["length"]["u"] ** 2, rel=0.01)
    assert {"print scale x", "photo geometry", "band wrap", "curve between bands"} <= {
        line["source"] for line in data["budget"]
    }
    assert any("not as thick" in text for text in data["warnings"])
    again = RouteAnswer.from_json(data)
    assert again.length is not None
    assert again.length.u == pytest.approx(data["length"]["u"])
    assert plan_picture(answer)[:2] == b"\xff\xd8"
