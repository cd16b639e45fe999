"""A route in space drawn back into its photos, and as a plan and a side view with dimensions."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from photomeasure.answers.drawing import BLUE, DARK, GREY, ORANGE, WHITE, Canvas
from photomeasure.answers.pictures import write_picture
from photomeasure.answers.route_space import SpaceRouteAnswer
from photomeasure.answers.words import band, band_inches
from photomeasure.photo import Photo
from photomeasure.route.space.reading import SpaceTrace

__all__ = ["plan_picture", "space_picture", "write_space_pictures"]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)

LEGEND = (
    "orange line: the hose's axis as solved    blue strokes: the bands' edges    "
    "crosses: corners used of cards and bands"
)
PLAN_LEGEND = "above: from the side it is widest    below: the same seen edgewise    mm"
SHEET_PX = (2000, 1500)
MARGIN = 0.12  # of the sheet's width


def space_picture(photo: Photo, answer: SpaceRouteAnswer) -> bytes:
    """Draw the solved route into one of its photos.

    Parameters
    ----------
    photo : Photo
    answer : SpaceRouteAnswer
        With a trace of this photo.

    Returns
    -------
    bytes
        JPEG, at most 2000 px on either side.
    """
    trace = next(one for one in answer.traces if one.photo_key == photo.key)
    canvas = Canvas.around(photo.colour, np.zeros(2), np.array(photo.size_px, dtype=np.float64))
    canvas.crosses(canvas.at(trace.corners_px), BLUE, size=0.12)
    for run in _runs(trace.centre_px, photo.size_px):
        canvas.line(canvas.at(run), ORANGE, width=0.1)
    _draw_bands(canvas, trace, photo.size_px)
    for number, (at, bend) in enumerate(zip(trace.bends_px, answer.bends, strict=True), start=1):
        if _is_inside(at, photo.size_px):
            lines = [f"bend {number}: {band(bend.angle)}", f"R {band(bend.radius)}"]
            canvas.dots(canvas.at(at)[None], WHITE, size=0.2)
            canvas.plate(lines, canvas.at(at), np.array([0.0, -1.0]), size=0.7)
    for name, place in (("start", trace.centre_px[0]), ("end", trace.centre_px[-1])):
        if _is_inside(place, photo.size_px):
            canvas.plate([name], canvas.at(place), np.array([0.0, 1.0]), size=0.8)
    for ends, one in zip(trace.clearances_px, answer.clearances, strict=True):
        if _is_inside(ends, photo.size_px):
            canvas.line(canvas.at(ends), WHITE, width=0.08)
            out = np.diff(canvas.at(ends), axis=0)[0]
            out = out / max(float(np.hypot(*out)), 1e-9)
            canvas.plate([one.name, band(one.distance)], canvas.at(ends[1]), out, size=0.7)
    figures = f"length {band(answer.length)}   {band_inches(answer.length)}"
    return canvas.jpeg([answer.line, figures], LEGEND)


def _draw_bands(canvas: Canvas, trace: SpaceTrace, size_px: tuple[int, int]) -> None:
    for edges in trace.bands_px:
        along = edges[1] - edges[0]
        length = float(np.hypot(*along))
        if not (_is_inside(edges[0], size_px) and _is_inside(edges[1], size_px)) or length < 1:
            continue
        across = 0.5 * np.array([-along[1], along[0]])
        for edge in edges:
            canvas.line(canvas.at(np.stack([edge - across, edge + across])), BLUE, width=0.06)


def _is_inside(px: Points2, size_px: tuple[int, int]) -> bool:
    return bool(np.all(np.isfinite(px)) and np.all(px >= 0) and np.all(px < size_px))


def _runs(px: Points2, size_px: tuple[int, int]) -> list[Points2]:
    """Stretches of a line that lie in the picture or just beside it."""
    low, high = -0.2 * np.array(size_px), 1.2 * np.array(size_px)
    near = np.all(np.isfinite(px), axis=1) & np.all(
        (np.nan_to_num(px, nan=-1e9) > low) & (np.nan_to_num(px, nan=-1e9) < high), axis=1
    )
    edges = np.diff(np.concatenate([[False], near, [False]]).astype(int))
    begin, stop = np.nonzero(edges > 0)[0], np.nonzero(edges < 0)[0]
    return [px[a:b] for a, b in zip(begin, stop, strict=True) if b - a > 1]


def plan_picture(answer: SpaceRouteAnswer) -> bytes:
    """Draw the route from the side where it is widest, and edgewise, with its dimensions.

    Parameters
    ----------
    answer : SpaceRouteAnswer

    Returns
    -------
    bytes
        JPEG.
    """
    points = answer.points_mm - answer.points_mm.mean(axis=0)
    axes = np.linalg.svd(points, full_matrices=False)[2]
    if axes[0] @ (points[-1] - points[0]) < 0:
        axes[0] *= -1
    seen = points @ axes.T
    span = np.ptp(seen, axis=0)
    width, height = SHEET_PX
    room = 1 - 2 * MARGIN
    scale = min(room * width / span[0], room * height / (span[1] + span[2] + 0.35 * span[0]))
    sheet = np.full((height, width, 3), 255, np.uint8)
    canvas = Canvas(sheet, np.zeros(2), 1.0)
    left = 0.5 * (width - scale * span[0])
    top = MARGIN * height
    plan = _placed(seen[:, :2], scale, (left, top))
    side_top = top + scale * span[1] + 0.22 * scale * span[0]
    side = _placed(seen[:, [0, 2]], scale, (left, side_top))
    _draw_spans(canvas, plan, side, span)
    for drawn in (plan, side):
        canvas.line(drawn, ORANGE, width=0.16)
        canvas.dots(drawn[[0, -1]], DARK, size=0.2)
    for drawn in (plan, side):
        canvas.plate(["start"], drawn[0], np.array([-1.0, 0.0]), size=0.6)
        canvas.plate(["end"], drawn[-1], np.array([1.0, 0.0]), size=0.6)
    _draw_bends(canvas, plan, answer)
    lines = [answer.line, _figures(answer)]
    return canvas.jpeg(lines, PLAN_LEGEND)


def _placed(seen: Points2, scale: float, corner: tuple[float, float]) -> Points2:
    low, high = seen.min(axis=0), seen.max(axis=0)
    return np.column_stack(
        [corner[0] + scale * (seen[:, 0] - low[0]), corner[1] + scale * (high[1] - seen[:, 1])]
    )


def _figures(answer: SpaceRouteAnswer) -> str:
    named = (
        ("tightest radius", answer.tightest_radius),
        ("turning", answer.turning),
        ("clocking", answer.clocking),
    )
    return "    ".join(f"{name} {band(value)}" for name, value in named if value is not None)


def _draw_bends(canvas: Canvas, plan: Points2, answer: SpaceRouteAnswer) -> None:
    if answer.length is None:
        return
    at = np.linspace(0.0, answer.length.value, len(plan))
    for number, bend in enumerate(answer.bends, start=1):
        if bend.at is None:
            continue
        k = int(np.argmin(np.abs(at - bend.at.value)))
        reach = max(2, len(plan) // 20)
        chord = 0.5 * (plan[max(0, k - reach)] + plan[min(len(plan) - 1, k + reach)])
        out = plan[k] - chord
        out = out / max(float(np.hypot(*out)), 1e-9)
        lines = [
            f"bend {number}: {band(bend.angle)}",
            f"R {band(bend.radius)}",
            f"at {band(bend.at)}",
        ]
        canvas.dots(plan[k][None], WHITE, size=0.2)
        canvas.plate(lines, plan[k], out, size=0.55)


def _draw_spans(canvas: Canvas, plan: Points2, side: Points2, span: NDArray[np.float64]) -> None:
    """How far the axis spreads each way."""
    for drawn, sizes in ((plan, span[[0, 1]]), (side, span[[0, 2]])):
        low, high = drawn.min(axis=0), drawn.max(axis=0)
        foot = np.array([[low[0], high[1]], [high[0], high[1]]])
        beside = canvas.dimension(foot, np.array([0.0, 1.6 * canvas.unit]), GREY)
        canvas.plate([f"{sizes[0]:.0f}"], beside.mean(axis=0), size=0.55)
        edge = np.array([[high[0], low[1]], [high[0], high[1]]])
        beside = canvas.dimension(edge, np.array([6.0 * canvas.unit, 0.0]), GREY)
        canvas.plate([f"{sizes[1]:.0f}"], beside.mean(axis=0), size=0.55)


def write_space_pictures(
    loads: Sequence[Callable[[], Photo]], answer: SpaceRouteAnswer, folder: Path
) -> list[Path]:
    """Write one picture a photo that was used, and the plan.

    Parameters
    ----------
    loads : sequence of callable
        Each gives one photo.
    answer : SpaceRouteAnswer
    folder : Path
        Made if it is not there.

    Returns
    -------
    list of Path
    """
    used = {trace.photo_key for trace in answer.traces}
    paths = []
    for number, load in enumerate(loads, start=1):
        photo = load()
        if photo.key in used:
            paths.append(write_picture(space_picture(photo, answer), folder, photo.name, number))
    paths.append(write_picture(plan_picture(answer), folder, "plan.jpg", 0))
    return paths
