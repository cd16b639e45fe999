"""The other usual classes against published figures; the source stands beside each value."""

import pytest

from photomeasure.standards import listing, thread, threads
from photomeasure.standards.classes import NPTF_CREST, NPTF_ROOT, other_classes, rp_thread
from photomeasure.standards.metric import crest_tolerances, deviations

IN = 25.4
ASME = "a page of ASME B1.1's table of limits, huatuo6.cn"
TAP_INCH = "a tap maker's catalogue, nut thread limits 3B, docs.steelcam.org"
TAP_MM = "a tap maker's catalogue, pitch-diameter tolerances 4H, 5H, 6G, docs.steelcam.org"
CAD = "middles of limits in a drawing program's open thread table"

UNIFIED = [  # designation, class, quantity, published [in], source
    ("5/8-11 UNC", "1A", "major_max", 0.6234, ASME),
    ("5/8-11 UNC", "1A", "major_min", 0.6052, ASME),
    ("5/8-11 UNC", "1A", "pitch_min", 0.5561, ASME),
    ("5/8-11 UNC", "3A", "major_max", 0.6250, ASME),
    ("5/8-11 UNC", "3A", "major_min", 0.6129, ASME),
    ("5/8-11 UNC", "3A", "pitch_min", 0.5619, ASME),
    ("5/8-11 UNC", "1B", "minor_min", 0.527, ASME),
    ("5/8-11 UNC", "1B", "minor_max", 0.546, ASME),
    ("5/8-11 UNC", "3B", "minor_min", 0.527, ASME),
    ("5/8-11 UNC", "3B", "minor_max", 0.5391, ASME),
    ("5/8-18 UNF", "1A", "major_max", 0.6236, ASME),
    ("5/8-18 UNF", "1A", "major_min", 0.6105, ASME),
    ("5/8-18 UNF", "1A", "pitch_min", 0.5805, ASME),
    ("5/8-18 UNF", "3A", "major_max", 0.6250, ASME),
    ("5/8-18 UNF", "3A", "major_min", 0.6163, ASME),
    ("5/8-18 UNF", "3A", "pitch_min", 0.5854, ASME),
    ("5/8-18 UNF", "1B", "minor_max", 0.578, ASME),
    ("5/8-18 UNF", "3B", "minor_min", 0.565, ASME),
    ("5/8-18 UNF", "3B", "minor_max", 0.5730, ASME),
    ("1/4-20 UNC", "3A", "pitch_min", 0.2147, "memory"),
    ("1/4-20 UNC", "3B", "minor_max", 0.2067, "memory"),
    ("1/4-28 UNF", "3B", "minor_max", 0.2190, "memory"),
    ("1/2-13 UNC", "3A", "pitch_min", 0.4463, "memory"),
    ("1/2-13 UNC", "3B", "pitch_max", 0.4548, "memory"),
    ("1/2-13 UNC", "3B", "minor_max", 0.4284, "memory"),
    ("1/2-20 UNF", "3A", "pitch_min", 0.4643, "memory"),
    ("1/2-20 UNF", "3B", "pitch_max", 0.4717, "memory"),
    ("1/2-20 UNF", "3B", "minor_max", 0.4537, "memory"),
]
# Where the page contradicts the rounding that the other sizes follow; nothing is averaged
DISAGREEMENTS = {
    ("5/8-11 UNC", "1A", "major_max"): "allowance 0.00165 in, printed 0.0016, by rounding 0.0017",
    ("5/8-11 UNC", "1A", "major_min"): "follows from its allowance",
    ("5/8-11 UNC", "1A", "pitch_min"): "follows from its allowance",
}
UNIFIED_MM = [  # published [mm] of inch sizes: the last digit is worth 0.00002 in
    ("1/4-28 UNF", "3B", "pitch_max", 5.842, TAP_INCH),
    ("5/16-24 UNF", "3B", "pitch_max", 7.341, TAP_INCH),
    ("3/8-24 UNF", "3B", "pitch_max", 8.931, TAP_INCH),
    ("7/16-20 UNF", "3B", "pitch_max", 10.391, TAP_INCH),
    ("1/2-20 UNF", "3B", "pitch_max", 11.981, TAP_INCH),
    ("9/16-18 UNF", "3B", "pitch_max", 13.482, TAP_INCH),
    ("5/8-18 UNF", "3B", "pitch_max", 15.072, TAP_INCH),
    ("3/4-16 UNF", "3B", "pitch_max", 18.143, TAP_INCH),
]
TOLERANCES = [  # designation, class, tolerance of the pitch diameter [um]
    ("M8x1", "4H", 95, TAP_MM),
    ("M8x1", "5H", 118, TAP_MM),
    ("M8x1.25", "4H", 100, TAP_MM),
    ("M8x1.25", "5H", 125, TAP_MM),
    ("M8x1.25", "4g6g", 75, CAD),
    ("M16x1.5", "4h", 90, "memory"),
    ("M16x1.5", "4H", 118, "memory"),
    ("M16x1.5", "5H", 150, "memory"),
    ("M16x1.5", "7H", 236, "memory"),
    ("M16x1.5", "8g", 224, "memory"),
    ("M16x1.5", "5g6g", 112, "memory"),
]


def limit(designation: str, name: str, quantity: str) -> float:
    others = other_classes(thread(designation))
    rows = [one for one in (*others.external, *others.internal) if one.tolerance_class == name]
    assert len(rows) == 1
    return float(getattr(rows[0], f"{quantity}_mm"))


@pytest.mark.parametrize(("designation", "name", "quantity", "published", "source"), UNIFIED)
def test_unified_classes_agree_to_a_tenth_of_a_thou(
    designation: str, name: str, quantity: str, published: float, source: str
) -> None:
    differs = (designation, name, quantity) in DISAGREEMENTS
    off = abs(limit(designation, name, quantity) / IN - published)
    assert off <= 0.000101, source
    assert (off > 0.00005) == differs, source


@pytest.mark.parametrize(("designation", "name", "quantity", "published", "source"), UNIFIED_MM)
def test_unified_classes_agree_in_millimetres(
    designation: str, name: str, quantity: str, published: float, source: str
) -> None:
    assert limit(designation, name, quantity) == pytest.approx(published, abs=0.0026), source


@pytest.mark.parametrize(("designation", "name", "tolerance_um", "source"), TOLERANCES)
def test_metric_grades_are_the_printed_ones(
    designation: str, name: str, tolerance_um: float, source: str
) -> None:
    band = limit(designation, name, "pitch_max") - limit(designation, name, "pitch_min")
    assert band * 1000 == pytest.approx(tolerance_um, abs=0.01), source


def test_position_g_lies_where_a_tap_maker_prints_it() -> None:
    # 6G of M8x1 reaches 176 um, of M8x1.25 188 um above the basic pitch diameter (TAP_MM)
    for designation, printed_um in (("M8x1", 176), ("M8x1.25", 188)):
        basic = thread(designation).pitch_diameter_mm
        above_um = (limit(designation, "6G", "pitch_max") - basic) * 1000
        assert above_um == pytest.approx(printed_um, abs=0.01)


@pytest.mark.parametrize(
    ("designation", "name", "printed_um"),
    [  # ISO 965-1, table 1, es (memory)
        ("M10x1", "6e", -60),
        ("M16x1.5", "6e", -67),
        ("M24x2", "6e", -71),
        ("M10x1", "6f", -40),
        ("M16x1.5", "6f", -45),
        ("M24x2", "6f", -52),
    ],
)
def test_positions_e_and_f_leave_room_for_thick_plating(
    designation: str, name: str, printed_um: float
) -> None:
    one = thread(designation)
    above_um = (limit(designation, name, "major_max") - one.major_diameter_mm) * 1000
    assert above_um == pytest.approx(printed_um, abs=0.01)
    assert one.external is not None
    width = limit(designation, name, "major_max") - limit(designation, name, "major_min")
    usual = one.external.major_max_mm - one.external.major_min_mm  # 6g: the same grade
    assert width == pytest.approx(usual, abs=1e-9)


def test_deviations_lie_by_the_formulas_of_the_standard() -> None:
    # ISO 965-1, clause 13, quoted by several open programs: es = -(50 + 11 P), -(30 + 11 P)
    assert set(deviations()) == set(crest_tolerances())
    for pitch_mm, printed in deviations().items():
        assert printed.e_deviation_um == pytest.approx(-(50 + 11 * pitch_mm), abs=2.51)
        assert printed.f_deviation_um == pytest.approx(-(30 + 11 * pitch_mm), abs=2.51)


def test_crests_of_4g6g_are_those_of_6g() -> None:
    # middles of M8x1.25 in CAD: 4g6g major 7.866, pitch 7.1225
    crest = [limit("M8x1.25", "4g6g", name) for name in ("major_min", "major_max")]
    flank = [limit("M8x1.25", "4g6g", name) for name in ("pitch_min", "pitch_max")]
    assert sum(crest) / 2 == pytest.approx(7.866, abs=1e-6)
    assert sum(flank) / 2 == pytest.approx(7.1225, abs=1e-6)


def test_rp_is_parallel_and_as_wide_as_published() -> None:
    # ISO 7-1, table 1, T2/2 on diameter: 0.071, 0.104, 0.142, 0.180 mm (memory)
    for size, published in (("1/8", 0.071), ("1/4", 0.104), ("1/2", 0.142), ("1", 0.180)):
        one = rp_thread(thread(f"Rc{size}"))
        assert one.internal is not None
        assert not one.is_tapered
        half = (one.internal.minor_max_mm - one.internal.minor_min_mm) / 2
        assert half == pytest.approx(published, abs=0.0006)


def test_dryseal_truncations_are_those_printed_in_inches() -> None:
    # ASME B1.20.3, table 1, the same truncations in inches (memory)
    crest = {27: (0.0018, 0.0035), 18: (0.0026, 0.0043), 14: (0.0026, 0.0043)}
    root = {27: (0.0035, 0.0052), 18: (0.0043, 0.0061), 14: (0.0043, 0.0061)}
    for printed, ours in ((crest, NPTF_CREST), (root, NPTF_ROOT)):
        for tpi, cuts in printed.items():
            assert [cut / tpi for cut in ours[tpi]] == pytest.approx(cuts, abs=0.00005)


def test_dryseal_crests_always_reach_the_roots_they_crush_into() -> None:
    for tpi, (_, bluntest_crest) in NPTF_CREST.items():
        assert bluntest_crest <= NPTF_ROOT[tpi][0]


def test_a_closer_class_lies_inside_a_wider_one() -> None:
    for one in threads():
        bands = {
            limits.tolerance_class: limits.pitch_max_mm - limits.pitch_min_mm
            for limits in (*other_classes(one).external, *other_classes(one).internal)
        }
        for close, wide in (("3A", "1A"), ("3B", "1B"), ("4h", "6h"), ("5g6g", "8g"), ("4H", "7H")):
            if close in bands and wide in bands:
                assert bands[close] < bands[wide], one.designation


def test_the_listing_names_the_other_classes_where_they_are_asked_for() -> None:
    rows = listing(["M18x1.5-4g6g", "9/16-18 UNF-3A", "1/2-14 NPTF", "M18x1.5", "rp 1/2"])[
        "threads"
    ]
    assert isinstance(rows, list)
    named = [[limits["class"] for limits in row.get("other_classes", [])] for row in rows]
    assert named[0] == ["4h", "6h", "4g6g", "5g6g", "8g", "6f", "6e", "4H", "5H", "7H", "6G"]
    assert named[1:] == [["1A", "3A", "1B", "3B"], ["NPTF", "NPTF"], [], []]
    assert rows[4]["designation"] == "Rp1/2"
    everything = listing(classes=True)["threads"]
    assert isinstance(everything, list)
    assert all("other_classes" in row for row in everything)
