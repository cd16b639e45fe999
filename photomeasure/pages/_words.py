"""Every word that the app says of itself, in one table."""

import csv
from functools import cache
from importlib.resources import files

__all__ = ["say"]


@cache
def _table() -> dict[str, str]:
    text = files(__package__).joinpath("words.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines(keepends=True), strict=True)
    return {row["key"]: row["english"] for row in rows}


def say(key: str, **values: object) -> str:
    """Give the words of a key, with values put in.

    Parameters
    ----------
    key : str
        Page and thing, as `start.fitting`.
    values : object
        For the places in braces.

    Returns
    -------
    str
    """
    return _table()[key].format(**values)
