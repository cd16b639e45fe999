"""The page of a path in space hands on what is said and marked, and shows how clear it stays."""

import json
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from photomeasure.answers.route_space import SpaceRouteAnswer
from photomeasure.job import create_job, open_job
from photomeasure.job.demonstration import samples
from photomeasure.job.enter import entered
from photomeasure.pages import _measure
from photomeasure.pages._bench import mark_of
from photomeasure.pages._turn import view_of
from photomeasure.photo import load_photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.space.reading import Clearance, SpaceSaid, SpaceTrace
from photomeasure.scene import BarReading

ROOT = Path(__file__).parent.parent
FILES = [sample.photo for sample in samples("fitting")]  # any photos that show a print

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


def length(value: float) -> Quantity:
    return Quantity.normal(measured(value, {Source("a", "a", "photo", "k"): 2.0}), "mm")


def answer_of(key: str) -> SpaceRouteAnswer:
    """An invented path: a quarter of a circle, seen in one photo, 42 mm clear of the exhaust."""
    turn = np.linspace(0, np.pi / 2, 40)
    round_ = 200 * np.column_stack([np.sin(turn), 1 - np.cos(turn), 0.1 * turn])
    near = Clearance("exhaust", length(42.0), 150.0, np.zeros((2, 3)))
    trace = SpaceTrace(
        photo_key=key,
        photo_name=FILES[1].name,
        centre_px=500 + round_[:, :2],
        bands_px=np.zeros((0, 2, 2)),
        orders=(),
        bends_px=np.zeros((0, 2)),
        corners_px=np.zeros((0, 2)),
        clearances_px=np.full((1, 2, 2), 600.0),
    )
    return SpaceRouteAnswer(
        laid="space",
        length=length(314.0),
        hose_length=length(314.0),
        turning=None,
        bends=(),
        tightest_radius=None,
        clocking=None,
        points_mm=round_,
        warnings=(),
        traces=(trace,),
        clearances=(near,),
    )


def test_marks_bars_and_the_last_band_are_handed_on_and_clearances_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    given = [(file.name, file.read_bytes(), "image/jpeg") for file in FILES]
    marks = {mark_of((name, data)): [[0.25, 0.5]] for name, data, _ in given}
    job = create_job(tmp_path / "101", "path")
    document = {
        **job.document,
        "keep_clear": {"exhaust": marks, "plug": dict([*marks.items()][:1])},
        "movement": {
            "longer": {"value": 12, "u": 1},
            "shorter": {"value": 5, "u": 1},
            "by": "engine levered each way",
        },
    }
    (tmp_path / "101" / "job.json").write_text(json.dumps(document), encoding="utf-8")
    told: list[tuple[object, SpaceSaid]] = []

    def spy(loads, options, said, *, seen):
        told.append((options.bars, seen))
        return answer_of(loads[1]().key)

    monkeypatch.setattr(_measure, "route_in_space", spy)
    monkeypatch.setenv("PHOTOMEASURE_JOBS", str(tmp_path))
    monkeypatch.chdir(ROOT)
    app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120)
    app.query_params["at"], app.query_params["job"] = "space", "101"
    app.run()
    for key, text in (
        ("bands.x", "100.1"),
        ("bands.y", "99.9"),
        ("cards.x", "100"),
        ("cards.y", "100,2"),
    ):
        app.text_input(key=f"bars.{key}").set_value(text).run()
    app.number_input(key="space.last").set_value(19).run()
    app.file_uploader(key="space.photos").set_value(given).run()
    assert not app.exception
    bars, seen = told[-1]
    assert bars == {"bands": BarReading(100.1, 99.9), "markers": BarReading(100.0, 100.2)}
    assert seen.last_band == 19
    assert seen.moves == (("ends", 12.0),)
    # the plug is marked in one photo alone: its place is not known
    assert [(mark.name, mark.photo) for mark in seen.marks] == [("exhaust", "1"), ("exhaust", "2")]
    for mark, file in zip(seen.marks, FILES, strict=True):
        width, height = load_photo(file).size_px
        assert mark.px == pytest.approx((0.25 * width - 0.5, 0.5 * height - 0.5))
    said = "\n".join(str(one.value) for one in app.markdown)
    assert "**exhaust**: 42.0 ± 3.9 mm clear of the hose, 150 mm along" in said
    assert "plug to be reached: marked in one photo" in said
    app.button(key="space.enter.exhaust").click().run()
    # the least that it may be: 42 - 1.96 * 2
    assert entered(open_job(tmp_path / "101"), "clearance.exhaust_mm") == 38.0


def test_what_is_turned_is_the_path_over_a_floor() -> None:
    answer = answer_of("k")
    view = json.loads(json.dumps(view_of(answer)))
    points = np.array(view["points"])
    steps = [np.linalg.norm(np.diff(one, axis=0), axis=1) for one in (points, answer.points_mm)]
    assert np.allclose(*steps, atol=0.2)  # turned as a whole, to a tenth of a millimetre
    assert np.all(points[:, 2] > view["low"])
    assert {one["text"] for one in view["labels"]} == {"start", "end", "exhaust"}
    assert all(point[2] == view["low"] for line in view["floor"] for point in line)
