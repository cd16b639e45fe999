import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photomeasure.errors import UsageError
from photomeasure.standards import listing, lookalikes, seats, thread, threads


@pytest.mark.parametrize("designation", [one.designation for one in threads()])
def test_a_designation_is_read_back(designation: str) -> None:
    assert thread(designation).designation == designation


def test_no_designation_stands_twice() -> None:
    names = [one.designation for one in threads()]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("m18 x 1,5", "M18x1.5"),
        ("M18×1.5-6g", "M18x1.5"),
        ("M10", "M10x1.5"),
        ("9/16-18", "9/16-18 UNF"),
        ("9/16-18 unf-2a", "9/16-18 UNF"),
        ("0.5625-18", "9/16-18 UNF"),
        ("1-1/16-12 UN", "1 1/16-12 UN"),
        ('1 1/16"-12', "1 1/16-12 UN"),
        ("1-14 UNF", "1-14 UNS"),  # the trade's name for it
        ('G 1/4"', "G1/4"),
        ("1/4 BSPP", "G1/4"),
        ("BSPT 1/4", "R1/4"),
        ("rc3/8", "Rc3/8"),
        ("NPT 1/4", "1/4-18 NPT"),
        ("1/4 npt", "1/4-18 NPT"),
        ("1 1/4-11.5 NPT", "1 1/4-11.5 NPT"),
    ],
)
def test_designations_are_read_as_the_trade_writes_them(written: str, meant: str) -> None:
    assert thread(written).designation == meant


@pytest.mark.parametrize("written", ["M17x1.5", "", "9/16-19", "1/0-18", "G", "M", "1/4-19 NPT"])
def test_what_no_table_has_is_refused(written: str) -> None:
    with pytest.raises(UsageError):
        thread(written)


@given(st.text(max_size=80))
def test_junk_is_a_thread_or_a_refusal(written: str) -> None:
    try:
        found = thread(written)
    except UsageError:
        return
    assert found in threads()


def test_the_refusal_names_what_was_meant() -> None:
    with pytest.raises(UsageError, match=r"M18x1\.5"):
        thread("M19x1.5")


def test_the_listing_has_the_contracts_keys() -> None:
    rows = listing(["M18x1.5", "1/4-18 NPT", "Rc1/4", "R1/4"])["threads"]
    assert isinstance(rows, list)
    keys = {
        *("designation", "family", "pitch_mm", "tpi", "thread_angle_deg", "taper"),
        *("external", "internal", "seats", "source"),
    }
    metric, npt, rc, r = rows
    assert set(metric) == keys
    assert set(npt) == keys | {"gauge_length_mm", "gauge_tolerance_mm"}
    assert rc["external"] is None
    assert r["internal"] is None
    assert metric["tpi"] is None
    assert metric["thread_angle_deg"] == 60
    assert (npt["taper"], rc["thread_angle_deg"]) == (0.0625, 55)
    assert set(metric["external"]) == {
        "class",
        "major_max_mm",
        "major_min_mm",
        "pitch_max_mm",
        "pitch_min_mm",
    }
    assert json.loads(json.dumps(rows)) == rows


def test_the_whole_listing_is_every_thread() -> None:
    rows = listing()["threads"]
    assert isinstance(rows, list)
    assert len(rows) == len(threads())


def test_npt_crest_cone_at_the_gauge_plane_is_the_pitch_cone_and_eight_tenths_of_a_pitch() -> None:
    # ASME B1.20.1: E1 = 0.49163 in, P = 1/18 in, thread height 0.8 P
    one = thread("1/4-18 NPT")
    assert one.major_diameter_mm == pytest.approx(25.4 * (0.49163 + 0.8 / 18), abs=0.0005)
    assert one.taper_half_angle_rad == pytest.approx(math.atan(1 / 32))


def test_npt_gauge_sizes_follow_from_the_pipe() -> None:
    # ASME B1.20.1: E0 = D - (0.050 D + 1.1) P and E1 = E0 + L1 / 16, all in inches
    pipes_in = {"1/8-27": 0.405, "1/4-18": 0.540, "3/8-18": 0.675, "1/2-14": 0.840}
    pipes_in |= {"3/4-14": 1.050, "1-11.5": 1.315, "2-11.5": 2.375, "1/16-27": 0.3125}
    for name, pipe_in in pipes_in.items():
        one = thread(f"{name} NPT")
        assert one.gauge is not None
        small_in = pipe_in - (0.050 * pipe_in + 1.1) / float(name.split("-")[1])
        gauge_in = small_in + one.gauge.length_mm / 25.4 / 16
        assert one.pitch_diameter_mm / 25.4 == pytest.approx(gauge_in, abs=0.00001)


def test_every_seat_and_lookalike_is_of_a_known_thread() -> None:
    names = {one.designation for one in threads()}
    assert {seat.designation for seat in seats()} <= names
    assert {name for pair in lookalikes() for name in (pair.designation, pair.lookalike)} <= names


def test_what_is_from_memory_is_counted() -> None:
    """The rows that one person remembered: they are to shrink, never to grow."""
    remembered = sum(seat.checked == "memory" for seat in seats())
    assert 0 < remembered <= 29
    assert all(one.checked != "memory" for one in threads())
