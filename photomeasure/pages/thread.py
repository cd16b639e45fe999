"""The thread at each end: what is known of it, and the ways to find out."""

import streamlit as st

from photomeasure.pages import _ask, _bench
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._kept import kept_picture
from photomeasure.sizing.ports import port_checks

WORDS = {True: ":material/check_circle: known", False: ":material/cancel: WRONG", None: "○ open"}

with bench_page("thread") as job:
    threads = [check for check in port_checks(job.entries) if check.name.startswith("thread")]
    for number, check in enumerate(threads):
        st.markdown(f"{WORDS[check.ok]} **{check.name}**: {check.detail}")
        kept_picture(job, number)
    if not all(check.ok for check in threads):
        say_next("measure the part that came out: by photo, or by caliper.")
    end = _ask.end(job, "thread.end")
    letter = "" if end is None else "AB"[end]
    st.caption("Do you still have the part that came out of the port? Measure that.")
    for label, icon, page in (
        ("Take a photo of the thread", ":material/photo_camera:", "fitting"),
        ("I have a caliper", ":material/straighten:", "caliper"),
        ("Photo of the port itself", ":material/adjust:", "port"),
        ("I know its name", ":material/edit:", "ends"),
    ):
        st.button(
            label,
            icon=icon,
            width="stretch",
            key=f"thread.{page}",
            type="secondary" if page in ("ends", "port") else "primary",
            on_click=_bench.go,
            args=(page,),
            kwargs={"end": letter},
        )
