"""How long the hose's path is."""

from typing import get_args

import streamlit as st

from photomeasure.job import add_answer
from photomeasure.job.enter import entered
from photomeasure.pages import _ask, _bench, _form, _measure, _show
from photomeasure.pages._correct import corrected
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._picture import picture
from photomeasure.route.reading import FlatOptions, LineKind

HOW_TO = """
1. Lay plain tape (or the old hose, or a cord) along the path on a flat floor, both ends open.
2. Lay three printed cards, or two sheets, beside it: at both ends and in between.
3. Take one photo from above that shows the whole line with some floor beyond it.
"""


with bench_page("route") as job:
    # above the entries, so that it is seen at once; but first the bars, if they are not known
    answered = st.container() if _ask.has_bars(job, "cards") else None
    is_photo = entered(job, "route.answer") is not None
    bars = _ask.bars(job, "cards")
    answered = answered or st.container()
    is_verified = None not in bars
    line: LineKind = st.segmented_control(
        "What lies there", get_args(LineKind), default="tape", key="route.line", required=True
    )
    with st.expander("How to take the photo", icon=":material/help:"):
        st.image(HOW["route"], width="stretch")
        st.markdown(HOW_TO)
    uploads = _ask.uploads(job, "route")
    st.button(
        "The path does not lie flat",
        key="route.space",
        width="stretch",
        on_click=_bench.go,
        args=("space",),
    )
    with st.expander("No photo: measured by hand", expanded=not is_photo and not uploads):
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
    if not is_verified:
        say_next("measure both check bars of the print, or measure the path by hand.")
    elif not uploads and not is_photo:
        say_next("choose the photo of the line.")
    if uploads:
        with answered, _bench.refusals():
            for complaint in _measure.looked_at(uploads[0], "route"):
                st.info(complaint, icon=":material/visibility:")
            _bench.keep_photos(uploads[:1], "route")
            said = FlatOptions(hose_od_mm=job.entries.hose.outside_diameter_mm, line=line)
            shown = st.container()
            found = corrected(uploads[0], bars, said)
            answer = found.answer
            with shown:
                _show.headline(answer.line, is_sure=not answer.warnings, is_verified=is_verified)
                picture(found.preview, "route.picture", answer.line, line=found.line)
            st.markdown("**Look: does the drawn line lie on yours, from end to end?**")
            kept = st.button(
                "It does: keep this path", width="stretch", key="route.keep", type="primary"
            )
            if kept:
                stored = answer.as_json()
                _bench.change_job(lambda now: add_answer(now, "route", stored, found.picture))
                st.success("Kept.", icon=":material/check_circle:")
            elif is_verified:
                say_next("look whether the drawn line lies on yours, and keep it.")
            _show.next_step(answer.advice)
            _show.table(_show.bends_named(answer.quantities()))
            with st.expander("Where the uncertainty comes from"):
                _show.budget(answer.as_json()["budget"])
            _show.warnings(answer.warnings)
            st.divider()
