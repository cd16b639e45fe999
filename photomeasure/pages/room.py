"""Slack, movement, clearance, and which elbows would fit."""

import streamlit as st

from photomeasure.pages import _form
from photomeasure.pages._frame import bench_page

with bench_page("room") as job:
    _form.form(job, "room", first=st.query_params.get("part", ""))
