"""Answers to the contract's JSON and back: every key, shared sources, what is not shown."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from photomeasure.answers.advice import advice
from photomeasure.answers.candidates import answer_line, if_print_is_true
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.gauge import gauge_length_mm, moved_along
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.route import RouteAnswer
from photomeasure.answers.wire import budget_json, shown
from photomeasure.answers.words import band, band_inches, both_units
from photomeasure.errors import BadJobError
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.reading import Bend
from photomeasure.sizing.match import Candidate
from photomeasure.thread.reading import FittingReading, SpannerSize

SAMPLES = Path(__file__).parents[1] / "sample_images"
SCALE = Source("print scale x", "print scale along x", "print", "sheet A4 99.9")
EDGE = Source("edge bias", "edge of shiny metal", "photo", "0123")
POSES = tuple(Source(f"sheet pose/{n}", "lens and pose", "photo", "0123") for n in (1, 2))
NONE = Candidate("none of these", None, 0.02, ())


def _normal(value: float, parts: dict[Source, float], unit: str = "mm") -> Quantity:
    return Quantity.normal(measured(value, parts), unit)


DIAMETER = _normal(17.88, {SCALE: 0.18, EDGE: 0.03, POSES[0]: 0.02, POSES[1]: -0.01})
PITCH = _normal(1.499, {SCALE: 0.0151, POSES[1]: 0.002})


def _answer(**changes: object) -> FittingAnswer:
    values: dict[str, object] = {
        "verdict": "identified",
        "major_diameter": DIAMETER,
        "gauge_length_mm": None,
        "diameter_at_small_end": None,
        "minor_diameter": None,
        "pitch": PITCH,
        "taper_half_angle": _normal(0.05, {EDGE: 0.2}, "deg"),
        "thread_angle": None,
        "hand": "right",
        "thread_length": _normal(12.0, {EDGE: 0.4}),
        "across_flats": None,
        "spanner": (SpannerSize("22 mm", 0.9),),
        "nose_half_angle": None,
        "candidates": (Candidate("M18x1.5", "metric", 0.98, ("24° cone",)), NONE),
        "settle_by": None,
        "print_is_verified": True,
        "warnings": ("Look twice.",),
    }
    return FittingAnswer(**(values | changes))  # type: ignore[arg-type]


def _stored(answer: FittingAnswer) -> FittingAnswer:
    return FittingAnswer.from_json(json.loads(json.dumps(answer.as_json())))


FITTING_KEYS = {
    *("kind", "verdict", "major_diameter", "minor_diameter", "pitch", "taper_half_angle", "hand"),
    *("thread_length", "across_flats", "nose_half_angle", "candidates", "settle_by", "budget"),
    "print_verified",
    *("components", "warnings", "diameter_at_small_end", "gauge_length", "thread_angle"),
    *("spanner", "sources", "advice"),
}
ROUTE_KEYS = {
    *("kind", "laid", "length", "turning", "bends", "tightest_radius", "clocking", "points"),
    *("budget", "warnings", "hose_length", "components", "sources", "advice"),
    "clearances",
}


def test_a_fitting_has_every_key_of_the_contract() -> None:
    data = _answer().as_json()
    assert set(data) == FITTING_KEYS
    assert data["kind"] == "fitting"
    assert data["minor_diameter"] is None
    assert set(data["pitch"]) == {"value", "u", "low", "high", "unit"}
    assert data["candidates"][0] == {
        "designation": "M18x1.5",
        "family": "metric",
        "probability": 0.98,
        "seats": ["24° cone"],
    }


def test_a_stored_answer_comes_back_whole() -> None:
    answer = _answer()
    assert _stored(answer).as_json() == answer.as_json()


def test_the_ratio_keeps_its_certainty_through_a_file() -> None:
    again = _stored(_answer())
    assert again.major_diameter is not None
    assert again.pitch is not None
    before = (DIAMETER.number / PITCH.number).std_dev
    after = (again.major_diameter.number / again.pitch.number).std_dev
    assert after == pytest.approx(before, rel=1e-6)
    assert before < 0.3 * math.hypot(DIAMETER.u / 17.88, PITCH.u / 1.499) * 17.88 / 1.499


def test_a_stored_value_shares_its_print_with_a_new_one() -> None:
    again = _stored(_answer())
    assert again.major_diameter is not None
    new = measured(17.88, {SCALE: 0.18})
    # JCGM 100, 5.2: u²(x − y) = u²(x) + u²(y) − 2 u(x, y); what is shared cancels
    left = math.sqrt(DIAMETER.u**2 - 0.18**2)
    assert (again.major_diameter.number - new).std_dev == pytest.approx(left, rel=1e-6)


@given(
    st.lists(
        st.floats(min_value=-1, max_value=1).filter(lambda part: abs(part) > 1e-6),
        min_size=1,
        max_size=6,
    )
)
def test_components_make_up_u(parts: list[float]) -> None:
    sources = [Source(f"cause/{n}", "cause", "answer", "k") for n in range(len(parts))]
    answer = _answer(major_diameter=_normal(20.0, dict(zip(sources, parts, strict=True))))
    data = answer.as_json()
    total = math.hypot(*data["components"]["major_diameter"].values())
    assert total == pytest.approx(data["major_diameter"]["u"], rel=0.01)
    assert set(data["components"]["major_diameter"]) <= set(data["sources"])
    assert _stored(answer).as_json() == data


def test_one_id_under_two_keys_stays_two_variables() -> None:
    other = Source(EDGE.id, EDGE.label, "photo", "4567")
    answer = _answer(
        major_diameter=_normal(18.0, {EDGE: 0.03}), thread_length=_normal(12.0, {other: 0.4})
    )
    again = _stored(answer)
    assert again.major_diameter is not None
    assert again.thread_length is not None
    difference = again.major_diameter.number - again.thread_length.number
    assert difference.std_dev == pytest.approx(math.hypot(0.03, 0.4), rel=1e-9)
    assert (again.major_diameter.number - measured(18.0, {EDGE: 0.03})).std_dev < 1e-12


def test_the_budget_is_of_the_diameter_and_adds_to_one() -> None:
    budget = _answer().as_json()["budget"]
    assert [line["source"] for line in budget] == ["print scale x", "edge bias", "sheet pose"]
    assert sum(line["share"] for line in budget) == pytest.approx(1)
    assert budget[0]["share"] == pytest.approx((0.18 / DIAMETER.u) ** 2)


def test_the_budget_of_a_tapered_thread_is_of_its_small_end() -> None:
    small = _normal(16.0, {EDGE: 0.05})
    data = _answer(diameter_at_small_end=small, gauge_length_mm=6.1).as_json()
    assert data["budget"] == [{"source": "edge bias", "share": pytest.approx(1.0)}]
    assert data["gauge_length"] == 6.1


def test_the_largest_line_of_the_budget_is_the_advice() -> None:
    assert "check bars" in (_answer().advice or "")
    assert advice([{"source": "print scale x", "share": 0.39}]) is None
    assert advice([]) is None


@pytest.mark.parametrize(
    ("value", "u", "unit", "is_shown"),
    [
        (10.0, 0.99, "mm", True),
        (10.0, 1.01, "mm", False),
        (0.1, 4.9, "deg", True),
        (60.0, 5.1, "deg", False),
        (math.nan, 0.1, "mm", False),
    ],
)
def test_what_is_too_uncertain_is_not_shown(
    value: float, u: float, unit: str, *, is_shown: bool
) -> None:
    assert (shown(_normal(value, {EDGE: u}, unit)) is not None) == is_shown


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data.pop("sources"),
        lambda data: data["pitch"].pop("u"),
        lambda data: data["pitch"].update(u=0.5),
        lambda data: data.update(verdict="perhaps"),
        lambda data: data.update(hand="both"),
        lambda data: data.update(candidates=[{"designation": "M18x1.5"}]),
        lambda data: data["sources"]["edge bias"].update(scope="moon"),
        lambda data: data.update(components=[]),
        lambda data: data["pitch"].pop("unit"),
    ],
)
def test_a_spoilt_file_is_refused(spoil: object) -> None:
    data = json.loads(json.dumps(_answer().as_json()))
    spoil(data)  # type: ignore[operator]
    with pytest.raises(BadJobError) as refusal:
        FittingAnswer.from_json(data)
    assert refusal.value.code == "bad-job"


def _tapered_reading() -> FittingReading:
    return FittingReading(
        crest_diameter=_normal(13.2, {EDGE: 0.03}),
        crest_diameter_at_mm=3.0,
        pitch=_normal(1.411, {SCALE: 0.003}),
        taper_half_angle=_normal(math.degrees(math.atan(1 / 32)), {POSES[0]: 0.1}, "deg"),
        is_tapered=True,
        diameter_at_small_end=_normal(13.01, {EDGE: 0.03}),
        minor_diameter=None,
        thread_angle=None,
        thread_length=_normal(10.0, {EDGE: 0.3}),
        across_flats=None,
        spanner=(),
        nose_half_angle=None,
        hand="right",
        misfit_p=1.0,
        print_is_verified=True,
        traces=(),
        warnings=(),
    )


def test_a_tapered_thread_is_told_at_its_gauge_plane() -> None:
    reading = _tapered_reading()
    npt = Candidate("1/4-18 NPT", "NPT", 0.9, ())
    at_mm = gauge_length_mm((NONE, Candidate("M14x1.5", "metric", 0.05, ()), npt), reading)
    assert at_mm == pytest.approx(0.2278 * 25.4, abs=0.01)  # ASME B1.20.1, L1 of 1/4: memory
    moved = moved_along(reading, at_mm)
    assert moved.value == pytest.approx(13.2 + (at_mm - 3.0) / 16)  # 1:16 on diameter
    lever = 2 * (at_mm - 3.0) * math.radians(0.1) * (1 + 1 / 32**2)
    assert moved.u == pytest.approx(math.hypot(0.03, lever), rel=1e-6)


def test_without_a_tapered_candidate_half_the_thread_is_taken() -> None:
    reading = _tapered_reading()
    assert gauge_length_mm((Candidate("M14x1.5", "metric", 1.0, ()),), reading) == 5.0


def _route() -> RouteAnswer:
    length = _normal(812.3, {SCALE: 0.5, EDGE: 0.4})
    bend = Bend(_normal(300.0, {EDGE: 1.0}), None, _normal(92.0, {EDGE: 0.5, POSES[0]: 0.3}, "deg"))
    return RouteAnswer(
        laid="flat",
        length=length,
        hose_length=None,
        turning=_normal(92.0, {EDGE: 0.5}, "deg"),
        bends=(bend,),
        tightest_radius=None,
        clocking=None,
        points_mm=np.array([[0.0, 0.0, 0.0], [10.0, 0.5, 0.0]]),
        warnings=(),
    )


def test_a_route_has_every_key_and_comes_back_whole() -> None:
    data = _route().as_json()
    assert set(data) == ROUTE_KEYS
    assert data["bends"][0]["radius"] is None
    assert data["clocking"] is None
    again = RouteAnswer.from_json(json.loads(json.dumps(data)))
    assert again.as_json() == data
    assert budget_json(again.length)[0]["source"] == "print scale x"


@pytest.mark.parametrize("spoil", [{"points": [[1, 2]]}, {"bends": [{}]}, {"points": "far"}])
def test_a_spoilt_route_is_refused(spoil: dict[str, object]) -> None:
    with pytest.raises(BadJobError):
        RouteAnswer.from_json(_route().as_json() | spoil)


def test_values_are_said_to_two_digits_of_their_band() -> None:
    quantity = _normal(15.871, {EDGE: 0.0241})
    assert band(quantity) == "15.871 ± 0.047 mm"
    assert band_inches(quantity) == "0.6248 ± 0.0019 in"
    assert both_units(quantity) == "15.871 ± 0.047 mm (0.6248 ± 0.0019 in)"
    assert band(_normal(92.04, {EDGE: 0.5}, "deg")) == "92.04 ± 0.98°"
    assert band_inches(_normal(92.0, {EDGE: 0.5}, "deg")) == ""
    assert band(None) == "not seen"


def test_a_lopsided_band_is_said_by_its_ends() -> None:
    number = measured(10.0, {EDGE: 0.5})
    assert band(Quantity(number, "mm", 9.6, 11.4)) == "10.00 (9.60 to 11.40) mm"


def test_the_answer_comes_in_words() -> None:
    other = Candidate("5/8-18 UNF", "unified", 0.3, ())
    metric = Candidate("M16x1.5", "metric", 0.68, ())
    check = "pitch gauge: 1.5 mm or 18 to the inch"
    assert answer_line("identified", (metric,), None) == "M16x1.5, sure"
    assert answer_line("ambiguous", (metric, other, NONE), check) == (
        f"M16x1.5 or 5/8-18 UNF; one check left: {check}"
    )
    assert answer_line("no match", (NONE, metric), None) == "No thread of the tables fits"
    lines = _answer().lines()
    assert lines[0] == "M18x1.5, sure"
    assert lines[-1] == "Caution: Look twice."


def test_an_unverified_print_is_never_sure() -> None:
    """By what the answer says of its print, not by the wording of a warning."""
    line = _answer(print_is_verified=False, warnings=()).line
    assert line == "M18x1.5, if the print is true"
    assert if_print_is_true(line) == line
    assert FittingAnswer.from_json(_answer(print_is_verified=False).as_json()).line == line
    assert _answer().line == "M18x1.5, sure"
    assert FittingAnswer.from_json(_answer().as_json()).line == "M18x1.5, sure"
    untold = {key: value for key, value in _answer().as_json().items() if key != "print_verified"}
    assert FittingAnswer.from_json(untold).line == line


def test_what_the_machine_mostly_has_moves_the_odds() -> None:
    photo = load_photo(SAMPLES / "fitting_inch.jpg")
    odds = {}
    for machine in ("metric", "inch"):
        answer = fitting([photo], PhotoOptions(machine=machine))
        odds[machine] = {one.designation: one.probability for one in answer.candidates}
    assert odds["inch"]["9/16-18 UNF"] > odds["metric"].get("9/16-18 UNF", 0.0)
