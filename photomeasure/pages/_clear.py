"""What must stay clear of a hose: marked in two photos or more, told with its distance."""

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from photomeasure.answers.route_space import SpaceRouteAnswer
from photomeasure.answers.words import band
from photomeasure.job import Job
from photomeasure.job.enter import entered
from photomeasure.pages import _bench, _measure
from photomeasure.pages._picture import Shown, picture
from photomeasure.pages._words import say
from photomeasure.route.space.reading import Mark
from photomeasure.route.space.slack import ENDS
from photomeasure.sizing.entries import Measured

__all__ = ["asked_clear", "asked_moves", "say_clear"]

_KEPT = "keep_clear"  # in the job's file: by thing and photo, as shares of width and height
_THINGS = ("exhaust", "moving", "plug")
_ENTRIES = {"exhaust": "clearance.exhaust_mm", "moving": "clearance.moving_mm"}
_LEAST = 2  # photos, from which a place is known

Held = Mapping[str, Mapping[str, Sequence[Sequence[float]]]]


def asked_clear(uploads: Sequence[_bench.Upload]) -> tuple[Mark, ...]:
    """Let a person mark things in the photos; give the marks of things that two photos show."""
    lid = st.expander(say("clear.lid"), key="space.clear", on_change="rerun")
    held: Held = _bench.current_job().document.get(_KEPT) or {}
    numbers = {_bench.mark_of(upload): number for number, upload in enumerate(uploads, start=1)}
    with lid:
        if lid.open:
            st.caption(say("clear.how"))
            _mark_in(uploads, held)
        for thing, photos in held.items():
            _say_marked(thing, sum(name in numbers for name in photos))
    marks = []
    for thing, photos in held.items():
        shown = [name for name in photos if name in numbers]
        for name in shown if len(shown) >= _LEAST else ():
            number = numbers[name]
            places = _measure.places_in(uploads[number - 1], _tuples(photos[name]))
            marks += [Mark(say(f"clear.{thing}"), str(number), place) for place in places]
    return tuple(marks)


def asked_moves(job: Job) -> tuple[tuple[str, float], ...]:
    """Say how far the ends move against each other, as entered: the larger of both ways."""
    both = [entered(job, f"movement.{name}") for name in ("longer", "shorter")]
    most = max((Measured.model_validate(one).value for one in both if one), default=0.0)
    return ((ENDS, most),) if most > 0 else ()


def _tuples(marks: Sequence[Sequence[float]]) -> _measure.Marks:
    return tuple((float(x), float(y)) for x, y in marks)


def _mark_in(uploads: Sequence[_bench.Upload], held: Held) -> None:
    thing = st.segmented_control(
        say("clear.what"),
        _THINGS,
        default=_THINGS[0],
        format_func=lambda one: say(f"clear.{one}"),
        key="space.thing",
        required=True,
    )
    number = st.segmented_control(
        say("clear.photo"),
        range(1, len(uploads) + 1),
        default=1,
        format_func=lambda one: say("clear.photo_number", number=one),
        key=f"space.in_photo.{len(uploads)}",
        required=True,
    )
    upload = uploads[number - 1]
    name = _bench.mark_of(upload)
    shown = Shown(marks=1, most=4, button="set", at=held.get(thing, {}).get(name, ()))
    sent = picture(_measure.previewed(upload), f"space.marking.{thing}.{number}", upload[0], shown)
    if sent is not None:
        _set({**held, thing: {**held.get(thing, {}), name: sent}})
        st.rerun()


def _say_marked(thing: str, count: int) -> None:
    words = say(f"clear.{thing}")
    is_known = count >= _LEAST
    st.markdown(say("clear.marked" if is_known else "clear.one_more", name=words, count=count))
    st.button(
        say("clear.forget", name=words),
        key=f"space.forget.{thing}",
        on_click=_forget,
        args=(thing,),
    )


def _set(held: Mapping[str, Any]) -> None:
    _bench.change_job(lambda job: job.changed(**{_KEPT: held}))


def _forget(thing: str) -> None:
    held = _bench.current_job().document.get(_KEPT) or {}
    _set({one: photos for one, photos in held.items() if one != thing})


def say_clear(answer: SpaceRouteAnswer) -> None:
    """Say how far the hose stays from each thing, and offer to enter the least of it."""
    job = _bench.current_job()
    kinds = {say(f"clear.{thing}"): thing for thing in _THINGS}
    for one in answer.clearances:
        said = {"name": one.name, "distance": band(one.distance), "at": one.at_mm}
        st.markdown(_bench.in_units(say("clear.said", **said)))
        path = _ENTRIES.get(kinds[one.name])
        least = float(max(0, int(one.least.low)))
        if path is not None and entered(job, path) != least:
            words = _bench.in_units(say("clear.enter", mm=f"{least:.0f}", name=one.name))
            key = f"space.enter.{kinds[one.name]}"
            st.button(
                words, key=key, width="stretch", on_click=_bench.set_entry, args=(path, least)
            )
