"""The annotated picture of a port: the photo beside its wall unwrapped, stripes marked."""

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.answers.drawing import BLUE, DARK, ORANGE, Canvas
from photomeasure.answers.port import PortAnswer
from photomeasure.answers.words import band, band_inches
from photomeasure.photo import Photo
from photomeasure.port.reading import PortTrace
from photomeasure.references.find import find_pieces

__all__ = ["port_picture"]


Points2 = NDArray[np.float64]  # (N, 2)
ROOM = 1.9  # half the picture, in mouths
GAP_SHARE = 0.02
LEGEND = (
    "blue: the mouth's rim (dashed: of the recess)    orange: crest lines as solved    "
    "dots: edges used    right: the wall unwrapped, mouth at the top (blue: the thread's end)"
)
SQUARE_LEGEND = "blue: the bore's edge; square on the thread is not seen"


def port_picture(photo: Photo, answer: PortAnswer) -> bytes:
    """Draw a port's reading into its photo, with its wall unwrapped beside it.

    Parameters
    ----------
    photo : Photo
        One that the answer was read from.
    answer : PortAnswer
        With traces.

    Returns
    -------
    bytes
        JPEG, at most 2000 px on either side.
    """
    trace = next(one for one in answer.traces if one.photo_key == photo.key)
    low, high = trace.mouth_px.min(axis=0), trace.mouth_px.max(axis=0)
    half = ROOM * float((high - low).max()) / 2
    middle = (low + high) / 2
    near = Canvas.around(photo.colour, middle - half, middle + half)
    _draw_port(near, photo, trace, answer)
    picture, legend = near.picture, SQUARE_LEGEND
    if trace.wall.size:
        picture, legend = _beside(picture, _wall(trace, picture.shape[0])), LEGEND
    canvas = Canvas(picture, np.zeros(2), 1.0)
    name, _, check = answer.line.partition("; ")
    return canvas.jpeg([name, check, _figures(answer)], legend)


def _figures(answer: PortAnswer) -> str:
    named = (
        ("bore", answer.bore_diameter),
        ("pitch", answer.pitch),
        ("mouth", answer.mouth_diameter),
        ("recess", answer.spot_face_diameter),
        ("full thread", answer.thread_depth),
    )
    figures = [f"{name} {band(value)}" for name, value in named if value is not None]
    return "    ".join([*figures, f"hand {answer.hand}"])


def _draw_port(canvas: Canvas, photo: Photo, trace: PortTrace, answer: PortAnswer) -> None:
    for piece in find_pieces(photo):
        canvas.crosses(canvas.at(piece.corners_px), BLUE)
    canvas.line(canvas.at(trace.mouth_px), BLUE, width=0.1)
    if len(trace.recess_px):
        canvas.line(canvas.at(trace.recess_px), BLUE, width=0.08, style="dashed")
    canvas.dots(canvas.at(trace.points_px), ORANGE, size=0.05)
    for line in trace.crests_px:
        canvas.line(canvas.at(line), ORANGE, width=0.06)
    if answer.bore_diameter is not None:
        ends = canvas.at(trace.bore_px)
        canvas.dimension(ends, np.zeros(2), DARK)
        way = ends[0] - ends[1]
        way /= max(float(np.hypot(*way)), 1e-9)
        words = [f"Ø {band(answer.bore_diameter)}", band_inches(answer.bore_diameter)]
        canvas.plate(words, ends[0] + 4 * canvas.unit * way, way)


def _wall(trace: PortTrace, height: int) -> NDArray[np.uint8]:
    """The unwrapped wall in the picture's height, its crest lines marked."""
    scale = height / trace.wall.shape[0]
    wide = cv2.resize(trace.wall, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    colour = np.asarray(cv2.cvtColor(wide, cv2.COLOR_GRAY2BGR), np.uint8)
    canvas = Canvas(colour, np.zeros(2), 1.0)
    for line in trace.wall_lines:
        canvas.line((line + 0.5) * scale, ORANGE, width=0.05, style="dashed")
    if trace.wall_end_row is not None:
        across = np.array([[0.0, trace.wall_end_row], [trace.wall.shape[1], trace.wall_end_row]])
        canvas.line(across * scale, BLUE, width=0.08)
    return canvas.picture


def _beside(left: NDArray[np.uint8], right: NDArray[np.uint8]) -> NDArray[np.uint8]:
    gap = np.full((left.shape[0], int(GAP_SHARE * left.shape[1]) + 2, 3), 255, np.uint8)
    return np.ascontiguousarray(np.concatenate([left, gap, right[: left.shape[0]]], axis=1))
