"""Both hose ends are often alike: one end's entries for the other, where it has none."""

import streamlit as st

from photomeasure.job import Job
from photomeasure.job.enter import enter, entered
from photomeasure.pages import _bench, _form
from photomeasure.pages._words import say

__all__ = ["offer_copy"]

ALIKE = ("The hose end", "Adapter and seal", "Setting an elbow")


def _paths(end: int) -> list[str]:
    return [
        row.at_end(str(end)).path
        for row in _form.entries()
        if row.page == "ends" and row.part in ALIKE
    ]


def _copied(job: Job, end: int) -> Job:
    for to, source in zip(_paths(end), _paths(1 - end), strict=True):
        value = entered(job, source)
        if value is not None and entered(job, to) is None:
            job = enter(job, to, value)
    return job


def _copy(end: int) -> None:
    with _bench.refusals():
        _bench.change_job(lambda job: _copied(job, end))


def offer_copy(job: Job, end: int) -> None:
    """Offer the other end's hose end and adapter entries where this end has none."""
    other = "AB"[1 - end]
    new = [
        to
        for to, source in zip(_paths(end), _paths(1 - end), strict=True)
        if entered(job, to) is None and entered(job, source) is not None
    ]
    if new:
        st.button(
            say("end.copy", end=other, count=len(new)),
            key="ends.copy",
            width="stretch",
            on_click=_copy,
            args=(end,),
        )
