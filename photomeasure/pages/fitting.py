"""Which thread is this, by a photo of the part lying on the sheet."""

import streamlit as st

from photomeasure.answers.candidates import names_near
from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import bench_page, say_next
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
    # above the entries, so that it is seen at once; but first the bars, if they are not known
    answered = st.container() if _ask.has_bars(job, "sheet") else None
    bars = _ask.bars(job, "sheet")
    answered = answered or st.container()
    is_verified = None not in bars
    st.subheader("Photo")
    with st.expander("How to take the photo", icon=":material/help:"):
        st.image(HOW["fitting"], width="stretch")
        st.markdown(HOW_TO)
    uploads = _ask.uploads(job, "fitting")
    with st.expander("It helps to say"):
        lies: Lies = st.selectbox(
            "How does it lie?", list(LIES), format_func=LIES.__getitem__, key="fitting.lies"
        )
        spanner = _ask.length_mm("Spanner that fits its hexagon", "fitting.spanner", _bench.units())
    if not is_verified:
        say_next("measure both check bars of the print and enter them.")
    elif not uploads:
        say_next("choose the photo of the thread.")
    if uploads:
        with answered, _bench.refusals():
            complaints([c for one in uploads for c in _measure.looked_at(one, "fitting")])
            _bench.keep_photos(uploads, "fitting")
            photos, said = tuple(uploads), (lies, spanner)
            answer, drawn = _measure.measured_fitting(photos, bars, said)
            keep(job, answer, drawn, is_verified=is_verified)
            with st.expander("What it may be", expanded=answer.verdict != "identified"):
                _show.candidates(answer.candidates)
                over = st.selectbox(
                    "Lay a thread's profile over the photo",
                    names_near(answer.candidates),
                    None,
                    key="fitting.profile",
                    placeholder="choose a thread",
                )
                if over is not None:
                    laid = _measure.profile_over(photos, bars, said, over)
                    picture(laid, "fitting.over", f"{over} over the photo")
                    st.caption("It sits in the grooves, or it drifts: then it is another thread.")
            rests_on(answer)
