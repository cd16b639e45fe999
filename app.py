"""The web app: its pages and nothing else."""

import streamlit as st

from photomeasure.pages._show import look

PAGES = "photomeasure/pages"

# a picture of our own: a named icon would be fetched from another server
st.set_page_config(page_title="Hose bench", page_icon=f"{PAGES}/icon.png", layout="centered")
look()
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
