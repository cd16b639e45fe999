"""Where to cut, what is still open, and the job sheet."""

from typing import get_args

import streamlit as st

from photomeasure.answers.words import band, band_inches
from photomeasure.job.sheet import SheetPaper, job_sheet_pdf
from photomeasure.job.units import sixteenths
from photomeasure.pages import _bench, _frame, _show
from photomeasure.pages._places import lacks
from photomeasure.pages._words import say
from photomeasure.sizing.assembly import CAUTIONS, saw_mark_mm

MARKS = {
    True: f":material/check_circle: {say('plan.done')}",
    False: f":material/cancel: {say('plan.wrong')}",
    None: f"○ {say('plan.not_yet')}",
}
SHOWN = 8  # of the open things; the rest behind a lid

with _frame.bench_page("plan") as job:
    plan = _bench.planned(job)
    if plan.open_count:
        st.error(f"### {plan.headline}", icon=":material/block:")
    else:
        st.success(f"### {plan.headline}", icon=":material/check_circle:")
    mark = saw_mark_mm(plan.lengths)
    if mark is None:
        st.info(say("plan.no_cut"))
    else:
        metres, inches = f"{mark} mm", sixteenths(mark)
        big, small = (metres, inches) if _bench.units() == "mm" else (inches, metres)
        st.metric(say("plan.mark"), big)
        best = plan.lengths.cut_length
        said = {"other": small, "metres": band(best), "inches": band_inches(best)}
        st.caption(say("plan.best", **said))
    open_things = lacks(plan)
    if open_things:
        st.subheader(say("plan.open"))
    _frame.lack_buttons(open_things[:SHOWN])
    if len(open_things) > SHOWN:
        with st.expander(say("plan.more", count=len(open_things) - SHOWN)):
            _frame.lack_buttons(open_things[SHOWN:])
    paper: SheetPaper = st.segmented_control(
        say("plan.paper"), get_args(SheetPaper), default="A4", key="plan.paper", required=True
    )
    st.download_button(
        say("plan.sheet"),
        lambda: job_sheet_pdf(job, plan, paper, _bench.units()),
        file_name="jobsheet.pdf",
        mime="application/pdf",
        type="primary",
        width="stretch",
        key="plan.sheet",
    )
    with st.expander(say("plan.checks", count=len(plan.checks))):
        for check in plan.checks:
            detail = _bench.in_units(check.detail, mark)
            said = {"mark": MARKS[check.ok], "name": check.name, "detail": detail}
            st.markdown(say("plan.check", **said))
    if plan.parts:
        with st.expander(say("plan.parts")):
            st.markdown(
                "\n".join(
                    _bench.in_units(f"- {part.quantity} × {part.name}", mark) for part in plan.parts
                )
            )
            st.markdown(_bench.in_units(plan.costs.words, mark))
    with st.expander(say("plan.slip")):
        told = "\n".join(f"- {what}: **{text}**" for what, text in plan.order_slip)
        st.markdown(_bench.in_units(told, mark))
    if plan.no_adapter:
        with st.expander(say("plan.no_adapter")):
            st.markdown("\n".join(f"1. {words}" for words in plan.no_adapter))
    with st.expander(say("plan.cautions")):
        st.markdown("\n".join(f"- {words}" for words in CAUTIONS))
    with st.expander(say("plan.steps")):
        st.markdown("\n".join(f"1. {_bench.in_units(step.text, mark)}" for step in plan.steps))
    _show.warnings(plan.warnings)
