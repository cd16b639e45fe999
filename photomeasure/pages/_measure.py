"""Measuring, once for the same photos and entries, and never more than two at a time."""

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import streamlit as st

from photomeasure.answers.camera import CameraAnswer, learn_camera
from photomeasure.answers.first_look import Wanted, first_look
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.overlay import profile_picture
from photomeasure.answers.pictures import fitting_picture, route_picture
from photomeasure.answers.port import PortAnswer, port
from photomeasure.answers.port_picture import port_picture
from photomeasure.answers.preview import (
    WHOLE,
    Window,
    points_of,
    preview,
    shares_of,
    window_round,
)
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.answers.route_space import SpaceRouteAnswer, route_in_space
from photomeasure.answers.space_pictures import plan_picture, space_picture
from photomeasure.pages._ask import Bars
from photomeasure.pages._bench import Upload
from photomeasure.pages._lens import with_lens
from photomeasure.pages._words import say
from photomeasure.photo import Photo, load_photo
from photomeasure.route.reading import FlatOptions
from photomeasure.route.space.reading import SpaceSaid
from photomeasure.scene import BarReading
from photomeasure.thread.lies import Lies

__all__ = [
    "FittingSaid",
    "Mark",
    "Marks",
    "MeasuredPort",
    "MeasuredRoute",
    "MeasuredSpace",
    "MeasuredThread",
    "Near",
    "SpaceAsked",
    "learnt_lens",
    "lens_used",
    "looked_at",
    "measured_fitting",
    "measured_port",
    "measured_route",
    "measured_space",
    "places_in",
    "previewed",
    "profile_over",
    "space_drawn",
]

Mark = tuple[float, float]  # as shares of the photo's width and height
Marks = tuple[Mark, ...]

_AT_ONCE = threading.Semaphore(2)  # a photo of 12 megapixels takes 350 MB while it is measured
_BOTH_ENDS = 2  # marks on a line
_ROOM_ROUND_THREAD, _ROOM_ROUND_PORT = 3.2, 2.2  # times what is marked there


def _opened(upload: Upload) -> Photo:
    return with_lens(load_photo(upload[1], upload[0]))


@st.cache_resource(max_entries=2, show_spinner=False)
def _loaded(upload: Upload) -> Photo:
    """Open a photo; the next steps find it open, and the prints in it found."""
    return _opened(upload)


@st.cache_resource(max_entries=32, show_spinner=say("measure.look"))
def looked_at(upload: Upload, kind: Wanted) -> tuple[str, ...]:
    """Complain at once of what would spoil the measuring; refuse what is no photo."""
    with _AT_ONCE:
        return first_look(_loaded(upload), kind)


@dataclass(frozen=True, slots=True)
class FittingSaid:
    """What is said of a fitting beside its photos; `marks` were set on the first of them."""

    lies: Lies = "unknown"
    spanner_mm: float | None = None
    marks: Marks = ()


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """What of a photo is shown to mark on.

    Attributes
    ----------
    jpeg : bytes
    window : tuple of float
        The part of the photo that it shows.
    marks : tuple of (x, y)
        Where the program itself would set them, as shares of the photo.
    line : sequence of [x, y]
        Drawn over it, likewise.
    """

    jpeg: bytes
    window: Window = WHOLE
    marks: Marks = ()
    line: Sequence[Sequence[float]] = ()


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredThread:
    """A fitting's answer, its annotated picture, and what the screen needs to correct it."""

    answer: FittingAnswer
    picture: bytes
    near: Near | None


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPort:
    """A port's answer, its annotated picture, and what the screen needs to correct it."""

    answer: PortAnswer
    picture: bytes
    near: Near | None


def _marked(uploads: tuple[Upload, ...], marks: Marks) -> list[Photo]:
    photos = [_loaded(upload) for upload in uploads]
    places = points_of(photos[0], [list(mark) for mark in marks])
    photos[0] = replace(photos[0], marked_px=places)
    return photos


@st.cache_resource(max_entries=8, show_spinner=say("measure.fitting"))
def measured_fitting(uploads: tuple[Upload, ...], bars: Bars, said: FittingSaid) -> MeasuredThread:
    """Measure a fitting and draw it."""
    with _AT_ONCE:
        photos = _marked(uploads, said.marks)
        options = PhotoOptions({"": BarReading(*bars)})
        answer = fitting(photos, options, lies=said.lies, spanner_mm=said.spanner_mm)
        traces = {trace.photo_key: trace for trace in answer.traces}
        shown = next(photo for photo in photos if photo.key in traces)
        near = None
        if (trace := traces.get(photos[0].key)) is not None:
            window = window_round(photos[0], trace.axis_px, _ROOM_ROUND_THREAD)
            ends = tuple((x, y) for x, y in shares_of(photos[0], trace.axis_px))
            near = Near(preview(photos[0], window), window, ends)
        return MeasuredThread(answer, fitting_picture(shown, answer), near)


@st.cache_resource(max_entries=8, show_spinner=say("measure.port"))
def measured_port(uploads: tuple[Upload, ...], bars: Bars, marks: Marks) -> MeasuredPort:
    """Measure a port and draw it; `marks` were set on the first photo."""
    with _AT_ONCE:
        photos = _marked(uploads, marks)
        answer = port(photos, PhotoOptions({"": BarReading(*bars)}))
        traces = {trace.photo_key: trace for trace in answer.traces}
        shown = next(photo for photo in photos if photo.key in traces)
        near = None
        if (trace := traces.get(photos[0].key)) is not None:
            window = window_round(photos[0], trace.mouth_px, _ROOM_ROUND_PORT)
            rim = shares_of(photos[0], trace.mouth_px)
            near = Near(preview(photos[0], window), window, line=rim)
        return MeasuredPort(answer, port_picture(shown, answer), near)


@st.cache_resource(max_entries=8, show_spinner=say("measure.profile"))
def profile_over(
    uploads: tuple[Upload, ...], bars: Bars, said: FittingSaid, designation: str
) -> bytes:
    """Draw a thread's profile over the photo that was measured."""
    answer = measured_fitting(uploads, bars, said).answer
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
    near: Near
    of_first: Near | None


@st.cache_resource(max_entries=8, show_spinner=say("measure.route"))
def measured_route(
    uploads: tuple[Upload, ...], bars: Bars, said: FlatOptions, marks: Marks = ()
) -> MeasuredRoute:
    """Measure a route and draw it; two marks are its ends in the first photo, more lie along it."""
    with _AT_ONCE:
        photos = [_loaded(upload) for upload in uploads]
        places = points_of(photos[0], [list(mark) for mark in marks])
        if len(places) == _BOTH_ENDS:
            photos[0] = replace(photos[0], marked_px=places)
        else:
            said = replace(said, points_px=places)
        answer = route(photos, PhotoOptions({"": BarReading(*bars)}), said)
        trace = answer.trace
        shown = next((one for one in photos if trace and one.key == trace.photo_key), photos[0])
        line = [] if trace is None else shares_of(shown, trace.centre_px)
        near = Near(preview(shown), marks=_ends(line), line=line)
        own = near if shown is photos[0] else None
        return MeasuredRoute(answer, route_picture(shown, answer), near, own)


def _ends(line: Sequence[Sequence[float]]) -> Marks:
    return tuple((place[0], place[1]) for place in (line[0], line[-1])) if line else ()


@dataclass(frozen=True, slots=True)
class SpaceAsked:
    """What is said of a path in space beside its photos; `od_mm` of the hose to be made."""

    cards: Bars
    od_mm: float | None
    line_od_mm: float | None
    seen: SpaceSaid


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredSpace:
    """A path's answer, the numbers of the photos that show it, and how it looks from the side."""

    answer: SpaceRouteAnswer
    shown_in: tuple[int, ...]
    plan: bytes


@st.cache_resource(max_entries=4, show_spinner=say("measure.space"))
def measured_space(uploads: tuple[Upload, ...], bars: Bars, asked: SpaceAsked) -> MeasuredSpace:
    """Measure a route in space, and draw it from the side."""
    loads = [partial(_opened, upload) for upload in uploads]
    said = FlatOptions(hose_od_mm=asked.od_mm, line_od_mm=asked.line_od_mm)
    with _AT_ONCE:
        prints = {"bands": BarReading(*bars), "markers": BarReading(*asked.cards)}
        options = PhotoOptions(prints)
        answer = route_in_space(loads, options, said, seen=asked.seen)
        seen = {trace.photo_name for trace in answer.traces}
        shown_in = [n for n, (name, _) in enumerate(uploads, start=1) if name in seen]
        return MeasuredSpace(answer, tuple(shown_in), plan_picture(answer))


@st.cache_resource(max_entries=16, show_spinner=say("measure.open"))
def space_drawn(uploads: tuple[Upload, ...], bars: Bars, asked: SpaceAsked, number: int) -> bytes:
    """Draw a path that was measured into one of its photos."""
    answer = measured_space(uploads, bars, asked).answer
    with _AT_ONCE:
        return space_picture(_loaded(uploads[number - 1]), answer)


@st.cache_resource(max_entries=2, show_spinner=say("measure.lens"))
def learnt_lens(uploads: tuple[Upload, ...]) -> CameraAnswer:
    """Learn a lens from photos of the bare sheet."""
    with _AT_ONCE:
        return learn_camera([partial(load_photo, data, name) for name, data in uploads])


@st.cache_resource(max_entries=64, show_spinner=False)
def lens_used(upload: Upload) -> str:
    """Name the lens that a photo is measured with, if it was learnt."""
    with _AT_ONCE:
        profile = _loaded(upload).profile
        return "" if profile is None else str(profile.name)


@st.cache_resource(max_entries=64, show_spinner=say("measure.open"))
def places_in(upload: Upload, marks: Marks) -> tuple[Mark, ...]:
    """Give the pixels of marks on a photo."""
    with _AT_ONCE:
        return points_of(_loaded(upload), [list(mark) for mark in marks])


@st.cache_resource(max_entries=16, show_spinner=say("measure.open"))
def previewed(upload: Upload) -> bytes:
    """Give a small copy of a photo for the screen."""
    with _AT_ONCE:
        return preview(_loaded(upload))
