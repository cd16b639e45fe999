"""The mark on the hose, held against a hundred thousand hoses put together from their parts."""

from typing import Any

import numpy as np
import pytest

from tests.sizing.jobs import Entries, assembled_mm, cut, end, plain, q, straight_job, value

SIMULATED = 100_000


def _truth(job: Entries, rng: np.random.Generator, spread: float = 1.0) -> dict[str, Any]:
    """Draw what a job's true sizes may be, given what is stated of them."""

    def draw(entry: Entries | None) -> Any:
        if entry is None:
            return np.zeros(SIMULATED)
        return rng.normal(entry["value"], entry["u"], SIMULATED)

    route = job["route"]["length"]
    ends = job["ends"]
    shortening = job.get("hose", {}).get("shortening")
    share = 0.5 if shortening else 0.0
    return {
        "path": rng.normal(route["value"], route["u"] * spread, SIMULATED) + job["slack"]["value"],
        "offsets": [draw(one.get("datum_offset")) for one in ends],
        "cut_offs": [draw(one["cut_off"]) for one in ends],
        "depths": [draw(one["socket_depth"]) for one in ends],
        "gaps": [draw(one.get("gap")) - draw(one.get("gap_in_cut_off")) for one in ends],
        "backed_off": [
            one.get("back_off_turns", 0.0) * draw(one.get("hose_thread_pitch")) for one in ends
        ],
        "shortening": share
        * rng.uniform(
            shortening["least"] if shortening else 0,
            shortening["most"] if shortening else 0,
            SIMULATED,
        ),
    }


def _share_too_short(job: Entries, seed: int, spread: float = 1.0) -> float:
    truth = _truth(job, np.random.default_rng(seed), spread)
    needed = truth["path"] + sum(truth["offsets"])
    return float(np.mean(assembled_mm(value(cut(job).cut_at), truth) < needed))


def _screwed() -> Entries:
    job = plain(slack={"value": 10, "u": 0})
    for index in range(2):
        job = end(
            job,
            index,
            datum="band edge",
            datum_offset=q(6, 0.4),
            back_off_turns=0.5,
            back_off_in_cut_off=0,
            hose_thread_pitch=q(4, 0.1),
            gap=q(1, 0.3),
            gap_in_cut_off=q(0, 0.1),
        )
    return job


@pytest.mark.parametrize(
    ("job", "seed"),
    [(plain(), 11), (_screwed(), 12), (straight_job(), 13)],
    ids=["bent", "screwed", "near-straight"],
)
def test_the_mark_is_too_short_for_one_hose_in_forty(job: Entries, seed: int) -> None:
    # 2.0-3.0 %: the band within which the chance of 2.5 % is said to hold; a wildly long mark
    # falls below it. The hoses are put together from parts, not from the plan's formula.
    assert 0.020 <= _share_too_short(job, seed) <= 0.030


@pytest.mark.parametrize("spread", [0.8, 1.2])
@pytest.mark.parametrize("job", [plain(), _screwed()], ids=["bent", "screwed"])
def test_the_mark_bears_a_route_whose_uncertainty_is_a_fifth_wrong(
    job: Entries, spread: float
) -> None:
    assert 0.005 <= _share_too_short(job, 14, spread) <= 0.06


def _drawn(entry: Entries, rng: np.random.Generator) -> Any:
    half = entry["u"] * 3**0.5
    return rng.uniform(entry["value"] - half, entry["value"] + half, SIMULATED)


@pytest.mark.parametrize("seed", [21, 22])
def test_the_mark_bears_a_mock_up_that_lies_elsewhere_than_the_hose(seed: int) -> None:
    # Drawn beside the route's own error: mock-up ±5 mm, datums ±1 mm, cut-offs ±1 mm.
    one_mm = 1 / 3**0.5
    offset = {"value": 6, "u": one_mm, "shape": "rectangular"}
    cut_off = {"value": 30, "u": one_mm, "shape": "rectangular"}
    job = plain(surplus=q(40, 1.0))
    del job["mock_up"]  # nobody said how near the laid line lies: the plan supposes ±5 mm
    for index in range(2):
        job = end(job, index, datum="band edge", datum_offset=offset, cut_off=cut_off)
    rng = np.random.default_rng(seed)
    route = job["route"]["length"]
    path = rng.normal(route["value"], route["u"], SIMULATED) + rng.uniform(-5, 5, SIMULATED)
    path += _drawn(offset, rng) + _drawn(offset, rng)
    lengths = cut(job)
    assembly = value(lengths.cut_at) + _drawn(cut_off, rng) + _drawn(cut_off, rng)
    assert 0.020 <= np.mean(assembly < path + job["slack"]["value"]) <= 0.030
    # and at the longest that is called usable, one in forty is too long for the space
    assert lengths.longest_usable is not None
    longest = assembly + lengths.longest_usable.low - value(lengths.cut_at)
    room = rng.normal(40, 1.0, SIMULATED)
    assert 0.020 <= np.mean(longest > path + room) <= 0.030
