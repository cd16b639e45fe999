"""Which thread is this, by caliper and pitch gauge."""

import streamlit as st

from photomeasure.answers.caliper import CaliperReadings, Span, caliper
from photomeasure.answers.candidates import answer_line
from photomeasure.answers.words import band
from photomeasure.pages import _ask, _bench, _show
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import bench_page, say_known, say_next
from photomeasure.pages._seat import asked_seat, say_seat
from photomeasure.sizing.zones import MACHINES, Member


def _several(value: float | None) -> tuple[float, ...]:
    return () if value is None else (value,)


with bench_page("caliper") as job:
    answered = st.container()
    with st.expander("Where to measure", icon=":material/help:"):
        st.image(HOW["caliper"], width="stretch")
    st.caption("Fill in what you have; leave the rest empty. 15,9 and 5/8 are fine.")
    unit = _bench.units()
    hints = {"mm": ("17.9", "16.4", "15.0"), "in": ("0.705", "0.646", "0.59")}[unit]
    major = _ask.length_mm("Over the crests, male thread", "caliper.major", unit, hint=hints[0])
    bore = _ask.length_mm("Inside the port, over the crests", "caliper.bore", unit, hint=hints[1])
    pitch = _ask.pitch_mm("Pitch gauge", "caliper.pitch", unit)
    with st.expander("No pitch gauge: measure over several turns"):
        span = _ask.length_mm("Length over several turns", "caliper.span", unit, hint=hints[2])
        turns = st.number_input("… over how many turns", 1, 50, 10, key="caliper.turns")
    machine = st.segmented_control(
        "The machine is mostly",
        list(MACHINES),
        default="any",
        format_func=lambda kind: "not known" if kind == "any" else kind,
        key="caliper.machine",
        required=True,
    )
    photo = _ask.with_photo(job)
    member: Member = "internal" if bore and not major else "external"
    with st.expander("Where does it seal? (a look at the seat)", key="caliper.seat"):
        look = asked_seat(member)
    readings = CaliperReadings(
        major_mm=_several(major),
        bore_mm=_several(bore),
        pitch_mm=_several(pitch),
        spans=() if span is None else (Span(span, int(turns)),),
        seen=look,
    )
    if not any((major, bore, pitch, span)):
        say_next("measure over the crests and lay the pitch gauge in.")
    else:
        with answered, _bench.refusals():
            answer = caliper(readings, photo, machine)
            line = answer_line(answer.verdict, answer.candidates, answer.settle_by)
            is_sure = answer.verdict == "identified" and answer.agree
            say_known(_show.headline(line, is_sure=is_sure))
            if not answer.agree:
                st.error("The readings do not agree. Read again what is suspected.")
            for suspect in answer.suspects:
                words = _bench.in_units(suspect.slip)
                st.markdown(f"- suspected: {words} ({100 * suspect.probability:.0f} %)")
            end = _ask.keep_for(job, "caliper") if is_sure else None
            if end is not None:
                _bench.keep_thread(answer.as_json(), None, end, is_verified=True)
                st.success(f"Kept for end {'AB'[end]}.", icon=":material/check_circle:")
            elif is_sure:
                say_next("keep it for the end that it came from.")
            elif answer.agree:
                check = answer.settle_by or "lay the pitch gauge in"
                say_next(f"check it: {_show.said_check(check)}.")
            for one in answer.readings:
                if one.expected is not None:
                    words = f"- {one.name}: {band(one.reading)}, expected {band(one.expected)}"
                    st.markdown(_bench.in_units(words))
            say_seat(member, answer.candidates)
            _show.told_apart(answer.candidates)
            _show.warnings(answer.warnings)
            st.divider()
