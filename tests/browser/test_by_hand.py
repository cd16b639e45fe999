"""Where the program errs, a person's taps on the photo count, and it measures at once again."""

import re
from typing import TYPE_CHECKING

import pytest

from photomeasure.job.demonstration import samples

if TYPE_CHECKING:
    from tests.browser.driver import Person

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]

HAND = "Measured by your marks"


def measured_mm(person: "Person") -> float:
    found = re.search(r"Now: Route ([\d.]+) ±", person.words())
    assert found is not None
    return float(found[1])


def test_a_line_is_marked_by_taps_and_by_keys(person: "Person") -> None:
    sample = samples("route")[0]
    person.open("?at=route")
    person.choose("route.line", sample.line)
    person.type("bars.cards.x", f"{sample.bars.x_mm}")
    person.type("bars.cards.y", f"{sample.bars.y_mm}")
    person.upload("route.photos", sample.photo)
    whole, drawn = measured_mm(person), person.drawn_line("route.picture")
    person.unfold("route.mark")
    person.mark("route.mark", drawn[:: len(drawn) // 9] + drawn[-1:])
    assert HAND in person.words()
    assert measured_mm(person) == pytest.approx(whole, rel=0.02)  # by hand: two per cent
    person.tap("route.forget")
    assert HAND not in person.words()
    person.focus_on("route.mark")
    for keys in ("→" * 3, "↓" * 3):  # a cross in the middle of the photo is moved, and set twice
        person.press_arrows(keys)
        person.press(person.ENTER)
    assert person.marks_set("route.mark") >= 2


def test_a_thread_is_pointed_at(person: "Person") -> None:
    sample = samples("fitting")[-1]
    person.open("?at=fitting")
    person.type("bars.sheet.x", f"{sample.bars.x_mm}")
    person.type("bars.sheet.y", f"{sample.bars.y_mm}")
    person.upload("fitting.photos", sample.photo)
    assert "aim at the one you mean" not in person.words()
    person.unfold("fitting.mark")
    person.mark("fitting.mark", [(0.5, 0.95)])  # far below the thread, on the sheet's board
    assert HAND in person.words()
    assert "aim at the one you mean" in person.words()  # only one thread is there, and it is told
    person.tap("fitting.forget")
    person.mark("fitting.mark", [(0.5, 0.5)])
    assert "aim at the one you mean" not in person.words()
    assert "M18x1.5, sure" in person.words()
