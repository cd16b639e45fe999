"""Round every page: the ways out on top; at the bottom what is known and what to do next."""

import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import streamlit as st

from photomeasure.errors import PhotomeasureError
from photomeasure.job import CutPlan, Job
from photomeasure.pages import _bench, _show
from photomeasure.pages._places import Lack, lacks
from photomeasure.pages._words import say
from photomeasure.sizing.assembly import saw_mark_mm
from photomeasure.sizing.entries import EndEntry
from photomeasure.sizing.ports import designation_of

__all__ = ["TITLES", "bench_page", "known", "lack_buttons", "open_lack", "say_known", "say_next"]

PAGES = (
    *("start", "job", "thread", "fitting", "port", "caliper", "ends", "line", "hose"),
    *("route", "space", "room", "plan", "prints", "lens"),
)
TITLES = {at: say(f"title.{at}") for at in PAGES}
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
                say("head.start"),
                icon=":material/home:",
                key="head.start",
                on_click=_bench.go,
                args=("start",),
            )
        if at not in ("start", "job"):
            st.button(
                say("head.job"),
                icon=":material/checklist:",
                key="head.job",
                on_click=_bench.go,
                args=("job",),
            )
        st.session_state["unit"] = {"mm": "mm", "in": "inch"}[_bench.units()]
        st.segmented_control(
            say("head.unit"),
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
                say("next.wrong_line"),
                key="next.go",
                width="stretch",
                on_click=_bench.go,
                args=("line",),
                kwargs={"part": "The line"},
            )
            return
        answer = st.session_state.get("next.known")
        if answer or job.folder is not None:
            st.caption(say("next.now", answer=answer) if answer else known(job, plan))
        said = st.session_state.get("next.said")
        if said:
            st.markdown(say("next.said", words=said))
        else:
            _next_button(at, job, plan)


def known(job: Job, plan: CutPlan) -> str:
    """Say in one line what is known of a job, and how surely."""
    ends = [*job.entries.ends][:2]
    words = [f"**{letter}** {_thread_words(end)}" for letter, end in zip("AB", ends, strict=False)]
    route = job.entries.route
    mark = saw_mark_mm(plan.lengths)
    length = "?" if route is None else f"{route.length.value:.0f} mm"
    words.append(f"**{say('known.path')}** {length}")
    words.append(f"**{say('known.cut')}** " + ("?" if mark is None else f"{mark} mm"))
    count = plan.open_count
    state = say("known.open", count=count) if count else say("known.ready")
    return _bench.in_units(" · ".join([*words, f"**{state}**"]), mark)


def _thread_words(end: EndEntry) -> str:
    name = designation_of(end)
    if name is not None:
        return name
    return "?" if end.thread is None else say("known.not_sure")


def _next_button(at: str, job: Job, plan: CutPlan) -> None:
    found = [lack for lack in lacks(plan) if lack.page in TITLES]
    if job.folder is None:
        st.button(
            say("next.thread"),
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
                say("next.sheet"),
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
        say("next.lack", place=_place(first), words=words),
        key="next.go",
        type="primary",
        width="stretch",
        icon=":material/arrow_forward:",
        on_click=open_lack,
        args=(first,),
    )


def _place(lack: Lack) -> str:
    is_said = not lack.end or f" {lack.end}" in lack.words
    return "" if is_said else say("lack.end", end=lack.end)


def open_lack(lack: Lack) -> None:
    """Turn to where something missing is entered."""
    _bench.go(lack.page, part=lack.part, end=lack.end)


def lack_buttons(found: Sequence[Lack]) -> None:
    """Draw open things: a button to where each is entered, or its words where nothing is."""
    for lack in found:
        sign = say("lack.wrong") if lack.is_wrong else ""
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
