"""The whole job at a glance: what is done, what is open, and where to go on."""

import streamlit as st

from photomeasure.pages import _bench, _form, _phone
from photomeasure.pages._frame import TITLES, bench_page
from photomeasure.pages._places import lacks
from photomeasure.pages._words import say

ROOMS = ("thread", "ends", "line", "hose", "route", "room")
NAMES = {"thread": say("job.thread")}

with bench_page("job") as job:
    plan = _bench.planned(job)
    if plan.open_count:
        st.error(f"### {plan.headline}", icon=":material/block:")
    else:
        st.success(f"### {plan.headline}", icon=":material/check_circle:")
    open_things = lacks(plan)
    for room in ROOMS:
        count = sum(lack.page == room for lack in open_things)
        wrong = any(lack.is_wrong for lack in open_things if lack.page == room)
        state = say("job.wrong" if wrong else "job.open" if count else "job.done", count=count)
        icon = ":material/cancel:" if wrong else None if count else ":material/check_circle:"
        st.button(
            f"{NAMES.get(room, TITLES[room])}: **{state}**",
            icon=icon,
            width="stretch",
            key=f"job.{room}",
            on_click=_bench.go,
            args=(room,),
        )
        st.caption(say(f"job.{room}_what"))
    st.button(
        TITLES["plan"],
        type="primary",
        icon=":material/content_cut:",
        width="stretch",
        key="job.plan",
        on_click=_bench.go,
        args=("plan",),
    )
    with st.expander(say("job.copies"), key="job.copies"):
        _form.form(job, "job", only="name")
        _phone.give_job_out(job)
