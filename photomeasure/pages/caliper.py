"""Which thread is this, by caliper and pitch gauge."""

import streamlit as st

from photomeasure.answers.caliper import CaliperReadings, Span, caliper
from photomeasure.answers.candidates import answer_line
from photomeasure.answers.seat_guide import look_of, next_question
from photomeasure.answers.words import band
from photomeasure.pages import _ask, _bench, _show
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.sizing.zones import Member


def _several(value: float | None) -> tuple[float, ...]:
    return () if value is None else (value,)


def _looks(member: Member) -> dict[str, str]:
    """Ask where it seals, one question after the other, each answer with its cross section."""
    answers: dict[str, str] = {}
    while (question := next_question(member, answers)) is not None:
        st.markdown(f"**{question.words}**")
        drawn = [option for option in question.options if option.svg]
        for column, option in zip(st.columns(max(len(drawn), 1)), drawn, strict=False):
            column.image(option.svg, caption=option.words)
        words = {option.words: option.key for option in question.options}
        key = f"caliper.seat.{member}.{len(answers)}"
        said = st.radio(question.words, list(words), None, key=key, label_visibility="collapsed")
        if said is None:
            break
        answers[question.key] = words[said]
    return answers


with bench_page("caliper") as job:
    st.caption("Fill in what you have; leave the rest empty. 15,9 and 5/8 are fine.")
    answered = st.container()
    unit = _bench.units()
    major = _ask.length_mm("Over the crests (male thread)", "caliper.major", unit, hint="17.9")
    bore = _ask.length_mm("Inside the port, over the crests", "caliper.bore", unit, hint="16.4")
    pitch = _ask.pitch_mm("Pitch gauge", "caliper.pitch", unit)
    span = _ask.length_mm("Or: length over several pitches", "caliper.span", unit, hint="15.0")
    turns = st.number_input("… over how many pitches", 1, 50, 10, key="caliper.turns")
    end = _ask.end(job, "caliper.end")
    photo = _ask.with_photo(job, end)
    member: Member = "internal" if bore and not major else "external"
    with st.expander("Where does it seal? (a look at the seat)"):
        looks = _looks(member)
    readings = CaliperReadings(
        major_mm=_several(major),
        bore_mm=_several(bore),
        pitch_mm=_several(pitch),
        spans=() if span is None else (Span(span, int(turns)),),
        seen=look_of(member, looks) if looks else None,
    )
    if not any((major, bore, pitch, span)):
        say_next("measure over the crests and lay the pitch gauge in.")
    else:
        with answered, _bench.refusals():
            answer = caliper(readings, photo)
            line = answer_line(answer.verdict, answer.candidates, answer.settle_by)
            is_sure = answer.verdict == "identified" and answer.agree
            _show.headline(line, is_sure=is_sure)
            if not answer.agree:
                st.error("The readings do not agree. Read again what is suspected.")
            for suspect in answer.suspects:
                st.markdown(f"- suspected: {suspect.slip} ({100 * suspect.probability:.0f} %)")
            if (
                st.button(
                    "Keep this answer",
                    width="stretch",
                    disabled=end is None or not is_sure,
                    key="caliper.keep",
                    type="primary",
                )
                and end is not None
            ):
                _bench.keep_thread(answer.as_json(), None, end, is_verified=True)
                st.success(f"Kept for end {'AB'[end]}.", icon=":material/check_circle:")
            elif is_sure:
                say_next("say for which end it is, and keep it.")
            for one in answer.readings:
                if one.expected is not None:
                    st.markdown(f"- {one.name}: {band(one.reading)}, expected {band(one.expected)}")
            _show.candidates(answer.candidates)
            _show.warnings(answer.warnings)
            st.divider()
