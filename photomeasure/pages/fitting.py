"""Which thread is this, by photo."""

import streamlit as st

from photomeasure.job import add_answer
from photomeasure.pages import _ask, _bench, _show

HOW_TO = """
1. Fix the print flat, lay the clean fitting in the middle of its bed.
2. Hold the phone 20 to 25 cm above it, leaning a little sideways across the fitting, not along it.
3. No zoom, no flash, soft light. Keep the print in the picture on all sides.
"""

st.title("Which thread is this?")
job = _bench.current_job()
answered = st.container()  # above the entries, so that it is seen at once
with st.expander("How to take the photo", icon=":material/help:"):
    st.markdown(HOW_TO)
with _bench.refusals():
    uploads = _ask.uploads(job, "fitting", many=True)
    unit = _ask.unit()
    bars = _ask.bars(job, unit)
    if uploads:
        job = _bench.keep_photos(_bench.current_job(), uploads, "fitting")
        with answered, _bench.refusals():
            answer, picture = _bench.measured_fitting(tuple(uploads), bars)
            _show.headline(answer.line, is_sure=answer.verdict == "identified")
            st.image(picture, width="stretch")
            _show.next_step(answer.advice)
            _show.table(answer.quantities())
            with st.expander("What it may be", expanded=answer.verdict != "identified"):
                _show.candidates(answer.candidates)
            with st.expander("Where the uncertainty comes from"):
                _show.budget(answer.as_json()["budget"])
            _show.warnings(answer.warnings)
            end = st.segmented_control("This thread is for", ["end A", "end B"], key="fitting.end")
            if st.button("Keep this answer", width="stretch", disabled=not end, key="fitting.keep"):
                add_answer(job, "fitting", answer.as_json(), picture, end=int(end == "end B"))
                st.success(f"Kept for {end} of “{job.name}”.")
            st.divider()
_show.cautions()
