"""The job on the bench: on disk as soon as anything is entered, its name in the address."""

import hashlib
import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import streamlit as st

from photomeasure.answers.mistakes import log_mistake
from photomeasure.errors import BadJobError, PhotomeasureError
from photomeasure.job import CutPlan, Job, add_answer, add_photo, create_job, open_job, plan_cut
from photomeasure.job.enter import enter, update_job
from photomeasure.job.folder import SHELF_FILE
from photomeasure.job.store import dump_json, read_json, write_atomically
from photomeasure.job.units import Units, in_inches
from photomeasure.pages._words import say
from photomeasure.sizing.ports import designation_of

__all__ = [
    "Upload",
    "change_job",
    "choose_job",
    "current_job",
    "go",
    "in_units",
    "job_names",
    "jobs_folder",
    "keep_photos",
    "keep_thread",
    "mark_of",
    "open_kept",
    "planned",
    "refusals",
    "remember_bars",
    "remembered_bars",
    "set_entry",
    "start_job",
    "units",
]

Upload = tuple[str, bytes]  # name, content
_ID = re.compile(r"[0-9]{3,6}")
_PRINTS = "prints.json"  # beside the jobs: the last readings of each kind of print
_NEW = {"job": 1, "name": say("job.new"), "ends": [{}, {}]}


def jobs_folder() -> Path:
    """Where the jobs of this machine lie."""
    base = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(os.environ.get("PHOTOMEASURE_JOBS") or Path(base) / "photomeasure" / "jobs")


def job_names() -> dict[str, str]:
    """Every job kept here: its number in the address, what it is called, its threads."""
    names = {}
    for file in sorted(jobs_folder().glob("*/job.json"), reverse=True):
        try:
            job = open_job(file.parent)
            threads = filter(None, map(designation_of, job.entries.ends))
            names[file.parent.name] = ", ".join([job.name or say("job.no_name"), *threads])
        except BadJobError:
            names[file.parent.name] = say("job.unreadable")
    return names


def start_job(name: str) -> Job:
    """Make a new job and put its number into the address."""
    taken = [int(folder.name) for folder in jobs_folder().glob("[0-9]*") if folder.is_dir()]
    number = max(taken, default=100) + 1
    while True:  # another browser may have taken the number a moment ago
        try:
            job = create_job(jobs_folder() / str(number), name)
        except BadJobError:
            if not (jobs_folder() / str(number)).exists():
                raise
            number += 1
            continue
        choose_job(str(number))
        return job


def choose_job(number: str) -> None:
    """Name the job in the address, which a reload keeps, and here."""
    if _ID.fullmatch(number):
        st.session_state["job"] = number
        st.query_params["job"] = number


def _folder() -> Path | None:
    number = st.query_params.get("job") or st.session_state.get("job", "")
    if not _ID.fullmatch(number) or not (jobs_folder() / number / "job.json").is_file():
        return None
    choose_job(number)
    return jobs_folder() / number


def current_job() -> Job:
    """Open the job that the address names; a blank one, not yet on disk, if it names none."""
    folder = _folder()
    return Job.from_document(_NEW) if folder is None else open_job(folder)


def change_job(change: Callable[[Job], Job]) -> Job:
    """Change the job as it stands on the disk now; the first entry starts it."""
    folder = _folder()
    if folder is None:
        folder = start_job(say("job.new")).folder
    if folder is None:
        raise BadJobError(say("job.no_folder"), say("job.start_new"))
    return update_job(folder, change)


def set_entry(path: str, value: Any) -> None:
    """Set one entry of the job, or take it away with None."""
    change_job(lambda job: enter(job, path, value))


def keep_thread(
    answer: dict[str, Any], picture: bytes | None, end: int, *, is_verified: bool
) -> None:
    """Keep an answer as the thread of an end (0 or 1)."""
    kind = str(answer["kind"])
    change_job(
        lambda job: add_answer(job, kind, answer, picture, end=end).changed_end(
            end, print_verified=is_verified
        )
    )


def planned(job: Job) -> CutPlan:
    """Plan the hose of a job; the same entries are planned once."""
    shelf = None if job.folder is None else job.folder / SHELF_FILE
    row = shelf.read_bytes() if shelf is not None and shelf.is_file() else b""
    return _planned(dump_json(dict(job.document)), row, job)


@st.cache_resource(max_entries=16, show_spinner=False)
def _planned(document: bytes, shelf: bytes, _job: Job) -> CutPlan:
    return plan_cut(_job)


def go(page: str, **said: str) -> None:
    """Turn to a page; what it is to show stands in the address."""
    kept = {key: st.query_params[key] for key in ("job", "unit") if key in st.query_params}
    st.query_params.from_dict({"at": page, **kept, **{k: v for k, v in said.items() if v}})


def open_kept(number: str) -> None:
    """Go on with a job that is kept here."""
    choose_job(number)
    go("job")


def units() -> Units:
    """The unit that figures without one have: it stands in the address."""
    return "in" if st.query_params.get("unit") == "in" else "mm"


def in_units(words: str, mark_mm: int | None = None) -> str:
    """Say words in the unit of the page: where it is inches, every length in mm is turned.

    Parameters
    ----------
    words : str
    mark_mm : int or None [mm]
        The cutting mark, which turns into sixteenths.
    """
    return in_inches(words, mark_mm) if units() == "in" else words


def mark_of(upload: Upload) -> str:
    """Name a photo by its content."""
    return hashlib.blake2b(upload[1], digest_size=12).hexdigest()


def keep_photos(uploads: Sequence[Upload], room: str) -> None:
    """Put new uploads into the job's folder at once: a phone may drop its connection."""
    kept: frozenset[str] = st.session_state.get(f"{room}.kept", frozenset())
    for name, data in uploads:
        mark = mark_of((name, data))
        if mark not in kept:
            change_job(lambda job, name=name, data=data: add_photo(job, name, data, note=room))  # type: ignore[misc]
            kept |= {mark}
    st.session_state[f"{room}.kept"] = kept


@contextmanager
def refusals() -> Iterator[None]:
    """Say a refusal with what to do; log anything else and say where."""
    try:
        yield
    except PhotomeasureError as error:
        words = say("refused", message=error.message, remedy=error.remedy)
        st.error(words, icon=":material/block:")
        st.session_state["next.said"] = error.remedy[:1].lower() + error.remedy[1:]
    except Exception as error:
        if type(error).__module__.startswith("streamlit"):
            raise  # how Streamlit stops or reruns a page
        st.error(say("mistake", file=log_mistake(error)))


def remember_bars(kind: str, bars_mm: tuple[float, float]) -> None:
    """Remember a print's check bars for the next job on the same print."""
    held = _remembered()
    if held.get(kind) != list(bars_mm):
        jobs_folder().mkdir(parents=True, exist_ok=True)
        write_atomically(jobs_folder() / _PRINTS, dump_json({**held, kind: list(bars_mm)}))


def remembered_bars(kind: str) -> tuple[float, float] | None:
    """Give the check bars that were read last on a print of this kind."""
    found = _remembered().get(kind)
    if isinstance(found, list) and len(found) == 2 and all(isinstance(v, float) for v in found):
        return found[0], found[1]
    return None


def _remembered() -> dict[str, Any]:
    try:
        return read_json(jobs_folder() / _PRINTS)
    except BadJobError:
        return {}
