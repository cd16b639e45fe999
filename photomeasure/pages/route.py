"""How long the hose's path is."""

from typing import get_args

import streamlit as st

from photomeasure.job import add_answer
from photomeasure.job.enter import entered
from photomeasure.pages import _bench, _form, _measure, _show
from photomeasure.pages._correct import corrected
from photomeasure.pages._frame import bench_page, say_known, say_next
from photomeasure.pages._photos import ask_for
from photomeasure.pages._picture import Shown, picture
from photomeasure.route.reading import FlatOptions, LineKind

HOW_TO = """
1. Lay plain tape (or the old hose, or a cord) along the path on a flat floor, both ends open.
2. Lay three printed cards, or two sheets, beside it: at both ends and in between.
3. Take one photo from above that shows the whole line with some floor beyond it.
"""


with bench_page("route") as job:
    is_photo = entered(job, "route.answer") is not None
    line: LineKind = st.segmented_control(
        "What lies there", get_args(LineKind), default="tape", key="route.line", required=True
    )
    asked = ask_for(job, "route", "cards", HOW_TO)
    st.button(
        "The path does not lie flat",
        key="route.space",
        width="stretch",
        on_click=_bench.go,
        args=("space",),
    )
    with st.expander("No photo: measured by hand", expanded=not is_photo and not asked.uploads):
        if is_photo:
            st.caption("The path of the photo counts.")
            st.button(
                "Forget it and enter the path by hand",
                key="route.by_hand",
                width="stretch",
                on_click=_bench.set_entry,
                args=("route", None),
            )
        else:
            _form.form(job, "route", only="Measured by hand")
    if not asked.uploads:
        say_next("" if is_photo else "take the photo as shown, or measure the path by hand.")
    else:
        with asked.answer, _bench.refusals():
            photo = asked.uploads[0]
            for complaint in _measure.looked_at(photo, "route"):
                st.info(complaint, icon=":material/visibility:")
            _bench.keep_photos([photo], "route")
            said = FlatOptions(hose_od_mm=job.entries.hose.outside_diameter_mm, line=line)
            with asked.rest:
                found = corrected(photo, asked.bars, said)
            answer = found.answer
            is_sure = not answer.warnings
            say_known(_show.headline(answer.line, is_sure=is_sure, is_verified=asked.is_verified))
            with asked.picture:
                picture(
                    found.preview, "route.picture", answer.line, Shown(found.line, is_answer=True)
                )
                st.markdown("**Look: does the drawn line lie on yours, from end to end?**")
                kept = st.button(
                    "It does: keep this path", width="stretch", key="route.keep", type="primary"
                )
                if kept:
                    stored = answer.as_json()
                    _bench.change_job(lambda now: add_answer(now, "route", stored, found.picture))
                    st.success("Kept.", icon=":material/check_circle:")
                    say_next("")
                elif asked.is_verified:
                    say_next("look whether the drawn line lies on yours, and keep it.")
            with asked.rest:
                _show.path(answer)
