"""Page two of the job sheet: what the plan rests on, the order slip, parts and terms."""

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PIL import Image, ImageOps, UnidentifiedImageError
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from photomeasure.answers.wire import budget_json
from photomeasure.job.bench_page import MARGIN_MM, page_foot
from photomeasure.job.drawings import Box
from photomeasure.job.ink import ALARM, FAINT, GREY, INK, PALE, Pen, Style
from photomeasure.job.model import Job
from photomeasure.job.plan import CutPlan
from photomeasure.job.slip import draw_notes, draw_order, draw_terms
from photomeasure.quantities import COVERAGE_95
from photomeasure.sizing.checks import Check
from photomeasure.sizing.entries import ThreadAnswer

__all__ = ["draw_evidence_page", "draw_order_page", "evidence_size"]

_PICTURE_PX = 1100  # the longer side on paper: 200 dpi over 140 mm
_JPEG_QUALITY = 80
_MOST_PICTURES = 3
_PICTURE_SHAPE = 0.62  # height over width
_MOST_CANDIDATES, _MOST_SOURCES = 3, 6
_LARGEST, _SMALLEST = 7.6, 5.6  # points: below that nobody reads it in a workshop
_TITLE_MORE = 2.0
_COLUMNS = 3  # of checks


def evidence_size(pen: Pen, job: Job, plan: CutPlan) -> float | None:
    """Give the largest print with which all of the evidence and the order slip fit one page.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan

    Returns
    -------
    float [pt] or None
        None if it would be too small to read: then the slip takes a page of its own.
    """
    trial = Pen(Canvas(io.BytesIO()), (pen.width_mm, pen.height_mm), pen.units, pen.mark_mm)
    room = pen.height_mm - MARGIN_MM - 1
    size = _LARGEST
    while size >= _SMALLEST:
        if _all(trial, job, plan, size, is_trial=True) <= room:
            return size
        size -= 0.2
    return None


def draw_evidence_page(pen: Pen, job: Job, plan: CutPlan, size: float | None) -> None:
    """Draw page two: pictures, candidates, budget, checks, and all else if it fits.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan
    size : float or None [pt]
        From `evidence_size`; None leaves order slip, parts, terms and notes to a third page.
    """
    if size is not None:
        _all(pen, job, plan, size)
        page_foot(pen, "2: the evidence, order slip, parts and terms.")
        return
    y = _evidence(pen, job, plan, 7.0)
    _checks(pen, plan.checks, Box(MARGIN_MM, y, pen.width_mm - 2 * MARGIN_MM, 0), 7.0)
    page_foot(pen, "2: the evidence.")


def draw_order_page(pen: Pen, job: Job, plan: CutPlan) -> None:
    """Draw page three, where page two had no room: order slip, parts, terms, notes.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan
    """
    for words in plan.marks[:1]:
        pen.stamp(words)
    y = _slip(pen, plan, MARGIN_MM, 7.6)
    draw_notes(pen, job, plan, Box(MARGIN_MM, y + 1.5, pen.width_mm - 2 * MARGIN_MM, 0), 7.6)
    page_foot(pen, "3: order slip, parts and terms.")


def _all(pen: Pen, job: Job, plan: CutPlan, size: float, *, is_trial: bool = False) -> float:
    """Draw everything of page two; give the y below it."""
    width = pen.width_mm - 2 * MARGIN_MM
    y = _evidence(pen, job, plan, size, is_trial=is_trial)
    y = _checks(pen, plan.checks, Box(MARGIN_MM, y, width, 0), size) + 1.5
    y = _slip(pen, plan, y, size) + 1.5
    return draw_notes(pen, job, plan, Box(MARGIN_MM, y, width, 0), size)


def _slip(pen: Pen, plan: CutPlan, y: float, size: float) -> float:
    width = pen.width_mm - 2 * MARGIN_MM
    left = 0.54 * width
    first = draw_order(pen, plan, Box(MARGIN_MM, y, left, 0), size)
    right = Box(MARGIN_MM + left + 5, y, width - left - 5, 0)
    return max(first, draw_terms(pen, plan, right, size))


def _evidence(pen: Pen, job: Job, plan: CutPlan, size: float, *, is_trial: bool = False) -> float:
    width = pen.width_mm - 2 * MARGIN_MM
    pen.text(MARGIN_MM, MARGIN_MM + 2, "What the plan rests on", Style(12, bold=True))
    y = _pictures(pen, job, MARGIN_MM + 4, is_trial=is_trial)
    half = (width - 6) / 2
    left = _candidates(pen, job, Box(MARGIN_MM, y, half, 0), size)
    right = _budget(pen, plan, Box(MARGIN_MM + half + 6, y, half, 0), size)
    return max(left, right) + 1.5


def _pictures(pen: Pen, job: Job, y: float, *, is_trial: bool = False) -> float:
    shown = _picture_files(job)[:_MOST_PICTURES]
    if not shown:
        pen.text(MARGIN_MM, y + 3, "No pictures in this job.", Style(8, colour=GREY))
        return y + 7
    gap = 4.0
    width = (pen.width_mm - 2 * MARGIN_MM - gap * (_MOST_PICTURES - 1)) / _MOST_PICTURES
    for number, (path, words) in enumerate(shown):
        x = MARGIN_MM + number * (width + gap)
        if not is_trial:
            _picture(pen, path, Box(x, y, width, width * _PICTURE_SHAPE))
        label = f"{words}, RENDERED" if job.entries.rendered else words
        pen.text(x, y + width * _PICTURE_SHAPE + 3.2, label, Style(7, colour=GREY))
    return y + width * _PICTURE_SHAPE + 5


def _picture_files(job: Job) -> list[tuple[Path | None, str]]:
    """Give the annotated pictures, or the photos where there are none."""
    found = []
    for answer in job.entries.answers:
        if answer.picture is not None:
            where = "" if answer.end is None else f", end {'AB'[answer.end]}"
            found.append((job.path(answer.picture), f"{answer.kind}{where}"))
    if found:
        return found
    return [(job.path(photo.file), f"photo {photo.taken_as}") for photo in job.entries.photos]


def _picture(pen: Pen, path: Path | None, box: Box) -> None:
    pen.box((box.x, box.y), (box.width, box.height), PALE, FAINT)
    try:
        if path is None:
            raise FileNotFoundError
        with Image.open(path) as image:
            small = ImageOps.exif_transpose(image).convert("RGB")
    except (OSError, UnidentifiedImageError, ValueError):
        style = Style(7.5, colour=ALARM, align="centre")
        pen.text(box.x + box.width / 2, box.y + box.height / 2, "cannot be shown", style)
        return
    small.thumbnail((_PICTURE_PX, _PICTURE_PX))
    held = io.BytesIO()
    small.save(held, "JPEG", quality=_JPEG_QUALITY)
    held.seek(0)
    x, y = box.x * mm, (pen.height_mm - box.y - box.height) * mm
    size = {"width": box.width * mm, "height": box.height * mm}
    pen.canvas.drawImage(ImageReader(held), x, y, preserveAspectRatio=True, anchor="c", **size)


def _title(pen: Pen, words: str, box: Box, size: float) -> float:
    style = Style(size + _TITLE_MORE, bold=True)
    return pen.wrapped((box.x, box.y), box.width, words, style) + 0.6


def _candidates(pen: Pen, job: Job, box: Box, size: float) -> float:
    y = _title(pen, "Which thread", box, size)
    plain, bold = Style(size), Style(size, bold=True)
    for letter, end in zip("AB", job.entries.ends, strict=False):
        if end.thread is None:
            words = f"End {letter}: not known yet."
            if end.designation is not None:
                by = end.thread_by or "nobody said how"
                words = f"End {letter}: {end.designation}, entered ({by})."
            y = pen.wrapped((box.x, y), box.width, words, plain) + 0.6
            continue
        words = f"End {letter}: {end.thread.verdict}. {_read(end.thread)}"
        y = pen.wrapped((box.x, y), box.width, words, bold)
        for candidate in end.thread.candidates[:_MOST_CANDIDATES]:
            words = f"{candidate.probability:.3f}  {candidate.designation}"
            y = _bar(pen, Box(box.x, y, box.width, 0), (candidate.probability, words), size)
        if end.thread.settle_by:
            words = f"Settle by: {end.thread.settle_by}"
            y = pen.wrapped((box.x, y), box.width, words, Style(size, colour=ALARM))
        y += 0.6
    return y


def _read(answer: ThreadAnswer) -> str:
    """Say what was measured of a thread."""
    named = (
        ("over the crests", answer.major_diameter),
        ("bore", answer.bore_diameter),
        ("pitch", answer.pitch),
    )
    return ", ".join(
        f"{name} {reading.value:.3f} ± {COVERAGE_95 * reading.u:.3f} {reading.unit}"
        for name, reading in named
        if reading is not None
    )


def _bar(pen: Pen, box: Box, told: tuple[float, str], size: float) -> float:
    share, words = told
    length, high = box.width * 0.36, Style(size).leading_mm
    pen.box((box.x, box.y + 0.4), (length, high - 0.8), PALE, None)
    pen.box((box.x, box.y + 0.4), (max(0.2, length * share), high - 0.8), GREY, None)
    pen.text(box.x + length + 2, box.y + 0.8 * high, words, Style(size))
    return box.y + high


def _budget(pen: Pen, plan: CutPlan, box: Box, size: float) -> float:
    y = _title(pen, "Where the cut's uncertainty comes from", box, size)
    lines: Sequence[Any] = budget_json(plan.lengths.cut_length)
    if not lines:
        return pen.wrapped((box.x, y), box.width, "No cut yet.", Style(size))
    shown = [(line["share"], str(line["source"])) for line in lines[:_MOST_SOURCES]]
    rest = sum(line["share"] for line in lines[_MOST_SOURCES:])
    if rest > 0:
        shown.append((rest, "all others"))
    for share, source in shown:
        y = _bar(pen, Box(box.x, y, box.width, 0), (share, f"{share:.0%}  {source}"), size)
    words = f"To do better, measure this again: {shown[0][1]}."
    return pen.wrapped((box.x, y + 0.5), box.width, words, Style(size, bold=True))


def _checks(pen: Pen, checks: tuple[Check, ...], box: Box, size: float) -> float:
    """Write every check with its reason, open ones first, in columns of like height."""
    ranked = sorted(checks, key=lambda check: check.ok is True)
    top = _title(pen, "Checks", box, size)
    column = (box.width - 4 * (_COLUMNS - 1)) / _COLUMNS
    heights = [_check_height(pen, check, column, size) for check in ranked]
    share, y, number, lowest = sum(heights) / _COLUMNS, top, 0, top
    for check, height in zip(ranked, heights, strict=True):
        if y - top + height / 2 > share and number < _COLUMNS - 1:
            number, y = number + 1, top
        _check(pen, check, (box.x + number * (column + 4), y), (column, size))
        y += height
        lowest = max(lowest, y)
    return lowest


def _check_height(pen: Pen, check: Check, column: float, size: float) -> float:
    name = pen.height_of(check.name, column - 4, Style(size, bold=True))
    return name + pen.height_of(check.detail, column - 4, Style(size)) + 0.7


def _check(pen: Pen, check: Check, at: tuple[float, float], told: tuple[float, float]) -> float:
    (x, y), (column, size) = at, told
    pen.mark((x + 0.2, y + 0.3), 2.2, check.ok)
    colour = INK if check.ok else ALARM
    y = pen.wrapped((x + 4, y), column - 4, check.name, Style(size, bold=True, colour=colour))
    return pen.wrapped((x + 4, y), column - 4, check.detail, Style(size))
