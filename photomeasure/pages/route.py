"""How long the hose's path is."""

from typing import get_args

import streamlit as st

from photomeasure.job import add_answer
from photomeasure.pages import _ask, _bench, _show
from photomeasure.route.reading import FlatOptions, LineKind

HOW_TO = """
1. Lay tape (or the old hose, or a cord) along the path on a flat floor, in the open at both ends.
2. Lay three printed cards, or two sheets, beside it: at both ends and in between.
3. Take one photo from above that shows the whole line with some floor beyond it.
"""

st.title("The hose's path")
job = _bench.current_job()
answered = st.container()  # above the entries, so that it is seen at once
with st.expander("How to take the photo", icon=":material/help:"):
    st.markdown(HOW_TO)
with _bench.refusals():
    uploads = _ask.uploads(job, "route", many=False)
    line: LineKind = (
        st.segmented_control(
            "What lies there", get_args(LineKind), default="tape", key="route.line"
        )
        or "tape"
    )
    unit = _ask.unit()
    bars = _ask.bars(job, unit)
    hose_od = _ask.length_mm("Outside diameter of the new hose", "route.od", unit, hint="18")
    if uploads:
        job = _bench.keep_photos(_bench.current_job(), uploads, "route")
        said = FlatOptions(hose_od_mm=hose_od, line=line)
        with answered, _bench.refusals():
            answer, picture = _bench.measured_route(uploads[0], bars, said)
            _show.headline(answer.line, is_sure=True)
            st.image(picture, width="stretch")
            _show.next_step(answer.advice)
            _show.table(_show.bends_named(answer.quantities()))
            with st.expander("Where the uncertainty comes from"):
                _show.budget(answer.as_json()["budget"])
            _show.warnings(answer.warnings)
            if st.button("Keep this path", width="stretch", key="route.keep"):
                add_answer(job, "route", answer.as_json(), picture)
                st.success(f"Kept for “{job.name}”.")
            st.divider()
_show.cautions()
