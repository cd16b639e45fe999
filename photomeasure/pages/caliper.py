"""Which thread is this, by caliper and pitch gauge."""

import streamlit as st

from photomeasure.answers.caliper import CaliperReadings, Span, caliper
from photomeasure.answers.candidates import answer_line
from photomeasure.answers.words import band
from photomeasure.pages import _ask, _bench, _show

st.title("Thread by caliper")
st.caption("Fill in what you have; leave the rest empty. 15,9 and 5/8 are fine.")


def _several(value: float | None) -> tuple[float, ...]:
    return () if value is None else (value,)


with _bench.refusals():
    unit = _ask.unit()
    major = _ask.length_mm("Over the crests (male thread)", "caliper.major", unit, hint="17.9")
    bore = _ask.length_mm("Inside the port, over the crests", "caliper.bore", unit, hint="16.4")
    pitch = _ask.pitch_mm("Pitch gauge", "caliper.pitch", unit)
    span = _ask.length_mm("Or: length over several pitches", "caliper.span", unit, hint="15.0")
    turns = st.number_input("… over how many pitches", 1, 50, 10, key="caliper.turns")
    readings = CaliperReadings(
        major_mm=_several(major),
        bore_mm=_several(bore),
        pitch_mm=_several(pitch),
        spans=() if span is None else (Span(span, int(turns)),),
    )
    if any((major, bore, pitch, span)):
        answer = caliper(readings)
        line = answer_line(answer.verdict, answer.candidates, answer.settle_by)
        _show.headline(line, is_sure=answer.verdict == "identified" and answer.agree)
        if not answer.agree:
            st.error("The readings do not agree. Read again what is suspected.")
        for suspect in answer.suspects:
            st.markdown(f"- suspected: {suspect.slip} ({100 * suspect.probability:.0f} %)")
        for one in answer.readings:
            if one.expected is not None:
                st.markdown(f"- {one.name}: {band(one.reading)}, expected {band(one.expected)}")
        _show.candidates(answer.candidates)
        _show.warnings(answer.warnings)
_show.cautions()
