"""Measuring, once for the same photos and entries, and never more than two at a time."""

import threading
from dataclasses import dataclass, replace
from functools import partial

import streamlit as st

from photomeasure.answers.first_look import Wanted, first_look
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.overlay import profile_picture
from photomeasure.answers.pictures import fitting_picture, route_picture
from photomeasure.answers.port import PortAnswer, port
from photomeasure.answers.port_picture import port_picture
from photomeasure.answers.preview import points_of, preview, shares_of
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.answers.route_space import SpaceRouteAnswer, route_in_space
from photomeasure.answers.space_pictures import plan_picture, space_picture
from photomeasure.pages._ask import Bars
from photomeasure.pages._bench import Upload
from photomeasure.photo import Photo, load_photo
from photomeasure.route.reading import FlatOptions
from photomeasure.scene import BarReading
from photomeasure.thread.lies import Lies

__all__ = [
    "FittingSaid",
    "Mark",
    "MeasuredRoute",
    "looked_at",
    "measured_fitting",
    "measured_port",
    "measured_route",
    "measured_space",
    "previewed",
    "profile_over",
]

Mark = tuple[float, float]  # as shares of the photo's width and height
Marks = tuple[Mark, ...]

_AT_ONCE = threading.Semaphore(2)  # a photo of 12 megapixels takes 350 MB while it is measured


@st.cache_resource(max_entries=2, show_spinner=False)
def _loaded(upload: Upload) -> Photo:
    """Open a photo; the next steps find it open, and the prints in it found."""
    return load_photo(upload[1], upload[0])


@st.cache_resource(max_entries=32, show_spinner="Looking at the photo …")
def looked_at(upload: Upload, kind: Wanted) -> tuple[str, ...]:
    """Complain at once of what would spoil the measuring; refuse what is no photo."""
    with _AT_ONCE:
        return first_look(_loaded(upload), kind)


@dataclass(frozen=True, slots=True)
class FittingSaid:
    """What is said of a fitting beside its photos; `aim` is where the first photo was tapped."""

    lies: Lies = "unknown"
    spanner_mm: float | None = None
    aim: Mark | None = None


def _aimed(uploads: tuple[Upload, ...], aim: Mark | None) -> list[Photo]:
    photos = [_loaded(upload) for upload in uploads]
    if aim is not None:
        (at,) = points_of(photos[0], [list(aim)])
        photos[0] = replace(photos[0], marked_px=(at,))
    return photos


@st.cache_resource(max_entries=8, show_spinner="Measuring the thread, some seconds …")
def measured_fitting(
    uploads: tuple[Upload, ...], bars: Bars, said: FittingSaid
) -> tuple[FittingAnswer, bytes]:
    """Measure a fitting and draw it."""
    with _AT_ONCE:
        photos = _aimed(uploads, said.aim)
        options = PhotoOptions({"": BarReading(*bars)})
        answer = fitting(photos, options, lies=said.lies, spanner_mm=said.spanner_mm)
        seen = {trace.photo_key for trace in answer.traces}
        shown = next(photo for photo in photos if photo.key in seen)
        return answer, fitting_picture(shown, answer)


@st.cache_resource(max_entries=8, show_spinner="Measuring the port, some seconds …")
def measured_port(
    uploads: tuple[Upload, ...], bars: Bars, aim: Mark | None
) -> tuple[PortAnswer, bytes]:
    """Measure a port and draw it; `aim` is where the first photo was tapped."""
    with _AT_ONCE:
        photos = _aimed(uploads, aim)
        answer = port(photos, PhotoOptions({"": BarReading(*bars)}))
        seen = {trace.photo_key for trace in answer.traces}
        return answer, port_picture(next(one for one in photos if one.key in seen), answer)


@st.cache_resource(max_entries=8, show_spinner="Laying the profile over the photo …")
def profile_over(
    uploads: tuple[Upload, ...], bars: Bars, said: FittingSaid, designation: str
) -> bytes:
    """Draw a thread's profile over the photo that was measured."""
    answer, _ = measured_fitting(uploads, bars, said)
    with _AT_ONCE:
        seen = {trace.photo_key for trace in answer.traces}
        photos = (_loaded(upload) for upload in uploads)
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
        photo = _loaded(upload)
        pointed = replace(said, points_px=points_of(photo, [list(mark) for mark in marks]))
        answer = route([photo], PhotoOptions({"": BarReading(*bars)}), pointed)
        drawn = [] if answer.trace is None else shares_of(photo, answer.trace.centre_px)
        return MeasuredRoute(answer, route_picture(photo, answer), preview(photo), drawn)


@st.cache_resource(max_entries=4, show_spinner="Working the path out in space, a minute or so …")
def measured_space(
    uploads: tuple[Upload, ...], bars: Bars, ods_mm: tuple[float | None, float | None]
) -> tuple[SpaceRouteAnswer, bytes, bytes]:
    """Measure a route in space, and draw it into its first photo and from the side."""
    loads = [partial(load_photo, data, name) for name, data in uploads]
    said = FlatOptions(hose_od_mm=ods_mm[0], line_od_mm=ods_mm[1])
    with _AT_ONCE:
        answer = route_in_space(loads, PhotoOptions({"": BarReading(*bars)}), said)
        seen = {trace.photo_key for trace in answer.traces}
        shown = next(photo for load in loads if (photo := load()).key in seen)
        return answer, space_picture(shown, answer), plan_picture(answer)


@st.cache_resource(max_entries=8, show_spinner="Opening the photo …")
def previewed(upload: Upload) -> bytes:
    """Give a small copy of a photo for the screen."""
    with _AT_ONCE:
        return preview(_loaded(upload))
