"""Files of a job: written whole or not at all, read with a clear word where they are broken."""

import contextlib
import json
import os
import tempfile
from pathlib import Path
from typing import Any, NoReturn

from photomeasure.errors import BadJobError

__all__ = ["dump_json", "read_json", "read_json_bytes", "write_atomically"]

_LARGEST_BYTES = 50_000_000
_READABLE = 0o644  # a temporary file is its maker's alone; a job may be read by all


def write_atomically(path: Path, data: bytes) -> None:
    """Replace a file in one step: a crash leaves the old content or the new, never half.

    Parameters
    ----------
    path : pathlib.Path
    data : bytes

    Raises
    ------
    BadJobError
        If the folder cannot be written to.
    """
    try:
        _replace(path, data)
    except OSError as error:
        raise BadJobError(
            f"{path.name} cannot be written: {error.strerror or error}.",
            "Check that the disk has room and that you may write to the job folder.",
        ) from error


def _replace(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(_READABLE)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    """Make the new name itself survive a power cut, where the system offers that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def dump_json(content: object) -> bytes:
    """Give readable JSON text; a figure that is no finite number is a bug."""
    text = json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)
    try:
        return f"{text}\n".encode()
    except UnicodeEncodeError:  # half a surrogate pair, from an odd file name
        return json.dumps(content, indent=2, allow_nan=False).encode()


def read_json(path: Path) -> dict[str, Any]:
    """Read a file that holds one JSON object.

    Parameters
    ----------
    path : pathlib.Path

    Returns
    -------
    dict

    Raises
    ------
    BadJobError
        If it is missing, too large, no JSON or no object.
    """
    name = path.name
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise BadJobError(f"{name} is larger than a job can be.", "Give the job's own file.")
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise BadJobError(f"There is no file {path}.", "Give a job folder or its file.") from error
    except OSError as error:
        raise BadJobError(
            f"{path} cannot be read: {error.strerror or error}.", "Give a job folder or its file."
        ) from error
    return read_json_bytes(data, name)


def read_json_bytes(data: bytes, name: str) -> dict[str, Any]:
    """Read bytes that hold one JSON object.

    Parameters
    ----------
    data : bytes
    name : str
        What to call it in messages.

    Returns
    -------
    dict

    Raises
    ------
    BadJobError
        If it is no JSON or no object.
    """
    try:
        content = json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise BadJobError(
            f"{name} is no JSON text: {error}.", "Mend the file, or take back an older copy."
        ) from error
    if not isinstance(content, dict):
        raise BadJobError(
            f"{name} does not hold a JSON object.", 'A job begins with {"job": 1, …}.'
        )
    return content


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")
