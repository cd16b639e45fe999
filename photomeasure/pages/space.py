"""How long a path is that does not lie flat: bands round a hose, several photos."""

from collections.abc import Sequence

import streamlit as st

from photomeasure.job.enter import entered
from photomeasure.pages import _ask, _bench, _form, _measure, _show
from photomeasure.pages._clear import asked_clear, asked_moves, say_clear
from photomeasure.pages._frame import bench_page, say_known, say_next
from photomeasure.pages._photos import Asked, ask_for
from photomeasure.pages._picture import Shown, picture
from photomeasure.pages._turn import turned
from photomeasure.pages._words import say
from photomeasure.route.space.reading import SpaceSaid


def _drawn(asked: Asked, said: _measure.SpaceAsked, shown_in: Sequence[int]) -> bytes:
    number = st.segmented_control(
        say("space.in_photo"),
        shown_in,
        default=shown_in[0],
        format_func=lambda one: say("clear.photo_number", number=one),
        key=f"space.shown.{shown_in}",
        required=True,
    )
    return _measure.space_drawn(asked.uploads, asked.bars, said, number)


with bench_page("space") as job:
    asked = ask_for(job, "space", "bands")
    cards = _ask.bars(job, "cards")
    od = _ask.length_mm(say("space.od"), "space.od", _bench.units())
    last = st.number_input(say("space.last"), 2, 99, None, key="space.last", help=None)
    st.caption(say("space.last_why"))
    if not asked.uploads:
        say_next(say("space.next"))
    else:
        with asked.answer, _bench.refusals():
            for one in asked.uploads:
                _measure.looked_at(one, "route")
            _bench.keep_photos(asked.uploads, "space")
            with asked.hand:
                marks = asked_clear(asked.uploads)
            seen = SpaceSaid(last, marks, asked_moves(job))
            said = _measure.SpaceAsked(cards, entered(job, "hose.outside_diameter_mm"), od, seen)
            found = _measure.measured_space(asked.uploads, asked.bars, said)
            answer = found.answer
            is_verified = asked.is_verified and None not in cards
            is_sure = not answer.warnings
            say_known(_show.headline(answer.line, is_sure=is_sure, is_verified=is_verified))
            with asked.picture:
                drawn = _drawn(asked, said, found.shown_in)
                picture(drawn, "space.picture", answer.line, Shown(is_answer=True))
                picture(found.plan, "space.plan", say("space.plan"))
                st.caption(say("turn.how"))
                turned(answer, "space.turn")
                if _show.keep_path(answer, drawn, "space", say("space.keep")):
                    say_next("")
                elif is_verified:
                    say_next(say("space.look"))
                say_clear(answer)
            with asked.rest:
                with st.expander(say("clear.slack"), key="space.slack"):
                    _form.form(job, "room", only="Slack and movement")
                _show.path(answer)
