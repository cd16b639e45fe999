"""Measuring, once for the same photos and entries, and never more than two at a time."""

import threading

import streamlit as st

from photomeasure.answers.first_look import Wanted, first_look
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.pictures import fitting_picture, route_picture
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.pages._ask import Bars
from photomeasure.pages._bench import Upload
from photomeasure.photo import load_photo
from photomeasure.route.reading import FlatOptions
from photomeasure.scene import BarReading

__all__ = ["looked_at", "measured_fitting", "measured_route"]

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


@st.cache_resource(max_entries=8, show_spinner="Following the line, some seconds …")
def measured_route(upload: Upload, bars: Bars, said: FlatOptions) -> tuple[RouteAnswer, bytes]:
    """Measure a route and draw it."""
    with _AT_ONCE:
        photo = load_photo(upload[1], upload[0])
        answer = route([photo], PhotoOptions({"": BarReading(*bars)}), said)
        return answer, route_picture(photo, answer)
