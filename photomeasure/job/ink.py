"""Drawing on a page in millimetres from its top left corner: words, boxes, lines, tick boxes."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from photomeasure.job.units import Units, in_inches

__all__ = ["ALARM", "FAINT", "FINE", "GREY", "INK", "PALE", "WHITE", "Pen", "Style"]

INK = HexColor("#1a1a1a")
GREY = HexColor("#5c5c5c")
FAINT = HexColor("#bdbdbd")
PALE = HexColor("#efefef")
WHITE = HexColor("#ffffff")
ALARM = HexColor("#b00020")
FINE = HexColor("#1b6e3c")

_LEADING = 1.22  # line spacing over font size
_MM_A_POINT = 25.4 / 72


@cache
def _fonts() -> tuple[str, str]:
    """Register the fonts that come with the PDF library: they are embedded and know ≤ and ±."""
    for name, file in (("Sheet", "Vera.ttf"), ("Sheet-Bold", "VeraBd.ttf")):
        pdfmetrics.registerFont(TTFont(name, file))
    return "Sheet", "Sheet-Bold"


@dataclass(frozen=True, slots=True)
class Style:
    """How words look: size in points."""

    size: float = 8.0
    bold: bool = False
    colour: Color = INK
    align: Literal["left", "centre", "right"] = "left"

    @property
    def font(self) -> str:
        """The font's name."""
        return _fonts()[int(self.bold)]

    @property
    def leading_mm(self) -> float:
        """Line spacing in millimetres."""
        return self.size * _LEADING * _MM_A_POINT


class Pen:
    """Draws on one page; every length is in millimetres, y runs down from the top."""

    def __init__(
        self,
        canvas: Canvas,
        size_mm: tuple[float, float],
        units: Units = "mm",
        mark_mm: int | None = None,
    ) -> None:
        self.canvas, self.units, self.mark_mm = canvas, units, mark_mm
        self.width_mm, self.height_mm = size_mm

    def said(self, words: str) -> str:
        """Give words in the page's units."""
        return words if self.units == "mm" else in_inches(words, self.mark_mm)

    def _x(self, x_mm: float) -> float:
        return float(x_mm * mm)

    def _y(self, y_mm: float) -> float:
        return float((self.height_mm - y_mm) * mm)

    def text(self, x_mm: float, y_mm: float, words: str, style: Style | None = None) -> None:
        """Write one line; (x, y) is its baseline's start, middle or end."""
        style = Style() if style is None else style
        self.canvas.setFillColor(style.colour)
        self.canvas.setFont(style.font, style.size)
        draw = {
            "left": self.canvas.drawString,
            "centre": self.canvas.drawCentredString,
            "right": self.canvas.drawRightString,
        }[style.align]
        draw(self._x(x_mm), self._y(y_mm), self.said(words))

    def lines(self, words: str, width_mm: float, style: Style) -> list[str]:
        """Break words into lines."""
        return list(simpleSplit(self.said(words), style.font, style.size, width_mm * mm))

    def width_of(self, words: str, style: Style) -> float:
        """Width in millimetres of words on one line."""
        return float(pdfmetrics.stringWidth(self.said(words), style.font, style.size) / mm)

    def height_of(self, words: str, width_mm: float, style: Style) -> float:
        """Height in millimetres that wrapped words take."""
        return len(self.lines(words, width_mm, style)) * style.leading_mm

    def wrapped(
        self, at_mm: tuple[float, float], width_mm: float, words: str, style: Style
    ) -> float:
        """Write lines below each other from a top left corner; give the y below them."""
        x_mm, y_mm = at_mm
        ascent = style.size * 0.80 * _MM_A_POINT
        for line in self.lines(words, width_mm, style):
            self.text(x_mm, y_mm + ascent, line, style)
            y_mm += style.leading_mm
        return y_mm

    def line(
        self,
        from_mm: tuple[float, float],
        to_mm: tuple[float, float],
        colour: Color = INK,
        width_pt: float = 0.6,
    ) -> None:
        """Draw a straight line."""
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(width_pt)
        (x0, y0), (x1, y1) = from_mm, to_mm
        self.canvas.line(self._x(x0), self._y(y0), self._x(x1), self._y(y1))

    def box(
        self,
        at_mm: tuple[float, float],
        size_mm: tuple[float, float],
        fill: Color | None = None,
        stroke: Color | None = INK,
        width_pt: float = 0.6,
    ) -> None:
        """Draw a rectangle from its top left corner."""
        if fill is not None:
            self.canvas.setFillColor(fill)
        if stroke is not None:
            self.canvas.setStrokeColor(stroke)
        self.canvas.setLineWidth(width_pt)
        x, y = self._x(at_mm[0]), self._y(at_mm[1] + size_mm[1])
        shape = (x, y, size_mm[0] * mm, size_mm[1] * mm)
        self.canvas.rect(*shape, stroke=int(stroke is not None), fill=int(fill is not None))

    def polyline(
        self, points_mm: list[tuple[float, float]], colour: Color, width_mm: float
    ) -> None:
        """Draw a line through points, with round joints and flat ends."""
        path = self.canvas.beginPath()
        path.moveTo(self._x(points_mm[0][0]), self._y(points_mm[0][1]))
        for x_mm, y_mm in points_mm[1:]:
            path.lineTo(self._x(x_mm), self._y(y_mm))
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(width_mm * mm)
        self.canvas.setLineJoin(1)
        self.canvas.drawPath(path, stroke=1, fill=0)

    def dot(self, at_mm: tuple[float, float], radius_mm: float, colour: Color) -> None:
        """Draw a filled circle."""
        self.canvas.setFillColor(colour)
        x, y = self._x(at_mm[0]), self._y(at_mm[1])
        self.canvas.circle(x, y, radius_mm * mm, stroke=0, fill=1)

    def ring(self, at_mm: tuple[float, float], radius_mm: float, colour: Color) -> None:
        """Draw an empty circle."""
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineWidth(0.7)
        x, y = self._x(at_mm[0]), self._y(at_mm[1])
        self.canvas.circle(x, y, radius_mm * mm, stroke=1, fill=0)

    def mark(self, at_mm: tuple[float, float], size_mm: float, ok: bool | None) -> None:
        """Draw a tick, a cross, or an empty box for what is still open."""
        x, y = at_mm
        if ok is None:
            self.box((x, y), (size_mm, size_mm), None, ALARM, 1.0)
            return
        s = size_mm
        if ok:
            self.line((x, y + 0.55 * s), (x + 0.4 * s, y + 0.95 * s), FINE, 1.4)
            self.line((x + 0.4 * s, y + 0.95 * s), (x + s, y + 0.05 * s), FINE, 1.4)
        else:
            self.line((x, y), (x + s, y + s), ALARM, 1.6)
            self.line((x, y + s), (x + s, y), ALARM, 1.6)

    def stamp(self, words: str) -> None:
        """Write big pale words across the page, for everything else to lie on."""
        self.canvas.saveState()
        self.canvas.translate(self.width_mm / 2 * mm, self.height_mm / 2 * mm)
        self.canvas.rotate(52)
        self.canvas.setFillColor(HexColor("#fae3e6"))
        self.canvas.setFont(_fonts()[1], 66 if len(words) < 16 else 46)
        self.canvas.drawCentredString(0, -20, words)
        self.canvas.restoreState()
