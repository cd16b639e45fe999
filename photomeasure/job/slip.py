"""What a hose shop and the parts counter need: order slip, parts, the cut's terms, notes."""

from collections.abc import Sequence

from photomeasure.answers.words import band
from photomeasure.job.drawings import Box
from photomeasure.job.ink import ALARM, FAINT, GREY, INK, Pen, Style
from photomeasure.job.model import Job
from photomeasure.job.plan import CutPlan
from photomeasure.sizing.assembly import CONDEMNED

__all__ = ["draw_notes", "draw_order", "draw_terms"]

_LABEL_SHARE = 0.30  # of a row's width
_TERM_SHARE = 0.52
_MOST_ENDS = 3


def draw_order(pen: Pen, plan: CutPlan, box: Box, size: float) -> float:
    """Draw the order slip, and the parts below it; give the y below.

    Parameters
    ----------
    pen : Pen
    plan : CutPlan
    box : Box
        Its height is not used.
    size : float [pt]

    Returns
    -------
    float [mm]
    """
    y = _title(pen, "Order slip for the hose shop", box, size)
    y = _rows(pen, plan.order_slip, Box(box.x, y, box.width, 0), size, _LABEL_SHARE)
    y = _title(pen, "Parts", Box(box.x, y + 1, box.width, 0), size)
    y = _parts(pen, plan, Box(box.x, y, box.width, 0), size)
    bold = Style(size, bold=True)
    return pen.wrapped((box.x, y + 0.5), box.width, plan.costs.words, bold)


def draw_terms(pen: Pen, plan: CutPlan, box: Box, size: float) -> float:
    """Draw the terms of the cut, the two ways to it, and the ends that fit; give the y below.

    Parameters
    ----------
    pen : Pen
    plan : CutPlan
    box : Box
        Its height is not used.
    size : float [pt]

    Returns
    -------
    float [mm]
    """
    terms = [(term.label, _term(key, plan)) for key, term in plan.lengths.terms]
    terms += [(way.name, way.words) for way in plan.ways]
    y = _title(pen, "Terms of the cut", box, size)
    y = _rows(pen, terms, Box(box.x, y, box.width, 0), size, _TERM_SHARE)
    if not plan.ends.plans:
        return y
    words = "Ends that fit (score in mm of hose: lower is better)"
    y = _title(pen, words, Box(box.x, y + 1, box.width, 0), size)
    for ends in plan.ends.plans[:_MOST_ENDS]:
        y = pen.wrapped((box.x, y), box.width, ends.words, Style(size)) + 0.4
    return y


def draw_notes(pen: Pen, job: Job, plan: CutPlan, box: Box, size: float) -> float:
    """Draw what to mind; give the y below.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan
    box : Box
        Its height is not used.
    size : float [pt]

    Returns
    -------
    float [mm]
    """
    notes = [*plan.warnings, *plan.no_adapter, CONDEMNED]
    if job.entries.invented:
        notes.insert(0, job.entries.invented)
    y = _title(pen, "Mind", box, size)
    for words in notes:
        y = pen.wrapped((box.x, y), box.width, words, Style(size)) + 0.5
    return y


def _title(pen: Pen, words: str, box: Box, size: float) -> float:
    style = Style(size + 2, bold=True)
    return pen.wrapped((box.x, box.y), box.width, words, style) + 0.6


def _term(key: str, plan: CutPlan) -> str:
    quantity = dict(plan.lengths.terms)[key].quantity()
    return f"{quantity.value:g} {quantity.unit}, exactly" if not quantity.u else band(quantity)


def _rows(
    pen: Pen, rows: Sequence[tuple[str, str]], box: Box, size: float, label_share: float
) -> float:
    y, left = box.y, label_share * box.width
    for label, words in rows:
        below = pen.wrapped((box.x, y), left - 2, label, Style(size, colour=GREY))
        bold = Style(size, bold=True, colour=ALARM if "NOT KNOWN" in words else INK)
        y = max(below, pen.wrapped((box.x + left, y), box.width - left, words, bold)) + 0.4
        pen.line((box.x, y - 0.2), (box.x + box.width, y - 0.2), FAINT, 0.3)
    return y


def _parts(pen: Pen, plan: CutPlan, box: Box, size: float) -> float:
    y = box.y
    if not plan.parts:
        words = "No parts list while a seat is unseen, a thread ambiguous or no chain is known."
        return pen.wrapped((box.x, y), box.width, words, Style(size, colour=ALARM))
    for part in plan.parts:
        pen.box((box.x + 0.4, y + 0.3), (2.2, 2.2), None, INK)
        price = "" if part.price is None else f"{part.price:.2f}"
        pen.text(box.x + box.width, y + 2.2, price, Style(size, align="right"))
        shelf = " (on the shelf)" if part.on_shelf else ""
        note = f"; {part.note}" if part.note else ""
        words = f"{part.quantity} × {part.name}{shelf}{note}, for {part.where}. {part.standard}"
        y = pen.wrapped((box.x + 4, y), box.width - 14, words, Style(size)) + 0.4
    return y
