"""The printed references, to download."""

import tempfile
from pathlib import Path

import streamlit as st

from photomeasure.answers.prints import write_reference
from photomeasure.pages import _bench
from photomeasure.pages._frame import bench_page
from photomeasure.pages._words import say

KINDS = ("sheet", "markers", "collar", "bands")


@st.cache_data(max_entries=16)
def _pdf(kind: str, paper: str) -> bytes:
    with tempfile.TemporaryDirectory() as held:
        path = Path(held) / "print.pdf"
        write_reference(kind, paper=paper, out=path)
        return path.read_bytes()


with bench_page("prints"):
    st.markdown(say("prints.how"))
    paper = st.segmented_control(
        say("plan.paper"), ["A4", "Letter"], default="A4", key="prints.paper", required=True
    )
    for kind in KINDS:
        with _bench.refusals():
            st.download_button(
                say(f"prints.{kind}"),
                _pdf(kind, str(paper)),
                file_name=f"{kind}-{paper}.pdf",
                mime="application/pdf",
                type="primary" if kind == "sheet" else "secondary",
                width="stretch",
                key=f"prints.{kind}",
            )
    st.button(
        say("lens.start"),
        icon=":material/camera:",
        width="stretch",
        key="prints.lens",
        on_click=_bench.go,
        args=("lens",),
    )
