"""A job as one zip: out whole, in only what a job holds."""

import io
import re
import zipfile
from pathlib import Path

from photomeasure.errors import BadJobError
from photomeasure.job.folder import SHELF_FILE, save_job
from photomeasure.job.model import JOB_FILE, Job
from photomeasure.job.store import read_json_bytes, write_atomically

__all__ = ["job_zip", "unpack_job"]

_INSIDE = re.compile(r"(?:answers|photos|pictures)/[A-Za-z0-9][A-Za-z0-9._-]*")
_MOST_FILES = 400
_MOST_BYTES = 500_000_000
_MOST_IN_ONE = 50_000_000
_BESIDE = (JOB_FILE, SHELF_FILE, "history.jsonl")


def job_zip(job: Job) -> bytes:
    """Give a job's folder as one zip.

    Parameters
    ----------
    job : Job

    Returns
    -------
    bytes

    Raises
    ------
    BadJobError
        If the job has no folder.
    """
    if job.folder is None:
        raise BadJobError("This job has no folder.", "Enter something first.")
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_STORED) as out:
        for path in sorted(job.folder.rglob("*")):
            name = path.relative_to(job.folder).as_posix()
            if path.is_file() and (name in _BESIDE or _INSIDE.fullmatch(name)):
                out.write(path, name)
    return held.getvalue()


def unpack_job(data: bytes, folder: Path | None) -> Job:
    """Put a job's zip into an empty job's folder.

    Parameters
    ----------
    data : bytes
        Anything at all: what is no job's file is refused.
    folder : pathlib.Path or None

    Returns
    -------
    Job

    Raises
    ------
    BadJobError
        If it is no zip of a job; nothing is written then.
    """
    if folder is None:
        raise BadJobError("There is no folder for this job.", "Start a new job first.")
    files = _files(data)
    document = read_json_bytes(files[JOB_FILE], JOB_FILE)
    for name, content in files.items():
        if name != JOB_FILE:
            write_atomically(folder / name, content)
    job = Job.from_document(document, folder)
    save_job(job)
    return job


def _files(data: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as held:
            infos = [info for info in held.infolist() if not info.is_dir()]
            _refuse(infos)
            return {info.filename: _content(held, info) for info in infos}
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError) as error:
        raise _no_job(f"it cannot be unpacked ({error})") from error


def _content(held: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Unpack one file, and no more of it than it said: a bomb says little and holds much."""
    with held.open(info) as file:
        content = file.read(_MOST_IN_ONE + 1)
    if len(content) > _MOST_IN_ONE:
        raise _no_job(f"{info.filename[:60]} is too large")
    return content


def _refuse(infos: list[zipfile.ZipInfo]) -> None:
    names = [info.filename for info in infos]
    if JOB_FILE not in names:
        raise _no_job(f"there is no {JOB_FILE} in it")
    if len(names) > _MOST_FILES or len(names) != len(set(names)):
        raise _no_job(f"it holds {len(names)} files, more than a job or some twice")
    if sum(info.file_size for info in infos) > _MOST_BYTES:
        raise _no_job("it is larger than a job can be")
    for name in names:
        if name not in _BESIDE and not _INSIDE.fullmatch(name):
            raise _no_job(f"'{name[:60]}' is no file of a job")


def _no_job(why: str) -> BadJobError:
    return BadJobError(
        f"This is no job that can be taken in: {why}.",
        "Take the zip that “Save a copy of this job” gives, unchanged.",
    )
