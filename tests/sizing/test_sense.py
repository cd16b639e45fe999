"""Entries that contradict each other: an open check that names both, never a silent pass."""

from typing import Any

import pytest

from photomeasure.errors import BadJobError
from photomeasure.job import Job
from photomeasure.sizing.entries import HoseEntry
from photomeasure.sizing.sense import claim_check, size_check
from tests.sizing.jobs import Entries, end, plain, q

SIX: Entries = {"dash": 6, "inside_diameter_mm": 9.5, "outside_diameter_mm": 18.0}


@pytest.mark.parametrize(
    ("hose", "ok", "word"),
    [
        ({}, True, "-6, bore 9.5 mm"),
        ({"dash": None}, None, "come down to -8"),
        ({"inside_diameter_mm": None}, None, "bore and outside"),
        ({"outside_diameter_mm": None}, None, "bore and outside"),
        # 5/16 in in a -6 is no slip: SAE 100R5 and PTFE hose run a size under (MIL-H-8794's sizes)
        ({"inside_diameter_mm": 7.9}, True, "7.9 mm"),
        ({"inside_diameter_mm": 6.4}, None, "which is true"),
        ({"inside_diameter_mm": 12.7}, None, "size -6 or a bore of 12.7 mm"),
        ({"outside_diameter_mm": 9.0}, None, "bore 9.5 mm or outside 9 mm"),
    ],
)
def test_dash_bore_and_outside_are_of_one_hose(hose: Entries, ok: bool | None, word: str) -> None:
    found = size_check(HoseEntry(**{**SIX, **hose}), 8)
    assert found.ok is ok
    assert word in found.detail


# Bores by dash: MIL-H-8794, AC 43.13-1B, table 9-3 [in]
BORES = [(3, 1 / 8), (4, 3 / 16), (5, 1 / 4), (6, 5 / 16), (8, 13 / 32), (10, 1 / 2), (12, 5 / 8),
         (16, 7 / 8), (20, 9 / 8), (24, 11 / 8), (32, 29 / 16)]  # fmt: skip


@pytest.mark.parametrize(("dash", "inches"), BORES)
def test_no_published_bore_is_called_a_contradiction(dash: int, inches: float) -> None:
    for bore_mm in (25.4 * inches, 25.4 * dash / 16):
        hose = HoseEntry(dash=dash, inside_diameter_mm=bore_mm, outside_diameter_mm=bore_mm + 6)
        assert size_check(hose, None).ok is True


@pytest.mark.parametrize(
    ("hose", "ok", "word"),
    [
        # EN 853 2SN -6: 33 MPa, 130 mm (tests/sizing/test_hose_class.py)
        ({"working_pressure_mpa": 40.0}, None, "working pressure 33 MPa by EN 853 2SN, 40 entered"),
        ({"bend_radius_mm": 60.0}, None, "least bend radius 130 mm"),
        ({"working_pressure_mpa": 40.0, "data_sheet": "maker's, page 3"}, True, "page 3"),
        ({"working_pressure_mpa": 33.1}, "none", ""),
        ({"working_pressure_mpa": 20.0, "bend_radius_mm": 150.0}, "none", ""),
        # a figure from memory alone is no ground for a complaint
        ({"standard": "EN 857 2SC", "dash": 8, "bend_radius_mm": 90.0}, "none", ""),
        ({"standard": None, "working_pressure_mpa": 90.0}, "none", ""),
    ],
)
def test_better_than_its_standard_needs_the_data_sheet(hose: Entries, ok: Any, word: str) -> None:
    found = claim_check(HoseEntry(**{"standard": "EN 853 2SN", "dash": 6, **hose}))
    assert [check.ok for check in found] == ([] if ok == "none" else [ok])
    assert all(word in check.detail for check in found)


@pytest.mark.parametrize(
    ("document", "named"),
    [
        (end(plain(), 1, gap=q(-1, 0.1), gap_in_cut_off=q(0, 0)), "ends → 2 → gap"),
        (end(plain(), 0, socket_depth="-25mm ± 1mm"), "ends → 1 → socket_depth"),
        (plain(slack={"value": -20, "u": 0}), "slack"),
        (plain(surplus=q(-5, 1)), "surplus"),
        (plain(movement={"longer": q(-10, 1), "shorter": q(0, 0), "by": "F."}), "longer"),
    ],
)
def test_a_length_below_nought_is_refused_by_name(document: Entries, named: str) -> None:
    with pytest.raises(BadJobError, match="below nought") as caught:
        Job.from_document(document)
    assert named in str(caught.value)


@pytest.mark.parametrize("said", ["0mm ± 2mm", "0 ± 2mm", "0.0 mm ± 2mm", "-0mm ± 2mm"])
def test_nought_is_a_length(said: str) -> None:
    entered = Job.from_document(plain(mock_up=said, slack="0in")).entries
    assert entered.mock_up is not None
    assert entered.slack is not None
    assert (entered.mock_up.value, entered.slack.value) == (0.0, 0.0)
    assert entered.mock_up.u == pytest.approx(2 / 3**0.5)


@pytest.mark.parametrize("said", ["0 ± 2", "0parsec ± 2mm", "0mm"])
def test_nought_without_a_length_or_a_doubt_is_none(said: str) -> None:
    with pytest.raises(BadJobError):
        Job.from_document(plain(mock_up=said))
