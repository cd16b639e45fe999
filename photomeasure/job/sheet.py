"""The printable job sheet: one page for the bench, one with the evidence and the order slip."""

import io
from pathlib import Path
from typing import Literal, get_args

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from photomeasure.errors import UsageError
from photomeasure.job.bench_page import draw_bench_page
from photomeasure.job.evidence_page import draw_evidence_page, draw_order_page, evidence_size
from photomeasure.job.ink import Pen
from photomeasure.job.model import Job
from photomeasure.job.plan import CutPlan
from photomeasure.job.store import write_atomically
from photomeasure.job.units import Units
from photomeasure.sizing.assembly import saw_mark_mm

__all__ = ["SheetPaper", "job_sheet_pdf", "write_job_sheet"]

SheetPaper = Literal["A4", "Letter"]


def job_sheet_pdf(job: Job, plan: CutPlan, paper: SheetPaper = "A4", units: Units = "mm") -> bytes:
    """Draw the job sheet.

    Parameters
    ----------
    job : Job
    plan : CutPlan
    paper : {"A4", "Letter"}
    units : {"mm", "in"}

    Returns
    -------
    bytes
        The PDF.

    Raises
    ------
    UsageError
        For another paper or another unit.
    """
    if units not in get_args(Units):
        raise UsageError(f"'{units}' is no unit of the job sheet.", "Take mm or in.")
    if paper not in get_args(SheetPaper):
        raise UsageError(f"'{paper}' is no paper of the job sheet.", "Take A4 or Letter.")
    size = A4 if paper == "A4" else LETTER
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=size, invariant=1)
    canvas.setTitle(job.name or "Hose job")
    canvas.setCreator("photomeasure")
    canvas.setViewerPreference("PrintScaling", "None")
    pen = Pen(canvas, (size[0] / mm, size[1] / mm), units, saw_mark_mm(plan.lengths))
    _pages(pen, job, plan)
    canvas.save()
    return held.getvalue()


def _pages(pen: Pen, job: Job, plan: CutPlan) -> None:
    """Draw two pages; a third only where the second would be too small to read."""
    fits = evidence_size(pen, job, plan)
    draw_bench_page(pen, job, plan, is_long=fits is None)
    pen.canvas.showPage()
    draw_evidence_page(pen, job, plan, fits)
    pen.canvas.showPage()
    if fits is None:
        draw_order_page(pen, job, plan)
        pen.canvas.showPage()


def write_job_sheet(
    job: Job,
    plan: CutPlan,
    path: Path | str,
    paper: SheetPaper = "A4",
    *,
    units: Units = "mm",
) -> None:
    """Write the job sheet as a PDF, in one step.

    Parameters
    ----------
    job : Job
    plan : CutPlan
    path : pathlib.Path or str
    paper : {"A4", "Letter"}
    units : {"mm", "in"}

    Raises
    ------
    UsageError
        For another paper or another unit.
    BadJobError
        If the file cannot be written.
    """
    write_atomically(Path(path), job_sheet_pdf(job, plan, paper, units))
