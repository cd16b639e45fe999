"""Measured and cut, or marked in place: each with its own band."""

from typing import Any

import pytest

from photomeasure.sizing.cut import cut_lengths
from photomeasure.sizing.ways import awkward_end, length_tolerance_mm, ways
from tests.sizing.jobs import entries, plain, q

# RMA IP-2:2003 Hose Handbook, table 4-8, cut lengths of hose, metric column
LENGTH_TOLERANCES = [  # up to [mm], tolerance [mm]
    (305, 3.18),
    (306, 4.8),
    (610, 4.8),
    (915, 6.4),
    (1220, 9.5),
    (1830, 12.7),
    (2000, 20.0),  # 1 %
]


@pytest.mark.parametrize(("length_mm", "tolerance_mm"), LENGTH_TOLERANCES)
def test_published_length_tolerances(length_mm: float, tolerance_mm: float) -> None:
    assert length_tolerance_mm(length_mm) == pytest.approx(tolerance_mm)


def test_each_way_has_its_own_band() -> None:
    # By hand: u of the cut is sqrt(2² + 2 x 0.4²) = 2.078, 1.96 times that 4.07. In place only
    # the insertion depth 0.3 and the pencil 0.6 are left: 1.96 x 0.671 = 1.31.
    job = entries(plain())
    measured, in_place = ways(job, cut_lengths(job))
    assert measured.half_band_mm == pytest.approx(4.07, abs=0.005)
    assert in_place.half_band_mm == pytest.approx(1.31, abs=0.01)
    assert "± 9.5 mm" in measured.words  # the published tolerance of 964 mm


def test_a_missing_term_is_named_in_both() -> None:
    document = plain(route=None)
    document["ends"][1]["socket_depth"] = None
    job = entries(document)
    measured, in_place = ways(job, cut_lengths(job))
    assert measured.half_band_mm is None
    assert "Missing" in measured.words
    assert in_place.half_band_mm is None
    assert "socket" in in_place.words


@pytest.mark.parametrize(("styles", "first"), [(("straight", "90"), 1), (("45", "straight"), 0)])
def test_the_awkward_end_is_made_up_first(styles: Any, first: int) -> None:
    document = plain()
    for end, style in zip(document["ends"], styles, strict=True):
        end |= {"end": style, "cut_off": q(40, 0.4)}
    assert awkward_end(entries(document)) == first
