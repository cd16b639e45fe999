"""A thread that was measured by photo: shown, kept for an end, and with what it rests on."""

import streamlit as st

from photomeasure.answers.fitting import FittingAnswer
from photomeasure.answers.port import PortAnswer
from photomeasure.job import Job
from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._frame import say_known, say_next
from photomeasure.pages._photos import Asked
from photomeasure.pages._picture import Shown, picture
from photomeasure.pages._words import say

__all__ = ["complaints", "keep", "rests_on"]

STANDS_ON = ("diameter_at_small_end", "major_diameter", "bore_diameter", "pitch")


def complaints(found: list[str]) -> None:
    """Say what the first look found, each once."""
    for complaint in dict.fromkeys(found):
        st.info(complaint, icon=":material/visibility:")


def keep(job: Job, answer: FittingAnswer | PortAnswer, drawn: bytes, asked: Asked) -> None:
    """Show the answer with its picture, and offer to keep it for an end."""
    room = answer.kind
    is_sure = answer.verdict == "identified"
    line = _show.headline(answer.line, is_sure=is_sure, is_verified=asked.is_verified)
    say_known(line)
    if asked.is_verified:
        _show.figures(answer.quantities(), STANDS_ON)
    with asked.picture:
        picture(drawn, f"{room}.picture", answer.line, Shown(is_answer=True))
        end = _ask.keep_for(job, room)
        if end is not None:
            _bench.keep_thread(answer.as_json(), drawn, end, is_verified=asked.is_verified)
            _show.kept(say("keep.kept", end="AB"[end]))
        elif asked.is_verified:
            check = None if is_sure else answer.settle_by
            words = say("next.keep")
            say_next(say("caliper.check", check=_show.said_check(check)) if check else words)
        _show.next_step(answer.advice)


def rests_on(answer: FittingAnswer | PortAnswer, asked: Asked) -> None:
    """Show what it may be, the figures, where their uncertainty comes from, and what to mind."""
    _show.told_apart(answer.candidates)
    _show.table(answer.quantities())
    _show.budget(answer.as_json()["budget"])
    _show.warnings(answer.warnings)
    lens = _measure.lens_used(asked.uploads[0])
    if lens:
        st.caption(say("lens.used", name=lens))
    st.divider()
