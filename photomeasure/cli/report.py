"""What goes to stdout and stderr, the exit code, and the log of what went wrong inside."""

import json
from typing import Any

import click

from photomeasure.answers.mistakes import log_mistake
from photomeasure.errors import PhotomeasureError, UsageError

__all__ = [
    "EXIT_INTERNAL",
    "EXIT_OK",
    "EXIT_REFUSED",
    "EXIT_USAGE",
    "say",
    "tell_bug",
    "tell_error",
]

EXIT_OK, EXIT_USAGE, EXIT_REFUSED, EXIT_INTERNAL = 0, 2, 3, 4


def say(answer: dict[str, Any], lines: list[str], *, as_json: bool) -> None:
    """Print one JSON object, or the lines for people.

    Parameters
    ----------
    answer : dict
    lines : list of str
    as_json : bool
    """
    click.echo(json.dumps(answer, allow_nan=False) if as_json else "\n".join(lines))


def tell_error(error: PhotomeasureError, *, as_json: bool) -> int:
    """Print a refusal.

    Parameters
    ----------
    error : PhotomeasureError
    as_json : bool

    Returns
    -------
    int
        The exit code.
    """
    _tell(error.code, error.message, error.remedy, as_json=as_json)
    return EXIT_USAGE if isinstance(error, UsageError) else EXIT_REFUSED


def tell_bug(error: Exception, *, as_json: bool) -> int:
    """Log what nobody foresaw, and say where.

    Parameters
    ----------
    error : Exception
    as_json : bool

    Returns
    -------
    int
        The exit code.
    """
    log = log_mistake(error)
    message = f"The program made a mistake ({type(error).__name__})."
    _tell("internal", message, f"Send the file {log} to the makers.", as_json=as_json)
    return EXIT_INTERNAL


def _tell(code: str, message: str, remedy: str, *, as_json: bool) -> None:
    if as_json:
        body = {"error": {"code": code, "message": message, "remedy": remedy}}
        click.echo(json.dumps(body))
    click.echo(f"{message} {remedy}", err=True)
