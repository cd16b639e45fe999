"""Least distances from the hose to marked things, and what is said of bad marks."""

import numpy as np
import pytest

from photomeasure.cli.params import MARK
from photomeasure.errors import UsageError
from photomeasure.route.space.near import clearances
from photomeasure.route.space.reading import Mark, SpaceSaid
from tests.route.space_near import MARK_BAR_MM, hose_of, marked
from tests.route.space_scenes import draw_space_scene

SEEDS = (6003, 6007)


@pytest.mark.parametrize("seed", SEEDS)
def test_distances_to_marked_things_hold(seed: int) -> None:
    scene = draw_space_scene(seed, photos=6)
    made = hose_of(scene)
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
    scene = draw_space_scene(6003, photos=6)
    made = hose_of(scene)
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


def test_a_mark_is_read_from_the_command_line() -> None:
    assert MARK.convert("hot pipe@2:1520,877.5", None, None) == Mark("hot pipe", "2", (1520, 877.5))
    assert MARK.convert("a@b:c.jpg:1,2", None, None) == Mark("a", "b:c.jpg", (1, 2))
    for wrong in ("exhaust", "exhaust@2", "exhaust@2:12", "@2:1,2", "exhaust@2:x,y"):
        with pytest.raises(UsageError):
            MARK.convert(wrong, None, None)
