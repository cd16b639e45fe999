"""The thread at each end: what is known of it, and the ways to find out."""

import streamlit as st

from photomeasure.pages import _ask, _bench
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._kept import kept_picture
from photomeasure.pages._words import say
from photomeasure.sizing.ports import port_checks

WORDS = {
    True: f":material/check_circle: {say('thread.known')}",
    False: f":material/cancel: {say('thread.wrong')}",
    None: f"○ {say('thread.open')}",
}

with bench_page("thread") as job:
    threads = [check for check in port_checks(job.entries) if check.name.startswith("thread")]
    for number, check in enumerate(threads):
        said = {"mark": WORDS[check.ok], "name": check.name, "detail": check.detail}
        st.markdown(say("plan.check", **said))
        kept_picture(job, number)
    if not all(check.ok for check in threads):
        say_next(say("thread.next"))
    end = _ask.end(job, "thread.end")
    letter = "" if end is None else "AB"[end]
    st.caption(say("thread.measure_that"))
    for label, icon, page in (
        (say("start.fitting"), ":material/photo_camera:", "fitting"),
        (say("start.caliper"), ":material/straighten:", "caliper"),
        (say("thread.port"), ":material/adjust:", "port"),
        (say("thread.name"), ":material/edit:", "ends"),
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
