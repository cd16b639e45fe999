"""The web app: which page the address asks for, and nothing else."""

import streamlit as st

from photomeasure.pages._frame import TITLES
from photomeasure.pages._show import look

PAGES = "photomeasure/pages"

# a picture of our own: a named icon would be fetched from another server
st.set_page_config(page_title="Hose bench", page_icon=f"{PAGES}/icon.png", layout="centered")
look()
# one address for all pages, with the page as a word behind it (?at=fitting): opened by a path of
# its own, a page asks the server for two files that are not there
asked = st.query_params.get("at", "start")
at = asked if asked in TITLES else "start"
page = st.Page(f"{PAGES}/{at}.py", title=TITLES[at], default=True)
st.navigation([page], position="hidden").run()
