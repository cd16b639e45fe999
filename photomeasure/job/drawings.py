"""The two drawings of the job sheet: the hose with its cut, and the route to scale."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm

from photomeasure.job.ink import ALARM, FAINT, GREY, INK, PALE, WHITE, Pen, Style
from photomeasure.sizing.entries import Bend, RouteEntry

__all__ = ["Box", "HoseFigures", "draw_clock", "draw_hose", "draw_route"]

Points2 = NDArray[np.float64]  # (N, 2)
_SCALES = (1, 2, 2.5, 3, 4, 5, 6, 8, 10, 15, 20, 25, 30, 40, 50)
_FLAT_MM = 2.0  # a route that leaves its plane by less is drawn as it lies
_LABEL_MM = 5.0
_PORT_MM, _ADAPTER_MM, _ELBOW_MM = 9.0, 9.0, 16.0  # drawn, not to scale
_SMALL = Style(7)


@dataclass(frozen=True, slots=True)
class Box:
    """A place on the page, top left corner and size, in millimetres."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class HoseFigures:
    """What stands on the drawing of the hose; None is what is not known yet."""

    mark: str | None
    overall: str | None
    cut_offs: tuple[str | None, str | None]
    adapters: tuple[int, int]
    styles: tuple[str, str] = ("straight", "straight")


def draw_clock(pen: Pen, at: tuple[float, float], clock_deg: float) -> None:
    """Draw how the far end points when one looks along the hose from the near end.

    Parameters
    ----------
    pen : Pen
    at : tuple of float [mm]
        The face's middle.
    clock_deg : float [deg]
        Counter-clockwise from the near elbow, which points to 6 o'clock.
    """
    x, y = at
    radius = 5.5
    pen.ring(at, radius, GREY)
    pen.line((x, y), (x, y + radius), FAINT, 2.2)
    angle = math.radians(clock_deg)
    tip = (x + radius * math.sin(angle), y + radius * math.cos(angle))
    pen.line((x, y), tip, ALARM, 1.6)
    pen.dot(tip, 0.9, ALARM)
    pen.text(x, y + radius + 2.6, "near", Style(6, colour=GREY, align="centre"))


def draw_hose(pen: Pen, box: Box, figures: HoseFigures) -> None:
    """Draw hose, ends and adapters in a row (not to scale) with the mark for the saw.

    Parameters
    ----------
    pen : Pen
    box : Box
    figures : HoseFigures
    """
    middle = box.y + box.height * 0.50
    nut = 14.0
    ends = tuple(zip(figures.adapters, figures.styles, strict=True))
    left = box.x + _reach(*ends[0])
    right = box.x + box.width - _reach(*ends[1])
    pen.box((left + nut - 6, middle - 3), (right - left - 2 * nut + 12, 6), PALE, INK)
    for letter, seat, step, (count, style) in zip("AB", (left, right), (1, -1), ends, strict=True):
        if style == "straight":
            _straight_end(pen, letter, (seat, middle), step, count)
        else:
            _elbow(pen, letter, (seat, middle), step, (count, float(style)))
    _mark(pen, (left + nut - 6, right - nut + 6), middle, figures)
    _dimension(pen, (left, right), middle + 12, figures.overall or "length still open")
    rows = zip((left, right), (1, -1), figures.cut_offs, figures.styles, strict=True)
    for seat, step, cut_off, style in rows:
        words = "cut-off ?" if cut_off is None else f"cut-off {cut_off}"
        words = words if style == "straight" else f"{style}° end, {words}"
        align = Style(6.5, colour=GREY, align="left" if step > 0 else "right")
        pen.text(seat, middle + 8.4, words, align)


def _reach(count: int, style: str) -> float:
    """How far an end reaches outwards from where the hose's length is measured."""
    return _PORT_MM + _ADAPTER_MM * count if style == "straight" else _ELBOW_MM


def _straight_end(pen: Pen, letter: str, at: tuple[float, float], step: int, count: int) -> None:
    """Draw nut, socket, adapters and port in a row."""
    seat, middle = at
    _nut(pen, (seat, middle), step)
    _socket(pen, (seat, middle), step)
    edge = _adapters(pen, (seat, middle), step, count)
    block = min(edge, edge - step * _PORT_MM)
    pen.box((block, middle - 7), (_PORT_MM, 14), FAINT, INK)
    pen.text(block + _PORT_MM / 2, middle + 1.8, letter, Style(14, bold=True, align="centre"))


def _elbow(
    pen: Pen, letter: str, at: tuple[float, float], step: int, told: tuple[int, float]
) -> None:
    """Draw an angled end: socket in line; tube, nut, adapter and port turned away from the hose."""
    (x, y), (count, angle_deg) = at, told
    _socket(pen, at, step)
    pen.line((x + step * 6, y), (x, y), INK, 5.5)
    pen.canvas.saveState()
    px, py = x * mm, (pen.height_mm - y) * mm
    pen.canvas.translate(px, py)
    pen.canvas.rotate(step * (90 - angle_deg))
    pen.canvas.translate(-px, -py)
    pen.line((x, y + 0.9), (x, y - 3), INK, 5.5)
    pen.box((x - 4.2, y - 6), (8.4, 3.5), WHITE, INK)
    top = y - 6
    if count:
        pen.box((x - 2.6, top - 2.5), (5.2, 2.5), PALE, INK)
        top -= 2.5
    pen.box((x - 5.5, top - 5.5), (11, 5.5), FAINT, INK)
    pen.canvas.restoreState()
    away, lean = y - top + 2.75, math.radians(90 - angle_deg)
    centre = (x - step * away * math.sin(lean), y - away * math.cos(lean))
    pen.text(centre[0], centre[1] + 1.5, letter, Style(11, bold=True, align="centre"))


def _nut(pen: Pen, at: tuple[float, float], step: int) -> None:
    x, y = at
    pen.box((min(x, x + step * 6), y - 4.5), (6, 9), WHITE, INK)
    for offset in (1.5, 3.0, 4.5):
        pen.line((x + step * offset, y - 4.5), (x + step * offset, y + 4.5), FAINT, 0.4)


def _socket(pen: Pen, at: tuple[float, float], step: int) -> None:
    x, y = at
    start = x + step * 6
    pen.box((min(start, start + step * 8), y - 4), (8, 8), WHITE, INK)


def _adapters(pen: Pen, at: tuple[float, float], step: int, count: int) -> float:
    """Draw the adapters outwards from the seat; give the x of the port's face."""
    x, y = at
    for _ in range(count):
        outer = x - step * _ADAPTER_MM
        pen.box((min(x, outer), y - 3), (_ADAPTER_MM, 6), WHITE, INK)
        pen.box((min(x - step * 3, x - step * 6), y - 5), (3, 10), PALE, INK)
        x = outer
    return x


def _mark(pen: Pen, ends: tuple[float, float], middle: float, figures: HoseFigures) -> None:
    """Draw where the saw goes: the hose alone, end to end."""
    y = middle - 13
    for x in ends:
        pen.line((x, middle + 5), (x, y - 2), ALARM, 1.0)
    words = "no cut yet" if figures.mark is None else f"hose: {figures.mark}"
    _dimension(pen, ends, y, words, ALARM)


def _dimension(
    pen: Pen, ends: tuple[float, float], y: float, words: str, colour: object = INK
) -> None:
    """Draw a dimension line with its figure in a gap."""
    hue = ALARM if colour is ALARM else INK
    pen.line((ends[0], y), (ends[1], y), hue, 0.7)
    for x, step in ((ends[0], 1), (ends[1], -1)):
        pen.line((x, y), (x + step * 2.4, y - 0.9), hue, 0.7)
        pen.line((x, y), (x + step * 2.4, y + 0.9), hue, 0.7)
        pen.line((x, y - 1.8), (x, y + 1.8), hue, 0.7)
    style = Style(11, bold=True, colour=hue, align="centre")
    width = pen.width_of(words, style) + 4
    centre = (ends[0] + ends[1]) / 2
    pen.box((centre - width / 2, y - 2.4), (width, 4.8), WHITE, None)
    pen.text(centre, y + 1.4, words, style)


def draw_route(pen: Pen, box: Box, route: RouteEntry | None, hose_od_mm: float | None) -> None:
    """Draw the route to scale, with its bends' radius and angle.

    Parameters
    ----------
    pen : Pen
    box : Box
    route : RouteEntry or None
    hose_od_mm : float or None [mm]
        Drawn as the hose's width where it is known.
    """
    pen.box((box.x, box.y), (box.width, box.height), None, FAINT)
    if route is None or not route.points or len(route.points) < 2:
        words = "No drawing: the route was entered as a length." if route else "No route yet."
        pen.text(box.x + box.width / 2, box.y + box.height / 2, words, Style(8, align="centre"))
        return
    flat, is_flat = _in_its_plane(route.points)
    scale = _scale(flat, box)
    page = _on_page(flat, scale, box)
    points = [(float(x), float(y)) for x, y in page]
    pen.canvas.setLineCap(0)
    pen.polyline(points, FAINT, max(0.8, (hose_od_mm or 0.0) / scale))
    pen.polyline(points, INK, 0.35)
    for letter, at in (("A", points[0]), ("B", points[-1])):
        pen.dot(at, 2.6, INK)
        style = Style(9, bold=True, colour=WHITE, align="centre")
        pen.text(at[0], at[1] + 1.2, letter, style)
    for bend in route.bends or ():
        _label_bend(pen, box, (flat, page), bend)
    _scale_bar(pen, box, scale, is_flat=is_flat)


def _in_its_plane(points: Sequence[Sequence[float]]) -> tuple[Points2, bool]:
    """Lay the route in its main plane, its longer side across the page, never mirrored."""
    space = np.array([[*point, 0.0, 0.0][:3] for point in points], dtype=np.float64)
    space -= space.mean(axis=0)
    is_flat = bool(np.ptp(space[:, 2]) < _FLAT_MM)
    axes = np.linalg.svd(space[:, :2] if is_flat else space, full_matrices=False)[2]
    across = axes[0]
    if is_flat:
        up = np.array([-across[1], across[0]])
        return np.column_stack([space[:, :2] @ across, space[:, :2] @ up]), True
    return np.column_stack([space @ across, space @ axes[1]]), False


def _scale(flat: Points2, box: Box) -> float:
    """Choose the largest scale that fits, as a denominator."""
    width, height = np.ptp(flat, axis=0)
    need = max(width / (box.width - 16), height / (box.height - 26))
    return next((float(scale) for scale in _SCALES if scale >= need), float(math.ceil(need)))


def _on_page(flat: Points2, scale: float, box: Box) -> Points2:
    centre = (flat.max(axis=0) + flat.min(axis=0)) / 2
    off = (flat - centre) / scale
    middle = (box.x + box.width / 2, box.y + (box.height - 8) / 2)
    return np.column_stack([middle[0] + off[:, 0], middle[1] - off[:, 1]])


def _label_bend(pen: Pen, box: Box, lines: tuple[Points2, Points2], bend: Bend) -> None:
    """Write radius and angle on the outer side of a bend."""
    flat, page = lines
    steps = np.linalg.norm(np.diff(flat, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    index = int(np.clip(np.searchsorted(along, bend.at.value), 1, len(page) - 2))
    reach = max(1, min(index, len(page) - 1 - index, len(page) // 12))
    inward = (page[index - reach] + page[index + reach]) / 2 - page[index]
    size = float(np.linalg.norm(inward))
    outward = np.array([0.0, -1.0]) if size < 1e-6 else -inward / size
    at = page[index] + outward * _LABEL_MM
    radius = f"{bend.radius.value:.0f}"
    if pen.units == "in":
        radius = pen.said(f"{radius} mm")
    words = f"R {radius}, {bend.angle.value:.0f}°"
    x = float(np.clip(at[0], box.x + 11, box.x + box.width - 11))
    y = float(np.clip(at[1], box.y + 5, box.y + box.height - 12))
    pen.text(x, y + 1, words, Style(8, bold=True, align="centre"))


def _scale_bar(pen: Pen, box: Box, scale: float, *, is_flat: bool) -> None:
    y = box.y + box.height - 3.5
    length = 100.0 if 100 / scale < box.width * 0.5 else 10.0
    pen.line((box.x + 4, y), (box.x + 4 + length / scale, y), INK, 1.2)
    words = f"{length:.0f} mm, scale 1:{scale:g}; radii in mm to the axis"
    pen.text(box.x + 6 + length / scale, y + 0.9, words, _SMALL)
    if not is_flat:
        pen.text(box.x + 4, y - 2.6, "seen square to its main plane", _SMALL)
