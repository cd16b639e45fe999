"""Pages two and three of the job sheet: what the plan rests on, and the slip for a hose shop."""

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PIL import Image, ImageOps, UnidentifiedImageError
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader

from photomeasure.answers.wire import budget_json
from photomeasure.answers.words import band
from photomeasure.job.bench_page import MARGIN_MM, page_foot
from photomeasure.job.drawings import Box
from photomeasure.job.ink import ALARM, FAINT, GREY, INK, PALE, Pen, Style
from photomeasure.job.model import Job
from photomeasure.job.plan import CutPlan
from photomeasure.quantities import COVERAGE_95
from photomeasure.sizing.assembly import CONDEMNED
from photomeasure.sizing.checks import Check
from photomeasure.sizing.entries import ThreadAnswer

__all__ = ["draw_evidence_page", "draw_order_page"]

_PICTURE_PX = 1100  # the longer side on paper: 200 dpi over 140 mm
_JPEG_QUALITY = 80
_MOST_PICTURES = 3
_TITLE = Style(10, bold=True)


def draw_evidence_page(pen: Pen, job: Job, plan: CutPlan) -> None:
    """Draw page two: pictures, candidates, budget, checks.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan
    """
    width = pen.width_mm - 2 * MARGIN_MM
    pen.text(MARGIN_MM, MARGIN_MM + 4, "What the plan rests on", Style(13, bold=True))
    y = _pictures(pen, job, MARGIN_MM + 7)
    half = (width - 6) / 2
    left = _candidates(pen, job, (MARGIN_MM, y), half)
    right = _budget(pen, plan, (MARGIN_MM + half + 6, y), half)
    y = max(left, right) + 3
    pen.text(MARGIN_MM, y + 3.5, "Checks", _TITLE)
    _checks(pen, plan.checks, Box(MARGIN_MM, y + 6, width, pen.height_mm - MARGIN_MM - y - 12))
    page_foot(pen, "2: the evidence.")


def _pictures(pen: Pen, job: Job, y: float) -> float:
    shown = _picture_files(job)[:_MOST_PICTURES]
    if not shown:
        pen.text(MARGIN_MM, y + 3, "No pictures in this job.", Style(8, colour=GREY))
        return y + 7
    gap = 4.0
    width = (pen.width_mm - 2 * MARGIN_MM - gap * (_MOST_PICTURES - 1)) / _MOST_PICTURES
    for number, (path, words) in enumerate(shown):
        x = MARGIN_MM + number * (width + gap)
        _picture(pen, path, Box(x, y, width, width * 0.75))
        label = f"{words}, RENDERED" if job.entries.rendered else words
        pen.text(x, y + width * 0.75 + 3.4, label, Style(7, colour=GREY))
    return y + width * 0.75 + 7


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


def _candidates(pen: Pen, job: Job, at: tuple[float, float], width: float) -> float:
    x, y = at
    pen.text(x, y + 3.5, "Which thread", _TITLE)
    y += 6
    for letter, end in zip("AB", job.entries.ends, strict=False):
        if end.thread is None:
            said = end.thread_by or "nobody said how"
            words = f"End {letter}: {end.designation or 'not known'}, entered ({said})."
            y = pen.wrapped((x, y), width, words, Style(7.5)) + 1
            continue
        y = pen.wrapped((x, y), width, f"End {letter}: {end.thread.verdict}", Style(7.5, bold=True))
        words = _read(end.thread)
        if words:
            y = pen.wrapped((x, y), width, words, Style(7.5))
        for candidate in end.thread.candidates[:4]:
            words = f"{candidate.probability:.3f}  {candidate.designation}"
            y = _bar(pen, (x, y), width, (candidate.probability, words))
        if end.thread.settle_by:
            words = f"Settle by: {end.thread.settle_by}"
            y = pen.wrapped((x, y), width, words, Style(7.5, colour=ALARM))
        y += 1
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


def _bar(pen: Pen, at: tuple[float, float], width: float, told: tuple[float, str]) -> float:
    share, words = told
    length = width * 0.42
    pen.box((at[0], at[1] + 0.5), (length, 2.6), PALE, None)
    pen.box((at[0], at[1] + 0.5), (max(0.2, length * share), 2.6), GREY, None)
    pen.text(at[0] + length + 2, at[1] + 2.9, words, Style(7.5))
    return at[1] + 3.8


def _budget(pen: Pen, plan: CutPlan, at: tuple[float, float], width: float) -> float:
    x, y = at
    pen.text(x, y + 3.5, "Where the cut's uncertainty comes from", _TITLE)
    y += 6
    lines: Sequence[Any] = budget_json(plan.lengths.cut_length)
    if not lines:
        return pen.wrapped((x, y), width, "No cut yet.", Style(7.5))
    for line in lines[:7]:
        y = _bar(pen, (x, y), width, (line["share"], f"{line['share']:.0%}  {line['source']}"))
    rest = sum(line["share"] for line in lines[7:])
    if rest > 0:
        y = _bar(pen, (x, y), width, (rest, f"{rest:.0%}  all others"))
    first = lines[0]["source"]
    return pen.wrapped(
        (x, y + 0.5), width, f"To do better, measure this again: {first}.", Style(7.5, bold=True)
    )


def _checks(pen: Pen, checks: tuple[Check, ...], box: Box) -> None:
    """Write every check with its reason, open ones first, in two columns."""
    ranked = sorted(checks, key=lambda check: check.ok is True)
    column = (box.width - 6) / 2
    size = 7.5
    while size > 5 and _columns(pen, ranked, column, size)[1] > box.height:
        size -= 0.1
    first, _ = _columns(pen, ranked, column, size)
    for number, group in enumerate((ranked[:first], ranked[first:])):
        y = box.y
        for check in group:
            y = _check(pen, check, (box.x + number * (column + 6), y), (column, size))


def _columns(pen: Pen, checks: list[Check], column: float, size: float) -> tuple[int, float]:
    heights = [_check_height(pen, check, column, size) for check in checks]
    ways = [(max(sum(heights[:n]), sum(heights[n:])), n) for n in range(1, len(checks))]
    height, best = min(ways)
    return best, height


def _check_height(pen: Pen, check: Check, column: float, size: float) -> float:
    style = Style(size)
    name = pen.height_of(check.name, column - 5, style)
    return name + pen.height_of(check.detail, column - 5, style) + 1.0


def _check(pen: Pen, check: Check, at: tuple[float, float], told: tuple[float, float]) -> float:
    (x, y), (column, size) = at, told
    pen.mark((x + 0.3, y + 0.3), 2.6, check.ok)
    colour = INK if check.ok else ALARM
    y = pen.wrapped((x + 5, y), column - 5, check.name, Style(size, bold=True, colour=colour))
    return pen.wrapped((x + 5, y), column - 5, check.detail, Style(size)) + 1.0


def draw_order_page(pen: Pen, job: Job, plan: CutPlan) -> None:
    """Draw page three: order slip, parts, the cut's terms, warnings.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan
    """
    for words in plan.marks[:1]:
        pen.stamp(words)
    width = pen.width_mm - 2 * MARGIN_MM
    pen.text(MARGIN_MM, MARGIN_MM + 4, "Order slip for the hose shop", Style(13, bold=True))
    y = _rows(pen, plan.order_slip, (MARGIN_MM, MARGIN_MM + 8), width)
    y = _part_rows(pen, plan, (MARGIN_MM, y + 3), width)
    y = pen.wrapped((MARGIN_MM, y + 1), width, plan.costs.words, Style(8, bold=True))
    y = _ends(pen, plan, (MARGIN_MM, y), width)
    terms = [(term.label, _term(key, plan)) for key, term in plan.lengths.terms]
    pen.text(MARGIN_MM, y + 6, "Terms of the cut", _TITLE)
    terms += [(way.name, way.words) for way in plan.ways]
    y = _rows(pen, tuple(terms), (MARGIN_MM, y + 8), width)
    notes = [*plan.warnings, *plan.no_adapter, CONDEMNED]
    if job.entries.invented:
        notes.insert(0, job.entries.invented)
    pen.text(MARGIN_MM, y + 6, "Mind", _TITLE)
    y += 8
    for words in notes:
        y = pen.wrapped((MARGIN_MM, y), width, words, Style(7.5)) + 0.8
    page_foot(pen, "3: order slip, parts and terms.")


def _ends(pen: Pen, plan: CutPlan, at: tuple[float, float], width: float) -> float:
    """List the best pairs of ends, each with its score; nothing where none was looked for."""
    x, y = at
    if not plan.ends.plans:
        return y
    pen.text(x, y + 6, "Ends that fit (score in millimetres of hose: lower is better)", _TITLE)
    y += 8
    for ends in plan.ends.plans[:4]:
        y = pen.wrapped((x, y), width, ends.words, Style(7.5)) + 0.6
    return y


def _term(key: str, plan: CutPlan) -> str:
    quantity = dict(plan.lengths.terms)[key].quantity()
    return f"{quantity.value:g} {quantity.unit}, exactly" if not quantity.u else band(quantity)


def _rows(
    pen: Pen, rows: Sequence[tuple[str, str]], at: tuple[float, float], width: float
) -> float:
    x, y = at
    for label, words in rows:
        pen.wrapped((x, y), 52, label, Style(7.5, colour=GREY))
        bold = Style(8, bold=True, colour=ALARM if "NOT KNOWN" in words else INK)
        y = pen.wrapped((x + 54, y), width - 54, words, bold) + 0.7
        pen.line((x, y - 0.3), (x + width, y - 0.3), FAINT, 0.3)
    return y


def _part_rows(pen: Pen, plan: CutPlan, at: tuple[float, float], width: float) -> float:
    x, y = at
    pen.text(x, y + 3.5, "Parts", _TITLE)
    y += 6
    if not plan.parts:
        words = "No parts list while a seat is unseen, a thread ambiguous or no chain is known."
        return pen.wrapped((x, y), width, words, Style(8, colour=ALARM))
    for part in plan.parts:
        pen.box((x + 0.5, y + 0.4), (2.6, 2.6), None, INK)
        price = "" if part.price is None else f"{part.price:.2f}"
        pen.text(x + width, y + 2.6, price, Style(8, align="right"))
        shelf = " (on the shelf)" if part.on_shelf else ""
        note = f"; {part.note}" if part.note else ""
        words = f"{part.quantity} × {part.name}{shelf}{note}, for {part.where}. {part.standard}"
        y = pen.wrapped((x + 5, y), width - 25, words, Style(8)) + 0.6
    return y
