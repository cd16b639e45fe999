"""Annotated pictures: what was found, what it measures, and what was left out."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from photomeasure.answers.drawing import BLUE, DARK, GREY, ORANGE, WHITE, Canvas
from photomeasure.answers.fitting import FittingAnswer
from photomeasure.answers.route import RouteAnswer
from photomeasure.answers.words import band, band_inches
from photomeasure.errors import UsageError
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity
from photomeasure.references.find import find_pieces
from photomeasure.thread.reading import FittingTrace

__all__ = ["fitting_picture", "route_picture", "write_picture"]

Points2 = NDArray[np.float64]  # (N, 2)

ROOM = 0.6  # round the part, of its longer side
LEAST_HALF = 1.1  # half the picture's shorter side: words need room beside a slim part
FITTING_LEGEND = (
    "blue line: outline found    orange line: over the crests    dots: crests used    "
    "ticks: left out    crosses: the print's corners"
)
ROUTE_LEGEND = (
    "orange line: middle of the line    blue lines: its edges    ticks: left out    "
    "crosses: the print's corners"
)


def fitting_picture(photo: Photo, answer: FittingAnswer) -> bytes:
    """Draw a fitting's reading into its photo.

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
    everything = np.vstack([*trace.outline_px, *trace.crest_lines_px])
    low, high = everything.min(axis=0), everything.max(axis=0)
    longest = float((high - low).max())
    half = np.maximum((high - low) / 2 + ROOM * longest, LEAST_HALF * longest)
    middle = (low + high) / 2
    canvas = Canvas.around(photo.colour, middle - half, middle + half)
    _draw_reference(canvas, photo)
    _draw_found(canvas, trace)
    _draw_diameter(canvas, trace, answer)
    _draw_along(canvas, trace, answer)
    _draw_hexagon(canvas, trace, answer.across_flats)
    name, _, check = answer.line.partition("; ")
    return canvas.jpeg([name, check, _figures(answer)], FITTING_LEGEND)


def _figures(answer: FittingAnswer) -> str:
    named = (
        ("over the crests", answer.major_diameter),
        ("pitch", answer.pitch),
        ("at the small end", answer.diameter_at_small_end),
    )
    return "    ".join(f"{name} {band(value)}" for name, value in named if value is not None)


def _draw_reference(canvas: Canvas, photo: Photo) -> None:
    for piece in find_pieces(photo):
        canvas.crosses(canvas.at(piece.corners_px), BLUE)


def _draw_found(canvas: Canvas, trace: FittingTrace) -> None:
    canvas.line(canvas.at(_longer(trace.axis_px, 0.35)), WHITE, width=0.07, style="chain")
    for side in trace.outline_px:
        canvas.line(canvas.at(side), BLUE, width=0.12)
    for side in trace.crest_lines_px:
        canvas.line(canvas.at(_longer(side, 0.08)), ORANGE, width=0.1, style="dashed")
    for stretch in trace.ignored_px:
        canvas.hatch(canvas.at(stretch), GREY)
    canvas.dots(canvas.at(trace.crests_px), ORANGE)


def _longer(line: Points2, share: float) -> Points2:
    """A straight line drawn out at both ends."""
    start, stop = line[0], line[-1]
    return np.stack([start - share * (stop - start), stop + share * (stop - start)])


def _outwards(trace: FittingTrace, canvas: Canvas) -> tuple[Points2, Points2]:
    """Unit vectors on the canvas: past the end face, and across the axis."""
    start, stop = canvas.at(trace.axis_px)
    way = (start - stop) / max(float(np.hypot(*(start - stop))), 1e-9)
    return way, np.array([-way[1], way[0]])


def _draw_diameter(canvas: Canvas, trace: FittingTrace, answer: FittingAnswer) -> None:
    """Beyond the end face, extension lines running along the crests."""
    value = answer.diameter_at_small_end or answer.major_diameter
    if value is None:
        return
    way, _ = _outwards(trace, canvas)
    ends = canvas.at(trace.diameter_px)
    to_face = float((canvas.at(trace.axis_px)[0] - ends.mean(axis=0)) @ way)
    beside = canvas.dimension(ends, (max(to_face, 0.0) + 2.2 * canvas.unit) * way, DARK)
    name = "small end Ø" if answer.diameter_at_small_end else "Ø"
    lines = [f"{name} {band(value)}", band_inches(value)]
    canvas.plate(lines, beside.mean(axis=0), way)


def _draw_along(canvas: Canvas, trace: FittingTrace, answer: FittingAnswer) -> None:
    """Pitch on its own side of the thread, length on the other."""
    _, across = _outwards(trace, canvas)
    crests = canvas.at(trace.pitch_px)
    centre = canvas.at(trace.axis_px).mean(axis=0)
    side = across if float((crests.mean(axis=0) - centre) @ across) > 0 else -across
    if answer.pitch is not None:
        beside = canvas.dimension(crests, 2.5 * canvas.unit * side, DARK)
        lines = [f"pitch {band(answer.pitch)}", _per_inch(answer.pitch)]
        canvas.plate(lines, beside.mean(axis=0), side)
    if answer.thread_length is not None:
        half = 0.5 * float(
            np.hypot(*(canvas.at(trace.diameter_px[0]) - canvas.at(trace.diameter_px[1])))
        )
        ends = canvas.at(trace.axis_px) - half * side
        beside = canvas.dimension(ends, -2.5 * canvas.unit * side, DARK)
        canvas.plate([f"thread {band(answer.thread_length)}"], beside.mean(axis=0), -side, size=0.8)


def _per_inch(pitch: Quantity) -> str:
    return f"{25.4 / pitch.value:.2f} to the inch"


def _draw_hexagon(canvas: Canvas, trace: FittingTrace, across_flats: Quantity | None) -> None:
    if trace.hexagon_px is None or across_flats is None:
        return
    way, _ = _outwards(trace, canvas)
    ends = canvas.at(trace.hexagon_px)
    canvas.dimension(ends, np.zeros(2), ORANGE)
    text = f"hexagon, across flats {band(across_flats)}"
    canvas.plate([text], ends.mean(axis=0), -way, size=0.8)


def route_picture(photo: Photo, answer: RouteAnswer) -> bytes:
    """Draw a route's reading into its photo.

    Parameters
    ----------
    photo : Photo
    answer : RouteAnswer
        With its trace.

    Returns
    -------
    bytes
        JPEG, at most 2000 px on either side.
    """
    trace = answer.trace
    if trace is None:
        raise ValueError("the answer has no trace")
    size = np.array(photo.size_px, dtype=np.float64)
    canvas = Canvas.around(photo.colour, np.zeros(2), size)
    _draw_reference(canvas, photo)
    for edge in trace.edges_px:
        canvas.line(canvas.at(edge), BLUE, width=0.05)
    canvas.line(canvas.at(trace.centre_px), ORANGE, width=0.1)
    for stretch in trace.ignored_px:
        canvas.hatch(canvas.at(stretch), GREY)
    inner = (
        trace.centre_px[len(trace.centre_px) // 10],
        trace.centre_px[-len(trace.centre_px) // 10],
    )
    for cut, name, before in zip(trace.end_cuts_px, ("start", "end"), inner, strict=True):
        canvas.line(canvas.at(cut), DARK, width=0.14)
        out = canvas.at(cut).mean(axis=0) - canvas.at(before)
        canvas.plate([name], canvas.at(cut).mean(axis=0), out / np.hypot(*out), size=0.8)
    _draw_bends(canvas, answer)
    figures = f"length {band(answer.length)}   {band_inches(answer.length)}"
    return canvas.jpeg([answer.line, figures], ROUTE_LEGEND)


def _draw_bends(canvas: Canvas, answer: RouteAnswer) -> None:
    trace = answer.trace
    if trace is None:
        return
    rows = zip(trace.bends_px, trace.bend_arcs_px, answer.bends, strict=True)
    for number, (place, arc, bend) in enumerate(rows, start=1):
        drawn, at = canvas.at(arc), canvas.at(place)
        canvas.line(drawn, WHITE, width=0.12, style="dashed")
        canvas.dots(at[None], WHITE, size=0.25)
        out = at - drawn[[0, -1]].mean(axis=0)  # off the chord: to the outside of the bend
        out /= max(float(np.hypot(*out)), 1e-9)
        lines = [f"bend {number}: {band(bend.angle)}", f"R {band(bend.radius)}"]
        canvas.plate(lines, at + canvas.unit * out, out, size=0.75)


def write_picture(
    data: bytes, folder: Path, photo_name: str, number: int = 1, *, what: str = "measured"
) -> Path:
    """Write a picture beside others of one answer.

    Parameters
    ----------
    data : bytes
    folder : Path
        Made if it is not there.
    photo_name : str
        Of the photo it was drawn into.
    number : int
    what : str
        Last word of the file's name.

    Returns
    -------
    Path

    Raises
    ------
    UsageError
        If it cannot be written there.
    """
    path = folder / f"{number:02d}-{Path(photo_name).stem}-{what}.jpg"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as error:
        raise UsageError(
            f"{path} cannot be written ({error.strerror}).", "Name a folder you may write to."
        ) from error
    return path
