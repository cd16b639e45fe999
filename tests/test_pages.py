"""The app's pages through Streamlit's own harness: answers, refusals, what is missing, no crash."""

import ast
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from photomeasure.job import open_job
from photomeasure.job.demonstration import samples
from photomeasure.pages._frame import TITLES

ROOT = Path(__file__).parent.parent
PAGES = ROOT / "photomeasure" / "pages"
SLOW_S = 120  # a photo on a busy machine

App = Callable[..., AppTest]

pytestmark = [
    # Streamlit's harness and its server's libraries warn of their own deprecations
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


@pytest.fixture
def open_page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> App:
    """Open one page of the app, its jobs kept in a folder of this test."""
    monkeypatch.setenv("PHOTOMEASURE_JOBS", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.chdir(ROOT)

    def opened(name: str, **said: str) -> AppTest:
        app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=SLOW_S)
        app.query_params["at"] = name
        for key, value in said.items():
            app.query_params[key] = value
        app.run()
        assert not app.exception
        return app

    return opened


def words(app: AppTest) -> str:
    """Everything that is written on the page."""
    kinds = (app.title, app.markdown, app.success, app.warning, app.error, app.info, app.caption)
    return "\n".join(str(element.value) for kind in kinds for element in kind)


def upload(app: AppTest, key: str, path: Path) -> AppTest:
    app.file_uploader(key=key).set_value([(path.name, path.read_bytes(), "image/jpeg")])
    return app.run()


@pytest.mark.parametrize("name", sorted(TITLES))
def test_every_page_opens(open_page: App, name: str) -> None:
    app = open_page(name)
    assert app.title[0].value


def test_the_first_screen_offers_photo_and_caliper(open_page: App) -> None:
    app = open_page("start")
    labels = [button.label for button in app.button]
    assert labels[:2] == ["Take a photo of the thread", "I have a caliper"]
    app.button(key="start.caliper").click().run()
    assert not app.exception
    assert app.title[0].value == "Thread by caliper"


def test_a_photo_is_answered_kept_and_found_again(open_page: App, tmp_path: Path) -> None:
    sample = samples("fitting")[-1]
    app = open_page("fitting")
    upload(app, "fitting.photos", sample.photo)
    assert "unverified" in words(app)  # no check bars yet: never sure
    assert ", sure" not in words(app)
    app.text_input(key="bars.sheet.x").set_value(str(sample.bars.x_mm).replace(".", ",")).run()
    app.text_input(key="bars.sheet.y").set_value(f"{sample.bars.y_mm} mm").run()
    assert not app.exception
    assert "M18x1.5, sure" in words(app)
    assert "| pitch |" in words(app)
    app.button(key="fitting.keep.B").click().run()
    assert "Kept for end B" in words(app)
    (folder,) = [file.parent for file in tmp_path.glob("*/job.json")]
    job = open_job(folder)
    assert len(job.entries.photos) == 1  # kept once, whatever is clicked afterwards
    assert job.entries.ends[1].thread is not None
    assert job.entries.ends[1].thread.candidates[0].designation == "M18x1.5"
    assert job.document["bars"]["sheet"] == {"x": sample.bars.x_mm, "y": sample.bars.y_mm}


def test_a_lost_connection_loses_nothing(open_page: App, tmp_path: Path) -> None:
    sample = samples("fitting")[-1]
    app = upload(open_page("fitting"), "fitting.photos", sample.photo)
    again = open_page("fitting", job=app.query_params["job"])
    kept = again.pills(key="fitting.kept_photo").options
    assert any(sample.photo.name in option for option in kept)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"no picture", "photo.jpg"),
        (b"\xff\xd8\xff\xe0 cut off", "photo.jpg"),
        (b"<svg onload='alert(1)'/>", "photo.jpg"),
    ],
)
def test_a_bad_upload_is_refused_with_what_to_do(
    open_page: App, tmp_path: Path, data: bytes, sentence: str
) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(data)
    app = upload(open_page("fitting"), "fitting.photos", path)
    assert not app.exception
    assert sentence in app.error[0].value
    assert "What to do:" in app.error[0].value


def test_an_upload_s_name_is_never_a_path(open_page: App, tmp_path: Path) -> None:
    app = open_page("fitting")
    data = samples("fitting")[0].photo.read_bytes()
    app.file_uploader(key="fitting.photos").set_value([("../../evil.jpg", data, "image/jpeg")])
    app.run()
    assert not app.exception
    assert not list(tmp_path.parent.glob("evil*"))
    assert [path.name for path in tmp_path.glob("*/photos/*")] == ["01.jpg"]


def test_caliper_readings_in_inches(open_page: App) -> None:
    app = open_page("caliper")
    app.segmented_control(key="unit").set_value("inch").run()
    app.text_input(key="caliper.major").set_value("0,745")
    app.text_input(key="caliper.pitch").set_value("16").run()
    assert not app.exception
    assert "3/4-16 UNF, sure" in words(app)


def test_a_reading_that_is_none_is_told(open_page: App) -> None:
    app = open_page("caliper")
    app.text_input(key="caliper.major").set_value("wide").run()
    assert not app.exception
    assert "'wide' is not a length." in app.error[0].value


def test_contradicting_readings_are_told(open_page: App) -> None:
    app = open_page("caliper")
    app.text_input(key="caliper.pitch").set_value("1.5 mm")
    app.text_input(key="caliper.span").set_value("20 mm").run()
    assert "do not agree" in words(app)


def test_a_route_is_measured_and_kept(open_page: App, tmp_path: Path) -> None:
    sample = samples("route")[0]
    app = open_page("route")
    app.text_input(key="bars.cards.x").set_value(f"{sample.bars.x_mm}mm").run()
    app.text_input(key="bars.cards.y").set_value(f"{sample.bars.y_mm}mm").run()
    app.segmented_control(key="route.line").set_value(sample.line).run()
    upload(app, "route.photos", sample.photo)
    assert not app.exception
    assert re.search(r"Route [\d.]+ ± [\d.]+ mm long", words(app))
    app.button(key="route.keep").click().run()
    (folder,) = [file.parent for file in tmp_path.glob("*/job.json")]
    assert open_job(folder).entries.route is not None


def test_an_empty_plan_says_what_is_missing(open_page: App) -> None:
    app = open_page("plan")
    assert "NOT READY TO BUILD" in app.error[0].value
    labels = [button.label for button in app.button]
    assert (
        "**seat A looked at**: a look at the seat of port A: no photo of a thread shows it"
        in labels
    )


def test_jobs_are_named_and_chosen(open_page: App, tmp_path: Path) -> None:
    app = open_page("start")
    app.text_input(key="start.name").set_value("Narrow tractor")
    next(one for one in app.button if one.label == "Start a new job").click().run()
    assert not app.exception
    (folder,) = [file.parent for file in tmp_path.glob("*/job.json")]
    assert open_job(folder).name == "Narrow tractor"
    assert app.query_params["job"] == folder.name
    assert app.title[0].value == "This job"


def test_an_odd_job_number_opens_nothing_else(open_page: App, tmp_path: Path) -> None:
    (tmp_path.parent / "job.json").write_text('{"job": 1, "name": "elsewhere"}', encoding="utf-8")
    app = open_page("plan", job="..")
    assert "elsewhere" not in words(app)


@pytest.mark.parametrize("at", ["../../etc/passwd", "nothing", "", "_bench"])
def test_an_odd_page_is_the_first_page(open_page: App, at: str) -> None:
    assert open_page(at).title[0].value == TITLES["start"]


def test_two_windows_on_one_job_lose_nothing(open_page: App, tmp_path: Path) -> None:
    one = open_page("line")
    one.text_input(key="line.fluid_by").set_value("cap").run()
    number = one.query_params["job"]
    other = open_page("line", job=number)
    other.text_input(key="line.relief_by").set_value("plate").run()
    one.text_input(key="line.flow_l_per_min").set_value("12").run()
    line = open_job(tmp_path / number).entries.line
    assert (line.fluid_by, line.relief_by, line.flow_l_per_min) == ("cap", "plate", 12.0)
    assert one.text_input(key="line.relief_by").value == "plate"  # and the first one shows it


def test_an_entry_that_cannot_be_read_is_told_and_not_saved(open_page: App, tmp_path: Path) -> None:
    app = open_page("line", part="Pressure and heat")
    app.text_input(key="line.relief_pressure_mpa").set_value("1300 psi").run()
    assert "90 bar" in words(app).replace("89.63", "90")
    app.text_input(key="line.relief_pressure_mpa").set_value("a lot").run()
    assert "Not saved" in words(app)
    assert app.text_input(key="line.relief_pressure_mpa").value == "a lot"
    (folder,) = [file.parent for file in tmp_path.glob("*/job.json")]
    # 1 psi is 0.006894757 MPa (NIST SP 811, appendix B)
    relief = open_job(folder).entries.line.relief_pressure_mpa
    assert relief == pytest.approx(1300 * 0.006894757, rel=1e-6)


def test_what_belongs_together_waits_for_the_rest(open_page: App, tmp_path: Path) -> None:
    app = open_page("ends", end="A", part="Adapter and seal")
    app.text_input(key="ends.0.torque.newton_metres").set_value("45").run()
    assert "Not counted yet" in words(app)
    (folder,) = [file.parent for file in tmp_path.glob("*/job.json")]
    assert open_job(folder).entries.ends[0].torque is None
    app.text_input(key="ends.0.torque.by").set_value("maker's sheet").run()
    torque = open_job(folder).entries.ends[0].torque
    assert torque is not None
    assert torque.newton_metres == 45.0


@pytest.mark.parametrize("path", sorted(PAGES.glob("[a-z]*.py")), ids=lambda path: path.stem)
def test_pages_are_thin(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) < 100
    imported = {
        name.name.partition(".")[0]
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Import)
        for name in node.names
    } | {
        (node.module or "").partition(".")[0]
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.ImportFrom)
    }
    assert not imported & {"numpy", "cv2", "scipy", "pint", "uncertainties"}


def test_a_look_at_the_seat_asks_on(open_page: App) -> None:
    app = open_page("caliper")
    app.text_input(key="caliper.major").set_value("17,9")
    app.text_input(key="caliper.pitch").set_value("1.5").run()
    assert "Seat." not in words(app)
    app.button(key="caliper.seat.external.place.cone in the bore").click().run()
    assert not app.exception
    assert "Which of these is it?" in words(app)
    assert "Seen: **cone in the bore**" in words(app)
    assert "It may be" in words(app)  # several cones seal on this thread
    app.button(key="caliper.seat.again").click().run()
    assert "Seen:" not in words(app)


def test_what_a_thread_is_taken_for_is_told(open_page: App) -> None:
    app = open_page("caliper")
    app.text_input(key="caliper.major").set_value("17,9")
    app.text_input(key="caliper.pitch").set_value("1.5").run()
    assert "**11/16-16 UN**: crests -0.54 mm" in words(app)  # 11/16 in is 17.4625 mm
    assert "dangerous" in words(app)


def test_a_kept_thread_is_known_at_the_bottom_and_in_the_list_of_jobs(open_page: App) -> None:
    app = open_page("caliper", end="A")
    app.text_input(key="caliper.major").set_value("17,9")
    app.text_input(key="caliper.pitch").set_value("1.5").run()
    assert "Now: **M18x1.5, sure**" in words(app)
    app.button(key="caliper.keep.A").click().run()
    number = app.query_params["job"]
    assert "**A** M18x1.5 · **B** ?" in words(open_page("job", job=number))
    labels = [button.label for button in open_page("start").button]
    assert f"Go on: New job, M18x1.5 ({number})" in labels


def test_who_works_in_inches_reads_inches(open_page: App) -> None:
    app = open_page("caliper", unit="in")
    app.text_input(key="caliper.major").set_value("17.9 mm")
    app.text_input(key="caliper.pitch").set_value("1.5 mm").run()
    assert "M18x1.5, sure" in words(app)
    assert "**11/16-16 UN**: crests -0.021 in" in words(app)  # 0.54 mm / 25.4
    assert "-0.54 mm" not in words(app)
    app.text_input(key="caliper.pitch").set_value("").run()
    assert "pitch gauge: 1.5 mm" in words(app)  # as it is stamped on the gauge


def test_an_inch_machine_makes_metric_threads_rarer(open_page: App) -> None:
    app = open_page("caliper")
    app.text_input(key="caliper.major").set_value("17.9").run()
    assert "Now: **M18x1.5 or M18x1**" in words(app)
    of_any = chance_of_none(app)
    app.segmented_control(key="caliper.machine").set_value("inch").run()
    assert not app.exception
    assert chance_of_none(app) > of_any  # all that fit are metric


def chance_of_none(app: AppTest) -> float:
    texts = [str(one.proto.text) for one in app.get("progress")]
    found = next(text for text in texts if text.startswith("**none of these**"))
    return float(found.split(": ")[1].removesuffix(" %"))


def test_what_a_hose_s_standard_fills_in_is_told_under_the_empty_field(open_page: App) -> None:
    app = open_page("hose")
    app.selectbox(key="hose.standard").set_value("EN 853 1SN").run()
    assert "**mineral oil** from EN 853 1SN" in words(app)
    assert "**100 °C** from EN 853 1SN" in words(app)
    app.text_input(key="hose.temperature_max_c").set_value("90").run()
    assert "**90 °C = 194 °F**" in words(app)  # what is entered wins
