"""A page that measures photos: the answer on top, what it needs under it, the rest below."""

from dataclasses import dataclass

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from photomeasure.job import Job
from photomeasure.pages import _ask
from photomeasure.pages._bench import Upload
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import say_next

__all__ = ["Asked", "ask_for"]


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """What was asked for, and where its answer goes: the words, the picture, and all the rest."""

    uploads: list[Upload]
    bars: _ask.Bars
    answer: DeltaGenerator
    picture: DeltaGenerator
    rest: DeltaGenerator

    @property
    def is_verified(self) -> bool:
        """Say whether both check bars are known."""
        return None not in self.bars


def ask_for(job: Job, room: str, kind: str, how_to: str) -> Asked:
    """Ask for the photos of a room and the check bars of the print that they show.

    Parameters
    ----------
    job : Job
    room : str
    kind : str
        Of print: `sheet`, `collar`, `cards` or `bands`.
    how_to : str
        How the photos are taken, in steps.

    Returns
    -------
    Asked
    """
    # the answer stands first; bars that it still lacks come between its words and its figures
    answer, lacking, shown, rest = (st.container() for _ in range(4))
    with st.expander("How to take the photo", icon=":material/help:", key=f"{room}.how"):
        st.image(HOW[room], width="stretch")
        st.markdown(how_to)
    uploads = _ask.uploads(job, room)
    is_lacking = not _ask.has_bars(job, kind)
    with lacking if uploads and is_lacking else st.container():
        bars = _ask.bars(job, kind)
    if not uploads:
        say_next("take the photo as shown, then choose it here.")
    elif is_lacking:
        say_next("measure both check bars of the print and enter them.")
    return Asked(uploads, bars, answer, shown, rest)
