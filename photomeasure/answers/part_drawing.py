"""A small dimensioned drawing of the part: its outline laid level, and what was measured on it."""

import numpy as np
from numpy.typing import NDArray

from photomeasure.answers.drawing import BLUE, DARK, GREY, Canvas
from photomeasure.answers.fitting import FittingAnswer
from photomeasure.answers.words import band
from photomeasure.photo import Photo
from photomeasure.thread.reading import FittingTrace

__all__ = ["part_drawing"]

Points2 = NDArray[np.float64]  # (N, 2)

WIDE_PX, TALL_PX = 2000, 1400
SHARE = 0.55  # of the drawing that the part takes
LEAST_OFF = 0.15  # of the widest place: nearer to the axis the outline is lost at the ends
LEGEND = (
    "the outline as found, laid level; not exactly to scale: the camera sees near things larger. "
    "Take sizes from the figures"
)


def part_drawing(photo: Photo, answer: FittingAnswer) -> bytes:
    """Draw the part with its dimensions, free end to the left.

    Parameters
    ----------
    photo : Photo
        One that the answer was read from.
    answer : FittingAnswer
        With traces.

    Returns
    -------
    bytes
        JPEG, at most 2000 px on either side.
    """
    trace = next(one for one in answer.traces if one.photo_key == photo.key)
    level = _level(trace)
    outline = [_turned(side, level) for side in trace.outline_px]
    every = np.vstack(outline)
    low, high = every.min(axis=0), every.max(axis=0)
    scale = SHARE * float(min(WIDE_PX / (high - low)[0], TALL_PX / (high - low)[1]))
    middle = (low + high) / 2
    origin = middle - np.array([WIDE_PX, TALL_PX]) / (2 * scale)
    canvas = Canvas(np.full((TALL_PX, WIDE_PX, 3), 255, np.uint8), origin, scale)
    for side in outline:
        body = np.abs(side[:, 1]) > LEAST_OFF * np.abs(every[:, 1]).max()
        canvas.line(canvas.at(side[body]), BLUE, width=0.1)
    axis = np.array([[low[0], 0.0], [high[0], 0.0]])
    canvas.line(canvas.at(axis), GREY, width=0.05, style="chain")
    _dimensions(canvas, trace, answer, level)
    name, _, check = answer.line.partition("; ")
    return canvas.jpeg([name, check, _figures(answer)], LEGEND)


def _level(trace: FittingTrace) -> tuple[Points2, Points2]:
    """Foot of the end face, and the rotation that lays the axis along x, away from that end."""
    start, stop = trace.axis_px
    way = (stop - start) / max(float(np.hypot(*(stop - start))), 1e-9)
    return start, np.array([way, [-way[1], way[0]]])


def _turned(points_px: Points2, level: tuple[Points2, Points2]) -> Points2:
    foot, rotation = level
    return np.asarray((points_px - foot) @ rotation.T)


def _dimensions(
    canvas: Canvas, trace: FittingTrace, answer: FittingAnswer, level: tuple[Points2, Points2]
) -> None:
    unit = canvas.unit
    diameter = answer.diameter_at_small_end or answer.major_diameter
    ends = canvas.at(_turned(trace.diameter_px, level))
    face, last = canvas.at(_turned(trace.axis_px, level))
    half = float(np.ptp(ends[:, 1])) / 2
    if diameter is not None:
        beside = canvas.dimension(ends, np.array([face[0] - ends[0, 0] - 3 * unit, 0.0]), DARK)
        name = "small end Ø" if answer.diameter_at_small_end else "Ø"
        canvas.plate([name, band(diameter)], beside.mean(axis=0), np.array([-1.0, 0.0]), size=0.8)
    if answer.thread_length is not None:
        along = np.stack([face, last]) + np.array([0.0, half])
        beside = canvas.dimension(along, np.array([0.0, 2.5 * unit]), DARK)
        text = f"thread {band(answer.thread_length)}"
        canvas.plate([text], beside.mean(axis=0), np.array([0.0, 1.0]), size=0.8)
    if answer.pitch is not None:
        crests = canvas.at(_turned(trace.pitch_px, level))
        top = np.column_stack([crests[:, 0], np.full(2, face[1] - half)])
        beside = canvas.dimension(top, np.array([0.0, -3.5 * unit]), DARK)
        text = f"pitch {band(answer.pitch)}"
        canvas.plate([text], beside.mean(axis=0), np.array([-0.7, -0.7]), size=0.8)
    if trace.hexagon_px is not None and answer.across_flats is not None:
        corners = canvas.at(_turned(trace.hexagon_px, level))
        sizes = " or ".join(one.size for one in answer.spanner[:2])
        lines = [f"across flats {band(answer.across_flats)}", f"spanner {sizes}"]
        top = np.array([corners[:, 0].mean(), corners[:, 1].min() - 0.5 * unit])
        canvas.plate(lines, top + np.array([4.0 * unit, 0.0]), np.array([0.0, -1.0]), size=0.8)


def _figures(answer: FittingAnswer) -> str:
    named = (
        ("root Ø", answer.minor_diameter),
        ("flanks", answer.thread_angle),
        ("taper, half angle", answer.taper_half_angle),
        ("nose, half angle", answer.nose_half_angle),
    )
    told = [f"{name} {band(value)}" for name, value in named if value is not None]
    return "    ".join([*told, f"hand {answer.hand}"])
