"""Inches on the sheet, and no millimetre left behind."""

import io
import re

import pytest
from pypdf import PdfReader

from photomeasure.errors import UsageError
from photomeasure.job import Job, plan_cut
from photomeasure.job.sheet import job_sheet_pdf
from photomeasure.job.units import in_inches, sixteenths
from tests.job.test_plan import whole


@pytest.mark.parametrize(
    ("length_mm", "words"),
    [
        # By hand, rounded up: one can cut again, never add.
        (25.4, "1 in"),
        (25.5, "1 1/16 in"),
        (965, "38 in"),  # 37.992
        (959, "37 13/16 in"),  # 37.756 is 37 12.1/16
        (12.7, "0 1/2 in"),
    ],
)
def test_sixteenths_round_up(length_mm: float, words: str) -> None:
    assert sixteenths(length_mm) == words


@pytest.mark.parametrize(
    ("words", "inches"),
    [
        ("cut-off 30.0 mm", "cut-off 1.18 in"),
        ("960.0 ± 4.1 mm", "37.80 ± 0.16 in"),
        ("120 mm (116 to 124), at least 99 mm", "4.72 in (4.57 to 4.88), at least 3.90 in"),
        ("practice: 25 and 100 mm", "practice: 0.98 and 3.94 in"),
        ("12 mm²/s at 3 mm", "12 mm²/s at 0.12 in"),
        ("959\N{NO-BREAK SPACE}mm", "959\N{NO-BREAK SPACE}mm"),
        # By hand: 20 x 145.04; 100 x 1.8 + 32; 45 x 0.73756; 12 / 3.7854; 2.8 / 0.3048.
        ("M18x1.5, 20 MPa", "M18x1.5, 2901 psi"),
        ("Burst 132 MPa against 4 × 33 MPa", "Burst 19145 psi against 4 × 4786 psi"),
        ("90 °C here, 100 °C allowed", "194 °F here, 212 °F allowed"),
        ("24 to 28 N·m (oiled threads)", "17.7 to 20.7 lbf ft (oiled threads)"),
        ("12 L/min through 9.5 mm: 2.8 m/s", "3.17 gal/min through 0.37 in: 9.2 ft/s"),
        ("32 mm²/s", "32 mm²/s"),
    ],
)
def test_lengths_turn_into_inches(words: str, inches: str) -> None:
    assert in_inches(words) == inches


def test_the_mark_is_what_a_tape_shows() -> None:
    assert in_inches("Mark at 965 mm, not 1965 mm", 965) == "Mark at 38 in, not 77.36 in"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_millimetre_is_left_but_the_mark(paper: str) -> None:
    job = Job.from_document(whole())
    pdf = job_sheet_pdf(job, plan_cut(job), paper, "in")  # type: ignore[arg-type]
    pages = [page.extract_text().replace("\n", " ") for page in PdfReader(io.BytesIO(pdf)).pages]
    assert "38 in" in pages[0]
    left = [text for page in pages for text in re.findall(r"[\d.]+[ \u00a0]mm\b", page)]
    assert {text.replace("\u00a0", " ") for text in left} == {"965 mm"}


def test_another_unit_is_refused() -> None:
    job = Job.from_document(whole())
    with pytest.raises(UsageError):
        job_sheet_pdf(job, plan_cut(job), "A4", "ft")  # type: ignore[arg-type]


def test_units_change_no_figure() -> None:
    # The sheet in inches is drawn from the very same plan: the plan knows nothing of units.
    job = Job.from_document(whole())
    plan = plan_cut(job)
    before = plan.as_json()
    job_sheet_pdf(job, plan, "A4", "in")
    assert plan.as_json() == before
