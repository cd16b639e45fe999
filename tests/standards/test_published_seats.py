"""Which thread goes with which seat, against published tables; each row names its source."""

import csv
from pathlib import Path

import pytest

from photomeasure.standards import seats

PUBLISHED = Path(__file__).with_name("published") / "seats.csv"
with PUBLISHED.open(encoding="utf-8") as _file:
    ROWS = list(csv.DictReader(_file, strict=True))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['designation']}, {row['seat']}")
def test_a_published_seat_is_in_the_table(row: dict[str, str]) -> None:
    found = [
        one for one in seats() if (one.designation, one.seat) == (row["designation"], row["seat"])
    ]
    assert len(found) == 1
    assert row["source"]
    if row["size"]:  # some sources give the threads without the tubes
        assert found[0].size == row["size"]


def test_a_row_that_claims_a_second_source_of_dash_sizes_has_one_here() -> None:
    published = {(row["designation"], row["seat"]) for row in ROWS}
    claimed = {
        (one.designation, one.seat)
        for one in seats()
        if one.checked == "second source" and one.size.startswith("dash")
    }
    assert claimed <= published


# A forum of instrument engineers on SAE threads: which sizes of 37° and 45° flares share a thread
def test_the_two_flares_share_threads_on_the_published_sizes_alone() -> None:
    sizes = {
        seat: {one.size: one.designation for one in seats() if one.seat == seat}
        for seat in ("37° flare", "45° flare")
    }
    shared = {
        size
        for size, designation in sizes["45° flare"].items()
        if sizes["37° flare"].get(size) == designation
    }
    assert shared == {"dash 2", "dash 3", "dash 4", "dash 5", "dash 8", "dash 10"}


def test_a_seat_that_nothing_confirms_says_so_in_its_name() -> None:
    doubted = [seat for seat in seats() if seat.checked == "memory"]
    assert all(seat.name.endswith("; not confirmed)") for seat in doubted)
    assert not any("not confirmed" in seat.name for seat in seats() if seat not in doubted)
