"""A page that measures photos: the answer on top, what it needs under it, the rest below."""

from dataclasses import dataclass

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from photomeasure.job import Job
from photomeasure.pages import _ask
from photomeasure.pages._bench import Upload
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import say_next
from photomeasure.pages._words import say

__all__ = ["Asked", "ask_for"]

_TWICE = ("fitting", "port")  # rooms in which a second photo of the same part helps


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """What was asked for, and where its answer goes: words, picture, marks by hand, the rest."""

    uploads: tuple[Upload, ...]
    bars: _ask.Bars
    answer: DeltaGenerator
    picture: DeltaGenerator
    hand: DeltaGenerator
    rest: DeltaGenerator

    @property
    def is_verified(self) -> bool:
        """Say whether both check bars are known."""
        return None not in self.bars


def ask_for(job: Job, room: str, kind: str) -> Asked:
    """Ask for the photos of a room and the check bars of the print that they show.

    Parameters
    ----------
    job : Job
    room : str
    kind : str
        Of print: `sheet`, `collar`, `cards` or `bands`.

    Returns
    -------
    Asked
    """
    # the answer stands first; bars that it still lacks come between its words and its figures
    answer, lacking, shown, more, hand, rest, how = (st.container() for _ in range(7))
    uploads = _ask.uploads(job, room)
    if not uploads:
        with how:
            st.image(HOW[room], width="stretch")
            say_next(say("next.photo"))
    elif room in _TWICE:
        with more:
            uploads = _ask.more_photos(room, uploads)
    is_lacking = not _ask.has_bars(job, kind)
    with lacking if uploads and is_lacking else st.container():
        bars = _ask.bars(job, kind)
    if uploads and is_lacking:
        say_next(say("next.bars"))
    with st.expander(say("photo.how"), icon=":material/help:", key=f"{room}.how"):
        if uploads:
            st.image(HOW[room], width="stretch")
        st.markdown(say(f"{room}.how"))
    return Asked(tuple(uploads), bars, answer, shown, hand, rest)
