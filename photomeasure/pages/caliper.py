"""Which thread is this, by caliper and pitch gauge."""

import streamlit as st

from photomeasure.answers.caliper import CaliperReadings, Span, caliper
from photomeasure.answers.candidates import answer_line
from photomeasure.answers.words import band
from photomeasure.pages import _ask, _bench, _show
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import bench_page, say_known, say_next
from photomeasure.pages._seat import asked_seat, say_seat
from photomeasure.pages._words import say
from photomeasure.sizing.zones import MACHINES, Member


def _several(value: float | None) -> tuple[float, ...]:
    return () if value is None else (value,)


with bench_page("caliper") as job:
    answered = st.container()
    with st.expander(say("caliper.where"), icon=":material/help:"):
        st.image(HOW["caliper"], width="stretch")
    st.caption(say("caliper.fill"))
    unit = _bench.units()
    hints = {"mm": ("17.9", "16.4", "15.0"), "in": ("0.705", "0.646", "0.59")}[unit]
    major = _ask.length_mm(say("caliper.major"), "caliper.major", unit, hint=hints[0])
    bore = _ask.length_mm(say("caliper.bore"), "caliper.bore", unit, hint=hints[1])
    pitch = _ask.pitch_mm(say("caliper.pitch"), "caliper.pitch", unit)
    with st.expander(say("caliper.no_gauge")):
        span = _ask.length_mm(say("caliper.span"), "caliper.span", unit, hint=hints[2])
        turns = st.number_input(say("caliper.turns"), 1, 50, 10, key="caliper.turns")
    with st.expander(say("caliper.round"), key="caliper.round"):
        flats = _ask.length_mm(say("caliper.flats"), "caliper.flats", unit)
        mouth = _ask.length_mm(say("caliper.mouth"), "caliper.mouth", unit)
        st.caption(say("caliper.round_why"))
    machine = st.segmented_control(
        say("caliper.machine"),
        list(MACHINES),
        default="any",
        format_func=lambda kind: say(f"caliper.{kind}"),
        key="caliper.machine",
        required=True,
    )
    photo = _ask.with_photo(job)
    member: Member = "internal" if bore and not major else "external"
    with st.expander(say("caliper.seat"), key="caliper.seat"):
        look = asked_seat(member)
    rest = st.container()  # the fields stay near the answer while they are filled in
    readings = CaliperReadings(
        major_mm=_several(major),
        bore_mm=_several(bore),
        pitch_mm=_several(pitch),
        spans=() if span is None else (Span(span, int(turns)),),
        seen=look,
        across_flats_mm=flats,
        mouth_mm=mouth,
    )
    if not any((major, bore, pitch, span)):
        say_next(say("caliper.next"))
    else:
        with answered, _bench.refusals():
            answer = caliper(readings, photo, machine)
            line = answer_line(answer.verdict, answer.candidates, answer.settle_by)
            is_sure = answer.verdict == "identified" and answer.agree
            say_known(_show.headline(line, is_sure=is_sure))
            if not answer.agree:
                st.error(say("caliper.disagree"))
            for suspect in answer.suspects:
                slip, chance = _bench.in_units(suspect.slip), 100 * suspect.probability
                st.markdown(say("caliper.suspect", slip=slip, chance=chance))
            end = _ask.keep_for(job, "caliper") if is_sure else None
            if end is not None:
                _bench.keep_thread(answer.as_json(), None, end, is_verified=True)
                _show.kept(say("keep.kept", end="AB"[end]))
            elif is_sure:
                say_next(say("next.keep"))
            elif answer.agree:
                check = answer.settle_by or say("caliper.lay_gauge")
                say_next(say("caliper.check", check=_show.said_check(check)))
            for one in answer.readings:
                if one.expected is not None:
                    both = {"reading": band(one.reading), "expected": band(one.expected)}
                    st.markdown(_bench.in_units(say("caliper.expected", name=one.name, **both)))
            say_seat(member, answer.candidates)
            _show.warnings(answer.warnings)
            st.divider()
            with rest:
                _show.told_apart(answer.candidates)
