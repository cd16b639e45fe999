"""A candidate's profile laid over the photo at its true size, to see whether it drifts."""

import math

import numpy as np
from numpy.typing import NDArray

from photomeasure.answers.drawing import BLUE, ORANGE, Canvas
from photomeasure.answers.fitting import FittingAnswer
from photomeasure.errors import UsageError
from photomeasure.photo import Photo
from photomeasure.standards import Thread, thread
from photomeasure.thread.reading import FittingTrace

__all__ = ["profile_picture", "tooth_mm"]

Points2 = NDArray[np.float64]  # (N, 2)

_ROUND_THE_THREAD = 0.35  # of its longer side
_CREST_FLAT = 1 / 8  # of a pitch: basic profile, ISO 68-1
_LEGEND = "blue: the named thread's profile at its true size    orange dots: crests as found"


def tooth_mm(of: Thread, pitches: int) -> Points2:
    """Basic profile of an external thread along its axis, from a crest's middle to a crest's.

    Parameters
    ----------
    of : Thread
    pitches : int

    Returns
    -------
    (N, 2) [mm]
        Along the axis, and from the axis.
    """
    pitch, half = of.pitch_mm, of.major_diameter_mm / 2
    depth = min(_depth_mm(of), half)
    flat = _CREST_FLAT * pitch / 2
    flank = depth * math.tan(of.thread_angle_rad / 2)
    root = max(0.0, pitch / 2 - flat - flank)
    one = [
        (flat, half),
        (flat + flank, half - depth),
        (flat + flank + 2 * root, half - depth),
        (pitch - flat, half),
    ]
    rows = [(0.0, half)]
    for number in range(pitches):
        rows += [(along + number * pitch, off) for along, off in one]
    return np.array([*rows, (pitches * pitch, half)])


def _depth_mm(of: Thread) -> float:
    """Depth of the tooth: 17/24 of the sharp V (ISO 68-1's design profile), any angle."""
    sharp = of.pitch_mm / 2 / math.tan(of.thread_angle_rad / 2)
    return sharp * 17 / 24


def profile_picture(photo: Photo, answer: FittingAnswer, designation: str) -> bytes:
    """Draw a candidate's profile on both sides of the thread.

    Parameters
    ----------
    photo : Photo
        One that the answer was read from.
    answer : FittingAnswer
        With traces, diameter and pitch.
    designation : str

    Returns
    -------
    bytes
        JPEG.

    Raises
    ------
    UsageError
        If the photo does not show enough to lay a profile over it.
    """
    trace = next((one for one in answer.traces if one.photo_key == photo.key), None)
    if trace is None or answer.primary is None or answer.pitch is None:
        raise UsageError("No profile can be laid over this photo.", "Measure the thread again.")
    of = thread(designation)
    everything = trace.crest_lines_px.reshape(-1, 2)
    low, high = everything.min(axis=0), everything.max(axis=0)
    room = _ROUND_THE_THREAD * float((high - low).max())
    canvas = Canvas.around(photo.colour, low - room, high + room)
    for side in trace.crest_lines_px:
        canvas.line(canvas.at(_on_side(trace, side, answer, of)), BLUE, width=0.09)
    canvas.dots(canvas.at(trace.crests_px), ORANGE)
    return canvas.jpeg([f"{of.designation} over the photo, true size"], _LEGEND)


def _on_side(trace: FittingTrace, side: Points2, answer: FittingAnswer, of: Thread) -> Points2:
    """Lay the profile along one side's crests, its first crest on the first that was found."""
    if answer.primary is None or answer.pitch is None:
        raise ValueError("nothing was measured")
    way = (side[1] - side[0]) / np.linalg.norm(side[1] - side[0])
    across = side.mean(axis=0) - trace.axis_px.mean(axis=0)
    out = across - (across @ way) * way
    out /= np.linalg.norm(out)
    px_along = float(np.linalg.norm(np.diff(trace.pitch_px, axis=0))) / answer.pitch.value
    px_across = float(np.linalg.norm(np.diff(trace.diameter_px, axis=0))) / answer.primary.value
    mine = trace.crests_px[(trace.crests_px - trace.axis_px.mean(axis=0)) @ out > 0]
    first = side[0] if not len(mine) else mine[np.argmin((mine - side[0]) @ way)]
    length = float((side[1] - first) @ way)
    profile = tooth_mm(of, max(1, round(length / px_along / of.pitch_mm)))
    axis = trace.axis_px[0] + ((first - trace.axis_px[0]) @ way) * way
    along, off = profile[:, :1] * px_along, profile[:, 1:] * px_across
    return np.asarray(axis + along * way + off * out)
