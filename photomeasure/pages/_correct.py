"""A flat route that the program did not follow rightly: the line is marked by hand."""

import streamlit as st

from photomeasure.pages import _ask, _bench, _measure
from photomeasure.pages._picture import picture
from photomeasure.route.reading import FlatOptions

__all__ = ["corrected"]


def corrected(upload: _bench.Upload, bars: _ask.Bars, said: FlatOptions) -> _measure.MeasuredRoute:
    """Measure along the marks that were set by hand, or by itself where there are none."""
    key = f"route.marks.{hash(upload[1])}"
    marks: _measure.Marks = st.session_state.get(key, ())
    with st.expander("It does not: mark the line by hand"):
        st.caption("Tap on one end, then every hand's breadth along the line, to the other end.")
        set_by_hand = picture(
            _measure.previewed(upload), "route.marking", "the photo, to mark", can_mark=True
        )
        if set_by_hand is not None:
            marks = tuple((x, y) for x, y in set_by_hand)
            st.session_state[key] = marks
        if marks:
            st.caption(f"Measured along {len(marks)} marks.")
            st.button("Forget the marks", key="route.forget", on_click=_forget, args=(key,))
    return _measure.measured_route(upload, bars, said, marks)


def _forget(key: str) -> None:
    st.session_state.pop(key, None)
