"""One entry after the other: written at once, by several windows, with nothing lost.

An entry is named by its path in the job's file: `line.fluid`, `ends.0.torque.by`,
`end_styles.45.drop`. What belongs together and is not complete yet (a torque without who says
so) waits under `unfinished` until it is.
"""

import fcntl
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from photomeasure.errors import BadJobError
from photomeasure.job.folder import open_job, save_job
from photomeasure.job.model import Job

__all__ = ["HISTORY_FILE", "enter", "entered", "unfinished", "update_job"]

HISTORY_FILE = "history.jsonl"
_LOCK_FILE = ".lock"
_WAITING = "unfinished"
_PLAIN_GROUPS = frozenset({"line", "hose"})  # each entry of these stands by itself
_STYLES = "end_styles"

Document = dict[str, Any]


def update_job(folder: Path, change: Callable[[Job], Job]) -> Job:
    """Change a job as it stands on the disk now, alone; two windows wait for each other.

    Parameters
    ----------
    folder : pathlib.Path
    change : callable
        Given the job as it stands, gives the job as it is to be.

    Returns
    -------
    Job

    Raises
    ------
    BadJobError
        If the job cannot be read or written, or the change is refused; nothing is saved then.
    """
    with _alone(folder):
        changed = change(open_job(folder))
        save_job(changed)
        return changed


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    try:
        held = (folder / _LOCK_FILE).open("w", encoding="utf-8")
    except OSError as error:
        raise BadJobError(
            f"The job in {folder.name} cannot be written: {error.strerror or error}.",
            "Check that the disk has room and that you may write to the job folder.",
        ) from error
    with held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield


def entered(job: Job, path: str) -> Any:
    """Give an entry as it stands in the file, or None.

    Parameters
    ----------
    job : Job
    path : str

    Returns
    -------
    any
    """
    group, _, name = path.rpartition(".")
    found = _group(job.document, group).get(name)
    return _waiting(job.document, group).get(name) if found is None else found


def unfinished(job: Job, group: str) -> bool:
    """Say whether a group of entries waits for the rest of it.

    Parameters
    ----------
    job : Job
    group : str

    Returns
    -------
    bool
    """
    return bool(_waiting(job.document, group))


def enter(job: Job, path: str, value: Any) -> Job:
    """Give the job with one entry set, or taken away with None; the folder's history notes it.

    Parameters
    ----------
    job : Job
        Of which every other entry stays as it is.
    path : str
    value : any

    Returns
    -------
    Job

    Raises
    ------
    BadJobError
        If the entry cannot be understood.
    """
    group, _, name = path.rpartition(".")
    old = entered(job, path)
    members = {**_waiting(job.document, group), **_group(job.document, group)}
    members.pop(name, None)
    if value is not None:
        members[name] = value
    if set(members) == {"style"}:
        members = {}
    changed = _placed(job, group, members)
    _note(job, path, old, value)
    return changed


def _placed(job: Job, group: str, members: Document) -> Job:
    """Put a group's entries in their place, or let them wait if they are not complete."""
    try:
        return Job.from_document(_with(job.document, group, members, complete=True), job.folder)
    except BadJobError:
        if _stands_alone(group):
            raise
    return Job.from_document(_with(job.document, group, members, complete=False), job.folder)


def _stands_alone(group: str) -> bool:
    first, _, rest = group.partition(".")
    return not group or group in _PLAIN_GROUPS or (first == "ends" and "." not in rest)


def _waiting(document: Mapping[str, Any], group: str) -> Document:
    held = document.get(_WAITING)
    found = held.get(group) if isinstance(held, Mapping) else None
    return dict(found) if isinstance(found, Mapping) else {}


def _group(document: Mapping[str, Any], group: str) -> Document:
    """Give a group's entries, without making it."""
    at: Any = document
    for step in group.split(".") if group else ():
        at = _step(at, step)
    return dict(at) if isinstance(at, Mapping) else {}


def _step(at: Any, step: str) -> Any:
    if isinstance(at, Mapping):
        return at.get(step)
    if not isinstance(at, list):
        return None
    styled = [one for one in at if isinstance(one, Mapping) and one.get("style") == step]
    if styled:
        return styled[0]
    return at[int(step)] if step.isdecimal() and int(step) < len(at) else None


def _with(document: Mapping[str, Any], group: str, members: Document, *, complete: bool) -> Any:
    """Give the document with a group's entries in place, or waiting and out of their place."""
    new = deepcopy(dict(document))
    waiting = {key: kept for key, kept in dict(new.get(_WAITING) or {}).items() if key != group}
    if not complete:
        waiting[group] = members
    new[_WAITING] = waiting
    if not waiting:
        del new[_WAITING]
    _put(new, group, members if complete else {})
    return new


def _put(document: Document, group: str, members: Document) -> None:
    if not group:
        kept = {key: document[key] for key in (_WAITING,) if key in document}
        document.clear()
        document.update(members | kept)
        return
    *before, last = group.split(".")
    if before == [_STYLES]:
        others = [one for one in document.get(_STYLES) or [] if one.get("style") != last]
        document[_STYLES] = [*others, {**members, "style": last}] if members else others
        return
    at: Any = document
    for step in before:
        at = _made(at, step)
    if last.isdecimal() and isinstance(at, list):
        _made(at, last)
        at[int(last)] = members
    elif members or _stands_alone(group):
        at[last] = members
    else:
        at.pop(last, None)


def _made(at: Any, step: str) -> Any:
    """Go one step down, making what is not there yet."""
    if isinstance(at, list):
        while len(at) <= int(step):
            at.append({})
        return at[int(step)]
    if not isinstance(at.get(step), dict | list):
        at[step] = [] if step == "ends" else {}
    return at[step]


def _note(job: Job, path: str, old: Any, new: Any) -> None:
    """Add a line to the folder's history, so that nothing typed is ever lost."""
    if job.folder is None or old == new:
        return
    told = {"at": datetime.now(UTC).isoformat(timespec="seconds"), "entry": path}
    line = json.dumps({**told, "old": old, "new": new}, ensure_ascii=True)
    with (job.folder / HISTORY_FILE).open("a", encoding="utf-8") as file:
        file.write(f"{line}\n")
