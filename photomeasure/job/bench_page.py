"""Page one of the job sheet: what is needed at the bench, in the order in which it is needed."""

from photomeasure.answers.words import band
from photomeasure.job.drawings import Box, HoseFigures, draw_clock, draw_hose, draw_route
from photomeasure.job.ink import ALARM, FAINT, FINE, GREY, INK, PALE, WHITE, Pen, Style
from photomeasure.job.model import Job
from photomeasure.job.plan import CutPlan
from photomeasure.job.units import shown_mm, sixteenths
from photomeasure.quantities import Quantity
from photomeasure.sizing.assembly import CAUTIONS, Step, clock_deg, saw_mark_mm
from photomeasure.sizing.hose_class import from_standard
from photomeasure.sizing.ports import designation_of

__all__ = ["MARGIN_MM", "draw_bench_page", "page_foot"]

MARGIN_MM = 12.0
_TITLES = {
    "before": "Before anything is opened",
    "weld": "Weld the end to the tube",
    "cut": "Cut",
    "assemble": "Make up the ends",
    "prove": "Prove it, off the machine",
    "fit": "Fit",
    "test": "Test",
}
_TICK_MM = 3.0
_ROUTE_SHARE, _ROUTE_WIDTH = 0.16, 0.40  # of the page's height and of the width between margins


def draw_bench_page(pen: Pen, job: Job, plan: CutPlan, *, is_long: bool = False) -> None:
    """Draw page one.

    Parameters
    ----------
    pen : Pen
    job : Job
    plan : CutPlan
    is_long : bool
        The order slip has a page of its own.
    """
    for words in plan.marks[:1]:
        pen.stamp(words)
    width = pen.width_mm - 2 * MARGIN_MM
    y = _head(pen, job, MARGIN_MM)
    y = _state(pen, plan, y)
    y = _figures(pen, job, plan, y)
    draw_hose(pen, Box(MARGIN_MM, y, width, 34), _hose_figures(pen, job, plan))
    y = _ends(pen, job, plan, y + 33)
    y = _route_and_cautions(pen, job, Box(MARGIN_MM, y, width, _ROUTE_SHARE * pen.height_mm)) + 2.5
    signed_y = pen.height_mm - MARGIN_MM - 8.5
    _steps(pen, plan.steps, Box(MARGIN_MM, y, width, signed_y - 2 - y))
    _signatures(pen, signed_y)
    slip = ". Page 3: the order slip." if is_long else " and the order slip."
    page_foot(pen, f"1: for the bench. Page 2: the evidence{slip}")


def _route_and_cautions(pen: Pen, job: Job, box: Box) -> float:
    """Draw both side by side, or the cautions alone, lower, where there is no route to draw."""
    route = job.entries.route
    od = from_standard(job.entries.hose).hose.outside_diameter_mm
    if route is None or not route.points:
        height = _ticked_height(pen, CAUTIONS, box.width - 8, 8.0) + 6.5
        _cautions(pen, Box(box.x, box.y, box.width, height), 8.0)
        return box.y + height
    left = box.width * _ROUTE_WIDTH
    draw_route(pen, Box(box.x, box.y, left, box.height), route, od)
    _cautions(pen, Box(box.x + left + 3, box.y, box.width - left - 3, box.height), 7.5)
    return box.y + box.height


def page_foot(pen: Pen, words: str) -> None:
    """Write what page this is, at the bottom.

    Parameters
    ----------
    pen : Pen
    words : str
    """
    y = pen.height_mm - MARGIN_MM + 3
    pen.text(MARGIN_MM, y, f"Page {words}", Style(6.5, colour=GREY))
    right = Style(6.5, colour=GREY, align="right")
    unit = "millimetres" if pen.units == "mm" else "inches"
    note = f"photomeasure: lengths in {unit} unless another unit is written"
    pen.text(pen.width_mm - MARGIN_MM, y, note, right)


def _labels(job: Job) -> str:
    words = []
    if job.entries.rendered:
        words.append("RENDERED PICTURES")
    if job.entries.invented:
        words.append("INVENTED ENTRIES")
    return " · ".join(words)


def _head(pen: Pen, job: Job, y: float) -> float:
    name = job.name or "Hose job"
    room, size = pen.width_mm - 97, 15.0
    while size > 8 and len(pen.lines(name, room, Style(size, bold=True))) > 1:
        size -= 0.5
    title = pen.lines(name, room, Style(size, bold=True))
    words = title[0] if len(title) == 1 else f"{title[0]} …"
    pen.text(MARGIN_MM, y + 5, words, Style(size, bold=True))
    right = pen.width_mm - MARGIN_MM
    pen.text(right, y + 2.4, _labels(job), Style(7.5, bold=True, colour=ALARM, align="right"))
    pen.text(right, y + 6, "Built by ______________  on ____________", Style(7.5, align="right"))
    return y + 8


def _state(pen: Pen, plan: CutPlan, y: float) -> float:
    """Say in words whether the hose may be built, above every length."""
    width = pen.width_mm - 2 * MARGIN_MM
    is_open = plan.open_count > 0
    colour = ALARM if is_open else FINE
    names = "; ".join(check.name for check in plan.checks if check.ok is not True)
    words = f"Open: {names}." if is_open else "Every check is on page 2."
    style = Style(8)
    shown = pen.lines(words, width - 6, style)
    if len(shown) > 2:
        shown = [shown[0], f"{shown[1][:95]} … all on page 2."]
    height = 8.2 + len(shown) * style.leading_mm
    pen.box((MARGIN_MM, y), (width, height), WHITE, colour, 1.6)
    stamps = f"   {' · '.join(plan.marks)}" if plan.marks else ""
    pen.text(MARGIN_MM + 3, y + 5.8, plan.headline + stamps, Style(14, bold=True, colour=colour))
    for number, line in enumerate(shown):
        pen.text(MARGIN_MM + 3, y + 9.6 + number * style.leading_mm, line, style)
    return y + height + 1.5


def _figures(pen: Pen, job: Job, plan: CutPlan, y: float) -> float:
    mark, lengths = saw_mark_mm(plan.lengths), plan.lengths
    pen.text(MARGIN_MM, y + 5, "CUT THE HOSE AT", Style(9, bold=True))
    if mark is None:
        need = f"Missing: {'; '.join(lengths.missing)}."
        pen.text(MARGIN_MM, y + 13, "no cut yet", Style(22, bold=True, colour=ALARM))
        pen.wrapped((MARGIN_MM + 52, y + 3), pen.width_mm - 2 * MARGIN_MM - 52, need, Style(8))
        return y + 17
    in_mm, in_inch = f"{mark}\N{NO-BREAK SPACE}mm", sixteenths(mark)
    big, small = (in_mm, in_inch) if pen.units == "mm" else (in_inch, in_mm)
    hue = GREY if plan.open_count else INK
    pen.text(MARGIN_MM, y + 16, big, Style(30 if len(big) < 10 else 25, bold=True, colour=hue))
    pen.text(MARGIN_MM + 60, y + 16, f"= {small}", Style(13, bold=True))
    rows = (
        ("best estimate", band(lengths.cut_length)),
        ("finished length", band(_finished(pen, plan))),
        ("longest that still fits", _longest(plan)),
        ("clocking", "none needed" if plan.clocking is None else "see the clock face"),
    )
    x = MARGIN_MM + 100
    for number, (label, words) in enumerate(rows):
        pen.text(x, y + 4 + number * 3.9, label, Style(7.5, colour=GREY))
        pen.text(x + 32, y + 4 + number * 3.9, words, Style(8.5, bold=True))
    if plan.clocking is not None:
        _clocking(pen, plan.clocking, job, y)
    pen.text(MARGIN_MM + 60, y + 5, "too short once in 40 hoses", Style(7.5, colour=GREY))
    if plan.open_count:
        style = Style(7.5, bold=True, colour=ALARM)
        pen.text(MARGIN_MM + 60, y + 9, "DO NOT CUT YET", style)
    return y + 18.5


def _clocking(pen: Pen, words: str, job: Job, y: float) -> None:
    """Draw the clock face, and write what it says below the figures."""
    route = job.entries.route
    pen.text(MARGIN_MM + 96, y + 19.6, words, Style(6.5, colour=GREY))
    if route is not None and route.clocking is not None:
        at = (pen.width_mm - MARGIN_MM - 6, y + 7)
        draw_clock(pen, at, clock_deg(route.clocking.value))


def _longest(plan: CutPlan) -> str:
    longest = plan.lengths.longest_usable
    return "not known" if longest is None else f"cut up to {longest.low:.0f} mm"


def _finished(pen: Pen, plan: CutPlan) -> Quantity | None:
    """Give the assembly's length when its hose is cut at the mark as it is written here."""
    mark, overall, at = saw_mark_mm(plan.lengths), plan.lengths.assembly_length, plan.lengths.cut_at
    if mark is None or overall is None or at is None:
        return None
    more = shown_mm(mark, pen.units) - at.value
    number, low, high = overall.number + more, overall.low + more, overall.high + more
    return Quantity(number, overall.unit, low, high)


def _hose_figures(pen: Pen, job: Job, plan: CutPlan) -> HoseFigures:
    mark, overall = saw_mark_mm(plan.lengths), _finished(pen, plan)
    offs = [_cut_off(end.cut_off.value if end.cut_off else None) for end in job.entries.ends]
    chains = plan.connection.chains if plan.connection else ()
    counts = [*(len(chain.adapters) for chain in chains), 1, 1][:2]
    first, second = (*offs, None, None)[:2]
    styles = [*(end.end for end in job.entries.ends), "straight", "straight"]
    return HoseFigures(
        mark=None if mark is None else f"{mark} mm",
        overall=None if overall is None else f"{overall.value:.1f} mm datum to datum",
        cut_offs=(first, second),
        adapters=(counts[0], counts[1]),
        styles=(styles[0], styles[1]),
    )


def _cut_off(value: float | None) -> str | None:
    return None if value is None else f"{value:.1f} mm"


def _ends(pen: Pen, job: Job, plan: CutPlan, y: float) -> float:
    """Draw both ends' thread, seat, adapters and datum, side by side."""
    width = (pen.width_mm - 2 * MARGIN_MM - 3) / 2
    bottoms = []
    for index, letter in enumerate("AB"):
        x = MARGIN_MM + index * (width + 3)
        bottoms.append(_end(pen, (x, y), width, _end_rows(job, plan, index, letter)))
    for index in range(2):
        x = MARGIN_MM + index * (width + 3)
        pen.box((x, y), (width, max(bottoms) - y), None, FAINT)
    return max(bottoms) + 2.5


def _end_rows(job: Job, plan: CutPlan, index: int, letter: str) -> tuple[str, str, str]:
    """Give title, big words and small words of one end."""
    ends = job.entries.ends
    if index >= len(ends):
        return f"End {letter}", "not entered", ""
    end = ends[index]
    big = f"{designation_of(end) or 'thread not settled'}, {end.seat or 'seat not looked at'}"
    words = []
    if plan.connection is not None:
        chain = plan.connection.chains[index]
        names = " + ".join(part.name for part in chain.adapters) or "no adapter"
        height = chain.height_mm
        high = f", {height:g} mm high" if height else ""
        words.append(f"{names}{high}; hose end -{chain.hose_end.dash} {chain.hose_end.face}.")
    else:
        words.append("Adapters not settled.")
    words.append(f"Route measured from: {end.datum or 'NOT SAID'}.")
    return f"End {letter}: {end.name or 'no name'}", big, " ".join(words)


def _end(pen: Pen, at: tuple[float, float], width: float, rows: tuple[str, str, str]) -> float:
    x, y = at
    y = pen.wrapped((x + 2, y + 1.5), width - 4, rows[0], Style(7.5, colour=GREY))
    y = pen.wrapped((x + 2, y), width - 4, rows[1], Style(12, bold=True))
    return pen.wrapped((x + 2, y), width - 4, rows[2], Style(7.5)) + 1.2


def _cautions(pen: Pen, box: Box, size: float) -> None:
    pen.box((box.x, box.y), (box.width, box.height), None, ALARM, 1.2)
    title = "Tick before the engine starts"
    pen.text(box.x + 2, box.y + 4, title, Style(8.5, bold=True, colour=ALARM))
    while size > 5 and _ticked_height(pen, CAUTIONS, box.width - 8, size) > box.height - 6:
        size -= 0.1
    y = box.y + 5.5
    for words in CAUTIONS:
        pen.box((box.x + 2, y + 0.3), (_TICK_MM * 0.85, _TICK_MM * 0.85), WHITE, INK, 0.7)
        y = pen.wrapped((box.x + 6.2, y), box.width - 8, words, Style(size)) + 0.5


def _ticked_height(pen: Pen, items: tuple[str, ...], width: float, size: float) -> float:
    return sum(pen.height_of(words, width, Style(size)) + 0.5 for words in items)


def _steps(pen: Pen, steps: tuple[Step, ...], box: Box) -> None:
    """Write the steps with boxes to tick, in two columns, as large as they fit."""
    column = (box.width - 4) / 2
    size = 9.0
    while size > 5 and max(_split(pen, steps, column, size)[1]) > box.height:
        size -= 0.1
    first, _ = _split(pen, steps, column, size)
    for number, group in enumerate((steps[:first], steps[first:])):
        _column(pen, group, Box(box.x + number * (column + 4), box.y, column, 0), size)


def _signatures(pen: Pen, y: float) -> None:
    """Leave room for who looked for leaks: the job is not done before that."""
    width = pen.width_mm - 2 * MARGIN_MM
    pen.box((MARGIN_MM, y), (width, 8), None, INK, 0.8)
    looks = ("No leak, first start", "No leak after first heat", "No leak after first drive")
    for number, words in enumerate(looks):
        x = MARGIN_MM + 2 + number * width / len(looks)
        pen.text(x, y + 3, words, Style(7, bold=True))
        pen.text(x, y + 6.6, "name, date ______________________", Style(7, colour=GREY))


def _heights(pen: Pen, steps: tuple[Step, ...], column: float, size: float) -> list[float]:
    """Height of each step, with its stage's title where a stage begins."""
    heights, stage = [], None
    for step in steps:
        title = 0.0 if step.stage == stage else 4.6
        heights.append(title + pen.height_of(step.text, column - 5, Style(size)) + 0.8)
        stage = step.stage
    return heights


def _split(
    pen: Pen, steps: tuple[Step, ...], column: float, size: float
) -> tuple[int, tuple[float, float]]:
    """Break the steps where the two columns come out most alike."""
    ways = []
    for first in range(1, len(steps)):
        left, right = (
            sum(_heights(pen, group, column, size)) for group in (steps[:first], steps[first:])
        )
        ways.append((max(left, right), first, (left, right)))
    _, best, heights = min(ways)
    return best, heights


def _column(pen: Pen, steps: tuple[Step, ...], box: Box, size: float) -> None:
    stage: str | None = None
    y = box.y
    for step in steps:
        if step.stage != stage:
            pen.box((box.x, y + 0.3), (box.width, 3.8), PALE, None)
            pen.text(box.x + 1, y + 3.2, _TITLES[step.stage], Style(8, bold=True))
            y += 4.6
            stage = step.stage
        pen.box((box.x + 0.5, y + 0.4), (_TICK_MM, _TICK_MM), WHITE, INK, 0.8)
        y = pen.wrapped((box.x + 5, y), box.width - 5, step.text, Style(size)) + 0.8
