"""How long a path is that does not lie flat: bands round a hose, several photos."""

import streamlit as st

from photomeasure.job import add_answer
from photomeasure.job.enter import entered
from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._frame import bench_page, say_known, say_next
from photomeasure.pages._photos import ask_for
from photomeasure.pages._picture import Shown, picture

HOW_TO = """
1. Run a scrap hose or rod along the path. Put printed bands round it, band 1 at its start: before,
   in and after each bend, at most 50 mm apart there and 150 mm on straights.
2. Engine off, phone on a lanyard. Take photos all along it from both sides, three at least, each
   showing two bands or more that another photo shows too.
"""

with bench_page("space") as job:
    asked = ask_for(job, "space", "bands", HOW_TO)
    od = _ask.length_mm("Outside diameter of what carries the bands", "space.od", _bench.units())
    if not asked.uploads:
        say_next("take the photos as shown, three or more, then choose them here.")
    else:
        with asked.answer, _bench.refusals():
            for one in asked.uploads:
                _measure.looked_at(one, "route")
            _bench.keep_photos(asked.uploads, "space")
            ods = (entered(job, "hose.outside_diameter_mm"), od)
            answer, drawn, plan = _measure.measured_space(tuple(asked.uploads), asked.bars, ods)
            is_sure = not answer.warnings
            say_known(_show.headline(answer.line, is_sure=is_sure, is_verified=asked.is_verified))
            with asked.picture:
                picture(drawn, "space.picture", answer.line, Shown(is_answer=True))
                picture(plan, "space.plan", "the path from the side, and edgewise")
                if st.button("Keep this path", width="stretch", key="space.keep", type="primary"):
                    stored = answer.as_json()
                    _bench.change_job(lambda now: add_answer(now, "route", stored, drawn))
                    st.success("Kept.", icon=":material/check_circle:")
                    say_next("")
                elif asked.is_verified:
                    say_next("look whether the drawn path is yours, and keep it.")
                _show.path(answer)
