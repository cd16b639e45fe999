"""Where it seals: one question after the other, each answer a drawing to tap on."""

from collections.abc import Sequence

import streamlit as st

from photomeasure.answers.seat_guide import (
    Option,
    Question,
    look_of,
    next_question,
    seat_found,
)
from photomeasure.pages._words import say
from photomeasure.sizing.match import Candidate
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.zones import Member

__all__ = ["asked_seat", "say_seat"]

_CARD_PX = 134  # two beside each other on a screen of 360, inside a lid


def asked_seat(member: Member) -> SeatLook | None:
    """Ask where a thread's part seals; give the look, None if nobody looked."""
    answers = _answers(member)
    question = next_question(member, answers)
    if question is not None:
        _cards(member, question)
    if answers:
        st.markdown(say("seat.seen", answers=", ".join(answers.values())))
        st.button(say("seat.again"), key="caliper.seat.again", on_click=_forget, args=(member,))
    return look_of(member, answers)


def say_seat(member: Member, threads: Sequence[Candidate]) -> None:
    """Say which seats of the likeliest thread look so."""
    answers = _answers(member)
    if answers and threads and threads[0].family is not None:
        found = seat_found(member, answers, threads[0].designation)
        st.markdown(say("seat.found", words=found.words))


def _answers(member: Member) -> dict[str, str]:
    found: dict[str, str] = {}
    while (question := next_question(member, found)) is not None:
        said = st.session_state.get(_key(member, question.key))
        if said is None:
            break
        found[question.key] = said
    return found


def _key(member: Member, question: str) -> str:
    return f"caliper.seat.{member}.{question}"


def _cards(member: Member, question: Question) -> None:
    st.markdown(f"**{question.words}**")
    with st.container(horizontal=True):
        for option in question.options:
            if option.svg:
                with st.container(width=_CARD_PX):
                    st.image(option.svg, width="stretch")
                    _choice(member, question, option)
    for option in question.options:
        if not option.svg:
            _choice(member, question, option)


def _choice(member: Member, question: Question, option: Option) -> None:
    st.button(
        option.words,
        key=f"{_key(member, question.key)}.{option.key}",
        width="stretch",
        on_click=_answered,
        args=(_key(member, question.key), option.key),
    )


def _answered(key: str, answer: str) -> None:
    st.session_state[key] = answer


def _forget(member: Member) -> None:
    for question in ("place", "form"):
        st.session_state.pop(_key(member, question), None)
