"""The app served for a browser; everything here is skipped where no browser is."""

import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from photomeasure.cli.web import app_environment, app_line

if TYPE_CHECKING:
    from tests.browser.driver import Person

ROOT = Path(__file__).parents[2]


class Served:
    """The app in a process of its own, with jobs in a folder of the test's."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as probe:
            probe.bind(("localhost", 0))
            self.port = int(probe.getsockname()[1])
        self.base = f"http://localhost:{self.port}"
        self.start()

    def start(self) -> None:
        told = {**app_environment(), "PHOTOMEASURE_JOBS": str(self.folder / "jobs")}
        told["XDG_STATE_HOME"] = str(self.folder / "state")
        log = (self.folder / "server.log").open("ab")
        self.process = subprocess.Popen(
            app_line(self.port), cwd=ROOT, env=told, stdout=log, stderr=log
        )
        log.close()
        end = time.monotonic() + 60
        while time.monotonic() < end:
            try:
                urllib.request.urlopen(f"{self.base}/_stcore/health").close()
            except OSError:
                time.sleep(0.2)
            else:
                return
        raise AssertionError("the app did not start")

    def kill(self) -> None:
        """Stop it as a power cut would."""
        self.process.kill()
        self.process.wait()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    app = Served(tmp_path_factory.mktemp("app"))
    yield app
    app.kill()


@pytest.fixture
def person(served: Served, tmp_path: Path) -> Iterator["Person"]:
    pytest.importorskip("selenium", reason="no browser driver for Python")
    from tests.browser.driver import person as at_browser  # noqa: PLC0415  # needs selenium

    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    driver = shutil.which("chromedriver")
    if chromium is None or driver is None:
        pytest.skip("no Chromium on this machine")
    with at_browser(chromium, driver, served.base, tmp_path) as one:
        yield one
        assert one.console_errors() == []
        assert one.strangers() == set()
