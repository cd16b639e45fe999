"""Where the program erred: a person marks what is meant, and it is measured at once again."""

from collections.abc import Sequence
from dataclasses import dataclass

import streamlit as st

from photomeasure.job import Job
from photomeasure.pages import _bench, _measure
from photomeasure.pages._measure import Mark, Marks, Near
from photomeasure.pages._picture import Shown, picture
from photomeasure.pages._words import say

__all__ = ["ANY_PORT", "LINE", "STRETCH", "Hand", "by_hand", "marks_on"]

_KEPT = "marks"  # in the job's file: by photo, as shares of its width and height


@dataclass(frozen=True, slots=True)
class Hand:
    """How a photo is marked: in which room, with how few and how many marks."""

    room: str
    least: int
    most: int


STRETCH = Hand("fitting", 1, 2)
ANY_PORT = Hand("port", 1, 8)
LINE = Hand("route", 2, 99)


def marks_on(upload: _bench.Upload) -> Marks:
    """Give the marks that were set on a photo, also on another day."""
    held = dict(_bench.current_job().document.get(_KEPT) or {}).get(_bench.mark_of(upload), ())
    return tuple((float(x), float(y)) for x, y in held)


def by_hand(upload: _bench.Upload, hand: Hand, near: Near | None) -> None:
    """Let a person set marks on a photo, under a lid; `near` is what was measured there."""
    marks = marks_on(upload)
    lid = st.expander(say(f"hand.{hand.room}"), key=f"{hand.room}.mark", on_change="rerun")
    with lid:
        if lid.open:  # only then is the photo sent to the screen
            st.caption(say(f"hand.{hand.room}_how"))
            near = near or Near(_measure.previewed(upload))
            at = [_inside(near, mark) for mark in marks or near.marks]
            line = [_inside(near, place) for place in near.line]
            shown = Shown(line, marks=hand.least, most=hand.most, at=at, is_own=bool(marks))
            sent = picture(near.jpeg, f"{hand.room}.marking", say("photo.whole"), shown)
            if sent is not None:
                _set(upload, [_outside(near, mark) for mark in sent])
                st.rerun()
    if marks:
        st.caption(say("hand.said"))
        key = f"{hand.room}.forget"
        st.button(say("hand.forget"), key=key, on_click=_set, args=(upload, ()), width="stretch")


def _set(upload: _bench.Upload, marks: Sequence[Mark]) -> None:
    name = _bench.mark_of(upload)

    def changed(job: Job) -> Job:
        held = {**dict(job.document.get(_KEPT) or {}), name: [list(mark) for mark in marks]}
        return job.changed(**{_KEPT: {photo: set_ for photo, set_ in held.items() if set_}})

    _bench.change_job(changed)


def _inside(near: Near, mark: Sequence[float]) -> list[float]:
    left, top, right, bottom = near.window
    return [(mark[0] - left) / (right - left), (mark[1] - top) / (bottom - top)]


def _outside(near: Near, mark: Sequence[float]) -> Mark:
    left, top, right, bottom = near.window
    return left + mark[0] * (right - left), top + mark[1] * (bottom - top)
