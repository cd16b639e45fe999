"""Which thread is this, by a photo of the part lying on the sheet."""

import streamlit as st

from photomeasure.answers.candidates import names_near
from photomeasure.pages import _ask, _bench, _measure
from photomeasure.pages._correct import pointed_at
from photomeasure.pages._frame import bench_page
from photomeasure.pages._photos import ask_for
from photomeasure.pages._picture import picture
from photomeasure.pages._thread_answer import complaints, keep, rests_on
from photomeasure.thread.lies import Lies

HOW_TO = """
1. Fix the print flat, lay the clean fitting in the middle of its bed.
2. Hold the phone 20 to 25 cm above it, leaning a little sideways across the fitting, not along it.
3. No zoom, no flash, soft light. Keep the print in the picture on all sides.
"""
LIES: dict[Lies, str] = {
    "unknown": "not said",
    "on-thread": "the thread touches the paper",
    "on-hex": "only the hexagon touches",
    "on-both": "both touch",
}

with bench_page("fitting") as job:
    asked = ask_for(job, "fitting", "sheet", HOW_TO)
    with st.expander("It helps to say"):
        lies: Lies = st.selectbox(
            "How does it lie?", list(LIES), format_func=LIES.__getitem__, key="fitting.lies"
        )
        spanner = _ask.length_mm("Spanner that fits its hexagon", "fitting.spanner", _bench.units())
    if asked.uploads:
        with asked.answer, _bench.refusals():
            complaints([c for one in asked.uploads for c in _measure.looked_at(one, "fitting")])
            _bench.keep_photos(asked.uploads, "fitting")
            photos = tuple(asked.uploads)
            with asked.rest:
                aim = pointed_at(photos[0], "fitting", "thread")
            said = _measure.FittingSaid(lies, spanner, aim)
            answer, drawn = _measure.measured_fitting(photos, asked.bars, said)
            keep(job, answer, drawn, asked)
            with asked.rest:
                over = st.selectbox(
                    "Lay a thread's profile over the photo",
                    names_near(answer.candidates),
                    None,
                    key="fitting.profile",
                    placeholder="choose a thread",
                )
                if over is not None:
                    laid = _measure.profile_over(photos, asked.bars, said, over)
                    picture(laid, "fitting.over", f"{over} over the photo")
                    st.caption("It sits in the grooves, or it drifts: then it is another thread.")
                rests_on(answer)
