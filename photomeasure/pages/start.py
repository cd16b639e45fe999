"""Where a job begins: photo or caliper; the jobs kept here; the address for the phone."""

import streamlit as st

from photomeasure.pages import _bench, _phone
from photomeasure.pages._frame import bench_page, say_next

WAYS = (
    ("fitting", "Take a photo of the thread", ":material/photo_camera:", "With the printed sheet."),
    ("caliper", "I have a caliper", ":material/straighten:", "Best with a pitch gauge beside it."),
)

with bench_page("start") as job:
    if job.folder is None:
        say_next("lay the part on the printed sheet, or take the caliper.")
    st.markdown("Which thread do you hold, how long must the hose be, and where do you cut it?")
    for way, column in zip(WAYS, st.columns(2), strict=True):
        page, label, icon, words = way
        column.button(
            label,
            type="primary",
            icon=icon,
            width="stretch",
            key=f"start.{page}",
            on_click=_bench.go,
            args=(page,),
        )
        column.caption(words)
    st.markdown(
        "Do you still have the fitting or nut that came out of the port? Measure that. It may "
        "have been the wrong one: try the new part by fingers, to full depth."
    )
    st.button(
        "Print the sheet first",
        icon=":material/print:",
        width="stretch",
        key="start.prints",
        on_click=_bench.go,
        args=("prints",),
    )

    st.subheader("Jobs kept here")
    names = _bench.job_names()
    for number, name in list(names.items())[:5]:
        st.button(
            f"Go on: {name} ({number})",
            key=f"start.job.{number}",
            width="stretch",
            on_click=_bench.open_kept,
            args=(number,),
        )
    if len(names) > 5:
        older = st.selectbox(
            "Older jobs",
            list(names)[5:],
            None,
            key="start.older",
            format_func=lambda n: f"{names.get(n)} ({n})",
            placeholder="choose",
        )
        if older:
            st.button(
                f"Go on: {names[older]}",
                key="start.older.go",
                width="stretch",
                on_click=_bench.open_kept,
                args=(older,),
            )
    with st.form("start.new", border=False):
        name = st.text_input("Name of a new job", key="start.name", placeholder="Narrow tractor")
        if st.form_submit_button("Start a new job", width="stretch") and name.strip():
            _bench.start_job(name.strip())
            _bench.go("job")
            st.rerun()
    _phone.take_job_in()
    _phone.show_address()
