"""Cross sections of ends and ports as vectors: the part in grey, where it seals in orange.

Own drawings, not to scale of any part. Lengths are in millimetres of a part with a 16 mm thread;
x runs along the axis from the free end, r from the axis. What is drawn above the axis is drawn
below it, too.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Section", "section_of"]

Outline = Sequence[tuple[float, float]]  # (x, r)
METAL, INK, SEAL, RUBBER = "#c9cfcd", "#1a1a1a", "#e69f00", "#222222"
TOP, LEFT, WIDTH, HEIGHT = -17.0, -4.0, 46.0, 34.0  # of the picture [mm]
BORE = 3.5
CREST, ROOT, TURN = 8.0, 7.1, 1.5


@dataclass(frozen=True, slots=True)
class Section:
    """One cross section.

    Attributes
    ----------
    bodies : tuple of outlines (x, r) [mm]
        Closed areas of metal above the axis.
    seals : tuple of outlines (x, r) [mm]
        Lines along which it seals.
    rings : tuple of (x, r, radius) [mm]
        O-rings and soft washers, cut across.
    words : str
        What is seen, for those who do not see the drawing.
    """

    bodies: tuple[Outline, ...]
    seals: tuple[Outline, ...]
    rings: tuple[tuple[float, float, float], ...]
    words: str

    def svg(self) -> str:
        """Write the drawing as an SVG document."""
        parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{self.words}" '
            f'viewBox="{LEFT} {TOP} {WIDTH} {HEIGHT}">',
            f"<title>{self.words}</title>",
        ]
        for side in (-1, 1):
            parts += [_closed(body, side) for body in self.bodies]
            parts += [_line(seal, side) for seal in self.seals]
            parts += [_ring(ring, side) for ring in self.rings]
        parts.append(
            f'<line x1="{LEFT}" y1="0" x2="{LEFT + WIDTH}" y2="0" stroke="{INK}" '
            'stroke-width="0.2" stroke-dasharray="3 0.8 0.6 0.8"/></svg>'
        )
        return "".join(parts)


def _points(outline: Outline, side: int) -> str:
    return " ".join(f"{x:.2f},{side * r:.2f}" for x, r in outline)


def _closed(outline: Outline, side: int) -> str:
    return (
        f'<polygon points="{_points(outline, side)}" fill="{METAL}" stroke="{INK}" '
        'stroke-width="0.3" stroke-linejoin="round"/>'
    )


def _line(outline: Outline, side: int) -> str:
    return (
        f'<polyline points="{_points(outline, side)}" fill="none" stroke="{SEAL}" '
        'stroke-width="1.1" stroke-linecap="round"/>'
    )


def _ring(ring: tuple[float, float, float], side: int) -> str:
    x, r, radius = ring
    return (
        f'<circle cx="{x:.2f}" cy="{side * r:.2f}" r="{radius:.2f}" fill="{RUBBER}" '
        f'stroke="{SEAL}" stroke-width="0.6"/>'
    )


def _turns(start: float, end: float, *, inside: bool = False, growth: float = 0.0) -> Outline:
    """A zigzag of thread between two planes; `growth` is of the radius along the axis."""
    first, second = (ROOT, CREST) if inside else (CREST, ROOT)
    points = []
    for i in range(round((end - start) / TURN)):
        x = start + i * TURN
        lift = growth * (x - start)
        points += [(x, second + lift), (x + TURN / 2, first + lift)]
    return [*points, (end, second + growth * (end - start))]


def _male(nose: Outline, bore: Outline = ((0.0, BORE),), *, thread_from: float = 5.0) -> Outline:
    """A male end: nose, thread, neck and hexagon, and the bore back to the nose."""
    neck = [(24.0, ROOT), (26.0, ROOT), (26.0, 13.0), (36.0, 13.0)]
    return [*nose, *_turns(thread_from, 24.0), *neck, (36.0, BORE), *reversed(bore)]


def _female(mouth: Outline, bottom: Outline, *, thread: tuple[float, float]) -> Outline:
    """A port in a block: mouth, thread, bottom."""
    return [*mouth, *_turns(*thread, inside=True), *bottom, (38.0, 15.0), (0.0, 15.0)]


def _nut(start: float = 2.0) -> Outline:
    """A swivel nut with its thread inside and a shoulder behind the nipple."""
    inner = [(start, ROOT), *_turns(start + 1, start + 13, inside=True), (start + 17, ROOT)]
    return [*inner, (start + 17, 6.0), (start + 21, 6.0), (start + 21, 12.0), (start, 12.0)]


def _cone(half_angle_deg: float, low: float, high: float) -> float:
    """Length of a cone between two radii."""
    return (high - low) / math.tan(math.radians(half_angle_deg))


def _nose_cone(half_angle_deg: float) -> Section:
    length = _cone(half_angle_deg, BORE + 0.6, 6.6)
    nose = [(0.0, BORE), (0.0, BORE + 0.6), (length, 6.6), (length + 1.5, 6.6)]
    body = _male(nose, thread_from=length + 1.5)
    words = f"a cone on the nose, {half_angle_deg:g}° between cone and axis"
    return Section((body,), (((0.0, BORE + 0.6), (length, 6.6)),), (), words)


def _bore_cone(across_deg: float) -> Section:
    mouth = 6.4
    length = min(_cone(across_deg / 2, BORE, mouth), 13.0)
    inner = mouth - length * math.tan(math.radians(across_deg / 2))
    bore = [(0.0, mouth), (length, inner), (length, BORE)]
    body = _male([(0.0, 6.9), (1.5, 7.1)], bore, thread_from=1.5)
    words = f"a hollow cone in the bore, {across_deg:g}° across"
    return Section((body,), (((0.0, mouth), (length, inner)),), (), words)


def _face_ring() -> Section:
    groove = [(0.0, BORE), (0.0, 4.6), (1.6, 4.6), (1.6, 6.4), (0.0, 6.4), (0.0, 7.1)]
    body = _male([*groove, (1.5, 7.1)], thread_from=1.5)
    return Section((body,), (), ((0.7, 5.5, 1.0),), "a flat face with an O-ring in a groove")


def _hexagon_ring() -> Section:
    body = _male([(0.0, BORE), (0.0, 7.1)], thread_from=1.0)
    return Section(
        (body,), (), ((24.8, 8.2, 1.1),), "an O-ring behind the thread, under the hexagon"
    )


def _hexagon_washer() -> Section:
    body = _male([(0.0, BORE), (0.0, 7.1)], thread_from=1.0)
    washer = ((24.2, 8.3), (26.0, 8.3), (26.0, 12.0), (24.2, 12.0))
    words = "a flat shoulder under the hexagon with a washer"
    return Section((body, washer), (((24.2, 8.6), (24.2, 11.8)),), (), words)


def _taper(*, inside: bool) -> Section:
    growth = 0.07  # three times the real 1:32 on radius, to be seen
    if inside:
        thread = _turns(1.0, 20.5, inside=True, growth=-growth)
        body = [(0.0, CREST), *thread, (20.5, BORE), (38.0, BORE), (38.0, 15.0), (0.0, 15.0)]
        return Section((body,), (thread,), (), "the thread narrows inwards; it seals by itself")
    thread = _turns(0.5, 21.5, growth=growth)
    neck = [(23.0, CREST + 0.5), (26.0, CREST + 0.5), (26.0, 13.0), (36.0, 13.0)]
    body = [(0.0, BORE), (0.0, ROOT), *thread, *neck, (36.0, BORE)]
    return Section((body,), (thread,), (), "the thread gets thicker away from the end; it seals")


def _tube_nut(end: Outline, seal: Outline, ring: bool, words: str) -> Section:
    nut = [(9.0, 5.2), (9.0, ROOT), *_turns(9.5, 24.5), (25.0, 11.0), (34.0, 11.0), (34.0, 5.2)]
    tube = [*end, (40.0, 5.0), (40.0, BORE)]
    rings = ((2.6, 5.9, 0.9),) if ring else ()
    return Section((nut, tube), (seal,) if seal else (), rings, words)


def _nipple(end: Outline, seal: Outline, words: str) -> Section:
    shoulder = [(17.0, 5.6), (17.0, 7.0), (19.0, 7.0), (19.0, 5.0), (40.0, 5.0), (40.0, BORE)]
    return Section((_nut(), [*end, *shoulder]), (seal,), (), words)


def _nut_cone(half_angle_deg: float) -> Section:
    start = 11.0
    length = _cone(half_angle_deg, BORE, 6.4)
    cone = ((start, 6.4), (start + length, BORE))
    end = [(start + length, BORE), (start, 6.4), (start, 6.8), (17.0, 6.8)]
    words = f"a nut with a hollow cone inside, {half_angle_deg:g}° between cone and axis"
    return _nipple(end, cone, words)


def _port(mouth: Outline, bottom: Outline, seal: Outline, words: str) -> Section:
    first = mouth[-1][0]
    body = _female(mouth, bottom, thread=(first, first + 15.0))
    return Section((body,), (seal,) if seal else (), (), words)


PLAIN: Outline = ((21.0, ROOT), (21.0, BORE), (38.0, BORE))


def _ports() -> dict[tuple[str, str], Section]:
    chamfer, face = ((0.0, 10.4), (3.4, CREST)), ((0.0, 8.4), (0.0, 13.5))
    standing = ((17.5, BORE), (21.0, 6.6))
    hollow = ((17.0, 6.6), (20.5, BORE))
    smooth = ((17.5, 5.4), (25.0, 5.4))
    return {
        ("chamfer for o-ring", ""): _port(
            chamfer, PLAIN, chamfer, "a wide chamfer round the mouth, for an O-ring"
        ),
        ("flat face", ""): _port(
            ((0.0, 8.4), (0.4, CREST)), PLAIN, face, "a flat machined face round the mouth"
        ),
        ("cone standing in the port", ""): _port(
            ((0.0, 8.4), (0.5, CREST)),
            ((21.0, ROOT), (21.0, 6.6), (17.5, BORE), (38.0, BORE)),
            standing,
            "a cone that stands up at the bottom of the port",
        ),
        ("hollow cone in the port", ""): _port(
            ((0.0, 8.4), (0.5, CREST)),
            ((17.0, 6.6), (20.5, BORE), (38.0, BORE)),
            hollow,
            "a hollow cone at the bottom of the port",
        ),
        ("smooth bore behind the thread", ""): _port(
            ((0.0, 8.4), (0.5, CREST)),
            ((17.5, 5.4), (25.0, 5.4), (25.0, BORE), (38.0, BORE)),
            smooth,
            "a smooth bore behind the thread, for an O-ring on the tube",
        ),
    }


def _tubes() -> dict[tuple[str, str], Section]:
    flare = [(2.0, BORE), (0.0, 6.0), (1.6, 7.0), (5.0, 5.0)]
    bubble = [(0.0, BORE), (0.4, 5.6), (2.4, 6.9), (4.4, 6.4), (5.6, 5.0)]
    bead = [(-2.0, BORE), (-2.0, 5.0), (4.8, 5.0), (5.2, 6.8), (7.0, 6.8), (7.4, 5.0)]
    place = "tube in a male nut"
    return {
        (place, "flared, folded edge"): _tube_nut(
            flare, ((2.0, BORE), (0.0, 6.0)), ring=False, words="a tube flared outwards, in a nut"
        ),
        (place, "bubble"): _tube_nut(
            bubble, ((0.4, 5.6), (2.4, 6.9)), ring=False, words="a tube with a bubble, in a nut"
        ),
        (place, "bead and O-ring"): _tube_nut(
            bead, (), ring=True, words="a tube with a bead and an O-ring before it, in a nut"
        ),
    }


def _nipples() -> dict[tuple[str, str], Section]:
    place = "nipple in a nut"
    steep = 6.6 - 9.0 * math.tan(math.radians(12))
    return {
        (place, "24° cone or ring"): _nipple(
            [(3.0, BORE), (3.0, steep), (12.0, 6.6), (17.0, 6.6)],
            ((3.0, steep), (12.0, 6.6)),
            "a slim cone or a cutting ring in a nut, 24° across",
        ),
        (place, "60° cone or ball"): _nipple(
            [(8.0, BORE), (8.0, 4.2), (12.2, 6.6), (17.0, 6.6)],
            ((8.0, 4.2), (12.2, 6.6)),
            "a blunt cone or a ball in a nut, 60° across",
        ),
        (place, "flared tube"): _nipple(
            [(14.0, BORE), (11.5, 6.0), (12.5, 6.9), (17.0, 5.6)],
            ((14.0, BORE), (11.5, 6.0)),
            "a flared tube in a nut",
        ),
        (place, "flat face"): _nipple(
            [(11.0, BORE), (11.0, 6.6), (17.0, 6.6)],
            ((11.0, BORE + 0.4), (11.0, 6.3)),
            "a flat smooth face in a nut",
        ),
    }


def _all_sections() -> dict[tuple[str, str], Section]:
    noses = {
        ("cone on the nose", f"{angle}° to the axis"): _nose_cone(angle) for angle in (30, 37, 45)
    }
    bores = {("cone in the bore", f"{angle}° across"): _bore_cone(angle) for angle in (24, 60)}
    nuts = {
        ("hollow cone in a nut", f"{angle}° to the axis"): _nut_cone(angle) for angle in (30, 37)
    }
    return {
        **noses,
        **bores,
        **nuts,
        **_tubes(),
        **_nipples(),
        **_ports(),
        ("o-ring in the face", ""): _face_ring(),
        ("o-ring under hexagon", ""): _hexagon_ring(),
        ("washer under hexagon", ""): _hexagon_washer(),
        ("the thread itself", "external"): _taper(inside=False),
        ("the thread itself", "internal"): _taper(inside=True),
    }


SECTIONS = _all_sections()


def section_of(place: str, form: str = "", *, member: str = "external") -> Section:
    """Give the drawing of a seat's place, and of its form where one is named.

    Parameters
    ----------
    place, form : str
        Words of the table of looks; without a form the place's first one is drawn.
    member : str
        "external" or "internal".

    Returns
    -------
    Section
    """
    for key in ((place, form), (place, member)):
        if key in SECTIONS:
            return SECTIONS[key]
    return next(section for (where, _), section in SECTIONS.items() if where == place)
