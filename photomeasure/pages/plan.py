"""Where to cut, what is still open, and the job sheet."""

from typing import get_args

import streamlit as st

from photomeasure.answers.words import band, band_inches
from photomeasure.job.sheet import SheetPaper, job_sheet_pdf
from photomeasure.job.units import sixteenths
from photomeasure.pages import _bench, _frame, _show
from photomeasure.pages._places import lacks
from photomeasure.sizing.assembly import saw_mark_mm

MARKS = {True: ":material/check_circle: done", False: ":material/cancel: NO", None: "○ open"}
SHOWN = 8  # of the open things; the rest behind a lid

with _frame.bench_page("plan") as job:
    plan = _bench.planned(job)
    if plan.open_count:
        st.error(f"### {plan.headline}", icon=":material/block:")
    else:
        st.success(f"### {plan.headline}", icon=":material/check_circle:")
    mark = saw_mark_mm(plan.lengths)
    if mark is None:
        st.info("No cut length yet: what is missing stands below.")
    else:
        metres, inches = f"{mark} mm", sixteenths(mark)
        big, small = (metres, inches) if _bench.units() == "mm" else (inches, metres)
        st.metric("Cutting mark, from a square end", big)
        st.caption(
            f"= {small}. Best estimate {band(plan.lengths.cut_length)}, "
            f"{band_inches(plan.lengths.cut_length)}."
        )
    open_things = lacks(plan)
    if open_things:
        st.subheader("Still open")
    _frame.lack_buttons(open_things[:SHOWN])
    if len(open_things) > SHOWN:
        with st.expander(f"{len(open_things) - SHOWN} more"):
            _frame.lack_buttons(open_things[SHOWN:])
    paper: SheetPaper = st.segmented_control(
        "Paper", get_args(SheetPaper), default="A4", key="plan.paper", required=True
    )
    st.download_button(
        "Job sheet (PDF)",
        lambda: job_sheet_pdf(job, plan, paper, _bench.units()),
        file_name="jobsheet.pdf",
        mime="application/pdf",
        type="primary",
        width="stretch",
        key="plan.sheet",
    )
    with st.expander(f"All {len(plan.checks)} checks"):
        for check in plan.checks:
            detail = _bench.in_units(check.detail, mark)
            st.markdown(f"{MARKS[check.ok]} **{check.name}**: {detail}")
    if plan.parts:
        with st.expander("Parts"):
            st.markdown(
                "\n".join(
                    _bench.in_units(f"- {part.quantity} × {part.name}", mark) for part in plan.parts
                )
            )
            st.markdown(_bench.in_units(plan.costs.words, mark))
    with st.expander("Steps"):
        st.markdown("\n".join(f"1. {_bench.in_units(step.text, mark)}" for step in plan.steps))
    _show.warnings(plan.warnings)
