"""The job on the bench: on disk as soon as anything is entered, its name in the address."""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import streamlit as st

from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.mistakes import log_mistake
from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.pictures import fitting_picture, route_picture
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.errors import BadJobError, PhotomeasureError
from photomeasure.job import Job, add_photo, create_job, open_job
from photomeasure.photo import load_photo
from photomeasure.route.reading import FlatOptions
from photomeasure.scene import BarReading

__all__ = [
    "Bars",
    "Upload",
    "choose_job",
    "current_job",
    "job_names",
    "keep_photos",
    "measured_fitting",
    "measured_route",
    "refusals",
    "start_job",
]

Upload = tuple[str, bytes]  # name, content
Bars = tuple[float | None, float | None]  # x, y [mm]
_ID = re.compile(r"[0-9]{3,6}")


def _jobs_folder() -> Path:
    base = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(os.environ.get("PHOTOMEASURE_JOBS") or Path(base) / "photomeasure" / "jobs")


def job_names() -> dict[str, str]:
    """Every job kept here: its number in the address, and what it is called."""
    names = {}
    for file in sorted(_jobs_folder().glob("*/job.json"), reverse=True):
        try:
            names[file.parent.name] = open_job(file.parent).name or "no name"
        except BadJobError:
            names[file.parent.name] = "cannot be read"
    return names


def start_job(name: str) -> Job:
    """Make a new job and put its number into the address."""
    taken = [int(folder.name) for folder in _jobs_folder().glob("[0-9]*") if folder.is_dir()]
    number = max(taken, default=100) + 1
    while True:  # another browser may have taken the number a moment ago
        try:
            job = create_job(_jobs_folder() / str(number), name)
        except BadJobError:
            if not (_jobs_folder() / str(number)).exists():
                raise
            number += 1
            continue
        _point_to(str(number))
        return job


def _point_to(number: str) -> None:
    """Name the job in the address, which a reload keeps, and here, which a new page keeps."""
    st.session_state["job"] = number
    st.query_params["job"] = number


def choose_job(number: str) -> None:
    """Go on with a job that is kept here."""
    if _ID.fullmatch(number):
        _point_to(number)


def current_job() -> Job:
    """Open the job that the address names; start one if it names none."""
    number = st.query_params.get("job") or st.session_state.get("job", "")
    if _ID.fullmatch(number) and (_jobs_folder() / number / "job.json").is_file():
        _point_to(number)
        return open_job(_jobs_folder() / number)
    return start_job("New job")


def keep_photos(job: Job, uploads: list[Upload], room: str) -> Job:
    """Put new uploads into the job's folder at once: a phone may drop its connection."""
    kept: frozenset[tuple[str, int]] = st.session_state.get(f"{room}.kept", frozenset())
    for name, data in uploads:
        mark = (name, hash(data))
        if mark not in kept:
            job = add_photo(job, name, data, note=room)
            kept |= {mark}
    st.session_state[f"{room}.kept"] = kept
    return job


@st.cache_resource(max_entries=8, show_spinner="Measuring the photo …")
def measured_fitting(uploads: tuple[Upload, ...], bars: Bars) -> tuple[FittingAnswer, bytes]:
    """Measure a fitting and draw it; the same photo and readings are measured once."""
    photos = [load_photo(data, name) for name, data in uploads]
    answer = fitting(photos, PhotoOptions({"": BarReading(*bars)}))
    seen = {trace.photo_key for trace in answer.traces}
    shown = next(photo for photo in photos if photo.key in seen)
    return answer, fitting_picture(shown, answer)


@st.cache_resource(max_entries=8, show_spinner="Following the line …")
def measured_route(upload: Upload, bars: Bars, said: FlatOptions) -> tuple[RouteAnswer, bytes]:
    """Measure a route and draw it; the same photo and entries are measured once."""
    photo = load_photo(upload[1], upload[0])
    answer = route([photo], PhotoOptions({"": BarReading(*bars)}), said)
    return answer, route_picture(photo, answer)


@contextmanager
def refusals() -> Iterator[None]:
    """Say a refusal with what to do; log anything else and say where."""
    try:
        yield
    except PhotomeasureError as error:
        st.error(f"**{error.message}**\n\nWhat to do: {error.remedy}", icon=":material/block:")
    except Exception as error:
        if type(error).__module__.startswith("streamlit"):
            raise  # how Streamlit stops or reruns a page
        st.error(f"The program made a mistake. It is logged in {log_mistake(error)}.")
