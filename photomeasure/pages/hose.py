"""The hose, from its own data sheet."""

import streamlit as st

from photomeasure.pages import _form
from photomeasure.pages._frame import bench_page

with bench_page("hose") as job:
    _form.form(job, "hose", first=st.query_params.get("part", ""))
