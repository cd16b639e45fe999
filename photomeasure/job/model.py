"""A job: its document as it stands in the file, and its entries, checked."""

import re
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from photomeasure.errors import BadJobError
from photomeasure.job.store import read_json
from photomeasure.sizing.entries import JobEntries

__all__ = ["JOB_FILE", "Job", "JobFile", "StoredAnswer", "StoredPhoto"]

JOB_FILE = "job.json"
_INSIDE = re.compile(r"(?:answers|photos|pictures)/[A-Za-z0-9][A-Za-z0-9._-]*")


class StoredPhoto(BaseModel):
    """A photo in the job folder; `taken_as` is what the upload called itself, never a path."""

    model_config = ConfigDict(extra="allow", frozen=True)

    file: str
    taken_as: str = ""
    note: str = ""
    rendered: bool = False


class StoredAnswer(BaseModel):
    """An answer in the job folder, with its annotated picture."""

    model_config = ConfigDict(extra="allow", frozen=True)

    kind: Literal["fitting", "port", "route", "caliper", "cut"]
    file: str
    end: int | None = Field(default=None, ge=0, le=1)
    picture: str | None = None


class JobFile(JobEntries):
    """All that a job's file holds."""

    photos: list[StoredPhoto] = Field(default_factory=list)
    answers: list[StoredAnswer] = Field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """One job.

    `document` is the file's content as it stands, with whatever keys this program does not know;
    `entries` is the same, with the stored answers put in, checked and typed. `folder` is None for
    a job that lies in no folder.
    """

    document: Mapping[str, Any]
    entries: JobFile
    folder: Path | None

    @classmethod
    def from_document(cls, document: Mapping[str, Any], folder: Path | None = None) -> Self:
        """Check a job's document.

        Parameters
        ----------
        document : mapping
        folder : pathlib.Path, optional
            Where the answers lie that it names.

        Returns
        -------
        Job

        Raises
        ------
        BadJobError
            If anything in it cannot be understood.
        """
        version = document.get("job")
        if version != 1 or isinstance(version, bool):
            raise BadJobError(
                f"This is no job of version 1: 'job' is {version!r}.",
                'A job begins with {"job": 1, …}; a newer job needs a newer program.',
            )
        kept = deepcopy(dict(document))
        try:
            entries = JobFile.model_validate(_resolved(kept, folder))
        except ValidationError as error:
            raise _not_understood(error) from error
        for photo in entries.photos:
            _inside(photo.file)
        for answer in entries.answers:
            _inside(answer.file)
            _inside(answer.picture or answer.file)
        return cls(kept, entries, folder)

    @property
    def name(self) -> str:
        """What the job is called."""
        return self.entries.name

    def changed(self, **entries: Any) -> "Job":
        """Give the job with top-level entries replaced; nothing is written.

        Raises
        ------
        BadJobError
            If an entry cannot be understood.
        """
        return Job.from_document({**self.document, **entries}, self.folder)

    def changed_end(self, index: int, **entries: Any) -> "Job":
        """Give the job with entries of one end (0 or 1) replaced; nothing is written.

        Raises
        ------
        BadJobError
            If an entry cannot be understood.
        """
        ends = [dict(end) for end in self.document.get("ends", [])]
        while len(ends) <= index:
            ends.append({})
        ends[index] |= entries
        return self.changed(ends=ends)

    def path(self, inside: str) -> Path | None:
        """Give the path of a file of this job, or None for a job without a folder."""
        return None if self.folder is None else self.folder / _inside(inside)


def _inside(name: str) -> str:
    if _INSIDE.fullmatch(name) is None:
        raise BadJobError(
            f"'{name}' is no file of this job.", "Files lie in answers/, photos/ and pictures/."
        )
    return name


def _resolved(document: Mapping[str, Any], folder: Path | None) -> dict[str, Any]:
    """Put the stored answers in the place of the names that point to them."""
    found = dict(document)
    if "route" in found:
        found["route"] = _answer(found["route"], folder)
    ends = found.get("ends")
    if isinstance(ends, list):
        found["ends"] = [
            {**end, "thread": _answer(end.get("thread"), folder)} if isinstance(end, dict) else end
            for end in ends
        ]
    return found


def _answer(entry: object, folder: Path | None) -> object:
    """Read an answer that is named by its file; give anything else back as it is."""
    if not isinstance(entry, dict) or not isinstance(entry.get("answer"), str):
        return entry
    name = _inside(entry["answer"])
    if folder is None:
        raise BadJobError(f"The job names {name} but has no folder.", "Open the job's folder.")
    return read_json(folder / name)


def _not_understood(error: ValidationError) -> BadJobError:
    first = error.errors(include_url=False, include_context=False)[0]
    where = " → ".join(str(part + 1 if isinstance(part, int) else part) for part in first["loc"])
    reason = first["msg"].removeprefix("Value error, ")
    more = error.error_count() - 1
    others = f" ({more} more like it)" if more else ""
    return BadJobError(
        f"The job's entry '{where}' cannot be understood: {reason}{others}.",
        'Mend that entry. A length is "31.8mm ± 0.5mm" or {"value": 31.8, "u": 0.3}.',
    )
