"""The whole job in a real browser: from the photo to a sheet that is ready."""

import json
import time
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from photomeasure.job import open_job
from photomeasure.job.demonstration import samples
from photomeasure.job.spoken import say_entry
from photomeasure.pages import _form
from photomeasure.pages._form import Entry
from photomeasure.pages._frame import TITLES

if TYPE_CHECKING:
    from tests.browser.conftest import Served
    from tests.browser.driver import Person

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]

INVENTED: dict[str, Any] = json.loads(
    files("photomeasure.job").joinpath("data", "demo.json").read_text("utf-8")
)
# what the demonstration leaves open, or takes from a shelf; invented like the rest
INVENTED["clearance"] = {
    "full_travel": True,
    "by": "invented",
    "length_change_tried": True,
    "moving_mm": 40.0,
    "exhaust_mm": 150.0,
    "exhaust_shielded": False,
}
for _end in INVENTED["ends"]:
    _end |= {"stud_length_mm": 11.0, "adapter_by": "invented"}


def invented(path: str) -> Any:
    """Give what the invented job says for an entry."""
    at: Any = INVENTED
    for step in path.split("."):
        at = at[int(step)] if isinstance(at, list) else at.get(step) if at else None
    return at


def fill(person: "Person", row: Entry) -> None:
    value = invented(row.path)
    if value is None or not person.has(row.path):
        return
    said = say_entry(row.kind, value, "mm")
    if row.kind in ("choice", "yesno"):
        person.choose(row.path, row.choices.get(said, said))
    else:
        person.type(row.path, said)


def fill_page(person: "Person", page: str, end: str = "") -> None:
    rows = [one.at_end(end) for one in _form.entries() if one.page == page]
    letter = {"0": "A", "1": "B"}.get(end, "")
    for part in dict.fromkeys(row.part for row in rows):
        mine = [row for row in rows if row.part == part and invented(row.path) is not None]
        if mine:
            person.open(f"?at={page}&job={person.job}&end={letter}&part={part}")
            for row in mine:
                fill(person, row)


def thread_by_photo(person: "Person", number: int) -> None:
    sample = samples("fitting")[number]
    person.open(f"?at=fitting&job={person.job}" if person.job else "?at=fitting")
    if not number:
        person.upload("fitting.photos", sample.photo)
        assert "unverified" in person.words()  # no bars yet: never sure
        assert ", sure" not in person.words()
    if number:
        person.unfold("bars.sheet")  # known from the first photo; this print is another
    person.type("bars.sheet.x", f"{sample.bars.x_mm}".replace(".", ","))
    person.type("bars.sheet.y", f"{sample.bars.y_mm} mm")
    if number:
        person.upload("fitting.photos", sample.photo)
    assert ", sure" in person.words()
    person.tap(f"fitting.keep.{'AB'[number]}")
    assert "Kept for end" in person.words()


def path_by_photo(person: "Person") -> None:
    sample = samples("route")[0]
    person.open(f"?at=route&job={person.job}")
    person.choose("route.line", sample.line)
    person.type("bars.cards.x", f"{sample.bars.x_mm}")
    person.type("bars.cards.y", f"{sample.bars.y_mm}")
    person.upload("route.photos", sample.photo)
    person.tap("route.keep")
    assert "Kept." in person.words()


def number_of(served: "Served") -> str:
    (folder,) = (served.folder / "jobs").glob("[0-9]*")
    return folder.name


def test_from_the_photo_to_a_sheet_that_is_ready(
    person: "Person", served: "Served", tmp_path: Path
) -> None:
    person.open()
    person.tap("start.fitting")
    assert "Thread by photo" in person.words()
    thread_by_photo(person, 0)
    person.job = number_of(served)
    thread_by_photo(person, 1)
    path_by_photo(person)
    for page, end in (("ends", "0"), ("ends", "1"), ("line", ""), ("hose", ""), ("room", "")):
        fill_page(person, page, end)
    served.kill()  # a power cut: nothing that was entered is lost
    served.start()
    person.console_errors()  # of the lost connection, which was meant
    person.open(f"?at=plan&job={person.job}")
    assert "checks passed" in person.words()
    person.tap("plan.sheet")
    sheet = wait_for(tmp_path, "*.pdf")
    assert sheet.read_bytes().startswith(b"%PDF")
    job = open_job(served.folder / "jobs" / person.job)
    assert job.entries.line.relief_pressure_mpa == pytest.approx(9.0)


def wait_for(folder: Path, pattern: str) -> Path:
    end = time.monotonic() + 30
    while time.monotonic() < end:
        for found in folder.glob(pattern):
            return found
        time.sleep(0.1)
    raise AssertionError(f"no {pattern} came")


@pytest.mark.parametrize(("width", "height"), [(360, 740), (390, 844), (1280, 900)])
def test_every_page_fits_and_can_be_tapped(
    person: "Person", served: "Served", tmp_path: Path, width: int, height: int
) -> None:
    person.size(width, height)
    jobs = sorted(folder.name for folder in (served.folder / "jobs").glob("[0-9]*"))
    said = f"&job={jobs[0]}" if jobs else ""
    for page in TITLES:
        person.open(f"?at={page}{said}&end=A")
        person.picture(tmp_path / f"{page}-{width}.png")
        assert not person.is_too_wide(), page
        assert person.too_small() == [], page
        assert person.too_faint() == [], page
