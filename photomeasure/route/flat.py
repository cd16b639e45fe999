"""Read a route laid flat beside one or more printed references, from one photo."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.photo import Photo
from photomeasure.references.prints import FoundPiece
from photomeasure.route.arcfit import ArcFit, fit_arcs
from photomeasure.route.arcs import Arcs
from photomeasure.route.budget import Budget, FlatLine
from photomeasure.route.curve import dense_points
from photomeasure.route.line import RoughLine, find_line
from photomeasure.route.reading import FlatOptions, FlatScene, RouteReading, RouteTrace
from photomeasure.route.search import View
from photomeasure.route.strip import Ground, Strip, pull_straight
from photomeasure.route.track import End, Track, follow, line_ends

__all__ = ["read_flat"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)

PASSES = 6
OFF = 0.15  # of the width by which guide or ends may be off for edges to be told well
WIDTH_LIMITS = (0.5, 1.8)  # of the rough width, which is known to a factor of 1.5 or so
SETTLED_MM = 0.1  # change of a round line's axis height
BLUR_LIMITS_PX = (0.7, 3.0)
LEAST_STRETCHES = 8
LEAST_FOUND = 0.5  # of the line's stretches with usable edges
LEAST_SHARE = 0.9  # of what looks like the line that lies on its way
FAR_MM = 400.0  # from the nearest reference; beyond, small errors of its pose grow
WOBBLE_MM = 0.1  # a line laid by hand wobbles more; smaller waves are no bends; own estimate
PATH_NOISE = 0.04  # of the width: how rough the first path is


@dataclass(frozen=True, slots=True, eq=False)
class _Pass:
    """One look along the line: guide, strip and what was found in it."""

    guide: Arcs
    strip: Strip
    ends: tuple[End, End]
    track: Track
    fit: ArcFit


HOSE_IS_HARD = (
    "A laid hose is hard to follow: look whether the drawn line lies on it from end to end, "
    "or lay plain tape instead."
)


def read_flat(
    photo: Photo, scene: FlatScene, pieces: tuple[FoundPiece, ...], options: FlatOptions
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

    Returns
    -------
    RouteReading

    Raises
    ------
    NoLineError
        No line, several like ones, or one that leaves the picture.
    """
    blur = float(np.clip(np.median([p.blur_px for p in pieces]), *BLUR_LIMITS_PX))
    ground = Ground(
        photo, scene, tuple(_outline_px(p) for p in pieces), blur, options.line != "tape"
    )
    rough = find_line(View(photo, scene, ground.outlines_px, options))
    path_px = _from_start(rough.path_px, scene, options)
    width_mm = float(np.median(rough.width_px * _mm_per_px(scene, path_px)))
    look, height_mm = _followed(ground, path_px, width_mm, options)
    line = _line(ground, look, height_mm)
    budget = Budget(line, scene, photo.key, options)
    doubtful = (HOSE_IS_HARD,) if options.line == "hose" else ()
    warnings = (*doubtful, *_branches(rough), *_warnings(look, line, ground), *budget.warnings)
    return budget.reading(_trace(photo.key, line, look, budget), warnings)


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
    ground: Ground, path_px: Points2, width_mm: float, options: FlatOptions
) -> tuple[_Pass, float]:
    """Look along the line until guide, width and ends stand still."""
    is_round, rough_mm = options.line != "tape", width_mm
    height_mm = 0.5 * (options.line_od_mm or (rough_mm if is_round else 0.0))
    guide = _first_guide(ground.scene.sheet_mm(path_px, height_mm), width_mm)
    for _ in range(PASSES):
        look = _look(ground, guide, width_mm, height_mm)
        if any(end.is_cut_off for end in look.ends):
            break
        moved = _is_off(look, width_mm)
        least_mm, most_mm = (share * rough_mm for share in WIDTH_LIMITS)
        width_mm = min(max(look.track.width_mm, least_mm), most_mm)
        guide = _next_guide(look)
        if is_round and not options.line_od_mm:
            higher_mm = 0.5 * min(_diameter(ground.scene, look, height_mm), width_mm)
            moved |= abs(higher_mm - height_mm) > SETTLED_MM
            if moved:
                guide = _raised(guide, ground.scene.centre_mm, height_mm, higher_mm)
                height_mm = higher_mm
        if not moved and all(end.is_seen for end in look.ends):
            return look, height_mm
    _refuse_open_ends(look)
    return look, height_mm


def _raised(guide: Arcs, centre_mm: Vector, from_mm: float, to_mm: float) -> Arcs:
    """Give the curve in another plane that is seen in the same pixels: larger or smaller."""
    scale = float((centre_mm[2] - to_mm) / (centre_mm[2] - from_mm))
    start = centre_mm[:2] + scale * (guide.start_mm - centre_mm[:2])
    knots, curvature = guide.knots_mm * scale, guide.curvature_per_mm / scale
    return Arcs(start, guide.heading_rad, knots, curvature)


def _refuse_open_ends(look: _Pass) -> None:
    for end, name in zip(look.ends, ("start", "end"), strict=True):
        if not end.is_seen:
            raise NoLineError(
                f"The line runs out of the picture at its {name}.",
                "Step back so that both ends show with some floor beyond them.",
            )


def _is_off(look: _Pass, width_mm: float) -> bool:
    """Whether guide, ends or width were so far off that another look is worth while."""
    limit = OFF * width_mm
    ends = np.array([end.along_mm for end in look.ends]) - look.guide.knots_mm[[0, -1]]
    across = np.abs(look.track.across_mm[look.track.weight > 0])
    width_off = abs(look.track.width_mm - width_mm)
    return bool(max(np.max(np.abs(ends)), np.quantile(across, 0.95), width_off) > limit)


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


def _look(ground: Ground, guide: Arcs, width_mm: float, height_mm: float) -> _Pass:
    strip = pull_straight(ground, guide, width_mm, height_mm)
    blur_mm = ground.blur_px * strip.step_mm
    ends = line_ends(strip, blur_mm)
    inner = (ends[0].along_mm + 2 * blur_mm, ends[1].along_mm - 2 * blur_mm)
    track = follow(strip, blur_mm, inner)
    found = track.weight > 0
    share = float(found.mean()) if len(found) else 0.0
    if found.sum() < LEAST_STRETCHES or share < LEAST_FOUND:
        raise NoLineError(
            f"The line's edges can be followed over {share:.0%} of its length only.",
            "Use tape that stands out from the floor, and keep shadows and glare off it.",
        )
    points = _on_floor(guide, track.along_mm, track.across_mm)[found]
    fit = fit_arcs(points, track.weight[found], WOBBLE_MM)
    return _Pass(guide, strip, ends, track, fit)


def _on_floor(guide: Arcs, along_mm: Vector, across_mm: Vector) -> Points2:
    """From the strip to the plane of the line, (N, 2) [mm]."""
    heading = guide.headings(along_mm)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    return np.asarray(guide.points(along_mm) + across_mm[:, None] * normal)


def _next_guide(look: _Pass) -> Arcs:
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


def _diameter(scene: FlatScene, look: _Pass, height_mm: float) -> float:
    """Outside diameter of a round line from its visible width.

    The two contours, cut at axis height, lie further apart the more sideways it is seen.
    """
    at = look.track.along_mm
    heading = look.guide.headings(at)
    normal = np.column_stack((-np.sin(heading), np.cos(heading)))
    to_camera = scene.centre_mm[:2] - look.guide.points(at)
    lean = np.sum(to_camera * normal, axis=1) / (scene.centre_mm[2] - height_mm)
    width = look.track.left_mm - look.track.right_mm
    return float(np.nanmedian(width / np.hypot(1.0, lean)))


def _line(ground: Ground, look: _Pass, height_mm: float) -> FlatLine:
    ends = look.guide.points(np.array([end.along_mm for end in look.ends]))
    at = look.fit.arcs.nearest(ends)
    points, at_mm = dense_points(look.fit.arcs, float(at[0]), float(at[1]))
    px = ground.scene.px(np.column_stack((points, np.full(len(points), height_mm))))
    return FlatLine(
        look.fit,
        at_mm,
        px,
        height_mm,
        look.ends,
        ends,
        look.track.width_mm,
        look.track.width_u_mm,
        look.strip.is_bright,
    )


def _branches(rough: RoughLine) -> tuple[str, ...]:
    if rough.share > LEAST_SHARE:
        return ()
    return ("The line branches or crosses another one; look whether the right way was taken.",)


def _warnings(look: _Pass, line: FlatLine, ground: Ground) -> tuple[str, ...]:
    found = []
    lost = 1.0 - float(np.mean(look.track.weight > 0))
    if lost > 0.1:
        found.append(f"{lost:.0%} of the line is hidden or unclear; it was bridged smoothly.")
    for end, name in zip(look.ends, ("start", "end"), strict=True):
        if end.is_covered:
            found.append(
                f"The line's {name} touches a printed reference: what lies under it is missing."
            )
    far = _farthest(line.px, ground)
    if len(ground.outlines_px) == 1:
        found.append(
            f"One reference in one place; the line goes {far:.0f} mm away from it. "
            "A second one at the other end makes the length surer."
        )
    elif far > FAR_MM:
        found.append(
            f"The line goes {far:.0f} mm away from the nearest reference; lay one beside there."
        )
    return tuple(found)


def _farthest(line_px: Points2, ground: Ground) -> float:
    """Greatest distance of the line from the nearest reference's corner or middle."""
    line = ground.scene.sheet_mm(line_px[:: max(1, len(line_px) // 50)])
    outlines = [ground.scene.sheet_mm(o) for o in ground.outlines_px]
    marks = np.vstack([np.vstack((o, o.mean(axis=0))) for o in outlines])
    distance = np.hypot(*(line[:, None] - marks[None]).transpose(2, 0, 1))
    return float(np.max(np.min(distance, axis=1)))


def _trace(key: str, line: FlatLine, look: _Pass, budget: Budget) -> RouteTrace:
    def seen(along: Vector, across: Vector) -> Points2:
        flat = _on_floor(look.guide, along, across)
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
