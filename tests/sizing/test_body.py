"""Hexagon's flats, mouth's circle and thread's depth, as readings of the judge."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import UsageError
from photomeasure.sizing.caliper import CaliperReadings, check_readings

# Width across flats of swivel nuts and adapters, metric 24 degree and 37 degree fittings: common
# practice, no source
USUAL = [  # thread, major, pitch, flats [mm]
    ("M16x1.5", 15.85, 1.5, 22.0),
    ("M22x1.5", 21.85, 1.5, 27.0),
    ("9/16-18 UNF", 14.2, 25.4 / 18, 17.5),
    ("7/8-14 UNF", 22.1, 25.4 / 14, 27.0),
]


def chance(readings: CaliperReadings, designation: str) -> float:
    found = check_readings(readings).candidates
    return sum(one.probability for one in found if one.designation == designation)


@pytest.mark.parametrize(("designation", "major_mm", "pitch_mm", "flats_mm"), USUAL)
def test_a_usual_hexagon_never_turns_the_answer(
    designation: str, major_mm: float, pitch_mm: float, flats_mm: float
) -> None:
    plain = CaliperReadings(major_mm=(major_mm,), pitch_mm=(pitch_mm,))
    assert chance(plain, designation) > 0.9
    assert chance(replace(plain, across_flats_mm=flats_mm), designation) > 0.9


def test_a_hexagon_smaller_than_the_thread_makes_the_thread_unlikely() -> None:
    pitch_alone = CaliperReadings(pitch_mm=(1.5,))
    with_flats = CaliperReadings(pitch_mm=(1.5,), across_flats_mm=19.0)
    assert chance(with_flats, "M14x1.5") > 2 * chance(pitch_alone, "M14x1.5")
    assert chance(with_flats, "M22x1.5") < chance(pitch_alone, "M22x1.5") / 5


@pytest.mark.parametrize(
    ("designation", "bore_mm", "mouth_mm"),
    # ISO 6149-1: the chamfer of M14x1.5 opens to 15.8 mm, of M18x1.5 to 19.8 mm (memory)
    [("M14x1.5", 12.5, 15.8), ("M18x1.5", 16.5, 19.8)],
)
def test_the_mouth_of_a_port_makes_its_thread_likelier(
    designation: str, bore_mm: float, mouth_mm: float
) -> None:
    plain = CaliperReadings(bore_mm=(bore_mm,))
    assert chance(replace(plain, mouth_mm=mouth_mm), designation) > chance(plain, designation)


def test_a_mouth_narrower_than_the_thread_makes_it_unlikely() -> None:
    plain = CaliperReadings(bore_mm=(12.5,))
    tight = replace(plain, mouth_mm=12.6)
    assert chance(tight, "M14x1.5") < chance(plain, "M14x1.5")


# Least full thread of ISO 6149-1 M14x1.5, ISO 9974-1 M22x1.5, ISO 1179-1 G1/4 and G1 (memory)
@pytest.mark.parametrize(
    ("designation", "bore_mm", "pitch_mm", "depth_mm"),
    [
        ("M14x1.5", 12.5, 1.5, 12.0),
        ("M22x1.5", 20.5, 1.5, 14.0),
        ("G1/4", 11.6, 25.4 / 19, 12.0),
        ("G1", 30.6, 25.4 / 11, 18.0),
    ],
)
def test_a_usual_depth_never_turns_the_answer(
    designation: str, bore_mm: float, pitch_mm: float, depth_mm: float
) -> None:
    plain = CaliperReadings(bore_mm=(bore_mm,), pitch_mm=(pitch_mm,))
    before = chance(plain, designation)
    assert chance(replace(plain, depth_mm=depth_mm), designation) == pytest.approx(before, abs=0.05)


def test_a_shallow_thread_is_rather_a_narrow_one() -> None:
    pitch_alone = CaliperReadings(pitch_mm=(1.5,))
    shallow = CaliperReadings(pitch_mm=(1.5,), depth_mm=10.0)
    assert chance(shallow, "M12x1.5") > chance(pitch_alone, "M12x1.5")
    assert chance(shallow, "M26x1.5") < chance(pitch_alone, "M26x1.5") / 2


def test_a_thread_cut_through_is_no_proof_of_a_wide_one() -> None:
    plain = CaliperReadings(bore_mm=(12.5,), pitch_mm=(1.5,))
    assert chance(replace(plain, depth_mm=60.0), "M14x1.5") > 0.9


@pytest.mark.parametrize("length", [-1.0, 0.0, float("nan"), 1e9])
def test_nonsense_is_refused(length: float) -> None:
    with pytest.raises(UsageError):
        check_readings(CaliperReadings(major_mm=(15.85,), across_flats_mm=length))


@settings(max_examples=30, deadline=None)
@given(st.tuples(*[st.floats(1e-3, 9e3)] * 3), st.booleans())
def test_any_body_gives_probabilities(body: tuple[float, float, float], is_male: bool) -> None:
    flats_mm, mouth_mm, depth_mm = body
    crests = (15.85,) if is_male else (14.5,)
    readings = CaliperReadings(across_flats_mm=flats_mm, mouth_mm=mouth_mm, depth_mm=depth_mm)
    name = "major_mm" if is_male else "bore_mm"
    found = check_readings(replace(readings, **{name: crests}))
    assert sum(one.probability for one in found.candidates) == pytest.approx(1)
