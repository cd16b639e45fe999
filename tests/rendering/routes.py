"""Seeded recipes of flat routes: a line of straights and bends on a floor, prints beside it."""

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, look_at
from tests.rendering.compose import Bench
from tests.rendering.page import Artwork
from tests.rendering.scenes import FULL_PX, READING_SD_MM, Bars, draw_bench
from tests.rendering.sensor import Development, draw_development

__all__ = [
    "LaidPiece",
    "Piece",
    "RouteLine",
    "RouteScene",
    "Wanted",
    "draw_route_scene",
    "nearest",
    "sampled",
]

Floats = NDArray[np.float64]
LineKind = Literal["tape", "hazard", "cord", "rod", "hose"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight (`turn_rad` 0) or an arc; left turns are positive."""

    length_mm: float
    turn_rad: float

    @property
    def radius_mm(self) -> float:
        return abs(self.length_mm / self.turn_rad) if self.turn_rad else np.inf


@dataclass(frozen=True, slots=True)
class RouteLine:
    """What lies on the floor.

    Attributes
    ----------
    kind
        "tape" and "hazard" are flat; "cord", "rod" and "hose" are round and lie on the floor.
    width_mm : float
        Of the tape, or outside diameter.
    colour, second : linear RGB
        `second` are the hazard tape's stripes.
    pieces : tuple of Piece
    start_mm : (x, y, heading)
    """

    kind: LineKind
    width_mm: float
    colour: tuple[float, float, float]
    second: tuple[float, float, float]
    pieces: tuple[Piece, ...]
    start_mm: tuple[float, float, float]

    @property
    def length_mm(self) -> float:
        """Along the axis, end to end."""
        return sum(piece.length_mm for piece in self.pieces)

    @property
    def axis_height_mm(self) -> float:
        """Of the axis above the floor."""
        return 0.0 if self.kind in {"tape", "hazard"} else self.width_mm / 2


@dataclass(frozen=True, slots=True)
class LaidPiece:
    """A cut-out piece of a print on the floor.

    Attributes
    ----------
    name : str
    outline_page_mm : tuple of (x, y)
    at_mm : (x, y, yaw)
        Of the middle of the outline's box.
    scale_x, scale_y : float
        Along the page's axes.
    height_mm : float
        Of its printed face above the floor.
    """

    name: str
    outline_page_mm: tuple[tuple[float, float], ...]
    at_mm: tuple[float, float, float]
    scale_x: float
    scale_y: float
    height_mm: float = 0.0

    @property
    def middle_page_mm(self) -> tuple[float, float]:
        """Middle of the outline's box on the page."""
        box = np.array(self.outline_page_mm)
        middle = (box.min(axis=0) + box.max(axis=0)) / 2
        return float(middle[0]), float(middle[1])

    @property
    def half_diagonal_mm(self) -> float:
        """Radius of the circle round the piece."""
        box = np.array(self.outline_page_mm)
        return float(np.linalg.norm(np.ptp(box, axis=0)) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class RouteScene:
    """Everything about one photograph of a flat route; the floor is z = 0."""

    seed: int
    line: RouteLine
    laid: tuple[LaidPiece, ...]
    bars: Bars
    bench: Bench
    camera: PhoneCamera
    development: Development
    light_way: tuple[float, float, float]
    slope: tuple[float, float]


def sampled(line: RouteLine, step_mm: float = 1.0) -> tuple[Floats, Floats, Floats]:
    """Points of the axis: xy (N, 2), heading (N,), distance along it (N,)."""
    x, y, heading = line.start_mm
    points, headings, along, done = [], [], [], 0.0
    for piece in line.pieces:
        count = max(2, int(np.ceil(piece.length_mm / step_mm)) + 1)
        s = np.linspace(0, piece.length_mm, count)
        if piece.turn_rad == 0:
            px, py, ph = x + s * np.cos(heading), y + s * np.sin(heading), np.full(count, heading)
        else:
            k = piece.turn_rad / piece.length_mm
            ph = heading + k * s
            px = x + (np.sin(ph) - np.sin(heading)) / k
            py = y - (np.cos(ph) - np.cos(heading)) / k
        points.append(np.column_stack([px, py]))
        headings.append(ph)
        along.append(done + s)
        x, y, heading, done = px[-1], py[-1], ph[-1], done + piece.length_mm
    return np.concatenate(points), np.concatenate(headings), np.concatenate(along)


def nearest(line: RouteLine, xy_mm: Floats) -> tuple[Floats, Floats]:
    """Signed distance left of the axis, and how far along it, of points (N, 2); exact.

    Beyond an end the distance grows as if the end were cut square.
    """
    x, y, heading = line.start_mm
    side, along = np.full(len(xy_mm), 1e9), np.zeros(len(xy_mm))
    done = 0.0
    for piece in line.pieces:
        way = np.array([np.cos(heading), np.sin(heading)])
        left = np.array([-way[1], way[0]])
        if piece.turn_rad == 0:
            rel = xy_mm - (x, y)
            s, d = rel @ way, rel @ left
            x, y = np.array([x, y]) + piece.length_mm * way
        else:
            radius = piece.length_mm / piece.turn_rad
            centre = np.array([x, y]) + radius * left
            rel = xy_mm - centre
            start = -left * np.sign(radius)
            angle = np.arctan2(start[0] * rel[:, 1] - start[1] * rel[:, 0], rel @ start)
            s = angle * radius
            d = radius - np.sign(radius) * np.hypot(rel[:, 0], rel[:, 1])
            heading += piece.turn_rad
            end = np.array([np.sin(heading), -np.cos(heading)])
            x, y = centre + radius * end
        over = np.maximum(np.maximum(-s, s - piece.length_mm), 0)
        closer = np.hypot(d, over) < np.hypot(np.abs(side), 0) - 1e-12
        side = np.where(closer, np.sign(d + 1e-300) * np.hypot(d, over), side)
        along = np.where(closer, done + s, along)
        done += piece.length_mm
    return side, along


def _pieces(length_mm: float, width_mm: float, rng: np.random.Generator) -> tuple[Piece, ...]:
    """Straights with bends between them that add up to the length."""
    bends = int(rng.integers(1, 5))
    out: list[Piece] = []
    last = 0.0
    for _ in range(bends):
        out.append(Piece(float(rng.uniform(40, 300)), 0.0))
        sign = float(rng.choice([-1, 1])) if last == 0 or rng.random() < 0.5 else -np.sign(last)
        turn = sign * float(rng.uniform(np.radians(20), np.radians(110)))
        radius = float(rng.uniform(max(35, 2.5 * width_mm), 220))
        out.append(Piece(radius * abs(turn), turn))
        last = turn
    out.append(Piece(float(rng.uniform(60, 300)), 0.0))
    factor = length_mm / sum(p.length_mm for p in out)
    return tuple(Piece(p.length_mm * factor, p.turn_rad) for p in out)


def _is_open(line: RouteLine) -> bool:
    """Whether the line keeps clear of itself and its bends are not too tight."""
    points, _, along = sampled(line, 10.0)
    apart = np.linalg.norm(points[:, None] - points[None], axis=-1)
    far = np.abs(along[:, None] - along[None]) > 4 * line.width_mm + 60
    tight = min(p.radius_mm for p in line.pieces)
    return bool(
        np.all(apart[far] > 3 * line.width_mm + 20) and tight > max(25, 1.6 * line.width_mm)
    )


_LOOKS: dict[str, tuple[tuple[float, float], tuple[tuple[float, float, float], ...]]] = {
    "tape": (
        (18, 50),
        ((0.02, 0.12, 0.45), (0.55, 0.03, 0.03), (0.75, 0.5, 0.02), (0.02, 0.3, 0.08)),
    ),
    "hazard": ((40, 60), ((0.75, 0.52, 0.02),)),
    "cord": ((4, 8), ((0.6, 0.6, 0.55), (0.6, 0.1, 0.03), (0.03, 0.1, 0.4))),
    "rod": ((5, 8), ((0.45, 0.32, 0.15), (0.35, 0.35, 0.36))),
    "hose": ((14, 25), ((0.025, 0.025, 0.027), (0.04, 0.04, 0.045))),
}  # fmt: skip


def _draw_line(length_mm: float | None, rng: np.random.Generator, kind: str) -> RouteLine:
    kind = kind or str(rng.choice(["tape", "tape", "hazard", "cord", "rod", "hose"]))
    (low, high), colours = _LOOKS[kind]
    width = float(rng.uniform(low, high))
    colour = colours[int(rng.integers(len(colours)))]
    total = length_mm or float(rng.uniform(400, 2000))
    while True:
        line = RouteLine(
            kind, width, colour, (0.02, 0.02, 0.02), _pieces(total, width, rng), (0, 0, 0)
        )  # type: ignore[arg-type]
        points, _, _ = sampled(line, 10.0)
        if _is_open(line) and np.ptp(points, axis=0).max() < 1500:
            break
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    start = (-float(middle[0]), -float(middle[1]), 0.0)
    return RouteLine(line.kind, width, colour, line.second, line.pieces, start)


def _is_free(
    at: Floats, reach: float, line_points: Floats, gap: float, laid: list[LaidPiece]
) -> bool:
    if np.linalg.norm(line_points - at, axis=1).min() < reach + gap:
        return False
    return all(
        np.hypot(at[0] - p.at_mm[0], at[1] - p.at_mm[1]) > reach + p.half_diagonal_mm for p in laid
    )


def _lay(
    pieces: list[dict[str, Any]], line: RouteLine, scales: Floats, rng: np.random.Generator
) -> tuple[LaidPiece, ...]:
    """Lay pieces beside the line, spread from its start to its end."""
    points, _, _ = sampled(line, 5.0)
    laid: list[LaidPiece] = []
    for k, piece in enumerate(pieces):
        outline = tuple((float(x), float(y)) for x, y in piece["outline_mm"])
        blank = LaidPiece(piece["name"], outline, (0, 0, 0), float(scales[0]), float(scales[1]))
        share = k / max(len(pieces) - 1, 1)
        near = points[int(np.clip(share + rng.normal(0, 0.08), 0, 1) * (len(points) - 1))]
        spread = blank.half_diagonal_mm + line.width_mm + 20
        for attempt in range(400):
            at = near + rng.normal(0, 1, 2) * (spread * (1 + attempt / 60))
            if _is_free(at, blank.half_diagonal_mm, points, line.width_mm / 2 + 10, laid):
                yaw = float(rng.uniform(0, 2 * np.pi))
                place = (float(at[0]), float(at[1]), yaw)
                laid.append(LaidPiece(blank.name, outline, place, blank.scale_x, blank.scale_y))
                break
    return tuple(laid)


PAPER_MM = 0.1
BACKING_MM = (0.1, 1.0)  # what cards are glued on; common practice, no source


def _raised(laid: tuple[LaidPiece, ...], is_card: bool, seed: int) -> tuple[LaidPiece, ...]:
    """Pieces as thick as they are: cards share their backing, and none lies quite close."""
    rng = np.random.default_rng([78, seed])
    backing = rng.uniform(*BACKING_MM) if is_card else 0.0
    rest = np.abs(rng.normal(0, 0.15, len(laid)))
    return tuple(
        replace(piece, height_mm=float(PAPER_MM + backing + more))
        for piece, more in zip(laid, rest, strict=True)
    )


def _camera(
    corners_mm: Floats, scale_px: float, steepest_deg: float, rng: np.random.Generator
) -> tuple[PhoneCamera, int | None, tuple[int, float]]:
    """A camera that sees every corner point from as near as it can."""
    orientation = (1, 3, 6, 8, None)[int(rng.integers(5))]
    width, height = (round(n * scale_px) for n in FULL_PX)
    if orientation in {6, 8}:
        width, height = height, width
    far_px, focal_mm = 2970 * (1 + float(rng.normal(0, 0.02))), float(rng.uniform(4.2, 6.9))
    by = 43.267 / np.hypot(*FULL_PX) if rng.random() < 0.5 else 36 / FULL_PX[0]
    target = np.append((corners_mm.min(axis=0) + corners_mm.max(axis=0)) / 2, 0.0)
    tilt, side = np.radians(rng.uniform(0, min(steepest_deg, 35))), rng.uniform(0, 2 * np.pi)
    way = np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    spread = np.cov((corners_mm - target[:2]).T)
    longest = np.linalg.eigh(spread)[1][:, 1]
    roll = np.arctan2(longest[1], longest[0]) + (np.pi / 2 if height > width else 0)
    roll += np.pi * rng.integers(2) + rng.normal(0, 0.12)
    points = np.column_stack([corners_mm, np.zeros(len(corners_mm))])
    for distance in np.arange(450, 4000, 25.0):
        pose = look_at(target + distance * way, target, float(roll))
        local = points @ pose[:3, :3].T + pose[:3, 3]
        room = np.abs(local[:, :2] / local[:, 2:]) * far_px * scale_px
        if np.all(room < np.array([width, height]) * 0.47):
            break
    off = rng.uniform(-0.01, 0.01, 2) * max(width, height)
    camera = PhoneCamera(
        size_px=(width, height),
        focal_px=float(far_px * (1 + focal_mm / distance) * scale_px),
        centre_x_px=float((width - 1) / 2 + off[0]),
        centre_y_px=float((height - 1) / 2 + off[1]),
        k1=float(np.clip(rng.normal(0, 0.013), -0.03, 0.03)),
        k2=float(np.clip(rng.normal(0, 0.01), -0.03, 0.03)),
        aperture_mm=0.0,
        focus_mm=float(distance),
        camera_from_sheet=pose,
    )
    return camera, orientation, (int(np.round(far_px * by)), focal_mm)


def _outline_floor(piece: LaidPiece) -> Floats:
    box = np.array(piece.outline_page_mm) - piece.middle_page_mm
    x, y = box[:, 0] * piece.scale_x, -box[:, 1] * piece.scale_y
    c, s = np.cos(piece.at_mm[2]), np.sin(piece.at_mm[2])
    return np.column_stack([c * x - s * y + piece.at_mm[0], s * x + c * y + piece.at_mm[1]])


def _limits(layout: dict[str, Any]) -> tuple[float, float]:
    """Farthest distance (mm) and steepest lean (degrees) for a route beside this print."""
    if layout["kind"] != "markers":  # a sheet's own limits are meant for a fitting
        return 1500.0, 30.0
    return float(layout["shoot"]["distance_mm"][1]), float(layout["shoot"]["tilt_deg"][1])


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is not drawn but asked for: the line's length [mm] and kind, copies of a sheet."""

    length_mm: float | None = None
    kind: str = ""
    sheets: int = 1


def draw_route_scene(
    seed: int, artwork: Artwork, scale_px: float = 1.0, wanted: Wanted | None = None
) -> RouteScene:
    """Draw one scene of a flat route; the print's kind says what lies beside it."""
    wanted = wanted or Wanted()
    rng = np.random.default_rng([77, seed])
    scales = 1 + rng.normal(0, 0.005, 2)
    pieces = list(artwork.layout["pieces"])
    if artwork.layout["kind"] == "sheet":
        pieces *= wanted.sheets
    if artwork.layout["kind"] == "markers":
        count = min(int(rng.integers(3, 7)), len(pieces))
        pieces = [pieces[k] for k in sorted(rng.choice(len(pieces), count, replace=False))]
    limits = _limits(artwork.layout)
    while True:
        line = _draw_line(wanted.length_mm, rng, wanted.kind)
        laid = _lay(pieces, line, scales, rng)
        corners = np.concatenate([sampled(line, 20.0)[0], *(_outline_floor(p) for p in laid)])
        camera, orientation, focal = _camera(corners, scale_px, limits[1], rng)
        if len(laid) == len(pieces) and camera.focus_mm <= limits[0]:
            break
    read = np.round(100 * scales + rng.normal(0, READING_SD_MM, 2), 2)
    up, turn = np.radians(rng.uniform(35, 75)), rng.uniform(0, 2 * np.pi)
    way = (np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.sin(up))
    return RouteScene(
        seed=seed,
        line=line,
        laid=_raised(laid, artwork.layout["kind"] == "markers", seed),
        bars=Bars(*(float(v) for v in (*(100 * scales), *read))),
        bench=draw_bench(rng),
        camera=camera,
        development=draw_development(orientation, focal, rng),
        light_way=tuple(float(v) for v in way),  # type: ignore[arg-type]
        slope=(float(rng.normal(0, 1.5e-4)), float(rng.normal(0, 1.5e-4))),
    )
