"""Where a job begins: photo or caliper, then the path, then the plan."""

import streamlit as st

from photomeasure.pages import _bench, _show

PAGES = "photomeasure/pages"

st.title("What is on the bench?")
st.markdown("Find out which thread you hold, how long the hose must be, and where to cut it.")
st.subheader("Which thread is this?")
photo, caliper = st.columns(2)
with photo:
    if st.button(
        "Take a photo of the thread",
        type="primary",
        icon=":material/photo_camera:",
        width="stretch",
        key="start.photo",
    ):
        st.switch_page(f"{PAGES}/fitting.py")
    st.caption("Needs the printed sheet and a phone.")
with caliper:
    if st.button(
        "I have a caliper",
        type="primary",
        icon=":material/straighten:",
        width="stretch",
        key="start.caliper",
    ):
        st.switch_page(f"{PAGES}/caliper.py")
    st.caption("Best with a pitch gauge beside it.")
st.markdown(
    "Do you still have the fitting or nut that came out of the port? Measure that: a port itself "
    "cannot be measured by photo yet. It may have been the wrong one: try by fingers too."
)
st.subheader("Then")
st.page_link(f"{PAGES}/route.py", label="Measure the hose's path", icon=":material/route:")
st.page_link(f"{PAGES}/plan.py", label="Where to cut, and the sheet", icon=":material/content_cut:")
st.page_link(f"{PAGES}/prints.py", label="Print the sheet first", icon=":material/print:")

st.subheader("Jobs kept here")
with st.form("start.new", border=False):
    name = st.text_input("Name of a new job", key="start.name", placeholder="Narrow tractor")
    if st.form_submit_button("Start a new job", width="stretch") and name.strip():
        with _bench.refusals():
            st.success(f"Started: {_bench.start_job(name.strip()).name}")
names = _bench.job_names()
if names:
    chosen = st.selectbox(
        "Go on with", ["", *names], format_func=lambda n: names.get(n, ""), key="start.job"
    )
    if chosen:
        _bench.choose_job(chosen)
        st.page_link(f"{PAGES}/plan.py", label=f"Open the plan of “{names[chosen]}”")
_show.cautions()
