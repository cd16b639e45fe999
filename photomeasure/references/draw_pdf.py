"""A print as a PDF of exact size that asks the printer for no scaling."""

from pathlib import Path

from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from photomeasure.references.artwork import Marker, Polygon, Rectangles, Ring, Shape, Text
from photomeasure.references.board import marker_ink
from photomeasure.references.prints import Print

__all__ = ["FONT_FILES", "write_pdf"]

FONT_FILES = {False: "Vera.ttf", True: "VeraBd.ttf"}  # free fonts that reportlab carries
_FONTS = {False: "Vera", True: "VeraBd"}


def _draw_rectangles(canvas: Canvas, shape: Rectangles, height_mm: float) -> None:
    canvas.setFillColorRGB(*(1 - shape.ink * share for share in shape.absorbs))
    path = canvas.beginPath()  # one path, so that no viewer shows seams between modules
    for left, top, right, bottom in shape.boxes_mm:
        path.rect(left * mm, (height_mm - bottom) * mm, (right - left) * mm, (bottom - top) * mm)
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_polygon(canvas: Canvas, shape: Polygon, height_mm: float) -> None:
    path = canvas.beginPath()
    for number, (x, y) in enumerate(shape.points_mm):
        (path.lineTo if number else path.moveTo)(x * mm, (height_mm - y) * mm)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_ring(canvas: Canvas, shape: Ring, height_mm: float) -> None:
    x, y = shape.centre_mm
    canvas.setLineWidth(shape.line_mm * mm)
    canvas.circle(x * mm, (height_mm - y) * mm, shape.diameter_mm / 2 * mm, stroke=1, fill=0)


def _draw_text(canvas: Canvas, shape: Text, height_mm: float) -> None:
    canvas.saveState()
    canvas.translate(shape.at_mm[0] * mm, (height_mm - shape.at_mm[1]) * mm)
    canvas.rotate(-shape.turn_deg)
    canvas.setFont(_FONTS[shape.is_bold], shape.size_mm * mm)
    draw = {
        "left": canvas.drawString,
        "middle": canvas.drawCentredString,
        "right": canvas.drawRightString,
    }[shape.anchor]
    draw(0, 0, shape.text)
    canvas.restoreState()


def _draw(canvas: Canvas, shape: Shape, height_mm: float) -> None:
    canvas.setFillGray(1 - shape.ink)
    canvas.setStrokeGray(1 - shape.ink)
    match shape:
        case Rectangles():
            _draw_rectangles(canvas, shape, height_mm)
        case Marker():
            _draw_rectangles(canvas, marker_ink(shape), height_mm)
        case Polygon():
            _draw_polygon(canvas, shape, height_mm)
        case Ring():
            _draw_ring(canvas, shape, height_mm)
        case Text():
            _draw_text(canvas, shape, height_mm)


def write_pdf(print_: Print, path: Path) -> None:
    """Write one page, its box exactly the paper."""
    for is_bold, name in _FONTS.items():
        pdfmetrics.registerFont(TTFont(name, FONT_FILES[is_bold]))
    width, height = print_.page_mm
    canvas = Canvas(str(path), pagesize=(width * mm, height * mm), pdfVersion=(1, 6), invariant=1)
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setTitle(f"photomeasure {print_.name}")
    for shape in print_.artwork:
        _draw(canvas, shape, height)
    canvas.showPage()
    canvas.save()
