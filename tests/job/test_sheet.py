"""The job sheet: what must stand on it, where, and to which scale."""

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from photomeasure.errors import UsageError
from photomeasure.job import (
    Job,
    add_answer,
    bench_page,
    create_job,
    plan_cut,
    save_job,
    write_job_sheet,
)
from photomeasure.job.drawings import Box, HoseFigures, draw_clock, draw_hose, draw_route
from photomeasure.job.ink import Pen
from photomeasure.job.sheet import job_sheet_pdf
from photomeasure.sizing.assembly import CAUTIONS
from photomeasure.sizing.entries import HoseEntry, RouteEntry
from photomeasure.sizing.hose_class import from_standard
from tests.job.test_folder import FITTING, ROUTE
from tests.job.test_plan import whole
from tests.sizing.jobs import Entries, q
from tests.sizing.test_path import ROUTE as ROUTE_BENT

MM = 72 / 25.4


def pages(document: Entries, paper: Any = "A4") -> list[str]:
    job = Job.from_document(document)
    reader = PdfReader(io.BytesIO(job_sheet_pdf(job, plan_cut(job), paper)))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def ready(**changes: Any) -> Entries:
    """Give a job that may be built without a shelf of one's own."""
    document = whole(**changes)
    for end in document["ends"]:
        end["stud_length_mm"] = 11.0
    return document


@pytest.mark.parametrize(("paper", "size_mm"), [("A4", (210, 297)), ("Letter", (215.9, 279.4))])
def test_paper_and_print_scaling(tmp_path: Path, paper: Any, size_mm: tuple[float, float]) -> None:
    job = Job.from_document(whole())
    write_job_sheet(job, plan_cut(job), tmp_path / "sheet.pdf", paper)
    reader = PdfReader(tmp_path / "sheet.pdf")
    box = reader.pages[0].mediabox
    assert (box.width / MM, box.height / MM) == pytest.approx(size_mm, abs=0.05)
    assert reader.viewer_preferences is not None
    assert reader.viewer_preferences.print_scaling == "/None"


def test_another_paper_is_refused() -> None:
    with pytest.raises(UsageError):
        pages(whole(), "A5")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_page_one_says_not_ready_above_the_cut(paper: Any) -> None:
    text = pages(whole(clearance=None), paper)[0]
    assert text.index("NOT READY TO BUILD: ") < text.index("CUT THE HOSE AT") < text.index("965 mm")
    assert "DO NOT BUILD" in text
    assert "DO NOT CUT YET" in text
    assert "DO NOT CUT" not in pages(ready(), paper)[0]
    assert "clearance through full movement" in text


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_page_one_has_every_caution_and_both_ends(paper: Any) -> None:
    text = pages(whole(), paper)[0]
    for caution in CAUTIONS:
        assert caution in text
    assert text.count("M18x1.5, metric O-ring port") == 2
    assert "965 mm" in text
    assert "= 38 in" in text  # 965 mm is 37.99 in: to the next sixteenth up


def test_the_evidence_and_the_order_slip() -> None:
    line = {key: value for key, value in whole()["line"].items() if key != "fluid"}
    _, evidence = pages(whole(clearance=None, line=line))
    order = evidence
    assert "Where the cut's uncertainty comes from" in evidence
    assert "route" in evidence
    assert "pitch gauge and caliper, F." in evidence
    assert "Overall length" in order
    assert "a hose is condemned by visible wire" in order
    assert "1024.1 mm" in order  # 964.07 mm cut, 30 mm of cut-off at each end
    assert "NOT KNOWN YET" in order  # the fluid was not entered


def test_the_finished_length_is_that_of_the_mark_as_written() -> None:
    # By hand: cut at 965 mm, 30 mm of cut-off at each end: 1025.0. In inches the mark is 38 in =
    # 965.2 mm, so 1025.2 mm = 40.362 in. The shop's overall length is the least: 964.07 + 60.
    job = Job.from_document(ready())
    assert "1025.0 mm datum to datum" in pages(ready())[0]
    inches = PdfReader(io.BytesIO(job_sheet_pdf(job, plan_cut(job), "A4", "in"))).pages[0]
    assert "40.36 in datum to datum" in " ".join(inches.extract_text().split())


def test_the_order_slip_says_how_much_longer_it_may_be() -> None:
    # By hand: the longest that fits, surely, is 1000 - 1.96 u; u = sqrt(2² + 2² + 2 x 0.4²) =
    # 2.884: 994.35; the mark 964.07 leaves 30.3 mm.
    order = pages(ready())[1]
    assert "not shorter; longer by at most 30 mm" in order
    hose = {**ready()["hose"], "kind": "two braids", "standard": "EN 853 2SN"}
    assert "two braids, EN 853 2SN" in pages(ready(hose=hose))[1]


def test_the_proof_is_twice_the_weakest_of_hose_and_ends() -> None:
    # Hose 20 MPa, ends stated for 21 MPa: 40; with an end of 12 MPa: 24.
    assert "40 MPa (twice the weakest" in pages(ready())[0]
    weak = ready()
    weak["ends"][1]["fits_hose"] = {**weak["ends"][1]["fits_hose"], "pressure_mpa": 12.0}
    assert "24 MPa (twice the weakest" in pages(weak)[0]
    weak["ends"][1]["fits_hose"] = None
    assert "twice the working pressure of its weakest part" in pages(weak)[0]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_invented_and_rendered_are_said_so(paper: Any) -> None:
    first, second = pages(whole(rendered=True, invented="All of it."), paper)
    assert "RENDERED PICTURES" in first
    assert "INVENTED ENTRIES" in first
    assert "All of it." in second


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    "document",
    [{"job": 1}, whole(name="long " * 60), whole(name="Ünïcode ✓ 油圧 \u202e")],
    ids=["empty", "long", "odd"],
)
def test_any_job_can_be_printed(document: Entries, paper: Any) -> None:
    assert len(pages(document, paper)) == 2


def test_what_would_be_too_small_to_read_takes_a_third_page() -> None:
    chatty = whole(invented="All of this is invented. " * 600)
    first, _, third = pages(chatty)
    assert "Page 3: the order slip" in first
    assert "Overall length" in third


def test_the_same_job_gives_the_same_bytes() -> None:
    job = Job.from_document(whole())
    assert job_sheet_pdf(job, plan_cut(job)) == job_sheet_pdf(job, plan_cut(job))


def _picture(kind: str) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (400, 300), "teal").save(held, kind)
    return held.getvalue()


def test_pictures_are_shown_and_broken_ones_told(tmp_path: Path) -> None:
    job = create_job(tmp_path, "x")
    job = add_answer(job, "fitting", FITTING, _picture("PNG"), end=0)
    job = add_answer(job, "route", ROUTE, b"not a picture")
    save_job(job)
    reader = PdfReader(io.BytesIO(job_sheet_pdf(job, plan_cut(job))))
    assert len(reader.pages[1].images) == 1
    text = reader.pages[1].extract_text()
    assert "cannot be shown" in text
    assert "fitting, end A" in text
    assert "0.980" in text


class Recorder(Pen):
    """A pen that keeps the lines it draws."""

    def __init__(self) -> None:
        super().__init__(Canvas(io.BytesIO()), (210, 297))
        self.drawn: list[np.ndarray] = []
        self.words: list[str] = []
        self.dots: list[tuple[float, float]] = []

    def dot(self, at_mm: tuple[float, float], radius_mm: float, colour: Any) -> None:
        self.dots.append(at_mm)

    def polyline(self, points_mm: Any, colour: Any, width_mm: float) -> None:
        self.drawn.append(np.array(points_mm))

    def text(self, x_mm: float, y_mm: float, words: str, style: Any = None) -> None:
        self.words.append(words)


def _route(points: list[list[float]], **more: Any) -> RouteEntry:
    return RouteEntry.model_validate({"length": q(500, 1), "points": points, **more})


# An L: 300 mm along x, then 200 mm to the left (+y), as seen from above the paper.
ELL = [[float(x), 0.0, 0.0] for x in range(0, 301, 10)]
ELL += [[300.0, float(y), 0.0] for y in range(10, 201, 10)]


def test_the_route_is_drawn_to_its_scale_and_not_mirrored() -> None:
    pen = Recorder()
    draw_route(pen, Box(10, 10, 100, 60), _route(ELL), 18)
    line = pen.drawn[-1]
    scale = float(next(w for w in pen.words if "scale 1:" in w).split("1:")[1].split(";")[0])
    lengths = np.linalg.norm(np.diff(line, axis=0), axis=1)
    assert lengths.sum() * scale == pytest.approx(500, abs=1e-6)
    # Turning left on the paper is turning left on the page, where y runs down.
    first, second = line[30] - line[0], line[-1] - line[30]
    assert first[0] * second[1] - first[1] * second[0] < 0
    assert line.min(axis=0)[0] >= 10
    assert line.max(axis=0)[0] <= 110
    assert line.min(axis=0)[1] >= 10
    assert line.max(axis=0)[1] <= 70


def test_the_route_is_as_wide_as_the_hose_of_the_standard(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[float | None] = []

    def record(_pen: Pen, _box: Box, _route: RouteEntry, od_mm: float | None) -> None:
        drawn.append(od_mm)

    monkeypatch.setattr(bench_page, "draw_route", record)
    for hose in ({"standard": "EN 853 2SN", "outside_diameter_mm": None}, {}):
        document = whole()
        document["hose"] |= {"dash": 6, **hose}
        document["route"]["points"] = ELL
        pages(document)
    listed = from_standard(HoseEntry(standard="EN 853 2SN", dash=6)).hose.outside_diameter_mm
    assert drawn == [listed, whole()["hose"]["outside_diameter_mm"]]
    assert listed is not None


def test_a_tilted_plane_is_drawn_in_its_own_plane() -> None:
    # The same L stood up on edge: its shape on the page stays.
    stood = [[x, 0.0, y] for x, y, _ in ELL]
    pen = Recorder()
    draw_route(pen, Box(10, 10, 100, 60), _route(stood), None)
    assert any("main plane" in words for words in pen.words)
    scale = float(next(w for w in pen.words if "1:" in w).split("1:")[1].split(";")[0])
    lengths = np.linalg.norm(np.diff(pen.drawn[-1], axis=0), axis=1)
    assert lengths.sum() * scale == pytest.approx(500, abs=1e-6)


def test_bends_carry_radius_and_angle() -> None:
    bend = {"at": q(300, 1), "radius": q(90, 2), "angle": q(88, 1, "deg")}
    pen = Recorder()
    draw_route(pen, Box(10, 10, 100, 60), _route(ELL, bends=[bend]), 18)
    assert "R 90, 88°" in pen.words


@pytest.mark.parametrize(
    ("clock", "where"),
    [
        # Counter-clockwise from 6 o'clock, y running down the page (SAE J517's way of counting).
        (0, (0, 1)),
        (90, (1, 0)),
        (180, (0, -1)),
        (270, (-1, 0)),
    ],
)
def test_the_clock_face_counts_counter_clockwise_from_six(
    clock: float, where: tuple[float, float]
) -> None:
    pen = Recorder()
    draw_clock(pen, (50, 50), clock)
    off = np.array(pen.dots[0]) - 50
    assert off / np.linalg.norm(off) == pytest.approx(np.array(where), abs=1e-9)


def test_two_elbows_show_their_clocking_on_page_one() -> None:
    route = {**ROUTE_BENT, "clocking": q(-85, 1, "deg")}
    document = whole(route=route)
    for end in document["ends"]:
        end |= {"end": "90", "datum": "axes cross", "cut_off_to": "axes cross"}
    text = pages(document)[0]
    assert "275° counter-clockwise" in text
    assert "90° end" in text


def _dots_and_letters(styles: tuple[str, str]) -> dict[str, tuple[float, float]]:
    pen = Recorder()
    found: dict[str, tuple[float, float]] = {}
    pen.text = lambda x, y, words, style=None: found.update({words: (x, y)})  # type: ignore[method-assign]
    draw_hose(pen, Box(10, 20, 180, 34), HoseFigures("1", "2", ("3", "4"), (1, 1), styles))
    return found


def test_an_angled_end_is_drawn_turned_away() -> None:
    straight = _dots_and_letters(("straight", "straight"))
    assert straight["A"][1] == straight["B"][1]
    angled = _dots_and_letters(("90", "45"))
    # At 90° the port stands straight above where the axes cross, at 45° it leans outwards.
    assert angled["A"][1] < angled["B"][1] < straight["B"][1]
    assert angled["A"][0] == pytest.approx(10 + 16)
    assert angled["B"][0] > 190 - 16
