"""What flows in the line, how hot and at what pressure."""

import streamlit as st

from photomeasure.pages import _form
from photomeasure.pages._frame import bench_page

with bench_page("line") as job:
    _form.form(job, "line", first=st.query_params.get("part", ""))
