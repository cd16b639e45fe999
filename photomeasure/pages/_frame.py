"""Round every page: the ways out on top; at the bottom what is known and what to do next."""

import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import streamlit as st

from photomeasure.errors import PhotomeasureError
from photomeasure.job import CutPlan, Job
from photomeasure.pages import _bench, _show
from photomeasure.pages._places import Lack, lacks
from photomeasure.sizing.assembly import saw_mark_mm
from photomeasure.sizing.entries import EndEntry
from photomeasure.sizing.ports import designation_of

__all__ = ["TITLES", "bench_page", "known", "lack_buttons", "open_lack", "say_known", "say_next"]

TITLES = {
    "start": "On the bench",
    "job": "This job",
    "thread": "Which thread is this?",
    "fitting": "Thread by photo",
    "port": "Port by photo",
    "caliper": "Thread by caliper",
    "ends": "Ports and hose ends",
    "line": "Line and oil",
    "hose": "The hose",
    "route": "The hose's path",
    "space": "Path in space",
    "room": "Room and movement",
    "plan": "Cut and job sheet",
    "prints": "Print the sheet",
}
_LONGEST = 60  # letters of a step that fit on a phone's button
_NAMED = ("start", "job", "plan")  # pages that say which job it is


@contextmanager
def bench_page(at: str) -> Iterator[Job]:
    """Draw a page's head and foot; give the job.

    Parameters
    ----------
    at : str
        One of `TITLES`.
    """
    st.session_state["next.said"] = st.session_state["next.known"] = ""
    _head(at)
    st.title(TITLES[at])
    named = st.empty()
    with _bench.refusals():
        job = _bench.current_job()
        if job.folder is not None and at in _NAMED:
            named.markdown(f"“{job.name}”")
        yield job
    with _bench.refusals():
        _foot(at)
    _show.cautions()


def _head(at: str) -> None:
    with st.container(horizontal=True, key="head", vertical_alignment="center"):
        if at != "start":
            st.button(
                "Bench",
                icon=":material/home:",
                key="head.start",
                on_click=_bench.go,
                args=("start",),
            )
        if at not in ("start", "job"):
            st.button(
                "Job",
                icon=":material/checklist:",
                key="head.job",
                on_click=_bench.go,
                args=("job",),
            )
        st.session_state["unit"] = {"mm": "mm", "in": "inch"}[_bench.units()]
        st.segmented_control(
            "Unit of bare figures",
            ["mm", "inch"],
            key="unit",
            required=True,
            on_change=_set_unit,
            label_visibility="collapsed",
        )


def _set_unit() -> None:
    st.query_params["unit"] = "in" if st.session_state.get("unit") == "inch" else "mm"


def _foot(at: str) -> None:
    """Fill the bar at the bottom, from the job as it stands now."""
    job = _bench.current_job()
    with st.container(key="next"):
        try:
            plan = _bench.planned(job)
        except PhotomeasureError as error:
            st.error(f"**{error.message}** {error.remedy}", icon=":material/block:")
            st.button(
                "Next: change what the line belongs to",
                key="next.go",
                width="stretch",
                on_click=_bench.go,
                args=("line",),
                kwargs={"part": "The line"},
            )
            return
        answer = st.session_state.get("next.known")
        if answer or job.folder is not None:
            st.caption(f"Now: **{answer}**" if answer else known(job, plan))
        said = st.session_state.get("next.said")
        if said:
            st.markdown(f"**Next: {said}**")
        else:
            _next_button(at, job, plan)


def known(job: Job, plan: CutPlan) -> str:
    """Say in one line what is known of a job, and how surely."""
    ends = [*job.entries.ends][:2]
    words = [f"**{letter}** {_thread_words(end)}" for letter, end in zip("AB", ends, strict=False)]
    route = job.entries.route
    mark = saw_mark_mm(plan.lengths)
    words.append("**path** " + ("?" if route is None else f"{route.length.value:.0f} mm"))
    words.append("**cut** " + ("?" if mark is None else f"{mark} mm"))
    state = f"**{plan.open_count} open**" if plan.open_count else "**ready**"
    return _bench.in_units(" · ".join([*words, state]), mark)


def _thread_words(end: EndEntry) -> str:
    name = designation_of(end)
    if name is not None:
        return name
    return "?" if end.thread is None else "not sure"


def _next_button(at: str, job: Job, plan: CutPlan) -> None:
    found = [lack for lack in lacks(plan) if lack.page in TITLES]
    if job.folder is None:
        st.button(
            "Next: find out which thread it is",
            key="next.go",
            type="primary",
            width="stretch",
            icon=":material/arrow_forward:",
            on_click=_bench.go,
            args=("thread",),
        )
        return
    if not found:
        if at != "plan":
            st.button(
                "Next: print the job sheet",
                key="next.go",
                type="primary",
                width="stretch",
                on_click=_bench.go,
                args=("plan",),
            )
        return
    first = found[0]
    words = textwrap.shorten(_bench.in_units(first.words), _LONGEST, placeholder=" …")
    st.button(
        f"Next: {_place(first)}{words}",
        key="next.go",
        type="primary",
        width="stretch",
        icon=":material/arrow_forward:",
        on_click=open_lack,
        args=(first,),
    )


def _place(lack: Lack) -> str:
    return f"end {lack.end}, " if lack.end and f" {lack.end}" not in lack.words else ""


def open_lack(lack: Lack) -> None:
    """Turn to where something missing is entered."""
    _bench.go(lack.page, part=lack.part, end=lack.end)


def lack_buttons(found: Sequence[Lack]) -> None:
    """Draw open things: a button to where each is entered, or its words where nothing is."""
    for lack in found:
        sign = "WRONG: " if lack.is_wrong else ""
        words = f"{sign}{_place(lack)}{_bench.in_units(lack.words)}"
        if lack.page in TITLES:
            st.button(
                f"**{lack.check}**: {words}",
                key=f"lack.{lack.check}.{lack.words}",
                width="stretch",
                icon=":material/cancel:" if lack.is_wrong else ":material/arrow_forward:",
                on_click=open_lack,
                args=(lack,),
            )
        else:
            st.markdown(f"- **{lack.check}**: {words}")


def say_next(words: str) -> None:
    """Put a page's own next step into the bar at the bottom."""
    st.session_state["next.said"] = words


def say_known(answer: str) -> None:
    """Put a page's answer into the bar at the bottom, where it is seen from anywhere."""
    st.session_state["next.known"] = answer
