"""Which thread is this, by a photo of the part lying on the sheet."""

import streamlit as st

from photomeasure.answers.candidates import names_near
from photomeasure.pages import _ask, _bench, _measure
from photomeasure.pages._correct import STRETCH, by_hand, marks_on
from photomeasure.pages._frame import bench_page
from photomeasure.pages._photos import ask_for
from photomeasure.pages._picture import picture
from photomeasure.pages._thread_answer import complaints, keep, rests_on
from photomeasure.pages._words import say
from photomeasure.thread.lies import Lies

LIES: tuple[Lies, ...] = ("unknown", "on-thread", "on-hex", "on-both")

with bench_page("fitting") as job:
    asked = ask_for(job, "fitting", "sheet")
    with st.expander(say("fitting.helps"), key="fitting.helps"):
        lies: Lies = st.selectbox(
            say("fitting.lies"),
            LIES,
            format_func=lambda one: say(f"fitting.lies_{one}"),
            key="fitting.lies",
        )
        spanner = _ask.length_mm(say("fitting.spanner"), "fitting.spanner", _bench.units())
    if asked.uploads:
        found = None
        with asked.answer, _bench.refusals():
            complaints([c for one in asked.uploads for c in _measure.looked_at(one, "fitting")])
            _bench.keep_photos(asked.uploads, "fitting")
            said = _measure.FittingSaid(lies, spanner, marks_on(asked.uploads[0]))
            found = _measure.measured_fitting(asked.uploads, asked.bars, said)
            keep(job, found.answer, found.picture, asked)
            with asked.rest:
                over = st.selectbox(
                    say("fitting.lay"),
                    names_near(found.answer.candidates),
                    None,
                    key="fitting.profile",
                    placeholder=say("fitting.choose"),
                )
                if over is not None:
                    laid = _measure.profile_over(asked.uploads, asked.bars, said, over)
                    picture(laid, "fitting.over", say("fitting.over", thread=over))
                    st.caption(say("fitting.drifts"))
                rests_on(found.answer, asked)
        with asked.hand, _bench.refusals():
            by_hand(asked.uploads[0], STRETCH, None if found is None else found.near)
