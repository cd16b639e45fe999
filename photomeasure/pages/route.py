"""How long the hose's path is."""

from typing import get_args

import streamlit as st

from photomeasure.job.enter import entered
from photomeasure.pages import _bench, _form, _measure, _show
from photomeasure.pages._correct import LINE, by_hand, marks_on
from photomeasure.pages._frame import bench_page, say_known, say_next
from photomeasure.pages._photos import ask_for
from photomeasure.pages._picture import Shown, picture
from photomeasure.pages._words import say
from photomeasure.route.reading import FlatOptions, LineKind

with bench_page("route") as job:
    is_photo = entered(job, "route.answer") is not None
    line: LineKind = st.segmented_control(
        say("route.line"),
        get_args(LineKind),
        default="tape",
        format_func=lambda kind: say(f"route.line_{kind}"),
        key="route.line",
        required=True,
    )
    asked = ask_for(job, "route", "cards")
    st.button(
        say("route.space"),
        key="route.space",
        width="stretch",
        on_click=_bench.go,
        args=("space",),
    )
    with st.expander(say("route.by_hand"), expanded=not is_photo and not asked.uploads):
        if is_photo:
            st.caption(say("route.photo_counts"))
            st.button(
                say("route.forget"),
                key="route.by_hand",
                width="stretch",
                on_click=_bench.set_entry,
                args=("route", None),
            )
        else:
            _form.form(job, "route", only="Measured by hand")
    if not asked.uploads:
        say_next("" if is_photo else say("route.next"))
    else:
        found = None
        with asked.answer, _bench.refusals():
            for photo in asked.uploads:
                for complaint in _measure.looked_at(photo, "route"):
                    st.info(complaint, icon=":material/visibility:")
            _bench.keep_photos(asked.uploads, "route")
            said = FlatOptions(hose_od_mm=job.entries.hose.outside_diameter_mm, line=line)
            marks = marks_on(asked.uploads[0])
            found = _measure.measured_route(asked.uploads, asked.bars, said, marks)
            answer, near = found.answer, found.near
            is_sure = not answer.warnings
            say_known(_show.headline(answer.line, is_sure=is_sure, is_verified=asked.is_verified))
            with asked.picture:
                shown = Shown(near.line, is_answer=True)
                picture(near.jpeg, "route.picture", answer.line, shown)
                st.markdown(say("route.look"))
                if _show.keep_path(answer, found.picture, "route", say("route.keep")):
                    say_next("")
                elif asked.is_verified:
                    say_next(say("next.line"))
            with asked.rest:
                _show.path(answer)
        with asked.hand, _bench.refusals():
            by_hand(asked.uploads[0], LINE, None if found is None else found.of_first)
