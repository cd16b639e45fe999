"""Learn a phone's lens once; every photo that it takes is then measured with it."""

import streamlit as st

from photomeasure.pages import _ask, _bench, _measure, _show
from photomeasure.pages._drawings import HOW
from photomeasure.pages._frame import bench_page, say_next
from photomeasure.pages._lens import forget_lens, lenses, remember_lens
from photomeasure.pages._words import say

with bench_page("lens") as job:
    answered = st.container()
    st.markdown(say("lens.why"))
    st.image(HOW["lens"], width="stretch")
    st.markdown(say("lens.how"))
    uploads = _ask.uploads(job, "lens")
    say_next(say("lens.then" if uploads else "lens.next"))
    if uploads and st.button(say("lens.learn"), type="primary", width="stretch", key="lens.learn"):
        with answered, _bench.refusals():
            learnt = _measure.learnt_lens(tuple(uploads))
            remember_lens(learnt.profile)
            said = {"name": learnt.profile.name, "count": learnt.profile.photos}
            st.success(f"### {say('lens.learnt', **said)}", icon=":material/check_circle:")
            _show.warnings(learnt.warnings)
            say_next("")
    known = lenses()
    if known:
        st.subheader(say("lens.known"))
    for name, one in known.items():
        st.markdown(say("lens.one", name=one.name, count=one.photos))
        st.button(
            say("lens.forget", name=one.name),
            key=f"lens.forget.{name}",
            width="stretch",
            on_click=forget_lens,
            args=(name,),
        )
