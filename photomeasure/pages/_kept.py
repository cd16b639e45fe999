"""Pictures of answers that a job has kept."""

import streamlit as st

from photomeasure.job import Job
from photomeasure.pages._picture import picture
from photomeasure.pages._words import say

__all__ = ["kept_picture"]


def kept_picture(job: Job, end: int) -> None:
    """Show the picture of the thread that was kept last for an end (0 or 1), if there is one."""
    pictures = [
        path
        for one in job.entries.answers
        if one.end == end and one.picture and (path := job.path(one.picture)) is not None
    ]
    if pictures and pictures[-1].is_file():
        letter = "AB"[end]
        with st.expander(say("thread.picture", end=letter)):
            words = say("thread.measured", end=letter)
            picture(pictures[-1].read_bytes(), f"kept.{letter}", words)
