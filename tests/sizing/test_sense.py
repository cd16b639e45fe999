"""Entries that contradict each other: an open check that names both, never a silent pass."""

from typing import Any

import pytest

from photomeasure.errors import BadJobError
from photomeasure.job import Job
from photomeasure.sizing.entries import HoseEntry
from photomeasure.sizing.sense import claim_check, likely_check, route_check, size_check
from tests.sizing.jobs import Entries, end, entries, plain, q
from tests.sizing.test_path import ROUTE

SIX: Entries = {"kind": "hose", "dash": 6, "inside_diameter_mm": 9.5, "outside_diameter_mm": 18.0}


@pytest.mark.parametrize(
    ("hose", "ok", "word"),
    [
        ({}, True, "-6, bore 9.5 mm"),
        ({"dash": None}, None, "come down to -8"),
        ({"kind": None}, None, "which hose"),
        ({"kind": None, "standard": "EN 853 2SN"}, True, "-6"),
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
        hose = HoseEntry(
            kind="hose", dash=dash, inside_diameter_mm=bore_mm, outside_diameter_mm=bore_mm + 6
        )
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


@pytest.mark.parametrize(
    ("document", "word"),
    [
        # each a slip of the decimal point, or of a unit
        (end(plain(), 0, back_off_turns=5.0), "end A backed off 5 turns (usual: a quarter"),
        (end(plain(), 1, gap=q(10, 0.1)), "a gap of 10 mm at end B"),
        (end(plain(), 1, cut_off=q(300, 1)), "a cut-off of 300 mm at end B"),
        (end(plain(), 1, cut_off=q(3, 0.1)), "a cut-off of 3 mm at end B"),
        (end(plain(), 0, socket_depth=q(2.5, 0.1)), "a hose depth of 2.5 mm"),
        (end(plain(), 0, hose_thread_pitch=q(40, 0.1)), "40 mm pitch"),
        (end(plain(), 1, back_off_turns=0.5), "end B crimped, or with turns or a gap"),
        (end(plain(), 1, gap=q(1, 0.1)), "end B crimped, or with turns or a gap"),
        (plain(line={"relief_pressure_mpa": 0.9}), "a relief of 0.9 MPa"),
        (
            plain(line={"relief_pressure_mpa": 9, "peak_pressure_mpa": 90}),
            "a peak of 90 MPa or a relief of 9 MPa",
        ),
        (plain(line={"hottest_c": 9}), "a hottest of 9 °C"),
        (plain(line={"density_kg_per_m3": 8.7}), "an oil of 8.7 kg/m³"),
        (plain(route={**ROUTE, "clocking": q(850, 1, "deg")}), "a clocking of 850°"),
    ],
)
def test_what_no_practice_knows_is_asked_again(document: Entries, word: str) -> None:
    (found,) = likely_check(entries(document))
    assert found.ok is None
    assert "which is true" in found.detail
    assert word in found.detail


def test_a_usual_job_is_not_asked_twice() -> None:
    screwed = {
        "made": "screw-together",
        "back_off_turns": 0.5,
        "gap": q(1, 0.1),
        "hose_thread_pitch": q(4, 0.1),
    }
    line = {"relief_pressure_mpa": 9, "peak_pressure_mpa": 12, "hottest_c": 95}
    assert likely_check(entries(end(plain(line=line), 0, **screwed))) == ()
    assert likely_check(entries({"job": 1})) == ()


BEND = ROUTE["bends"][0]
LINE = [[0.0, 0.0, 0.0], [700.0, 0.0, 0.0], [700.0, 300.0, 0.0]]


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"bends": [{**BEND, "at": q(1040, 1)}]}, "1040 mm along a route of 1000 mm"),
        ({"bends": [{**BEND, "angle": q(-90, 1, "deg")}]}, "-90°"),
        # as good as straight, and yet a bend of 90°
        ({"turning": q(9, 1, "deg")}, "9° of turning in all, or bends of 90°"),
        ({"points": LINE, "length": q(10000, 2)}, "10000 mm, or a line of 1000 mm"),
    ],
)
def test_a_route_that_contradicts_itself_is_open(changes: Entries, word: str) -> None:
    route = entries(plain(route={**ROUTE, **changes})).route
    (found,) = route_check(route)
    assert found.ok is None
    assert word in found.detail


def test_a_route_of_one_piece() -> None:
    whole = route_check(entries(plain(route={**ROUTE, "points": LINE})).route)
    assert [check.ok for check in whole] == [True]
    assert route_check(entries(plain(route={"length": q(1000, 2)})).route) == ()
    assert route_check(None) == ()
