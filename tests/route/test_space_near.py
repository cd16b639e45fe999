"""Least distances from the hose to marked things, and what is said of bad marks."""

from functools import cache

import numpy as np
import pytest

from photomeasure.cli.params import MARK, MOVE
from photomeasure.errors import UsageError
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.space.near import Hose, clearances
from photomeasure.route.space.reading import Mark, SpaceSaid
from photomeasure.route.space.slack import slack_for
from tests.route.space_near import MARK_BAR_MM, hose_of, marked
from tests.route.space_scenes import SpaceScene, draw_space_scene

SEEDS = (6003, 6007)


@cache
def solved(seed: int) -> tuple[SpaceScene, tuple[Hose, list[str]] | None]:
    scene = draw_space_scene(seed, photos=6)
    return scene, hose_of(scene)


@pytest.mark.parametrize("seed", SEEDS)
def test_distances_to_marked_things_hold(seed: int) -> None:
    scene, made = solved(seed)
    assert made is not None
    hose, names = made
    marks, truth = marked(scene, np.random.default_rng(seed))
    found, told = clearances(hose, names, SpaceSaid(marks=tuple(marks)))
    assert [one.name for one in found] == list(truth)
    for one in found:
        error = one.distance.value - truth[one.name]
        assert abs(error) < MARK_BAR_MM  # the bar of a least distance
        assert abs(error) < 4 * one.distance.u
        assert 0 < one.distance.u < 2
        assert any(one.name in text for text in told) == (one.distance.low < 100.0)


def test_bad_marks_are_said() -> None:
    scene, made = solved(6003)
    assert made is not None
    hose, names = made
    marks, _ = marked(scene, np.random.default_rng(1))
    one = marks[0]
    found, told = clearances(hose, names, SpaceSaid(marks=(one,)))
    assert not found
    assert "two photos" in told[0]
    other = next(m for m in marks if m.name == one.name and m.photo != one.photo)
    wrong = Mark(one.name, other.photo, (other.px[0] + 400, other.px[1] - 700))
    found, told = clearances(hose, names, SpaceSaid(marks=(one, wrong)))
    assert not found
    assert "do not meet" in told[0]
    with pytest.raises(UsageError) as refused:
        clearances(hose, names, SpaceSaid(marks=(Mark("exhaust", "9", (1.0, 1.0)),)))
    assert "'9'" in refused.value.message


def test_what_moves_comes_nearer_and_ends_that_move_ask_for_slack() -> None:
    scene, made = solved(6003)
    assert made is not None
    hose, names = made
    marks, _ = marked(scene, np.random.default_rng(6003))
    still, _ = clearances(hose, names, SpaceSaid(marks=tuple(marks)))
    said = SpaceSaid(marks=tuple(marks), moves=(("ends", 8.0), (still[0].name, 20.0)))
    moved, told = clearances(hose, names, said)
    for one, off in zip(moved, (28.0, 8.0), strict=True):
        assert one.least.value == pytest.approx(one.distance.value - off)
        assert one.least.u == pytest.approx(one.distance.u)
        assert any(f"{off:.0f} mm of movement" in text for text in told) == (one.least.low < 100)
    length = Quantity.normal(measured(600.0, {Source("x", "x", "photo", "k"): 1.0}), "mm")
    slack, asked = slack_for(said, length, "k")
    assert slack is not None
    assert slack.value == 8.0
    # a parabola of span L and rise h is longer than L by 8 h^2 / (3 L): h = sqrt(3 * 8 * 600 / 8)
    assert "8 mm longer than the path" in asked[0]
    assert "bow out by 42 mm" in asked[0]
    assert slack_for(SpaceSaid(), length, "k") == (None, [])
    with pytest.raises(UsageError) as refused:
        clearances(hose, names, SpaceSaid(moves=(("exhaust", 5.0),)))
    assert "'exhaust' is said to move" in refused.value.message


def test_a_movement_is_read_from_the_command_line() -> None:
    assert MOVE.convert("ends=12mm", None, None) == ("ends", 12.0)
    assert MOVE.convert("drag link = 1in", None, None) == ("drag link", pytest.approx(25.4))
    for wrong in ("12mm", "=12mm", "ends", "ends=12"):
        with pytest.raises(UsageError):
            MOVE.convert(wrong, None, None)


def test_a_mark_is_read_from_the_command_line() -> None:
    assert MARK.convert("hot pipe@2:1520,877.5", None, None) == Mark("hot pipe", "2", (1520, 877.5))
    assert MARK.convert("a@b:c.jpg:1,2", None, None) == Mark("a", "b:c.jpg", (1, 2))
    for wrong in ("exhaust", "exhaust@2", "exhaust@2:12", "@2:1,2", "exhaust@2:x,y"):
        with pytest.raises(UsageError):
            MARK.convert(wrong, None, None)
