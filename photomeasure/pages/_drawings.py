"""Drawings that show how a photo is taken."""

from photomeasure.pages._words import say

__all__ = ["HOW"]

_STYLE = 'font-family="sans-serif" font-size="19" fill="#14211f" stroke="#14211f" stroke-width="0"'


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


def _arrows(start: str, stop: str) -> str:
    """A dimension line, straight up or across, with an arrow at each end."""
    (x, y), (u, v) = ([float(one) for one in at.split(",")] for at in (start, stop))
    along, across = (9.0, 0.0) if y == v else (0.0, 9.0), (0.0, 5.0) if y == v else (5.0, 0.0)
    heads = "".join(
        _line(
            f"{a + sign * along[0] + across[0]},{b + sign * along[1] + across[1]} {a},{b} "
            f"{a + sign * along[0] - across[0]},{b + sign * along[1] - across[1]}",
            2,
        )
        for a, b, sign in ((x, y, 1), (u, v, -1))
    )
    return _line(f"{x},{y} {u},{v}", 2) + heads


def _words(at: str, words: str) -> str:
    x, y = at.split(",")
    return f'<text x="{x}" y="{y}">{words}</text>'


_PHONE = "#0b5563"
_METAL = "#b8c0bd"
_PAPER = "#fff3c0"

_FITTING = _svg(
    480,
    260,
    _line("20,215 460,215", 4)
    + _box("120,205", "240,8", _PAPER)
    + _box("205,178", "70,26", _METAL)
    + _box("150,28", "110,16", _PHONE, "rotate(-12 205 36)")
    + _line("213,48 240,172", 2, _PHONE, "6 5")
    + _arrows("300,46", "300,200")
    + _words("312,120", say("draw.distance"))
    + _words("4,70", say("draw.leaning"))
    + _words("4,92", say("draw.sideways"))
    + _words("120,245", say("draw.on_bed")),
)

_ROUTE = _svg(
    480,
    270,
    _line("60,190 180,190 230,150 250,90 300,60 420,60", 7, _PHONE)
    + "".join(
        _box(at, "46,34", "#ffffff") + _box(inner, "20,14", "#14211f")
        for at, inner in (("50,205", "63,215"), ("262,110", "275,120"), ("380,75", "393,85"))
    )
    + _words("105,228", say("draw.tape"))
    + _words("322,140", say("draw.cards"))
    + _words("322,163", say("draw.both_ends"))
    + _words("322,186", say("draw.between"))
    + _line("10,14 470,14 470,258 10,258 10,14", 2, "#5c6a66", "8 6")
    + _words("24,42", say("draw.whole_line")),
)

_PORT = _svg(
    480,
    270,
    _box("40,120", "300,120", _METAL)
    + _box("150,120", "80,90", "#ffffff")
    + "".join(
        _line(f"{x},{y} {x + turn},{y + 5} {x},{y + 10}", 2)
        for y in range(126, 196, 10)
        for x, turn in ((150, 7), (230, -7))
    )
    + _box("152,196", "76,14", "#8a5a2b")
    + _box("60,112", "86,7", _PAPER)
    + _box("234,112", "86,7", _PAPER)
    + _box("340,46", "100,16", _PHONE, "rotate(45 390 54)")
    + _line("380,66 158,176", 2, _PHONE, "6 5")
    + _line("190,30 190,150", 2, "#14211f", "8 6")
    + _words("205,50", say("draw.angle"))
    + _words("10,100", say("draw.collar"))
    + _words("350,150", say("draw.far_wall"))
    + _words("350,173", say("draw.thread"))
    + _words("350,196", say("draw.is_seen"))
    + _words("40,262", say("draw.plug")),
)

_SPACE = _svg(
    480,
    270,
    _line("50,210 170,210 230,180 260,110 300,60 420,60", 16, "#3b4744")
    + "".join(
        _line(points, 18, "#ffffff") + _line(points, 10, "#14211f", "3 3")
        for points in (
            "56,210 66,210",
            "150,210 160,210",
            "214,189 223,184",
            "246,144 250,134",
            "278,88 284,80",
            "320,60 330,60",
            "404,60 414,60",
        )
    )
    + "".join(
        _box(f"{x},{y}", "54,10", _PHONE, f"rotate({turn} {x + 27} {y + 5})")
        for x, y, turn in ((60, 110, -30), (150, 50, -25), (330, 200, 30), (400, 130, 25))
    )
    + _words("20,246", say("draw.band_1"))
    + _words("250,246", say("draw.bends"))
    + _words("250,266", say("draw.each_bend"))
    + _words("10,34", say("draw.both_sides")),
)

_CALIPER = _svg(
    480,
    250,
    _box("30,90", "90,100", _METAL)
    + _box("120,105", "130,70", _METAL)
    + "".join(
        _line(f"{x},{y} {x + 5},{y + turn} {x + 10},{y}", 2)
        for x in range(130, 240, 10)
        for y, turn in ((105, 6), (175, -6))
    )
    + _arrows("275,105", "275,175")
    + _line("250,105 285,105", 1)
    + _line("250,175 285,175", 1)
    + _words("290,135", say("draw.crests"))
    + _words("290,158", say("draw.square"))
    + _line("130,86 140,97 150,86 160,97 170,86 180,97 190,86 200,97 210,86 220,97 230,86", 2)
    + _line("130,86 130,62 230,62 230,86", 2)
    + _words("100,48", say("draw.gauge"))
    + _arrows("130,205", "230,205")
    + _words("60,236", say("draw.ten_turns")),
)

_LENS = _svg(
    480,
    270,
    _line("20,225 460,225", 4)
    + _box("150,215", "180,8", _PAPER)
    + _box("190,30", "100,16", _PHONE)
    + _line("240,50 240,210", 2, _PHONE, "6 5")
    + "".join(
        _box(f"{x},90", "100,16", _PHONE, f"rotate({turn} {x + 50} 98)")
        + _line(f"{x + 50 + shift},108 {x + 50 + 3.2 * shift},208", 2, _PHONE, "6 5")
        for x, turn, shift in ((70, -35, 22), (310, 35, -22))
    )
    + _words("190,250", say("draw.bare"))
    + _words("6,34", say("draw.five"))
    + _words("6,57", say("draw.above"))
    + _words("300,34", say("draw.sides"))
    + _words("375,160", say("draw.lens_angle")),
)

HOW = {
    "lens": _LENS,
    "fitting": _FITTING,
    "port": _PORT,
    "route": _ROUTE,
    "space": _SPACE,
    "caliper": _CALIPER,
}
