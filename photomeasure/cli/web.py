"""`photomeasure app`: the web app on this machine."""

import subprocess
import sys
from pathlib import Path

import click

from photomeasure.cli.params import json_option
from photomeasure.errors import MissingFileError

__all__ = ["app_command", "app_line"]

APP = Path(__file__).parents[2] / "app.py"


def app_line(port: int) -> list[str]:
    """The command that serves the app, reachable from this machine alone.

    Parameters
    ----------
    port : int

    Returns
    -------
    list of str
    """
    options = {
        "server.address": "localhost",
        "server.port": str(port),
        "server.headless": "true",
        "server.maxUploadSize": "50",
        "browser.gatherUsageStats": "false",
    }
    flags = [f"--{name}={value}" for name, value in options.items()]
    return [sys.executable, "-m", "streamlit", "run", str(APP), *flags]


@click.command("app")
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True)
@json_option
def app_command(*, port: int, as_json: bool) -> int:
    """Serve the web app on this machine; stop it with Ctrl-C."""
    if not APP.exists():
        raise MissingFileError(
            f"{APP} is not there.", "Start the app from a checkout of the project."
        )
    click.echo(f"Open http://localhost:{port} in a browser. Ctrl-C stops the app.", err=True)
    return subprocess.call(app_line(port), cwd=APP.parent)
