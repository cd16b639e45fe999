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


def pitch_mm(person: "Person") -> float:
    found = re.search(r"pitch ([\d.]+) ±", person.words())
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
    _, last = person.marks_at("route.mark")
    assert last == pytest.approx(drawn[-1], abs=0.01)
    person.drag("route.mark", last, drawn[len(drawn) // 2])  # there it ends
    assert measured_mm(person) == pytest.approx(whole / 2, rel=0.03)
    person.tap("route.forget")
    person.focus_on("route.mark")
    for keys in ("→" * 3, "↓" * 3):  # a cross in the middle of the photo is moved, and set twice
        person.press_arrows(keys)
        person.press(person.ENTER)
    assert person.marks_set("route.mark") >= 2


def test_a_thread_s_ends_are_dragged(person: "Person") -> None:
    sample = samples("fitting")[-1]
    person.open("?at=fitting")
    person.type("bars.sheet.x", f"{sample.bars.x_mm}")
    person.type("bars.sheet.y", f"{sample.bars.y_mm}")
    person.upload("fitting.photos", sample.photo)
    whole = pitch_mm(person)
    person.unfold("fitting.mark")
    assert person.marks_set("fitting.mark") == 2  # both ends of the thread, to be dragged
    first, last = person.marks_at("fitting.mark")
    beside = last[0] + 0.45, last[1]
    person.mark("fitting.mark", [beside, (beside[0] - 0.1, beside[1])])  # on the bare sheet
    assert HAND in person.words()
    assert "What to do:" in person.words()  # no thread runs there, and it is told
    person.tap("fitting.forget")
    assert "M18x1.5, sure" in person.words()
    half_way = last[0], (first[1] + last[1]) / 2
    marks = person.drag("fitting.mark", last, half_way)
    assert marks[1] == pytest.approx(half_way, abs=0.01)  # the page did not scroll instead
    assert "M18x1.5, sure" in person.words()
    half = pitch_mm(person)
    assert half == pytest.approx(whole, rel=0.01)
    assert half != whole  # from fewer turns
    person.open(person.here())  # the marks are kept with the job
    (kept,) = person.choices("fitting.kept_photo")
    person.choose("fitting.kept_photo", kept)
    assert HAND in person.words()
    assert pitch_mm(person) == half
