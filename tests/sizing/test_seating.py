import xml.etree.ElementTree as ET
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from photomeasure.answers.seat_guide import CANNOT_TELL, look_of, next_question, seat_found
from photomeasure.errors import UsageError
from photomeasure.sizing.caliper import CaliperReadings, check_readings
from photomeasure.sizing.judge import QuantityName
from photomeasure.sizing.match import ThreadReading, match
from photomeasure.sizing.seating import SeatLook, likelihood, places_of, seats_left
from photomeasure.sizing.settle import Asked, settle_by
from photomeasure.sizing.zones import Member, zones
from photomeasure.standards import seats, thread, threads
from photomeasure.standards.looks import looks

MEMBERS: tuple[Member, Member] = ("external", "internal")


def test_every_seat_of_the_tables_has_a_look_and_the_other_way_round() -> None:
    assert {one.seat for one in looks()} == {one.seat for one in seats()}


def probability(reading: ThreadReading, designation: str) -> float:
    listed = {one.designation: one.probability for one in match(reading).candidates}
    return listed.get(designation, 0.0)


@pytest.mark.parametrize("seen", [None, SeatLook("cone on the nose", "37° to the axis")])
def test_a_look_tells_an_inch_flare_from_a_metric_port(seen: SeatLook | None) -> None:
    """7/8-14 carries a 37° flare, M22x1.5 does not (ISO 8434-2); diameter alone tells neither."""
    reading = ThreadReading("external", ufloat(22.0, 0.1), 0.0, None, ufloat(0, 0.004), seen=seen)
    inch, metric = probability(reading, "7/8-14 UNF"), probability(reading, "M22x1.5")
    assert (inch > 10 * metric) == (seen is not None)


def test_a_look_never_outweighs_a_measured_pitch() -> None:
    reading = ThreadReading(
        "external",
        ufloat(21.9, 0.05),
        0.0,
        ufloat(1.5, 0.01),
        ufloat(0, 0.004),
        seen=SeatLook("cone on the nose", "37° to the axis"),
    )
    assert match(reading).candidates[0].designation == "M22x1.5"


def test_the_caliper_takes_the_look_too() -> None:
    plain = check_readings(CaliperReadings(major_mm=(22.0,)))
    seen = check_readings(
        CaliperReadings(major_mm=(22.0,), seen=SeatLook("cone on the nose", "37° to the axis"))
    )
    first = {one.designation: one.probability for one in plain.candidates}
    then = {one.designation: one.probability for one in seen.candidates}
    odds = [one["7/8-14 UNF"] / one["M22x1.5"] for one in (first, then)]
    assert odds[1] > 10 * odds[0]


@pytest.mark.parametrize("member", MEMBERS)
def test_looks_are_chances(member: Member) -> None:
    known = zones(member, plane_known=True).threads
    every = [likelihood(SeatLook(place), member, known) for place in places_of(member)]
    assert all(((one > 0) & (one <= 1)).all() for one in every)
    # the last, for a thread in no table, shows each place as often as the table lists it
    assert np.sum(every, axis=0)[-1] == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("member", MEMBERS)
def test_every_option_is_a_drawing_and_every_path_ends(member: Member) -> None:
    first = next_question(member, {})
    assert first is not None
    for option in first.options:
        answers = {first.key: option.key}
        second = next_question(member, answers)
        for each in second.options if second else ():
            assert next_question(member, {**answers, "form": each.key}) is None
        shown = [*first.options, *(second.options if second else ())]
        assert all(ET.fromstring(one.svg) is not None for one in shown if one.key != CANNOT_TELL)


@pytest.mark.parametrize(
    ("member", "answers", "designation", "seat"),
    [
        # ISO 8434-2 and SAE J512: 37 and 45 degrees share 3/4-16
        ("external", {"place": "cone on the nose", "form": "37° to the axis"}, "3/4-16 UNF", "37°"),
        ("external", {"place": "cone on the nose", "form": "45° to the axis"}, "3/4-16 UNF", "45°"),
        ("internal", {"place": "chamfer for o-ring"}, "M18x1.5", "metric O-ring port"),
        ("external", {"place": "o-ring in the face"}, "1-14 UNS", "O-ring face seal"),
        ("external", {"place": "the thread itself"}, "1/4-18 NPT", "taper thread"),
    ],
)
def test_the_guide_names_the_seat_that_was_seen(
    member: Member, answers: dict[str, str], designation: str, seat: str
) -> None:
    found = seat_found(member, answers, designation)
    assert found.seat is not None
    assert found.seat.startswith(seat)


@given(
    st.sampled_from(MEMBERS),
    st.dictionaries(st.sampled_from(["place", "form"]), st.just(CANNOT_TELL)),
    st.sampled_from([one.designation for one in threads()]),
)
def test_no_seat_comes_from_not_looking(
    member: Member, answers: dict[str, str], designation: str
) -> None:
    assert look_of(member, answers) is None
    assert seat_found(member, answers, designation).seat is None


def test_what_does_not_go_together_names_no_seat() -> None:
    assert seat_found("external", {"place": "o-ring in the face"}, "M18x1.5").seat is None
    assert not seats_left(SeatLook("o-ring in the face"), "external", thread("M18x1.5"))


@given(st.dictionaries(st.sampled_from(["place", "form"]), st.text(max_size=60)))
def test_junk_answers_are_a_complaint(answers: dict[str, str]) -> None:
    with suppress(UsageError):
        assert seat_found("external", answers, "M18x1.5").words


def test_where_every_measurement_is_taken_a_look_settles_it() -> None:
    known = zones("external", plane_known=True)
    names = [one.designation for one in known.threads]
    pair = ["R1/2", "G1/2"]  # ISO 7-1 seals on the thread, ISO 228-1 never does
    probabilities = np.array([0.5 * (name in pair) for name in names] + [0.0])
    read: dict[QuantityName, tuple[float, float]] = {
        "diameter": (20.9, 1e-4),
        "pitch": (25.4 / 14, 1e-5),
        "taper": (0.0, 1e-5),
        "angle": (1.0, 1e-5),
    }
    advice = settle_by(Asked("external", known, probabilities, read))
    assert advice is not None
    assert advice.startswith("look where it seals")
    assert "the thread itself" in advice
