"""Which thread is this, by photo."""

import streamlit as st

from photomeasure.answers.candidates import names_near
from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._picture import picture

HOW_TO = """
1. Fix the print flat, lay the clean fitting in the middle of its bed.
2. Hold the phone 20 to 25 cm above it, leaning a little sideways across the fitting, not along it.
3. No zoom, no flash, soft light. Keep the print in the picture on all sides.
"""

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
    if not is_verified:
        say_next("measure both check bars of the print and enter them.")
    elif not uploads:
        say_next("choose the photo of the thread.")
    if uploads:
        with answered, _bench.refusals():
            for complaint in [c for one in uploads for c in _measure.looked_at(one, "fitting")]:
                st.info(complaint, icon=":material/visibility:")
            _bench.keep_photos(uploads, "fitting")
            answer, drawn = _measure.measured_fitting(tuple(uploads), bars)
            is_sure = answer.verdict == "identified"
            _show.headline(answer.line, is_sure=is_sure, is_verified=is_verified)
            picture(drawn, "fitting.picture", answer.line)
            _show.next_step(answer.advice)
            end = _ask.end(job, "fitting.end")
            kept = st.button(
                "Keep this answer",
                width="stretch",
                disabled=end is None,
                key="fitting.keep",
                type="primary",
            )
            if kept and end is not None:
                _bench.keep_thread(answer.as_json(), drawn, end, is_verified=is_verified)
                st.success(f"Kept for end {'AB'[end]}.", icon=":material/check_circle:")
            elif is_verified:
                say_next("say for which end it is, and keep it.")
            _show.table(answer.quantities())
            with st.expander("What it may be", expanded=not is_sure):
                _show.candidates(answer.candidates)
                over = st.selectbox(
                    "Lay a thread's profile over the photo",
                    names_near(answer.candidates),
                    None,
                    key="fitting.profile",
                    placeholder="choose a thread",
                )
                if over is not None:
                    laid = _measure.profile_over(tuple(uploads), bars, over)
                    picture(laid, "fitting.over", f"{over} over the photo")
                    st.caption("It sits in the grooves, or it drifts: then it is another thread.")
            with st.expander("Where the uncertainty comes from"):
                _show.budget(answer.as_json()["budget"])
            _show.warnings(answer.warnings)
            st.divider()
