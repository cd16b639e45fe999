"""The web app: its pages and nothing else."""

import streamlit as st

PAGES = "photomeasure/pages"

st.set_page_config(page_title="Hose bench", page_icon=":material/straighten:", layout="centered")
st.navigation(
    [
        st.Page(f"{PAGES}/start.py", title="Start", icon=":material/home:", default=True),
        st.Page(f"{PAGES}/fitting.py", title="Thread by photo", icon=":material/photo_camera:"),
        st.Page(f"{PAGES}/caliper.py", title="Thread by caliper", icon=":material/straighten:"),
        st.Page(f"{PAGES}/route.py", title="The hose's path", icon=":material/route:"),
        st.Page(f"{PAGES}/plan.py", title="Cut and job sheet", icon=":material/content_cut:"),
        st.Page(f"{PAGES}/prints.py", title="Print the sheet", icon=":material/print:"),
    ]
).run()
