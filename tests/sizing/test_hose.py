"""The hose against its line: every check is true, false, or open with the missing item named."""

from dataclasses import replace
from typing import Any

import pytest

from photomeasure.errors import NoPlanError
from photomeasure.sizing.checks import Check
from photomeasure.sizing.connection import Connection, chain_to
from photomeasure.sizing.entries import HoseEntry, LineEntry
from photomeasure.sizing.hose import flow_speed_m_per_s, hose_checks, peak_pressure_mpa
from photomeasure.sizing.ports import refuse_other_systems
from photomeasure.sizing.shelf import Face
from tests.sizing.jobs import Entries, entries, plain

HOSE: Entries = {
    "kind": "two braids, invented",
    "inside_diameter_mm": 9.5,
    "outside_diameter_mm": 18.0,
    "working_pressure_mpa": 20.0,
    "working_pressure_to_c": 100,
    "burst_pressure_mpa": 80.0,
    "temperature_max_c": 120,
    "fluids": ["mineral oil"],
    "liner": "nitrile",
    "made_on": "2024-03",
    "second_hand": False,
}
LINE: Entries = {
    "kind": "pressure",
    "system": "power steering",
    "fluid": "mineral oil",
    "fluid_by": "cap",
    "relief_pressure_mpa": 9.0,
    "relief_by": "plate on the pump",
    "peak_pressure_mpa": 10.0,
    "hottest_c": 95,
    "hottest_by": "manual",
    "flow_l_per_min": 12.0,
    "viscosity_mm2_per_s": 32.0,
    "density_kg_per_m3": 870.0,
}
FITS: Entries = {"statement": "end fits this hose", "by": "maker's sheet", "pressure_mpa": 21.0}


def job(hose: Entries | None = None, line: Entries | None = None, **end: Any) -> Any:
    document = plain(
        hose={**HOSE, **(hose or {})}, line={**LINE, **(line or {})}, build_date="2025-06"
    )
    one = {
        "fits_hose": FITS,
        "adapter_pressure_mpa": 25.0,
        "seal_material": "nitrile",
        "seal_max_c": 100,
        **end,
    }
    document["ends"] = [{**entry, **one} for entry in document["ends"]]
    return entries(document)


def check(name: str, whole: Any) -> Check:
    return next(found for found in hose_checks(whole) if found.name == name)


def test_a_whole_data_sheet_leaves_nothing_open() -> None:
    assert [found.name for found in hose_checks(job()) if not found.ok] == []


def test_with_nothing_entered_every_check_is_open_and_says_what_is_missing() -> None:
    for found in hose_checks(entries({"job": 1, "ends": [{}, {}]})):
        assert found.ok is None
        assert found.detail.startswith("Missing: ")
        assert len(found.detail) > len("Missing: .")


@pytest.mark.parametrize(
    ("name", "changes", "ok", "word"),
    [
        ("relief pressure", ({}, {"relief_pressure_mpa": None}, {}), None, "relief"),
        ("relief pressure", ({}, {"relief_by": None}, {}), None, "who"),
        ("relief pressure", ({}, {"kind": "cylinder"}, {}), None, "shock"),
        ("line rating", ({"working_pressure_mpa": 8}, {}, {}), False, "hose carries 8"),
        ("line rating", ({"working_pressure_mpa": None}, {}, {}), None, "working pressure"),
        ("line rating", ({}, {"hottest_c": 110}, {}), None, "at 110"),
        ("line rating", ({"working_pressure_hot_mpa": 9}, {"hottest_c": 110}, {}), False, "9 MPa"),
        ("line rating", ({"working_pressure_hot_mpa": 15}, {"hottest_c": 110}, {}), True, "15 MPa"),
        ("line rating", ({}, {}, {"adapter_pressure_mpa": 7}), False, "adapters at A carries 7"),
        ("line rating", ({}, {}, {"adapter_pressure_mpa": None}), None, "adapters at A"),
        ("line rating", ({}, {}, {"fits_hose": None}), None, "end A"),
        ("line rating", ({}, {"relief_pressure_mpa": None}, {}), None, "highest pressure"),
        ("line rating", ({}, {"peak_pressure_mpa": 30}, {}), False, "30 MPa"),
        # beyond the valve the relief says nothing: a return line has a pressure of its own
        (
            "line rating",
            ({"working_pressure_mpa": 1.72}, {"kind": "return", "peak_pressure_mpa": 0.6}, {}),
            True,
            "line 0.6 MPa",
        ),
        (
            "line rating",
            ({}, {"kind": "return", "peak_pressure_mpa": None}, {}),
            None,
            "return line itself",
        ),
        ("line rating", ({}, {"kind": "feed", "peak_pressure_mpa": None}, {}), None, "feed line"),
        (
            "relief pressure",
            ({}, {"kind": "cylinder", "shock_pressure_mpa": 8}, {}),
            None,
            "which is true",
        ),
        ("end A made for this hose", ({}, {}, {"fits_hose": None}), None, "statement"),
        (
            "end B made for this hose",
            ({}, {}, {"fits_hose": {**FITS, "pressure_mpa": None}}),
            None,
            "pressure",
        ),
        ("end A made for this hose", ({}, {}, {"made": None}), None, "crimped or screwed"),
        (
            "end A made for this hose",
            ({"dash": 8}, {}, {"fits_hose": {**FITS, "statement": "fits 2SN, -6"}}),
            None,
            "an end for -6 or a hose of -8",
        ),
        (
            "end A made for this hose",
            ({"dash": 6}, {}, {"fits_hose": {**FITS, "statement": "fits 2SN, -6"}}),
            True,
            "-6",
        ),
        ("burst four to one", ({"burst_pressure_mpa": 79.9}, {}, {}), False, "79.9 MPa"),
        ("burst four to one", ({"burst_pressure_mpa": None}, {}, {}), None, "burst"),
        ("temperature", ({}, {"hottest_c": 121}, {}), False, "121"),
        ("temperature", ({}, {"hottest_by": None}, {}), None, "who"),
        ("temperature", ({}, {"hottest_c": 110}, {}), False, "O-rings at A"),
        ("temperature", ({}, {}, {"seal_max_c": None}), None, "O-rings at A"),
        ("temperature", ({"temperature_max_c": None}, {}, {}), None, "highest"),
        (  # nitrile stands 120 °C, whatever was entered for it
            "temperature",
            ({"temperature_max_c": 150}, {"hottest_c": 130}, {"seal_max_c": 200}),
            False,
            "O-rings at A: 120",
        ),
        ("fluid", ({}, {"fluid": "glycol"}, {}), False, "specialist"),
        (
            "fluid",  # every part stands it and the sheet names it, but it is no mineral oil
            ({"liner": "PTFE", "fluids": ["glycol"]}, {"fluid": "glycol"}, {"seal_material": "x"}),
            False,
            "specialist",
        ),
        ("fluid", ({}, {"fluid": "red stuff"}, {}), None, "'red stuff' is a mineral oil"),
        ("fluid", ({"fluids": ["glycol"]}, {}, {}), False, "does not name"),
        ("fluid", ({}, {}, {"seal_material": "unobtainium"}), None, "unobtainium (O-rings at A)"),
        ("fluid", ({"liner": "felt"}, {}, {}), None, "felt (liner)"),
        ("fluid", ({}, {"fluid": "mineral oil HLP 46"}, {}), True, "HLP 46"),
        ("fluid", ({}, {}, {"seal_material": "EPDM"}), False, "EPDM"),
        ("fluid", ({}, {}, {"seal_material": None}), None, "O-rings at A"),
        ("fluid", ({}, {"fluid_by": None}, {}), None, "never from its colour"),
        ("fluid", ({"fluids": None}, {}, {}), None, "data sheet"),
        ("line kind", ({}, {"kind": None}, {}), None, "pressure, return"),
        ("line kind", ({}, {"kind": "return"}, {}), None, "bore"),
        ("line kind", ({}, {"kind": "return", "pressure_line_bore_mm": 9}, {}), True, "9.5 mm"),
        ("line kind", ({}, {"kind": "return", "pressure_line_bore_mm": 10}, {}), False, "10 mm"),
        ("line kind", ({}, {"kind": "feed"}, {}), None, "suction"),
        (
            "line kind",
            (
                {"suction_rated": True, "inside_diameter_mm": 25},
                {"kind": "feed", "flow_l_per_min": 30},
                {},
            ),
            True,
            "1.02 m/s",
        ),
        (
            "line kind",
            ({"suction_rated": True}, {"kind": "feed", "flow_l_per_min": 12}, {}),
            False,
            "2.82 m/s",
        ),
        ("hose age", ({"second_hand": True}, {}, {}), False, "second-hand"),
        ("hose age", ({"made_on": "2021-05"}, {}, {}), False, "4.1 years"),
        ("hose age", ({"made_on": "spring"}, {}, {}), None, "YYYY-MM"),
        ("hose age", ({"made_on": "2024-13"}, {}, {}), None, "YYYY-MM"),
        ("hose age", ({"made_on": "2026-01"}, {}, {}), None, "which is true"),
        ("hose age", ({"made_on": None}, {}, {}), None, "date of making"),
        ("system", ({}, {"system": "forestry winch"}, {}), None, "forestry winch"),
    ],
)
def test_one_entry_changed(
    name: str, changes: tuple[Entries, Entries, Entries], ok: bool | None, word: str
) -> None:
    hose, line, end = changes
    found = check(name, job(hose, line, **end))
    assert found.ok is ok
    assert word in found.detail


def test_a_cylinder_line_sees_its_shock_valves() -> None:
    line = LineEntry(kind="cylinder", relief_pressure_mpa=9, shock_pressure_mpa=14)
    assert peak_pressure_mpa(line) == 14
    assert check("line rating", job({}, {"kind": "cylinder", "shock_pressure_mpa": 21})).ok is False


def test_a_burst_pressure_is_never_a_working_value() -> None:
    # 10 MPa on the line, burst 80 MPa known, working pressure not: still open.
    assert check("line rating", job({"working_pressure_mpa": None})).ok is None


@pytest.mark.parametrize(
    ("flow_l_per_min", "bore_mm", "speed_m_per_s"),
    [
        # By hand: 12 L/min = 2e-4 m3/s; area of 9.5 mm = 70.88e-6 m2.
        (12, 9.5, 2.8216),
        # By hand: 30 L/min = 5e-4 m3/s; area of 25 mm = 490.87e-6 m2.
        (30, 25, 1.01859),
        # By hand: 60 L/min = 1 L/s through 1 cm2 (11.2838 mm) is 10 m/s.
        (60, 11.28379, 10.0),
    ],
)
def test_flow_speed(flow_l_per_min: float, bore_mm: float, speed_m_per_s: float) -> None:
    assert flow_speed_m_per_s(flow_l_per_min, bore_mm) == pytest.approx(speed_m_per_s, rel=1e-4)


@pytest.mark.parametrize("system", ["brakes", "hydraulic clutch", "fuel", "LPG gas", "steam line"])
def test_other_systems_are_refused(system: str) -> None:
    with pytest.raises(NoPlanError, match="only") as caught:
        refuse_other_systems(job({}, {"system": system}))
    assert "specialist" in caught.value.remedy


@pytest.mark.parametrize("system", ["power steering", "loader hydraulics", "air-cooled tractor"])
def test_systems_in_scope_are_not_refused(system: str) -> None:
    refuse_other_systems(job({}, {"system": system}))


def test_a_hose_has_no_figures_of_its_own() -> None:
    figures = {key: value for key, value in HoseEntry() if value is not None}
    assert figures == {}


def joined(port: Face, **own: Any) -> Connection:
    chain = chain_to(port, 8)
    assert chain is not None
    parts = tuple(replace(part, **own) for part in chain.adapters)
    chain = replace(chain, adapters=parts)
    return Connection(8, (chain, chain))


STUD = Face("O-ring port", "M18x1.5", "female")
STUB = Face("37° flare", "3/4-16 UNF", "male")


def rating(one: Any, connection: Connection) -> Check:
    return next(c for c in hose_checks(one, connection) if c.name == "line rating")


def test_the_shelf_says_what_an_adapter_carries() -> None:
    silent = job(adapter_pressure_mpa=None)
    assert rating(silent, joined(STUD)).ok is None
    assert rating(silent, joined(STUD, pressure_mpa=21.0)).ok is True
    # the weaker of what was entered and what the shelf says
    found = rating(job(), joined(STUD, pressure_mpa=8.0))
    assert (found.ok, "adapters at A carries 8" in found.detail) == (False, True)


def test_where_no_adapter_is_none_is_asked_for() -> None:
    bare = job(adapter_pressure_mpa=None, seal_material=None, seal_max_c=None)
    found = {check.name: check.ok for check in hose_checks(bare, joined(STUB))}
    # metal on metal: neither adapter nor O-ring
    assert (found["line rating"], found["fluid"], found["temperature"]) == (True, True, True)
    asked = {check.name: check.ok for check in hose_checks(bare)}
    assert (asked["line rating"], asked["fluid"], asked["temperature"]) == (None, None, None)


def test_the_shape_of_an_end_is_said_not_supposed() -> None:
    document = plain(hose=HOSE, line=LINE)
    document["ends"] = [
        {key: value for key, value in {**one, "fits_hose": FITS}.items() if key != "end"}
        for one in document["ends"]
    ]
    found = check("end A made for this hose", entries(document))
    assert found.ok is None
    assert "straight, 45° or 90°" in found.detail
