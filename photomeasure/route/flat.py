"""Read a route laid flat beside one or more printed references, from one photo."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.references.prints import FoundPiece
from photomeasure.route.arcfit import fit_arcs
from photomeasure.route.arcs import Arcs
from photomeasure.route.budget import Budget, FlatLine
from photomeasure.route.curve import dense_points
from photomeasure.route.doubts import (
    is_shadow,
    refuse_open_ends,
    refuse_other_size,
    refuse_what_was_lost,
    warnings_of,
)
from photomeasure.route.hidden import refuse_hidden_ends
from photomeasure.route.line import RoughLine, find_line
from photomeasure.route.look import LEAST_STRETCHES, Pass, look_along, on_floor, seen_spread
from photomeasure.route.reading import FlatOptions, FlatScene, RouteReading, RouteTrace
from photomeasure.route.search import View
from photomeasure.route.strip import Ground, pull_straight
from photomeasure.route.track import End, Track

__all__ = ["read_flat"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)

PASSES = 12
FAINT_LEVELS = 30.0  # stored levels of 255 between hose and floor; drawn hoses are told by colour
# at 50 and more, and lost at 20 and less
LOOSE_PASSES = 2  # at a hose, whose first guide may lie beside it, so that one edge must do
OFF = 0.15  # of the width by which guide or ends may be off for edges to be told well
BESIDE = 0.35  # of the width by which a line lies off its shadow's middle, or they are one
FRAYED = 0.04  # of the width: an end as unclear as this is worth another look
UNSTEADY = (0.5, 3.0)  # widths and mm by which the last look may still have moved
WIDTH_LIMITS = (0.5, 1.8)  # of the rough width, which is known to a factor of 1.5 or so
STRIPED_LIMITS = (0.75, 1.4)  # of a striped tape's, which is known better: half of it is one stripe
UNSEEN = (6.0, 0.1)  # mm before an end that may show no edges, and doubt for each mm more;
# own estimate
SETTLED_MM = 0.1  # change of a round line's axis height
BLUR_LIMITS_PX = (0.7, 3.0)
PATH_NOISE = 0.04  # of the width: how rough the first path is
RIM_SEEN = 0.82  # of a radius times the lean of the sight, by which a round line's end is seen too
# far out: a rim's middle band lies less far out than its tip; in rendered pictures
CARD_ABOVE_MM = (0.7, 0.3)  # printed face of a card above the floor: paper alone to 1 mm of board
SHEET_ABOVE_MM = (0.2, 0.15)  # of a sheet's; common practice, no source


def read_flat(
    photo: Photo,
    scene: FlatScene,
    pieces: tuple[FoundPiece, ...],
    options: FlatOptions,
    *,
    shared_key: str = "",
) -> RouteReading:
    """Find the line, follow its edges and measure its middle.

    Parameters
    ----------
    photo : Photo
    scene : FlatScene
        The solved photo; the sheet's plane is the floor's.
    pieces : tuple of FoundPiece
        The references seen; no line is looked for on them.
    options : FlatOptions
    shared_key : str
        Of all photos of this line; the photo's own if there is but one.

    Returns
    -------
    RouteReading

    Raises
    ------
    NoLineError
        No line, several like ones, or one that leaves the picture.
    """
    blur = float(np.clip(np.median([p.blur_px for p in pieces]), *BLUR_LIMITS_PX))
    outlines = tuple(_outline_px(p) for p in pieces)
    ground = Ground(photo, scene, outlines, blur, options.line)
    above_mm, above_u_mm = _print_above(pieces)
    rough = find_line(View(photo, scene, ground.outlines_px, options))
    path_px = _from_start(rough.path_px, scene, options)
    width_mm = float(np.median(rough.width_px * _mm_per_px(scene, path_px)))
    rough = replace(rough, path_px=path_px)
    look, od_mm = _followed(ground, rough, width_mm, options, above_mm)
    height_mm = 0.5 * od_mm - above_mm
    _refuse_doubtful(ground, look, scene.sheet_mm(path_px, height_mm), height_mm, options)
    if len(photo.marked_px) != 2:
        look = _without_rims(look, scene, od_mm, height_mm)
    line = _line(ground, look, od_mm, (above_mm, above_u_mm))
    budget = Budget(line, scene, (photo.key, shared_key or photo.key), options)
    warnings = (*warnings_of(look, line, ground), *budget.warnings)
    return budget.reading(_trace(photo.key, line, look, budget), warnings)


def _refuse_doubtful(
    ground: Ground, look: Pass, path_mm: Points2, height_mm: float, options: FlatOptions
) -> None:
    """Refuse what a person must look at or mend first; `path_mm` looked like the line."""
    photo, scene = ground.photo, ground.scene
    if len(photo.marked_px) == 2:  # it ends there, wherever it seemed to end
        path_mm = look.guide.points(np.array([end.along_mm for end in look.ends]))
    refuse_what_was_lost(look, path_mm, height_mm, scene)
    pointed_px = np.array([*options.points_px, *photo.marked_px], np.float64).reshape(-1, 2)
    refuse_hidden_ends(look, scene.sheet_mm(pointed_px, height_mm))
    if options.line_od_mm and ground.is_round:
        refuse_other_size(_diameter(scene, look, height_mm), options.line_od_mm)


def _print_above(pieces: tuple[FoundPiece, ...]) -> tuple[float, float]:
    """Height of the printed faces above the floor that the line lies on, and its u [mm]."""
    is_card = all(p.print_.kind == "markers" for p in pieces)
    return CARD_ABOVE_MM if is_card else SHEET_ABOVE_MM


def _outline_px(piece: FoundPiece) -> Points2:
    """Where a reference's outline is seen, to a few pixels."""
    page = piece.piece.corners_page_mm[piece.corner_ids]
    matrix = cv2.findHomography(page, piece.corners_px)[0]
    outline = piece.piece.outline_page_mm[:, None].astype(np.float64)
    return np.asarray(cv2.perspectiveTransform(outline, matrix)[:, 0], np.float64)


def _from_start(path_px: Points2, scene: FlatScene, options: FlatOptions) -> Points2:
    """Let the path begin at the user's first point, else at the first reference."""
    ends = path_px[[0, -1]]
    if options.points_px:
        distance = np.hypot(*(ends - np.array(options.points_px[0])).T)
    else:
        distance = np.hypot(*scene.sheet_mm(ends).T)
    return path_px if distance[0] <= distance[1] else path_px[::-1]


def _mm_per_px(scene: FlatScene, points_px: Points2) -> Vector:
    """Geometric mean scale of the photo on the floor."""
    here, right, down = (scene.sheet_mm(points_px + s) for s in ((0, 0), (1, 0), (0, 1)))
    (a, b), (c, d) = (right - here).T, (down - here).T
    return np.asarray(np.sqrt(np.abs(a * d - b * c)))


def _followed(
    ground: Ground, rough: RoughLine, width_mm: float, options: FlatOptions, above_mm: float
) -> tuple[Pass, float]:
    """Look along the line; where a round one is not told by colour, by its two edges."""
    said, faint = (rough, width_mm, options, above_mm), replace(ground, is_faint=True)
    if options.line == "hose" and _is_faint(ground, *said):
        return _settled(faint, *said)
    try:
        look, od_mm = _settled(ground, *said)
    except NoLineError as plain:
        if not ground.is_round:
            raise
        try:
            return _settled(faint, *said)
        except NoLineError:
            raise plain from None
    if not is_shadow(look):
        return look, od_mm
    beside = _settled(faint, *said)
    return beside if _is_beside(beside[0], look) else (look, od_mm)


def _is_beside(look: Pass, other: Pass) -> bool:
    """Whether a line runs beside another one: what casts a shadow, beside it."""
    at_mm = np.linspace(look.guide.knots_mm[0], look.guide.knots_mm[-1], 50)
    points_mm = look.guide.points(at_mm)
    away_mm = np.hypot(*(points_mm - other.guide.points(other.guide.nearest(points_mm))).T)
    return bool(np.median(away_mm) > BESIDE * look.track.width_mm)


def _settled(
    ground: Ground, rough: RoughLine, width_mm: float, options: FlatOptions, above_mm: float
) -> tuple[Pass, float]:
    """Look along the line until guide, width and ends stand still; with its diameter, 0 of tape."""
    is_round, rough_mm = options.line != "tape", width_mm
    guide, od_mm = _begun(ground, rough, width_mm, options, above_mm)
    limits = WIDTH_LIMITS
    loose = LOOSE_PASSES if options.line == "hose" and not ground.is_faint else 0
    for number in range(PASSES):
        height_mm = 0.5 * od_mm - above_mm
        look = look_along(ground, guide, width_mm, height_mm, is_loose=number < loose)
        if any(end.is_cut_off for end in look.ends):
            break
        if number == 0 and rough.is_striped and look.strip.is_striped:
            ground, limits = replace(ground, is_striped=True), STRIPED_LIMITS
        moved = number < loose or _is_off(look, width_mm, OFF * width_mm) or _is_frayed(look)
        least_mm, most_mm = (share * rough_mm for share in limits)
        width_mm = min(max(look.track.width_mm, least_mm), most_mm)
        guide = _next_guide(look)
        if is_round and not options.line_od_mm:
            other_mm = min(_diameter(ground.scene, look, height_mm), width_mm)
            moved |= abs(other_mm - od_mm) > 2 * SETTLED_MM
            if moved:
                heights = (height_mm, 0.5 * other_mm - above_mm)
                guide, od_mm = _raised(guide, ground.scene.centre_mm, *heights), other_mm
        if not moved and all(end.is_seen for end in look.ends):
            return look, od_mm
    refuse_open_ends(look)
    return _widened(look, width_mm), od_mm


def _begun(
    ground: Ground, rough: RoughLine, width_mm: float, options: FlatOptions, above_mm: float
) -> tuple[Arcs, float]:
    """The first guide, and the line's diameter as far as it is known, 0 of tape."""
    od_mm = (options.line_od_mm or width_mm) if options.line != "tape" else 0.0
    path_mm = ground.scene.sheet_mm(rough.path_px, 0.5 * od_mm - above_mm)
    return _first_guide(path_mm, width_mm), od_mm


def _is_faint(
    ground: Ground, rough: RoughLine, width_mm: float, options: FlatOptions, above_mm: float
) -> bool:
    """Whether a hose hardly differs from the floor, so that only its edges tell it."""
    guide, od_mm = _begun(ground, rough, width_mm, options, above_mm)
    quick = replace(ground, is_quick=True)
    return pull_straight(quick, guide, width_mm, 0.5 * od_mm - above_mm).contrast < FAINT_LEVELS


def _widened(look: Pass, width_mm: float) -> Pass:
    """Doubt ends that never stood still by how far they moved last; refuse wild ones."""
    moves = np.array([e.along_mm for e in look.ends]) - look.guide.knots_mm[[0, -1]]
    if not _is_off(look, width_mm, max(UNSTEADY[0] * width_mm, UNSTEADY[1])):
        first, last = (
            replace(end, u_mm=float(np.hypot(end.u_mm, move)))
            for end, move in zip(look.ends, moves, strict=True)
        )
        return replace(look, ends=(first, last))
    raise NoLineError(
        "The line's edges and ends are not found where they were a moment before.",
        "Lay the line on a floor that it stands out from, or point at it with --points.",
    )


def _raised(guide: Arcs, centre_mm: Vector, from_mm: float, to_mm: float) -> Arcs:
    """Give the curve in another plane that is seen in the same pixels: larger or smaller."""
    scale = float((centre_mm[2] - to_mm) / (centre_mm[2] - from_mm))
    start = centre_mm[:2] + scale * (guide.start_mm - centre_mm[:2])
    knots, curvature = guide.knots_mm * scale, guide.curvature_per_mm / scale
    return Arcs(start, guide.heading_rad, knots, curvature)


def _is_off(look: Pass, width_mm: float, limit: float) -> bool:
    """Whether guide, ends or width were so far off (mm) that another look is worth while."""
    ends = np.array([end.along_mm for end in look.ends]) - look.guide.knots_mm[[0, -1]]
    across = np.abs(look.track.across_mm[look.track.weight > 0])
    width_off = abs(look.track.width_mm - width_mm)
    return bool(max(np.max(np.abs(ends)), np.quantile(across, 0.95), width_off) > limit)


def _is_frayed(look: Pass) -> bool:
    """Whether an end is so unclear that the curve may have gone astray there."""
    widest = FRAYED * look.track.width_mm
    return not look.is_faint and any(end.u_mm > widest for end in look.ends)


def _first_guide(path_mm: Points2, width_mm: float) -> Arcs:
    """Arcs through the rough path, its unsure ends cut off."""
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path_mm, axis=0).T))))
    cut = min(0.7 * width_mm, 0.2 * at[-1])
    count = max(2 * LEAST_STRETCHES, round((at[-1] - 2 * cut) / max(5.0, 0.3 * width_mm)))
    chosen = np.linspace(cut, at[-1] - cut, count)
    reach = max(2.0, 0.5 * width_mm)
    kernel = np.exp(-0.5 * ((chosen[:, None] - at[None]) / reach) ** 2)
    kernel *= np.gradient(at)[None]
    ordinary = (np.ones_like(at)[None], (at[None] - chosen[:, None]))
    moments = [np.sum(kernel * ordinary[1] ** k, axis=1) for k in range(3)]
    weight = kernel * (moments[2][:, None] - moments[1][:, None] * ordinary[1])
    smooth = (weight @ path_mm) / weight.sum(axis=1, keepdims=True)
    return fit_arcs(smooth, np.ones(count), PATH_NOISE * width_mm).arcs


def _next_guide(look: Pass) -> Arcs:
    """Give the fitted curve, cut or, straight on, lengthened to the ends."""
    arcs = look.fit.arcs
    first, last = arcs.nearest(look.guide.points(np.array([e.along_mm for e in look.ends])))
    knots, curvature = arcs.knots_mm.copy(), arcs.curvature_per_mm
    if first < knots[0]:
        knots, curvature = np.insert(knots, 0, first), np.insert(curvature, 0, 0.0)
    else:
        knots[0] = min(first, knots[1] - 1.0)
    if last > knots[-1]:
        knots, curvature = np.append(knots, last), np.append(curvature, 0.0)
    else:
        knots[-1] = max(last, knots[-2] + 1.0)
    heading = float(arcs.headings(knots[:1])[0])
    return Arcs(arcs.points(knots[:1])[0], heading, knots, curvature)


def _diameter(scene: FlatScene, look: Pass, height_mm: float) -> float:
    """Outside diameter of a round line from its visible width."""
    width = look.track.left_mm - look.track.right_mm
    return float(
        np.nanmedian(width / seen_spread(scene, look.guide, look.track.along_mm, height_mm))
    )


def _without_rims(look: Pass, scene: FlatScene, od_mm: float, height_mm: float) -> Pass:
    """Take off how far a round line's rims are seen beyond its axis' ends.

    Notes
    -----
    Of an end that points away its rim's top is seen, of one that points here its face's foot:
    both lie a radius off the axis' height, and so a radius times the lean of the sight outward.
    """
    along_mm = np.array([end.along_mm for end in look.ends])
    heading, places = look.guide.headings(along_mm), look.guide.points(along_mm)
    away_mm = np.sum((places - scene.centre_mm[:2]).T * (np.cos(heading), np.sin(heading)), axis=0)
    lean = np.abs(away_mm) / (scene.centre_mm[2] - height_mm)
    out_mm = RIM_SEEN * 0.5 * od_mm * lean
    first, last = (
        replace(end, along_mm=float(end.along_mm + sign * out))
        for end, sign, out in zip(look.ends, (1, -1), out_mm, strict=True)
    )
    return replace(look, ends=(first, last))


def _line(ground: Ground, look: Pass, od_mm: float, above_mm: tuple[float, float]) -> FlatLine:
    height_mm = 0.5 * od_mm - above_mm[0]
    ends = look.guide.points(np.array([end.along_mm for end in look.ends]))
    at = look.fit.arcs.nearest(ends)
    points, at_mm = dense_points(look.fit.arcs, float(at[0]), float(at[1]))
    px = ground.scene.px(np.column_stack((points, np.full(len(points), height_mm))))
    return FlatLine(
        look.fit,
        at_mm,
        px,
        height_mm,
        od_mm,
        above_mm[1],
        _doubted(look),
        ends,
        look.track.width_mm,
        look.track.width_u_mm,
        look.strip.is_bright,
    )


def _doubted(look: Pass) -> tuple[End, End]:
    """Ends, less sure where the way to them shows no edges."""
    known = look.track.along_mm[look.track.weight > 0]
    gaps = known[0] - look.ends[0].along_mm, look.ends[1].along_mm - known[-1]
    first, last = (
        replace(end, u_mm=float(np.hypot(end.u_mm, UNSEEN[1] * max(0.0, gap - UNSEEN[0]))))
        for end, gap in zip(look.ends, gaps, strict=True)
    )
    return first, last


def _trace(key: str, line: FlatLine, look: Pass, budget: Budget) -> RouteTrace:
    def seen(along: Vector, across: Vector) -> Points2:
        flat = on_floor(look.guide, along, across)
        return scene.px(np.column_stack((flat, np.full(len(flat), line.height_mm))))

    scene, track, half = budget.scene, look.track, 0.75 * line.width_mm
    edges = []
    for edge in (track.left_mm, track.right_mm):
        known = np.isfinite(edge)
        edges.append(seen(track.along_mm[known], edge[known]))
    cuts = [seen(np.full(2, end.along_mm), np.array([-half, half])) for end in look.ends]
    arcs = tuple(line.px[first : last + 1] for first, last in budget.layout.bends)
    middles = [int(np.argmin(np.abs(line.at_mm - line.at_mm[0] - at))) for at in budget.bend_places]
    return RouteTrace(
        key,
        line.px,
        tuple(edges),
        line.px[[0, -1]],
        np.stack(cuts),
        line.px[middles],
        arcs,
        _ignored(track, seen(track.along_mm, track.across_mm)),
    )


def _ignored(track: Track, px: Points2) -> tuple[Points2, ...]:
    """Runs of stretches without usable edges."""
    lost = np.concatenate(([False], track.weight == 0, [False]))
    first, last = (
        np.nonzero(np.diff(lost.astype(int)) > 0)[0],
        np.nonzero(np.diff(lost.astype(int)) < 0)[0],
    )
    return tuple(px[a:b] for a, b in zip(first, last, strict=True))
