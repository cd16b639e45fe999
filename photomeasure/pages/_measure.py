"""Measuring, once for the same photos and entries, and never more than two at a time."""

import threading
from dataclasses import dataclass, replace

import streamlit as st

from photomeasure.answers.first_look import Wanted, first_look
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.overlay import profile_picture
from photomeasure.answers.pictures import fitting_picture, route_picture
from photomeasure.answers.preview import points_of, preview, shares_of
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.pages._ask import Bars
from photomeasure.pages._bench import Upload
from photomeasure.photo import load_photo
from photomeasure.route.reading import FlatOptions
from photomeasure.scene import BarReading

__all__ = [
    "MeasuredRoute",
    "looked_at",
    "measured_fitting",
    "measured_route",
    "previewed",
    "profile_over",
]

Marks = tuple[tuple[float, float], ...]

_AT_ONCE = threading.Semaphore(2)  # a photo of 12 megapixels takes 350 MB while it is measured


@st.cache_resource(max_entries=32, show_spinner="Looking at the photo …")
def looked_at(upload: Upload, kind: Wanted) -> tuple[str, ...]:
    """Complain at once of what would spoil the measuring; refuse what is no photo."""
    with _AT_ONCE:
        return first_look(load_photo(upload[1], upload[0]), kind)


@st.cache_resource(max_entries=8, show_spinner="Measuring the thread, some seconds …")
def measured_fitting(uploads: tuple[Upload, ...], bars: Bars) -> tuple[FittingAnswer, bytes]:
    """Measure a fitting and draw it."""
    with _AT_ONCE:
        photos = [load_photo(data, name) for name, data in uploads]
        answer = fitting(photos, PhotoOptions({"": BarReading(*bars)}))
        seen = {trace.photo_key for trace in answer.traces}
        shown = next(photo for photo in photos if photo.key in seen)
        return answer, fitting_picture(shown, answer)


@st.cache_resource(max_entries=8, show_spinner="Laying the profile over the photo …")
def profile_over(uploads: tuple[Upload, ...], bars: Bars, designation: str) -> bytes:
    """Draw a thread's profile over the photo that was measured."""
    answer, _ = measured_fitting(uploads, bars)
    with _AT_ONCE:
        seen = {trace.photo_key for trace in answer.traces}
        photos = (load_photo(data, name) for name, data in uploads)
        shown = next(photo for photo in photos if photo.key in seen)
        return profile_picture(shown, answer, designation)


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredRoute:
    """A route's answer, its annotated picture, and what the screen needs to correct it."""

    answer: RouteAnswer
    picture: bytes
    preview: bytes
    line: list[list[float]]


@st.cache_resource(max_entries=8, show_spinner="Following the line, some seconds …")
def measured_route(
    upload: Upload, bars: Bars, said: FlatOptions, marks: Marks = ()
) -> MeasuredRoute:
    """Measure a route and draw it; `marks` are shares of the photo on the line, in order."""
    with _AT_ONCE:
        photo = load_photo(upload[1], upload[0])
        pointed = replace(said, points_px=points_of(photo, [list(mark) for mark in marks]))
        answer = route([photo], PhotoOptions({"": BarReading(*bars)}), pointed)
        drawn = [] if answer.trace is None else shares_of(photo, answer.trace.centre_px)
        return MeasuredRoute(answer, route_picture(photo, answer), preview(photo), drawn)


@st.cache_resource(max_entries=8, show_spinner="Opening the photo …")
def previewed(upload: Upload) -> bytes:
    """Give a small copy of a photo for the screen."""
    with _AT_ONCE:
        return preview(load_photo(upload[1], upload[0]))
