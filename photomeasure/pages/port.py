"""Which thread is in this port, by a photo of it with a printed collar round its mouth."""

import streamlit as st

from photomeasure.pages import _bench, _measure
from photomeasure.pages._correct import pointed_at
from photomeasure.pages._frame import bench_page
from photomeasure.pages._photos import ask_for
from photomeasure.pages._thread_answer import complaints, keep, rests_on

HOW_TO = """
1. Plug the port below its threads, degrease the face. Nothing may fall in.
2. Cut a printed collar out and lay it flat round the mouth, its hole clear of the edge.
3. Lean the phone 40 to 50° from square on, so that the thread inside is seen. No flash.
"""

with bench_page("port") as job:
    st.caption("Engine off and cold, pressure let off. Measure the old fitting as well.")
    asked = ask_for(job, "port", "collar", HOW_TO)
    if asked.uploads:
        with asked.answer, _bench.refusals():
            complaints([c for one in asked.uploads for c in _measure.looked_at(one, "route")])
            _bench.keep_photos(asked.uploads, "port")
            with asked.rest:
                aim = pointed_at(asked.uploads[0], "port", "port")
            answer, drawn = _measure.measured_port(tuple(asked.uploads), asked.bars, aim)
            keep(job, answer, drawn, asked)
            with asked.rest:
                rests_on(answer)
