"""Which thread is in this port, by a photo of it with a printed collar round its mouth."""

import streamlit as st

from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._thread_answer import complaints, keep, rests_on

HOW_TO = """
1. Plug the port below its threads, degrease the face. Nothing may fall in.
2. Cut a printed collar out and lay it flat round the mouth, its hole clear of the edge.
3. Lean the phone 40 to 50° from square on, so that the thread inside is seen. No flash.
"""

with bench_page("port") as job:
    st.caption("Engine off and cold, pressure let off. Measure the old fitting as well.")
    answered = st.container() if _ask.has_bars(job, "collar") else None
    bars = _ask.bars(job, "collar")
    answered = answered or st.container()
    is_verified = None not in bars
    st.subheader("Photo")
    with st.expander("How to take the photo", icon=":material/help:"):
        st.markdown(HOW_TO)
    uploads = _ask.uploads(job, "port")
    if not is_verified:
        say_next("measure both check bars of the collar's page and enter them.")
    elif not uploads:
        say_next("choose the photo of the port.")
    if uploads:
        with answered, _bench.refusals():
            complaints([c for one in uploads for c in _measure.looked_at(one, "route")])
            _bench.keep_photos(uploads, "port")
            answer, drawn = _measure.measured_port(tuple(uploads), bars)
            keep(job, answer, drawn, is_verified=is_verified)
            with st.expander("What it may be", expanded=answer.verdict != "identified"):
                _show.candidates(answer.candidates)
            rests_on(answer)
