"""Four people at once: each gets the answer to their own photo, in little memory."""

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from photomeasure.job.demonstration import samples

if TYPE_CHECKING:
    from tests.browser.conftest import Served
    from tests.browser.driver import Person

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]

NAMES = ("9/16-18 UNF", "M18x1.5")  # what the rendered samples were drawn as
MOST_BYTES = 2.5e9


def most_bytes(process: int) -> float:
    """Give the most memory that a process has held."""
    status = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    found = re.search(r"VmHWM:\s*(\d+) kB", status)
    assert found is not None
    return 1024.0 * int(found[1])


def test_four_people_each_get_their_own_answer(
    person: "Person", served: "Served", tmp_path: Path
) -> None:
    for number in range(4):
        sample = samples("fitting")[number % 2]
        photo = tmp_path / f"photo{number}.jpg"
        photo.write_bytes(sample.photo.read_bytes() + bytes([number]))  # none is cached
        if number:
            person.another_window()
        person.open("?at=fitting")
        person.type("bars.sheet.x", str(sample.bars.x_mm))
        person.type("bars.sheet.y", str(sample.bars.y_mm))
    for number in range(4):
        person.look_at_window(number)
        person.hand_over("fitting.photos", tmp_path / f"photo{number}.jpg")
    for number in range(4):
        person.look_at_window(number)
        person.wait_for(f"Now: {NAMES[number % 2]}, sure")
        assert NAMES[1 - number % 2] not in person.words().split("Now:")[1]
    held = most_bytes(served.process.pid)
    print(f"{held / 1e9:.2f} GB at most")
    assert held < MOST_BYTES
