"""A job leaves one machine as a zip and comes to another: nothing of it is lost."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from photomeasure.job import open_job
from tests.browser.test_whole_job import wait_for

if TYPE_CHECKING:
    from tests.browser.conftest import Served
    from tests.browser.driver import Person

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


def test_a_job_goes_out_and_comes_in_again(
    person: "Person", served: "Served", tmp_path: Path
) -> None:
    person.open("?at=caliper&end=A")
    person.type("caliper.major", "17,9")
    person.type("caliper.pitch", "1,5")
    person.tap("caliper.keep.A")
    person.tap("head.job")
    person.unfold("job.copies")
    person.tap("job.zip")
    bundle = wait_for(tmp_path, "*.zip")
    (first,) = (served.folder / "jobs").glob("[0-9]*")
    person.open()
    person.unfold("start.bundle")
    person.upload("start.zip", bundle)
    person.tap("start.take_in")
    (second,) = set((served.folder / "jobs").glob("[0-9]*")) - {first}
    before, after = open_job(first), open_job(second)
    assert before.entries.ends[0].thread is not None
    assert after.entries.ends == before.entries.ends
    assert "A M18x1.5" in person.words()  # the bar at the bottom knows it
