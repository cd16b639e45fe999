"""The search over ends: paths in closed form, and the rules of clocking."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from photomeasure.sizing.bending import Aims, Paths, shortest_paths
from photomeasure.sizing.ends import EndsPlan, EndsSearch, ends_check, search_ends
from tests.sizing.jobs import entries, plain, q

R = 100.0
X, Y = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)


def path(end: Any, arriving: Any, leaving: Any = X) -> Paths:
    rows = [np.array([v], float) for v in ((0, 0, 0), leaving, end, arriving)]
    return shortest_paths(Aims(*rows), R)


@pytest.mark.parametrize(
    ("end", "arriving", "length_mm"),
    [
        # Closed forms, worked by hand with R = 100.
        ((500, 0, 0), X, 500.0),  # straight on
        # Two eighths round a corner: tangents 100 tan 22.5° = 41.421 each, corners at (41.421, 0)
        # and (400, 358.579), 507.107 apart, of which 424.264 are straight.
        ((400, 400, 0), Y, 424.264 + 50 * math.pi),
        ((100, 100, 0), Y, 50 * math.pi),  # a bare quarter circle
        ((0, 260, 0), (-1, 0, 0), 60 + 100 * math.pi),  # a U: two quarters and 260 - 2 R
        ((0, 0, 260), (-1, 0, 0), 60 + 100 * math.pi),  # the same, out of the plane
        # An S of two eighths (45°): the tangents meet at 41.42 from each bend; straight 300 long
        # between the bends: along 2 x 70.711 + 212.132, across 2 x 29.289 + 212.132.
        ((353.553391, 270.710678, 0), X, 300 + 50 * math.pi),
    ],
)
def test_paths_in_closed_form(end: Any, arriving: Any, length_mm: float) -> None:
    found = path(end, arriving)
    assert found.sound[0]
    assert found.length_mm[0] == pytest.approx(length_mm, abs=0.01)


def test_two_ports_too_near_for_the_radius_have_no_path() -> None:
    assert not path((0, 150, 0), (-1, 0, 0)).sound[0]  # a U narrower than 2 R


def _walk(found: Paths, start: NDArray[Any], leaving: NDArray[Any], arriving: NDArray[Any]) -> Any:
    """Walk bend, straight, bend in small chords; give where one comes out."""
    at, way = start.copy(), leaving.copy()
    straight = found.straight[0]
    bends = found.turns_rad[0]
    for turn, aim in ((bends[0], straight), (bends[1], arriving)):
        steps = 40  # each chord is exact, however long
        axis = np.cross(way, aim)
        size = np.linalg.norm(axis)
        axis = axis / size if size > 1e-12 else axis
        for _ in range(steps):
            part = turn / steps
            half = way * math.cos(part / 2) + np.cross(axis, way) * math.sin(part / 2)
            at = at + 2 * R * math.sin(part / 2) * half
            way = way * math.cos(part) + np.cross(axis, way) * math.sin(part)
        if aim is straight:
            at = at + (found.length_mm[0] - R * bends.sum()) * straight
    return at


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_every_sound_path_comes_out_at_its_end(seed: int) -> None:
    rng = np.random.default_rng(seed)
    leaving, arriving = (v / np.linalg.norm(v) for v in rng.normal(size=(2, 3)))
    end = rng.normal(size=3) * 400
    found = path(end, arriving, leaving)
    if found.sound[0]:
        assert _walk(found, np.zeros(3), leaving, arriving) == pytest.approx(end, abs=0.05)


STRAIGHT = {"style": "straight", "cut_off": q(30, 0.4), "socket_depth": q(25, 0.3)}
ELBOW = {**STRAIGHT, "style": "90", "cut_off": q(45, 0.4), "drop": q(25, 0.3)}
HALF = {**STRAIGHT, "style": "45", "cut_off": q(40, 0.4), "drop": q(12, 0.3)}
HOSE = {"outside_diameter_mm": 20.0, "bend_radius_mm": 90, "bend_radius_to": "axis"}


def space(seat_b: Any, axis_a: Any, axis_b: Any) -> dict[str, Any]:
    return {"seat_b_mm": seat_b, "axis_a": axis_a, "axis_b": axis_b}


def search(
    where: dict[str, Any], styles: Any = (STRAIGHT, HALF, ELBOW), **changes: Any
) -> EndsSearch:
    document = plain(**{"hose": HOSE, "space": where, "end_styles": list(styles), **changes})
    return search_ends(entries(document))


def of(found: EndsSearch, *styles: str) -> EndsPlan:
    return next(plan for plan in found.plans if plan.styles == styles)


def test_ports_that_face_each_other_get_straight_ends() -> None:
    # By hand: 600 seat to seat, less 30 at each end.
    found = search(space((600, 0, 0), X, (-1, 0, 0)))
    assert found.plans[0].styles == ("straight", "straight")
    assert found.plans[0].hose_mm == pytest.approx(540, abs=0.01)
    assert found.plans[0].score == pytest.approx(540, abs=0.01)
    assert found.plans[0].clocking_deg is None


def test_a_straight_end_and_an_elbow_round_a_corner() -> None:
    # By hand: port A points along x; seat B at (600, 25) points to -y, so that its elbow's axes
    # cross at (600, 0) and the hose runs straight along x: 600 - 30 - 45 = 525; with the elbow 585.
    found = search(space((600, 25, 0), X, (0, -1, 0)))
    assert found.plans[0].styles == ("straight", "90")
    assert found.plans[0].hose_mm == pytest.approx(525, abs=0.01)
    assert found.plans[0].score == pytest.approx(585, abs=0.01)


def test_ports_side_by_side_and_too_near_for_a_loop_need_elbows() -> None:
    # Both ports point along +y, 300 mm apart: a U of straight ends needs
    # 2 x 1.2 x 90 = 216 and has it; two elbows: 300 - 90 = 210 mm of hose.
    found = search(space((300, 0, 0), Y, Y))
    assert of(found, "straight", "straight").hose_mm == pytest.approx(
        108 * math.pi + (300 - 216) + 2 * (25 + 30), abs=0.01
    )
    both = of(found, "90", "90")
    assert both.hose_mm == pytest.approx(210, abs=0.01)
    assert both.clocking_deg == pytest.approx(0, abs=1e-6)  # both legs point down
    near = search(space((200, 0, 0), Y, Y))
    assert ("straight", "straight") in near.refused


@pytest.mark.parametrize(
    ("axis_b", "signed_deg"),
    [
        # The hose runs along +x from A, whose leg points down (-y, port A points up). Looked at
        # along +x with y up, +z is on the right hand. Leg B points opposite to its axis.
        ((0, 1, 0), 0.0),  # leg down too: 6 o'clock
        ((0, 0, -1), 90.0),  # leg to +z, the right: 3 o'clock, a quarter counter-clockwise from 6
        ((0, 0, 1), -90.0),  # leg to -z, the left: 9 o'clock
    ],
)
def test_clocking_is_counter_clockwise_from_the_near_elbow(axis_b: Any, signed_deg: float) -> None:
    seat_b = np.array((500.0, 25.0, 0.0)) - 25.0 * np.array(axis_b, float)
    plan = of(search(space(tuple(seat_b), Y, axis_b)), "90", "90")
    assert plan.hose_mm == pytest.approx(500 - 90, abs=0.01)
    assert plan.clocking_deg == pytest.approx(signed_deg, abs=1.0)  # elbows turn by 1°


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_turning_the_whole_machine_changes_nothing(seed: int) -> None:
    rng = np.random.default_rng(seed)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn = turn * np.sign(np.linalg.det(turn))
    given_ = [np.array(v, float) for v in ((420, 260, 80), X, (0, -1, 0))]
    before = search(space(*map(tuple, given_)))
    after = search(space(*(tuple(turn @ v) for v in given_)))
    assert [p.styles for p in before.plans] == [p.styles for p in after.plans]
    for one, other in zip(before.plans, after.plans, strict=True):
        assert one.score == pytest.approx(other.score, abs=0.01)


def test_a_score_can_be_read() -> None:
    plan = search(space((600, 25, 0), X, (0, -1, 0))).plans[0]
    assert plan.words == "straight and 90°: score 585 = 525 of hose + 60 for the elbow"


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"space": None}, "space"),
        ({"end_styles": []}, "end_styles"),
        ({"end_styles": [STRAIGHT, {**ELBOW, "drop": None}]}, "drop of the 90° end"),
        ({"hose": {}}, "least bend radius"),
        ({"space": space((600, 0, 0), (0, 0, 0), X)}, "0, 0, 0"),
        ({"space": space((0, 0, 0), X, X)}, "one place"),
    ],
)
def test_what_is_missing_is_named(changes: dict[str, Any], word: str) -> None:
    found = search(space((600, 0, 0), X, (-1, 0, 0)), **changes)
    assert found.plans == ()
    assert any(word in text for text in found.lacks)


@pytest.mark.parametrize(
    ("where", "styles", "ok"),
    [
        (space((600, 0, 0), X, (-1, 0, 0)), [STRAIGHT, ELBOW], True),
        (space((200, 0, 0), Y, Y), [STRAIGHT, ELBOW], False),
        (space((600, 0, 0), X, (-1, 0, 0)), [ELBOW], None),
    ],
)
def test_the_chosen_ends_are_held_against_the_search(where: Any, styles: Any, ok: Any) -> None:
    job = entries(plain(hose=HOSE, space=where, end_styles=styles))
    assert ends_check(job, search_ends(job))[0].ok is ok


def test_without_a_space_there_is_nothing_to_check() -> None:
    job = entries(plain())
    assert ends_check(job, search_ends(job)) == ()
