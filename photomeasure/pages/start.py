"""Where a job begins: photo or caliper; the jobs kept here; the address for the phone."""

import streamlit as st

from photomeasure.pages import _bench, _phone
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._words import say

WAYS = {"fitting": ":material/photo_camera:", "caliper": ":material/straighten:"}

with bench_page("start") as job:
    if job.folder is None:
        say_next(say("start.next"))
    st.markdown(say("start.what"))
    for (page, icon), column in zip(WAYS.items(), st.columns(2), strict=True):
        column.button(
            say(f"start.{page}"),
            type="primary",
            icon=icon,
            width="stretch",
            key=f"start.{page}",
            on_click=_bench.go,
            args=(page,),
        )
        column.caption(say(f"start.{page}_how"))
    st.markdown(say("start.measure_that"))
    st.button(
        say("start.prints"),
        icon=":material/print:",
        width="stretch",
        key="start.prints",
        on_click=_bench.go,
        args=("prints",),
    )

    st.subheader(say("start.jobs"))
    names = _bench.job_names()
    for number, name in list(names.items())[:5]:
        st.button(
            say("start.go_on", name=name, number=number),
            key=f"start.job.{number}",
            width="stretch",
            on_click=_bench.open_kept,
            args=(number,),
        )
    if len(names) > 5:
        older = st.selectbox(
            say("start.older"),
            list(names)[5:],
            None,
            key="start.older",
            format_func=lambda n: f"{names.get(n)} ({n})",
            placeholder=say("choose"),
        )
        if older:
            st.button(
                say("start.older_go", name=names[older]),
                key="start.older.go",
                width="stretch",
                on_click=_bench.open_kept,
                args=(older,),
            )
    with st.form("start.new", border=False):
        name = st.text_input(say("start.name"), key="start.name", placeholder=say("start.example"))
        if st.form_submit_button(say("start.new"), width="stretch") and name.strip():
            _bench.start_job(name.strip())
            _bench.go("job")
            st.rerun()
    _phone.take_job_in()
    _phone.show_address()
