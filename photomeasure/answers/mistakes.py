"""The log of what nobody foresaw: the faces' last resort."""

import os
import sys
import tempfile
import traceback
from datetime import UTC, datetime
from pathlib import Path

__all__ = ["log_mistake"]

FILE = "mistakes.log"


def log_mistake(error: Exception) -> Path:
    """Write a mistake of the program to a file of the user's.

    Parameters
    ----------
    error : Exception

    Returns
    -------
    Path
        Where it was written.
    """
    text = f"{datetime.now(UTC).isoformat()} {' '.join(sys.argv)}\n"
    text += "".join(traceback.format_exception(error)) + "\n"
    for folder in (_state_folder(), Path(tempfile.gettempdir()) / "photomeasure"):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with (folder / FILE).open("a", encoding="utf-8") as file:
                file.write(text)
        except OSError:
            continue
        return folder / FILE
    return Path("(no folder could be written)")


def _state_folder() -> Path:
    base = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(base) / "photomeasure"
