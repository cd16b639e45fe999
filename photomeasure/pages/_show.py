"""How the app shows answers: words first, then figures, what to do next, how sure and why."""

import re
from collections.abc import Sequence
from typing import Any

import streamlit as st

from photomeasure.answers.alike import alike, cells_of
from photomeasure.answers.candidates import if_print_is_true
from photomeasure.answers.route import RouteAnswer
from photomeasure.answers.route_space import SpaceRouteAnswer
from photomeasure.answers.words import band, band_inches
from photomeasure.job import add_answer
from photomeasure.pages import _bench
from photomeasure.pages._words import say
from photomeasure.quantities import Quantity
from photomeasure.sizing.match import Candidate

__all__ = [
    "budget",
    "cautions",
    "figures",
    "headline",
    "keep_path",
    "kept",
    "look",
    "next_step",
    "path",
    "said_check",
    "table",
    "told_apart",
    "warnings",
]

LEAST_SHOWN = 0.005
_COUNTED = re.compile(r"(?P<of>\w+)\[(?P<at>\d+)\]\.(?P<what>\w+)")
SURE = 0.95  # from here a thread is named
WORDS = {
    "major_diameter": say("answer.crests"),
    "diameter_at_small_end": say("answer.small_end"),
    "across_flats": say("answer.flats"),
}
LOOK = """
[data-testid="stMainBlockContainer"] { padding-top: 1.5rem; padding-bottom: 9rem; }
[data-testid="stHeader"] { display: none; }
[data-testid="stMain"] button, [data-testid="stMain"] input,
[data-testid="stMain"] [data-baseweb="select"] > div { min-height: 48px; }
[data-testid="stMain"] button { min-width: 44px; }
[data-testid="stMain"] summary { min-height: 52px; font-size: 1.05rem; }
[data-testid="stRadio"] label { min-height: 48px; align-items: center; }
[data-testid="stCaptionContainer"] { opacity: 1; color: #33403d; }
[data-testid="stAlertContentWarning"], [data-testid="stAlertContentInfo"] { color: #14211f; }
[data-testid="stMetricValue"] { font-size: 3.2rem; font-weight: 700; }
[class*="st-key-lack-"] button p { text-align: left; }
[data-testid="stHeadingWithActionElements"] a { display: none; }
[data-testid="stAlertContainer"] h2, [data-testid="stAlertContainer"] h3 { padding: 0; }
[data-testid="stButtonGroup"] > div { flex-wrap: wrap; gap: 0.4rem; }
[data-testid="stButtonGroup"] button {
  border: 1px solid #7a8783 !important; border-radius: 0.3rem !important; margin: 0 !important;
}
[data-testid="stButtonGroup"] button[aria-checked="true"] {
  border: 3px solid #0b5563 !important;
}
[data-testid="stButtonGroup"] button[aria-checked="true"] p { font-weight: 700; }
[data-testid="stFileUploader"] button { color: #14211f; opacity: 1; }
[data-testid="stFileUploader"] button span { color: inherit; }
[data-testid="stFileUploader"]:not(:has([data-testid="stFileChip"])) button {
  background: #0b5563; color: #ffffff; min-width: 11rem;
}
[data-testid="stMain"] { scroll-padding-bottom: 9rem; }
[data-testid="stElementToolbar"] { display: none; }
.st-key-cautions { border-top: 1px solid #7a8783; margin-top: 1rem; padding-top: 0.8rem; }
.st-key-cautions li { font-size: 0.95rem; line-height: 1.35; }
.st-key-head { gap: 0.4rem; }
.st-key-head button { padding: 0.25rem 0.6rem; }
[data-testid="stWidgetLabel"] p { font-size: 1rem; font-weight: 600; }
h2, h3 { overflow-wrap: anywhere; }
.st-key-next {
  position: fixed; left: 0; right: 0; bottom: 0; z-index: 90; background: #ffffff;
  border-top: 2px solid #0b5563; padding: 0.5rem 1rem 0.6rem; max-height: 9rem; overflow: auto;
}
.st-key-next { gap: 0.3rem; }
.st-key-next > div, .st-key-next button { max-width: 38.6rem; margin: 0 auto; }
.st-key-next:not(:has(button, p)) { display: none; }
.st-key-next button p { text-align: left; white-space: normal; line-height: 1.2; }
"""
CAUTIONS = ("scope", "skin", "seat")


def look() -> None:
    """Room for greasy fingers and words that can be read in the sun."""
    st.html(f"<style>{LOOK}</style>")


def headline(line: str, *, is_sure: bool, is_verified: bool = True) -> str:
    """Write the answer large, sure or not in words and not only by colour; give it as shown."""
    said = line if is_verified else if_print_is_true(line)
    name, _, check = said.partition("; ")
    name, check = _bench.in_units(name), said_check(check.removeprefix("one check left: "))
    if not is_verified:
        st.warning(f"## {name}\n\n{say('answer.unverified')}", icon=":material/help:")
    elif is_sure:
        st.success(f"## {name}", icon=":material/check_circle:")
    else:
        st.warning(f"## {name}", icon=":material/help:")
    if check:
        st.markdown(say("answer.one_check", check=check))
    return name


def said_check(check: str) -> str:
    """Say a check in the page's unit; a pitch stays as it is stamped on the gauge."""
    return check if "pitch" in check else _bench.in_units(check)


def next_step(advice: str | None) -> None:
    """The one thing that would make it surer."""
    if advice:
        words = say("answer.surer", advice=_bench.in_units(advice))
        st.info(words, icon=":material/arrow_forward:")


def figures(named: dict[str, Quantity | None], wanted: Sequence[str]) -> None:
    """The few figures that the answer stands on, in the unit of the page."""
    lines = [
        f"{WORDS.get(name, name.replace('_', ' '))} **{_in_units(value)[0]}**"
        for name in wanted
        if (value := named.get(name)) is not None
    ]
    st.markdown("  \n".join(lines))


def table(named: dict[str, Quantity | None]) -> None:
    """Values in millimetres and inches with their bands."""
    rows = [
        f"| {WORDS.get(name, name.replace('_', ' '))} | {' = '.join(_in_units(value))} |"
        for name, value in named.items()
        if value is not None
    ]
    with st.expander(say("answer.figures")):
        st.markdown("\n".join([say("answer.table"), *rows]))
        st.caption(say("answer.bands"))


def _in_units(value: Quantity) -> list[str]:
    """Say a value in both units, the page's own first; no line breaks inside."""
    both = [band(value), band_inches(value)]
    if _bench.units() == "in":
        both.reverse()
    return [words.replace(" ", "\N{NO-BREAK SPACE}") for words in both if words]


def kept(words: str) -> None:
    """Say that something is kept."""
    st.success(words, icon=":material/check_circle:")


def keep_path(answer: RouteAnswer | SpaceRouteAnswer, drawn: bytes, room: str, words: str) -> bool:
    """Offer to keep a path; say whether it was just kept."""
    is_tapped = st.button(words, width="stretch", key=f"{room}.keep", type="primary")
    if is_tapped:
        stored = answer.as_json()
        _bench.change_job(lambda now: add_answer(now, "route", stored, drawn))
        kept(say("route.kept"))
    return is_tapped


def path(answer: RouteAnswer | SpaceRouteAnswer) -> None:
    """What a path's answer rests on: its figures, where the doubt comes from, what to mind."""
    next_step(answer.advice)
    table(_named(answer))
    budget(answer.as_json()["budget"])
    warnings(answer.warnings)
    st.divider()


def _named(answer: RouteAnswer | SpaceRouteAnswer) -> dict[str, Quantity | None]:
    """Name bends and things as people do: `bend 1, radius`, `clear of exhaust`."""
    things = [one.name for one in answer.clearances] if isinstance(answer, SpaceRouteAnswer) else []
    named = {}
    for name, value in answer.quantities().items():
        counted = _COUNTED.fullmatch(name)
        if counted is None:
            named[name] = value
        elif counted["of"] == "bends":
            words = say("answer.bend", number=int(counted["at"]) + 1)
            named[f"{words}{counted['what']}"] = value
        else:
            named[say("clear.named", name=things[int(counted["at"])])] = value
    return named


def told_apart(threads: Sequence[Candidate]) -> None:
    """What it may be, as bars, and what tells it from the threads that it is taken for."""
    if not threads:
        return
    first = threads[0]
    with st.expander(say("answer.may_be"), expanded=first.probability < SURE):
        candidates(threads)
    if first.family is not None:
        _taken_for(first.designation)


def candidates(threads: Sequence[Candidate]) -> None:
    """What it may be, as bars."""
    for one in threads:
        if one.probability >= LEAST_SHOWN:
            chance = min(one.probability, 1.0)
            st.progress(chance, text=f"**{one.designation}**: {100 * chance:.1f} %")
    if threads and threads[0].seats:
        seats = "; ".join(threads[0].seats)
        st.caption(say("answer.seats", thread=threads[0].designation, seats=seats))


def _taken_for(designation: str) -> None:
    """What a thread is taken for, and what tells them apart."""
    (found,) = alike([designation])["alike"]
    with st.expander(say("answer.taken_for", thread=designation)):
        for each in found["neighbours"]:
            mark, name, *cells = cells_of(each)
            crests, pitch, *rest = map(_bench.in_units, cells)
            sign = f":material/warning: {say('answer.dangerous')}" if mark == "!" else ""
            also = "".join(f"; {words}" for words in rest if words)
            said = {"name": name, "crests": crests, "pitch": pitch, "also": also}
            st.markdown(say("answer.alike", sign=sign, **said))
        st.caption(say("answer.alike_warning"))


def budget(lines: Sequence[dict[str, Any]]) -> None:
    """Where the uncertainty comes from, as bars."""
    with st.expander(say("answer.why")):
        for line in lines[:6]:
            words = f"{line['source']}: {100 * line['share']:.0f} %"
            st.progress(min(line["share"], 1.0), text=words)


def warnings(texts: Sequence[str]) -> None:
    """What to mind about this answer."""
    for text in texts:
        st.warning(_bench.in_units(text), icon=":material/warning:")


def cautions() -> None:
    """The cautions that belong under every answer."""
    with st.container(key="cautions"):
        st.markdown("\n".join(f"- {say(f'caution.{what}')}" for what in CAUTIONS))
