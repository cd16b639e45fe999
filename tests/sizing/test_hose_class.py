"""What a hose's standard promises, against published figures; each names its source."""

from typing import Any

import pytest

from photomeasure.errors import TableError
from photomeasure.job.plan import plan_entries
from photomeasure.sizing.entries import HoseEntry, JobEntries
from photomeasure.sizing.hose_class import (
    HoseFigure,
    duty_of,
    from_standard,
    hose_figures,
    hose_standards,
    read_classes,
)
from photomeasure.sizing.path import least_axis_radius_mm
from tests.sizing.jobs import Entries, entries, plain

DASHES = (3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32)
# A public repository's table of hydraulic hose "EN 853": working pressure [bar], least radius [mm]
PUBLIC = {
    "EN 853 1SN": ((250, 90), (225, 100), (215, 115), (180, 130), (160, 180), (130, 200),
                   (105, 240), (88, 300), (63, 420), (50, 500), (40, 630)),
    "EN 853 2SN": ((415, 90), (400, 100), (350, 115), (330, 130), (275, 180), (250, 200),
                   (215, 240), (165, 300), (125, 420), (90, 500), (80, 630)),
}  # fmt: skip


def figure(standard: str, dash: int | None, name: str) -> HoseFigure:
    return next(one for one in hose_figures(standard, dash) if one.figure == name)


@pytest.mark.parametrize("standard", PUBLIC)
def test_pressure_and_radius_are_those_of_a_public_table(standard: str) -> None:
    for dash, (bar, radius_mm) in zip(DASHES, PUBLIC[standard], strict=True):
        assert figure(standard, dash, "working_pressure_mpa").value == pytest.approx(bar / 10)
        assert figure(standard, dash, "bend_radius_mm").value == radius_mm


# A trade article comparing a hose with SAE J517 100R1 and 100R2 gives their outside diameters
OUTSIDE = [  # standard, dash, outside diameter at most [in]
    ("EN 853 1SN", 6, 0.713),
    ("EN 853 1SN", 8, 0.846),
    ("EN 853 2SN", 6, 0.777),
    ("EN 853 2SN", 8, 0.908),
]


@pytest.mark.parametrize(("standard", "dash", "inches"), OUTSIDE)
def test_outside_diameters_are_the_published_ones(standard: str, dash: int, inches: float) -> None:
    one = figure(standard, dash, "outside_diameter_mm")
    assert one.is_confirmed
    assert one.value == pytest.approx(25.4 * inches, abs=0.05)


# Published scopes: SAE J188:2003, J190:1998, J2050, J189:2003, J2076; pressures in psi
STEERING = [  # standard, working pressure [psi], hottest [°C], line
    ("SAE J188", 1500, 135, "pressure"),
    ("SAE J190", 1500, 135, "pressure"),
    ("SAE J2050", 1500, 149, "pressure"),
    ("SAE J189", 250, 135, "return"),
    ("SAE J2076", 175, 149, "return"),
]


@pytest.mark.parametrize(("standard", "psi", "peak_c", "duty"), STEERING)
def test_steering_hose_is_rated_as_its_scope_says(
    standard: str, psi: float, peak_c: float, duty: str
) -> None:
    rated = figure(standard, None, "working_pressure_mpa").value
    assert rated == pytest.approx(psi * 0.00689476, abs=0.05)
    assert figure(standard, None, "temperature_max_c").value == peak_c
    assert duty_of(HoseEntry(standard=standard)) == duty


# SAE J517 100R13 and 100R15, 5000 and 6000 psi at all sizes, are sold as these classes of ISO 18752
CLASSES = [(350, 5000), (420, 6000)]


@pytest.mark.parametrize(("number", "psi"), CLASSES)
def test_a_class_number_is_its_pressure_in_bar(number: int, psi: float) -> None:
    rated = figure(f"ISO 18752 class {number}", None, "working_pressure_mpa").value
    assert rated == pytest.approx(psi * 0.00689476, rel=0.02)


def test_iso_18752_has_the_ten_classes_of_its_scope() -> None:
    assert sum(name.startswith("ISO 18752 class") for name in hose_standards()) == 10


# TM 1-1500-204-23-2, table 4-23: proof pressures [psi]; proof is twice the working pressure
PTFE = [(4, 3000), (10, 3000), (12, 2000), (16, 2500)]  # dash, proof pressure [psi]


@pytest.mark.parametrize(("dash", "proof_psi"), PTFE)
def test_ptfe_hose_is_rated_at_half_its_proof_pressure(dash: int, proof_psi: float) -> None:
    rated = figure("MIL-DTL-27267 PTFE", dash, "working_pressure_mpa").value
    assert rated == pytest.approx(proof_psi / 2 * 0.00689476, abs=0.05)


# MIL-H-8794, AC 43.13-1B, table 9-3: pressure and burst [psi], least radius and outside [in]
BRAIDED = [
    (4, 3000, 12000, 3.00, 0.52),
    (6, 2000, 9000, 4.00, 0.67),
    (8, 2000, 8000, 4.63, 0.77),
    (12, 1750, 6000, 6.50, 1.08),
    (16, 800, 3200, 7.38, 1.23),
]


@pytest.mark.parametrize(("dash", "psi", "burst_psi", "radius_in", "outside_in"), BRAIDED)
def test_fabric_covered_hose_is_as_the_circular_has_it(
    dash: int, psi: float, burst_psi: float, radius_in: float, outside_in: float
) -> None:
    hose = from_standard(HoseEntry(standard="MIL-H-8794", dash=dash)).hose
    assert hose.working_pressure_mpa == pytest.approx(psi * 0.00689476, rel=5e-3)
    assert hose.burst_pressure_mpa == pytest.approx(burst_psi * 0.00689476, rel=5e-3)
    assert hose.bend_radius_mm == pytest.approx(25.4 * radius_in, abs=0.05)
    assert hose.outside_diameter_mm == pytest.approx(25.4 * outside_in, abs=0.05)
    # not at full pressure and full heat together: up to which heat the pressure holds stays open
    assert hose.working_pressure_to_c is None


# A public repository's table of SAE 100R5 hose: working pressure [psi], least radius [mm, to 5 mm]
FIVES = [
    (4, 3000, 75),
    (5, 3000, 85),
    (6, 2250, 100),
    (8, 2000, 115),
    (10, 1750, 140),
    (12, 1500, 165),
    (16, 800, 185),
    (20, 625, 230),
    (24, 500, 265),
    (32, 350, 335),
]


@pytest.mark.parametrize(("dash", "psi", "radius_mm"), FIVES)
def test_100r5_is_as_a_public_table_has_it(dash: int, psi: float, radius_mm: float) -> None:
    hose = from_standard(HoseEntry(standard="SAE 100R5", dash=dash)).hose
    assert hose.working_pressure_mpa == pytest.approx(psi * 0.00689476, rel=5e-3)
    assert hose.bend_radius_mm == pytest.approx(radius_mm, abs=2.6)
    assert hose.burst_pressure_mpa == pytest.approx(4 * psi * 0.00689476, rel=5e-3)


def test_bigger_hose_carries_less_and_bends_wider() -> None:
    for standard in ("EN 853 1SN", "EN 853 2SN", "EN 857 1SC", "EN 857 2SC"):
        sizes = [dash for dash in DASHES if len(hose_figures(standard, dash)) > 8]
        for name, sign in (("working_pressure_mpa", -1), ("bend_radius_mm", 1)):
            values = [float(figure(standard, dash, name).value) for dash in sizes]
            assert values == sorted(values, key=lambda value: sign * value)


def test_what_one_memory_alone_says_fills_nothing_but_is_told() -> None:
    doubtful = HoseEntry(standard="EN 857 2SC", dash=8)
    found = from_standard(doubtful)
    assert not figure("EN 857 2SC", 8, "bend_radius_mm").is_confirmed
    assert found.hose.bend_radius_mm is None
    assert found.hose.bend_radius_to is None  # says nothing without the radius
    assert all(one.is_confirmed for one in found.filled)
    assert any("least bend radius 130 mm" in note and "nothing" in note for note in found.notes)


def test_iso_1436_is_as_good_as_en_853_only_for_a_hint() -> None:
    found = from_standard(HoseEntry(standard="ISO 1436 2SN", dash=6))
    assert found.hose.working_pressure_mpa is None
    assert any("working pressure 33 MPa" in note for note in found.notes)


def test_the_data_sheet_wins() -> None:
    sheet = HoseEntry(standard="EN 853 2SN", dash=6, working_pressure_mpa=40.0, bend_radius_mm=60.0)
    found = from_standard(sheet)
    assert found.hose.working_pressure_mpa == 40.0
    assert found.hose.bend_radius_mm == 60.0
    # what goes with the standard's own figures does not qualify the sheet's
    assert found.hose.burst_pressure_mpa is None
    assert found.hose.working_pressure_to_c is None
    assert found.hose.bend_radius_to is None
    assert found.hose.outside_diameter_mm == 19.7


def test_without_a_standard_or_with_an_unknown_one_nothing_is_filled() -> None:
    assert from_standard(HoseEntry(dash=6)).hose == HoseEntry(dash=6)
    odd = HoseEntry(standard="XYZ 7", dash=6)
    found = from_standard(odd)
    assert found.hose == odd
    assert found.filled == ()
    assert "EN 853 1SN" in found.notes[0]


def test_the_radius_of_en_853_is_to_the_inside_of_the_bend() -> None:
    hose = from_standard(HoseEntry(standard="EN 853 1SN", dash=6)).hose
    assert hose.bend_radius_to == "inside"
    assert least_axis_radius_mm(hose) == pytest.approx(130 + 18.1 / 2)


def job(hose: Entries, **line: Any) -> JobEntries:
    duty = {"kind": "pressure", "system": "power steering", "relief_pressure_mpa": 9.0,
            "relief_by": "plate", "hottest_c": 95, "hottest_by": "manual", **line}  # fmt: skip
    fits = {"statement": "fits", "by": "sheet", "pressure_mpa": 21.0}
    document = plain(hose=hose, line=duty)
    document["ends"] = [
        {**end, "fits_hose": fits, "adapter_pressure_mpa": 25.0, "seal_max_c": 100}
        for end in document["ends"]
    ]
    return entries(document)


def verdicts(one: JobEntries) -> dict[str, bool | None]:
    return {check.name: check.ok for check in plan_entries(one).checks}


def test_a_plan_is_checked_by_the_standard_where_no_sheet_was_entered() -> None:
    names = ("line rating", "burst four to one", "temperature")
    bare = verdicts(job({"dash": 6}))
    assert [bare[name] for name in names] == [None, None, None]
    filled = verdicts(job({"dash": 6, "standard": "EN 853 2SN"}))
    assert [filled[name] for name in names] == [True, True, True]
    weak = verdicts(job({"dash": 24, "standard": "EN 853 1SN"}))
    assert weak["line rating"] is False
    hot = verdicts(job({"dash": 6, "standard": "EN 853 2SN"}, hottest_c=120))
    assert hot["line rating"] is None
    assert hot["temperature"] is False


def test_return_hose_is_refused_on_a_pressure_line() -> None:
    assert verdicts(job({"standard": "SAE J189"}))["line kind"] is False
    assert verdicts(job({"standard": "SAE J188"}))["line kind"] is True


def test_the_plan_tells_each_figure_with_its_source() -> None:
    plan = plan_entries(job({"dash": 6, "standard": "EN 853 2SN"}))
    told = {row["figure"]: row for row in plan.as_json()["hose_from_standard"]}
    assert told["working_pressure_mpa"]["value"] == 33.0
    assert "EN 853" in told["working_pressure_mpa"]["source"]
    assert told["working_pressure_mpa"]["checked"] == "second source"
    assert any("EN 853 2SN, dash 6" in note for note in plan.warnings)


@pytest.mark.parametrize(
    "row",
    [
        "X,6,working_pressure_mpa,-3,s,read",
        "X,6,working_pressure_mpa,strong,s,read",
        "X,six,bend_radius_mm,90,s,read",
        "X,6,colour,4,s,read",
        "X,6,bend_radius_mm,90,,read",
        "X,6,bend_radius_mm,90,s,heard",
        "X,6,bend_radius_mm",
    ],
)
def test_a_bad_row_is_named_by_its_line(row: str) -> None:
    good = "X,4,bend_radius_mm,80,s,read"
    with pytest.raises(TableError, match="line 3"):
        read_classes(f"standard,dash,figure,value,source,checked\n{good}\n{row}\n")


def test_every_row_says_how_it_was_checked_and_few_rest_on_one_memory() -> None:
    every = [
        one
        for name in hose_standards()
        for dash in (None, *DASHES)
        for one in hose_figures(name, dash)
        if not name.startswith(("ISO 1436", "ISO 11237"))
    ]
    assert all(one.source for one in every)
    steering = [one for one in every if "SAE J1" in one.source or "SAE J2" in one.source]
    assert all(one.checked == "read" for one in steering if "twin" not in one.source)
