"""Where to cut, what is still open, and the job sheet."""

import streamlit as st

from photomeasure.answers.words import band, band_inches
from photomeasure.job import plan_cut
from photomeasure.job.sheet import job_sheet_pdf
from photomeasure.pages import _bench, _show
from photomeasure.sizing.assembly import saw_mark_mm

MARKS = {True: ":material/check_circle: done", False: ":material/cancel: NO", None: "○ open"}

st.title("Cut and job sheet")
job = _bench.current_job()
st.caption(f"Job: {job.name}")
with _bench.refusals():
    plan = plan_cut(job)
    if plan.open_count:
        st.error(f"### {plan.headline}", icon=":material/block:")
    else:
        st.success(f"### {plan.headline}", icon=":material/check_circle:")
    lengths = plan.lengths
    if lengths.cut_at is None:
        st.info(f"No cut length yet. Missing: {', '.join(lengths.missing)}.")
    else:
        st.metric("Cutting mark, from a square end", f"{saw_mark_mm(lengths)} mm")
        st.caption(f"Best estimate {band(lengths.cut_length)}, {band_inches(lengths.cut_length)}.")
    first = next((check for check in plan.checks if not check.ok), None)
    if first is not None:
        st.info(f"Next: {first.name}. {first.detail}", icon=":material/arrow_forward:")
    letter = st.segmented_control("Paper", ["A4", "Letter"], default="A4", key="plan.paper")
    st.download_button(
        "Job sheet (PDF)",
        job_sheet_pdf(job, plan, "Letter" if letter == "Letter" else "A4"),
        file_name="jobsheet.pdf",
        mime="application/pdf",
        type="primary",
        width="stretch",
        key="plan.sheet",
    )
    with st.expander(f"All checks ({plan.open_count} open)", expanded=bool(plan.open_count)):
        for check in plan.checks:
            st.markdown(f"{MARKS[check.ok]} **{check.name}**: {check.detail}")
    if plan.parts:
        with st.expander("Parts"):
            st.markdown("\n".join(f"- {part.quantity} × {part.name}" for part in plan.parts))
    with st.expander("Steps"):
        st.markdown("\n".join(f"1. {step.text}" for step in plan.steps))
    _show.warnings(plan.warnings)
_show.cautions()
