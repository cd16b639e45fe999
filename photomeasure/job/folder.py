"""The job as a folder on disk: one readable text file, the photos, the answers, the pictures."""

import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from photomeasure.errors import BadJobError
from photomeasure.job.model import JOB_FILE, Job
from photomeasure.job.store import dump_json, read_json, write_atomically
from photomeasure.sizing.shelf import Adapter, read_shelf

__all__ = [
    "SHELF_FILE",
    "add_answer",
    "add_photo",
    "create_job",
    "open_job",
    "save_job",
    "shelf_of",
]

SHELF_FILE = "shelf.csv"
_LONGEST_NAME = 200
_KINDS = ("fitting", "port", "route", "caliper", "cut")
_BY_FIRST_BYTES = (
    (b"\xff\xd8\xff", ".jpg"),
    (b"\x89PNG\r\n\x1a\n", ".png"),
    (b"RIFF", ".webp"),
    (b"II*\x00", ".tif"),
    (b"MM\x00*", ".tif"),
)


def create_job(folder: Path | str, name: str) -> Job:
    """Make a new job in a folder that holds none yet.

    Parameters
    ----------
    folder : pathlib.Path or str
    name : str
        What people call the job.

    Returns
    -------
    Job

    Raises
    ------
    BadJobError
        If there is a job already, or the folder cannot be made.
    """
    folder = Path(folder)
    if (folder / JOB_FILE).exists():
        raise BadJobError(f"{folder} holds a job already.", "Open it, or choose another folder.")
    document = {"job": 1, "id": uuid.uuid4().hex, "name": name[:_LONGEST_NAME], "ends": [{}, {}]}
    job = Job.from_document(document, folder)
    save_job(job)
    return job


def open_job(path: Path | str) -> Job:
    """Open a job folder, or a job's file.

    Parameters
    ----------
    path : pathlib.Path or str

    Returns
    -------
    Job

    Raises
    ------
    BadJobError
        If it is missing or cannot be understood.
    """
    path = Path(path)
    file = path / JOB_FILE if path.is_dir() else path
    if path.is_dir() and not file.exists():
        raise BadJobError(f"{path} holds no {JOB_FILE}.", "Give a job folder, or its file.")
    return Job.from_document(read_json(file), file.parent)


def save_job(job: Job) -> None:
    """Write the job's file into its folder, in one step.

    Parameters
    ----------
    job : Job

    Raises
    ------
    BadJobError
        If the job has no folder, or the folder cannot be written to.
    """
    write_atomically(_folder(job) / JOB_FILE, dump_json(job.document))


def add_photo(job: Job, name: str, data: bytes, *, rendered: bool = False, note: str = "") -> Job:
    """Put a photo into the job's folder and save the job.

    Parameters
    ----------
    job : Job
    name : str
        What the upload calls itself: kept as words, never used as a path.
    data : bytes
    rendered : bool
        True for a picture that no camera took.
    note : str

    Returns
    -------
    Job
    """
    number = _next_number(job, "photos")
    file = f"photos/{number:02d}{_suffix(data)}"
    write_atomically(_folder(job) / file, data)
    entry: dict[str, Any] = {"file": file, "taken_as": name[:_LONGEST_NAME], "rendered": rendered}
    if note:
        entry["note"] = note
    return _saved(job.changed(photos=[*job.document.get("photos", []), entry]))


def add_answer(
    job: Job,
    kind: str,
    answer: Mapping[str, Any],
    picture: bytes | None = None,
    *,
    end: int | None = None,
) -> Job:
    """Store an answer with its annotated picture, let the job use it, and save the job.

    Parameters
    ----------
    job : Job
    kind : str
        `fitting`, `port`, `route`, `caliper` or `cut`.
    answer : mapping
        The answer's JSON.
    picture : bytes, optional
        PNG or JPEG.
    end : int, optional
        0 or 1: the end whose thread a `fitting`, `port` or `caliper` answer tells.

    Returns
    -------
    Job

    Raises
    ------
    BadJobError
        If the answer is not of that kind or cannot be understood; nothing is saved then.
    """
    if kind not in _KINDS or answer.get("kind", kind) != kind:
        raise BadJobError(
            f"This is no {kind} answer.", f"Give an answer of one of: {', '.join(_KINDS)}."
        )
    _use(job, kind, end, dict(answer))  # refuses before anything is written
    number = _next_number(job, "answers")
    file = f"answers/{number:02d}-{kind}.json"
    write_atomically(_folder(job) / file, dump_json(dict(answer)))
    entry: dict[str, Any] = {"kind": kind, "file": file, "end": end}
    if picture is not None:
        entry["picture"] = f"pictures/{number:02d}-{kind}{_suffix(picture)}"
        write_atomically(_folder(job) / entry["picture"], picture)
    changed = job.changed(answers=[*job.document.get("answers", []), entry])
    return _saved(_use(changed, kind, end, {"answer": file}))


def _use(job: Job, kind: str, end: int | None, answer: Mapping[str, Any]) -> Job:
    """Let the job take an answer for its route or for the thread of one end."""
    if kind == "route":
        return job.changed(route=answer)
    if kind in ("fitting", "port", "caliper") and end is not None:
        return job.changed_end(end, thread=answer)
    return job


def shelf_of(job: Job) -> tuple[Adapter, ...]:
    """Read the user's own adapters, `shelf.csv` in the job's folder, if there is one.

    Parameters
    ----------
    job : Job

    Returns
    -------
    tuple of Adapter

    Raises
    ------
    TableError
        With file and line at the first bad row.
    """
    if job.folder is None or not (job.folder / SHELF_FILE).is_file():
        return ()
    try:
        text = (job.folder / SHELF_FILE).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadJobError(f"{SHELF_FILE} cannot be read: {error}.", "Save it as UTF-8.") from error
    return read_shelf(text, SHELF_FILE)


def _saved(job: Job) -> Job:
    save_job(job)
    return job


def _folder(job: Job) -> Path:
    if job.folder is None:
        raise BadJobError("This job has no folder.", "Make a job folder first.")
    return job.folder


def _next_number(job: Job, room: str) -> int:
    """Give the first number no file of the folder has, so that nothing is written over."""
    present = (_folder(job) / room).glob("[0-9]*")
    taken = [int(digits) for file in present if (digits := _digits(file.name))]
    return max(taken, default=0) + 1


def _digits(name: str) -> str:
    return name[: len(name) - len(name.lstrip("0123456789"))]


def _suffix(data: bytes) -> str:
    for first, suffix in _BY_FIRST_BYTES:
        if data.startswith(first):
            return suffix
    return ".heic" if data[4:8] == b"ftyp" else ".bin"
