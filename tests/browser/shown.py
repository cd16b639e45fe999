"""Takes the README's pictures of the app anew: `python -m tests.browser.shown`."""

import io
import shutil
import tempfile
import time
from pathlib import Path

from PIL import Image

from photomeasure.job.demonstration import run_demo, samples
from tests.browser.conftest import Served
from tests.browser.driver import Person, person

SHOWN = Path(__file__).parent / "shown"
DEMO = "101"
COLOURS = 192  # fewer lose the thin lines; a picture stays under 110 kB


def main() -> None:
    """Serve the demonstration's job and take a phone's picture of its pages."""
    with tempfile.TemporaryDirectory() as held:
        folder = Path(held)
        run_demo(folder / "jobs" / DEMO)
        served = Served(folder)
        chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
        if chromium is None or driver is None:
            raise SystemExit("no Chromium on this machine")
        with person(chromium, driver, served.base, folder) as one:
            _take_all(one)
        served.kill()


def _take_all(one: Person) -> None:
    sample = samples("fitting")[-1]
    one.open()
    _take(one, "start")
    one.open("?at=fitting")
    one.type("bars.sheet.x", f"{sample.bars.x_mm}")
    one.type("bars.sheet.y", f"{sample.bars.y_mm}")
    one.upload("fitting.photos", sample.photo)
    _take(one, "thread")
    _at_top(one, "fitting.mark")
    _take(one, "hand")
    one.open("?at=caliper")
    _at_top(one, "caliper.seat")
    _take(one, "seat")
    one.open(f"?at=plan&job={DEMO}")
    _take(one, "plan")


def _at_top(one: Person, lid: str) -> None:
    """Open a lid and bring it to the top, once what it holds has taken its room."""
    one.unfold(lid)
    time.sleep(2)
    one.to_top(lid)


def _take(one: Person, name: str) -> None:
    SHOWN.mkdir(exist_ok=True)
    with Image.open(io.BytesIO(one.web.get_screenshot_as_png())) as picture:
        small = picture.convert("RGB").quantize(COLOURS)
        small.save(SHOWN / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
