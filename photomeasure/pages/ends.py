"""What is entered of each end: port, adapter, hose end, and where the path begins."""

import streamlit as st

from photomeasure.pages import _ask, _form
from photomeasure.pages._copy import offer_copy
from photomeasure.pages._frame import bench_page
from photomeasure.pages._words import say

with bench_page("ends") as job:
    end = _ask.end(job, "ends.end")
    if end is None:
        st.info(say("end.choose"), icon=":material/arrow_upward:")
    else:
        offer_copy(job, end)
        _form.form(job, "ends", end=str(end), first=st.query_params.get("part", ""))
