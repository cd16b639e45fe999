"""The printed references, to download."""

import tempfile
from pathlib import Path

import streamlit as st

from photomeasure.answers.prints import write_reference
from photomeasure.pages import _bench
from photomeasure.pages._frame import bench_page

WHAT = {
    "sheet": "Sheet: a fitting lies on it",
    "markers": "Cards: laid beside the hose's path",
    "collar": "Collars: round a port",
    "bands": "Bands: round a hose",
}


@st.cache_data(max_entries=16)
def _pdf(kind: str, paper: str) -> bytes:
    with tempfile.TemporaryDirectory() as held:
        path = Path(held) / "print.pdf"
        write_reference(kind, paper=paper, out=path)
        return path.read_bytes()


with bench_page("prints"):
    st.markdown(
        "Print in colour at **actual size**, never “fit to page”, on matt paper. Fix it flat to a "
        "board, then measure both check bars with a caliper: without them no answer is sure."
    )
    paper = st.segmented_control(
        "Paper", ["A4", "Letter"], default="A4", key="prints.paper", required=True
    )
    for kind, words in WHAT.items():
        with _bench.refusals():
            st.download_button(
                words,
                _pdf(kind, str(paper)),
                file_name=f"{kind}-{paper}.pdf",
                mime="application/pdf",
                type="primary" if kind == "sheet" else "secondary",
                width="stretch",
                key=f"prints.{kind}",
            )
