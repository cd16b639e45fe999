"""`photomeasure app`: the web app on this machine."""

import os
import subprocess
import sys
from pathlib import Path

import click

from photomeasure.answers.address import network_address, qr_text
from photomeasure.cli.params import json_option
from photomeasure.errors import MissingFileError, UsageError

__all__ = ["app_command", "app_environment", "app_line"]

APP = Path(__file__).parents[2] / "app.py"


def app_line(port: int, *, shared: bool = False) -> list[str]:
    """The command that serves the app, reachable from this machine alone unless shared.

    Parameters
    ----------
    port : int
    shared : bool
        Reachable from the machine's own network.

    Returns
    -------
    list of str
    """
    options = {
        "server.address": "0.0.0.0" if shared else "localhost",
        "server.port": str(port),
        "server.headless": "true",
        "server.maxUploadSize": "50",
        "browser.gatherUsageStats": "false",
    }
    flags = [f"--{name}={value}" for name, value in options.items()]
    return [sys.executable, "-m", "streamlit", "run", str(APP), *flags]


def app_environment() -> dict[str, str]:
    """Give the surroundings that the app runs in: one thread for each thing it reckons.

    Several people are answered side by side; small matrices split over threads that wait for each
    other cost a busy machine of two cores four times the work.

    Returns
    -------
    dict of str to str
    """
    return {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", **os.environ}


@click.command("app")
@click.option("--port", type=click.IntRange(1, 65535), default=8501, show_default=True)
@click.option(
    "--share",
    is_flag=True,
    help="Let phones on the same network in: anybody there can open the app.",
)
@json_option
def app_command(*, port: int, share: bool, as_json: bool) -> int:
    """Serve the web app on this machine; stop it with Ctrl-C."""
    if not APP.exists():
        raise MissingFileError(
            f"{APP} is not there.", "Start the app from a checkout of the project."
        )
    click.echo(f"Open http://localhost:{port} in a browser. Ctrl-C stops the app.", err=True)
    told = app_environment()
    if share:
        address = _shared_address(port)
        told["PHOTOMEASURE_ADDRESS"] = address
        click.echo(f"On a phone on the same network open {address}\n\n{qr_text(address)}", err=True)
    return subprocess.call(app_line(port, shared=share), cwd=APP.parent, env=told)


def _shared_address(port: int) -> str:
    found = network_address()
    if found is None:
        raise UsageError("This machine is on no network.", "Connect it, or leave out --share.")
    return f"http://{found}:{port}"
