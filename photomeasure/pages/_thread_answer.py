"""A thread that was measured by photo: shown, kept for an end, and with what it rests on."""

import streamlit as st

from photomeasure.answers.fitting import FittingAnswer
from photomeasure.answers.port import PortAnswer
from photomeasure.job import Job
from photomeasure.pages import _ask, _bench, _show
from photomeasure.pages._frame import say_next
from photomeasure.pages._picture import picture

__all__ = ["complaints", "keep", "rests_on"]


def complaints(found: list[str]) -> None:
    """Say what the first look found, each once."""
    for complaint in dict.fromkeys(found):
        st.info(complaint, icon=":material/visibility:")


def keep(job: Job, answer: FittingAnswer | PortAnswer, drawn: bytes, *, is_verified: bool) -> None:
    """Show the answer with its picture, and offer to keep it for an end."""
    room = answer.kind
    is_sure = answer.verdict == "identified"
    _show.headline(answer.line, is_sure=is_sure, is_verified=is_verified)
    picture(drawn, f"{room}.picture", answer.line)
    _show.next_step(answer.advice)
    end = _ask.end(job, f"{room}.end")
    kept = st.button(
        "Keep this answer",
        width="stretch",
        disabled=end is None,
        key=f"{room}.keep",
        type="primary",
    )
    if kept and end is not None:
        _bench.keep_thread(answer.as_json(), drawn, end, is_verified=is_verified)
        st.success(f"Kept for end {'AB'[end]}.", icon=":material/check_circle:")
    elif is_verified:
        say_next("say for which end it is, and keep it.")


def rests_on(answer: FittingAnswer | PortAnswer) -> None:
    """Show the figures, where their uncertainty comes from, and what to mind."""
    _show.table(answer.quantities())
    with st.expander("Where the uncertainty comes from"):
        _show.budget(answer.as_json()["budget"])
    _show.warnings(answer.warnings)
    st.divider()
