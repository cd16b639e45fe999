"""Which thread is in this port, by a photo of it with a printed collar round its mouth."""

import streamlit as st

from photomeasure.pages import _bench, _measure
from photomeasure.pages._correct import ANY_PORT, by_hand, marks_on
from photomeasure.pages._frame import bench_page
from photomeasure.pages._photos import ask_for
from photomeasure.pages._thread_answer import complaints, keep, rests_on
from photomeasure.pages._words import say

with bench_page("port") as job:
    st.caption(say("port.cold"))
    asked = ask_for(job, "port", "collar")
    if asked.uploads:
        found = None
        with asked.answer, _bench.refusals():
            complaints([c for one in asked.uploads for c in _measure.looked_at(one, "route")])
            _bench.keep_photos(asked.uploads, "port")
            marks = marks_on(asked.uploads[0])
            found = _measure.measured_port(asked.uploads, asked.bars, marks)
            keep(job, found.answer, found.picture, asked)
            with asked.rest:
                rests_on(found.answer, asked)
        with asked.hand, _bench.refusals():
            by_hand(asked.uploads[0], ANY_PORT, None if found is None else found.near)
