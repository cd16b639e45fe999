"""The hexagon's flats and the mouth's circle, as readings of the judge."""

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


@pytest.mark.parametrize("length", [-1.0, 0.0, float("nan"), 1e9])
def test_nonsense_is_refused(length: float) -> None:
    with pytest.raises(UsageError):
        check_readings(CaliperReadings(major_mm=(15.85,), across_flats_mm=length))


@settings(max_examples=30, deadline=None)
@given(st.floats(1e-3, 9e3), st.floats(1e-3, 9e3), st.booleans())
def test_any_body_gives_probabilities(flats_mm: float, mouth_mm: float, is_male: bool) -> None:
    read = {"major_mm": (15.85,)} if is_male else {"bore_mm": (14.5,)}
    found = check_readings(
        CaliperReadings(**read, across_flats_mm=flats_mm, mouth_mm=mouth_mm)  # type: ignore[arg-type]
    )
    assert sum(one.probability for one in found.candidates) == pytest.approx(1)
