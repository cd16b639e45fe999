"""How long a path is that does not lie flat: bands round a hose, several photos."""

import streamlit as st

from photomeasure.job import add_answer
from photomeasure.job.enter import entered
from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._picture import picture

HOW_TO = """
1. Run a scrap hose or rod along the path. Put printed bands round it: before, in and after each
   bend, at most 50 mm apart there and 150 mm on straights.
2. Engine off, phone on a lanyard. Take photos all along it from both sides, three at least, each
   showing two bands or more that another photo shows too.
"""

with bench_page("space") as job:
    answered = st.container() if _ask.has_bars(job, "bands") else None
    bars = _ask.bars(job, "bands")
    answered = answered or st.container()
    is_verified = None not in bars
    st.subheader("Photos")
    with st.expander("How to take the photos", icon=":material/help:"):
        st.markdown(HOW_TO)
    od = _ask.length_mm("Outside diameter of what carries the bands", "space.od", _bench.units())
    uploads = _ask.uploads(job, "space")
    if not is_verified:
        say_next("measure both check bars of the bands' page and enter them.")
    elif not uploads:
        say_next("choose the photos, three or more.")
    if uploads:
        with answered, _bench.refusals():
            for one in uploads:
                _measure.looked_at(one, "route")
            _bench.keep_photos(uploads, "space")
            ods = (entered(job, "hose.outside_diameter_mm"), od)
            answer, drawn, plan = _measure.measured_space(tuple(uploads), bars, ods)
            _show.headline(answer.line, is_sure=not answer.warnings, is_verified=is_verified)
            picture(drawn, "space.picture", answer.line)
            picture(plan, "space.plan", "the path from the side, and edgewise")
            if st.button("Keep this path", width="stretch", key="space.keep", type="primary"):
                stored = answer.as_json()
                _bench.change_job(lambda now: add_answer(now, "route", stored, drawn))
                st.success("Kept.", icon=":material/check_circle:")
            elif is_verified:
                say_next("look whether the drawn path is yours, and keep it.")
            _show.next_step(answer.advice)
            _show.table(_show.bends_named(answer.quantities()))
            with st.expander("Where the uncertainty comes from"):
                _show.budget(answer.as_json()["budget"])
            _show.warnings(answer.warnings)
            st.divider()
