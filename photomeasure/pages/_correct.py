"""Where the program erred: the thread is pointed at, or the line is marked, by hand."""

import streamlit as st

from photomeasure.pages import _ask, _bench, _measure
from photomeasure.pages._picture import Shown, picture
from photomeasure.route.reading import FlatOptions

__all__ = ["corrected", "pointed_at"]


def pointed_at(upload: _bench.Upload, room: str, what: str) -> _measure.Mark | None:
    """Let a person tap on what is meant; None where nobody did."""
    label = f"Not the right {what}? Tap on the one you mean"
    marks = _marked(upload, room, label, Shown(marks=1))
    return marks[-1] if marks else None


def corrected(upload: _bench.Upload, bars: _ask.Bars, said: FlatOptions) -> _measure.MeasuredRoute:
    """Measure along the marks that were set by hand, or by itself where there are none."""
    label = "It does not: tap on one end, then every hand's breadth to the other"
    marks = _marked(upload, "route", label, Shown(marks=2))
    return _measure.measured_route(upload, bars, said, marks)


def _marked(upload: _bench.Upload, room: str, label: str, shown: Shown) -> _measure.Marks:
    """Let a person set marks on a photo; what was set is kept while the page is open."""
    key = f"{room}.marks.{hash(upload[1])}"
    lid = st.expander(label, key=f"{room}.mark", on_change="rerun")  # opened: the photo is shown
    with lid:
        if lid.open:
            sent = picture(_measure.previewed(upload), f"{room}.marking", "the photo", shown)
            if sent is not None:
                st.session_state[key] = tuple((x, y) for x, y in sent)
        marks: _measure.Marks = st.session_state.get(key, ())
        if marks:
            st.caption("Measured by your marks, not by the program's own choice.")
            st.button("Forget the marks", key=f"{room}.forget", on_click=_forget, args=(key,))
    return marks


def _forget(key: str) -> None:
    st.session_state.pop(key, None)
