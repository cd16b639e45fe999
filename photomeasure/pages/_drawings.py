"""Drawings that show how a photo is taken."""

__all__ = ["HOW"]

_STYLE = 'font-family="sans-serif" font-size="15" fill="#14211f" stroke="#14211f" stroke-width="0"'


def _svg(width: int, height: int, inside: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}"><rect width="{width}" height="{height}" '
        f'fill="#ffffff"/><g {_STYLE}>{inside}</g></svg>'
    )


def _line(points: str, width: float = 3, colour: str = "#14211f", dash: str = "") -> str:
    return (
        f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width}" '
        f'stroke-dasharray="{dash}"/>'
    )


def _box(at: str, size: str, fill: str, turn: str = "") -> str:
    (x, y), (width, height) = at.split(","), size.split(",")
    return (
        f'<rect x="{x}" y="{y}" width="{width}" height="{height}" fill="{fill}" '
        f'stroke="#14211f" stroke-width="2" transform="{turn}"/>'
    )


def _words(at: str, words: str) -> str:
    x, y = at.split(",")
    return f'<text x="{x}" y="{y}">{words}</text>'


_FITTING = _svg(
    480,
    250,
    _line("20,215 460,215", 4)
    + _box("120,205", "240,8", "#fff3c0")
    + _box("205,178", "70,26", "#b8c0bd")
    + _box("150,28", "110,16", "#0b5563", "rotate(-12 205 36)")
    + _line("213,48 240,172", 2, "#0b5563", "6 5")
    + _line("300,46 300,200", 2)
    + _line("294,56 300,46 306,56", 2)
    + _line("294,190 300,200 306,190", 2)
    + _words("310,120", "20 to 25 cm")
    + _words("20,40", "phone, leaning")
    + _words("20,60", "a little sideways")
    + _words("130,238", "fitting on the sheet's bed"),
)

_ROUTE = _svg(
    480,
    250,
    _line("60,190 180,190 230,150 250,90 300,60 420,60", 7, "#0b5563")
    + "".join(
        _box(at, "46,34", "#ffffff") + _box(inner, "20,14", "#14211f")
        for at, inner in (("50,205", "63,215"), ("262,110", "275,120"), ("380,75", "393,85"))
    )
    + _words("110,225", "tape along the path")
    + _words("320,140", "cards beside it:")
    + _words("320,160", "both ends, between")
    + _line("20,20 460,20 460,242 20,242 20,20", 2, "#7a8783", "8 6")
    + _words("30,42", "the whole line in one photo, from above"),
)

HOW = {"fitting": _FITTING, "route": _ROUTE}
