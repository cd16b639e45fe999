"""Lines, dimension lines and words on a photo, in the drawing convention of workshop drawings."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, Self

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["BLUE", "DARK", "GREY", "ORANGE", "WHITE", "Canvas", "Ink"]

Points2 = NDArray[np.float64]  # (N, 2)
Picture = NDArray[np.uint8]  # (height, width, 3)
Ink = tuple[int, int, int]  # blue, green, red

# Told apart by every common colour vision, and by line type besides (blue and orange of the
# palette of Okabe and Ito, 2002)
BLUE: Ink = (178, 114, 0)
ORANGE: Ink = (0, 159, 230)
WHITE: Ink = (255, 255, 255)
DARK: Ink = (32, 26, 20)
GREY: Ink = (120, 120, 120)
LARGEST_PX = 2000
TEXT_SHARE = 1 / 42  # of the longer side: readable on a phone held at arm's length
SUBPIXEL = 4  # bits
JPEG_QUALITY = 88
BOLD = 600

Style = Literal["solid", "chain", "dashed"]
DASHES: dict[Style, tuple[float, ...]] = {
    "solid": (),
    "chain": (5.0, 1.2, 1.0, 1.2),  # ISO 128-2 type 04: axes
    "dashed": (2.4, 1.6),
}


@cache
def _font() -> Any:
    return cv2.FontFace("sans")


@dataclass(frozen=True, slots=True, eq=False)
class Canvas:
    """A part of a photo, reduced, that takes points in pixels of the whole photo.

    Attributes
    ----------
    picture : (height, width, 3)
        Drawn into.
    origin_px : (2,)
        The photo's pixel at the canvas' top left.
    scale : float
        Canvas pixels per pixel of the photo.
    """

    picture: Picture
    origin_px: Points2
    scale: float

    @classmethod
    def around(cls, colour: Picture, low_px: Points2, high_px: Points2) -> Self:
        """Cut a rectangle out of a photo and bring it to a size for screens.

        Parameters
        ----------
        colour : (height, width, 3)
        low_px, high_px : (2,)
            Corners of the rectangle; what lies outside the photo is left out.

        Returns
        -------
        Canvas
        """
        height, width = colour.shape[:2]
        limit = np.array([width, height])
        low = np.clip(np.floor(low_px), 0, limit - 1).astype(int)
        high = np.clip(np.ceil(high_px), low + 1, limit).astype(int)
        part = colour[low[1] : high[1], low[0] : high[0]]
        scale = LARGEST_PX / max(part.shape[:2])
        how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        size = (max(1, round(part.shape[1] * scale)), max(1, round(part.shape[0] * scale)))
        picture = np.array(cv2.resize(part, size, interpolation=how), dtype=np.uint8)
        return cls(picture, low.astype(np.float64), scale)

    @property
    def unit(self) -> float:
        """Height of a letter in canvas pixels; everything else is measured in it."""
        return float(max(self.picture.shape[:2]) * TEXT_SHARE)

    def at(self, points_px: Points2) -> Points2:
        """From pixels of the photo to pixels of the canvas.

        Parameters
        ----------
        points_px : (N, 2) or (2,)

        Returns
        -------
        (N, 2) or (2,)
        """
        return np.asarray((np.asarray(points_px) - self.origin_px) * self.scale)

    def line(
        self, points: Points2, ink: Ink, *, width: float = 0.12, style: Style = "solid"
    ) -> None:
        """Draw a polyline with a dark rim, so that it shows on any ground.

        Parameters
        ----------
        points : (N, 2) [canvas px]
        ink : Ink
        width : float
            In letter heights.
        style : Style
        """
        if len(points) < 2:
            return
        strokes = _dashes(points, [self.unit * part for part in DASHES[style]])
        thick = max(1, round(width * self.unit))
        rim = DARK if sum(ink) > sum(GREY) else WHITE
        for colour, extra in ((rim, max(2, round(0.08 * self.unit))), (ink, 0)):
            for stroke in strokes:
                self._stroke(stroke, colour, thick + extra)

    def _stroke(self, points: Points2, ink: Ink, thick: int) -> None:
        fixed = np.round(points * (1 << SUBPIXEL)).astype(np.int32)[:, None]
        cv2.polylines(self.picture, [fixed], False, ink, thick, cv2.LINE_AA, SUBPIXEL)

    def hatch(self, points: Points2, ink: Ink) -> None:
        """Draw short slanting ticks along a stretch: this was left out.

        Parameters
        ----------
        points : (N, 2) [canvas px]
        ink : Ink
        """
        for start, way in _steps(points, 0.7 * self.unit):
            slant = 0.45 * self.unit * (way + np.array([-way[1], way[0]]))
            self.line(np.stack([start - slant, start + slant]), ink, width=0.1)

    def crosses(self, points: Points2, ink: Ink, size: float = 0.22) -> None:
        """Draw small upright crosses.

        Parameters
        ----------
        points : (N, 2) [canvas px]
        ink : Ink
        size : float
            Half the cross in letter heights.
        """
        for point in points:
            for way in ((1.0, 0.0), (0.0, 1.0)):
                arm = size * self.unit * np.array(way)
                self._stroke(np.stack([point - arm, point + arm]), ink, 2)

    def dots(self, points: Points2, ink: Ink, size: float = 0.16) -> None:
        """Draw filled dots with a rim.

        Parameters
        ----------
        points : (N, 2) [canvas px]
        ink : Ink
        size : float
            Radius in letter heights.
        """
        for point in points:
            centre = tuple(int(v) for v in np.round(point * (1 << SUBPIXEL)))
            for colour, extra in ((DARK, 2), (ink, 0)):
                radius = round((size * self.unit + extra) * (1 << SUBPIXEL))
                cv2.circle(self.picture, centre, radius, colour, -1, cv2.LINE_AA, SUBPIXEL)

    def dimension(self, ends: Points2, shift: Points2, ink: Ink) -> Points2:
        """Draw a dimension line with arrows, beside what it measures, and its extension lines.

        Parameters
        ----------
        ends : (2, 2) [canvas px]
            The points that are measured between.
        shift : (2,) [canvas px]
            From them to the dimension line.
        ink : Ink

        Returns
        -------
        (2, 2) [canvas px]
            The dimension line's ends.
        """
        beside = ends + shift
        length = float(np.hypot(*shift))
        over = shift * (1 + 0.4 * self.unit / length) if length > 0 else shift
        gap = shift * min(1.0, 0.2 * self.unit / length) if length > 0 else shift
        for end in ends:
            self.line(np.stack([end + gap, end + over]), ink, width=0.07)
        self._arrows(beside, ink)
        return beside

    def _arrows(self, ends: Points2, ink: Ink) -> None:
        """Arrows between the ends, or pointing at them from outside where it is too tight."""
        way = ends[1] - ends[0]
        length = float(np.hypot(*way))
        if length == 0:
            return
        way = way / length
        head = 0.9 * self.unit
        outside = length < 3 * head
        shaft = ends + np.array([-2.2, 2.2])[:, None] * head * way if outside else ends
        self.line(shaft, ink, width=0.1)
        for end, sign in zip(ends, (1.0, -1.0), strict=True):
            back = end + (-sign if outside else sign) * head * way
            across = 0.26 * head * np.array([-way[1], way[0]])
            corners = np.round(np.stack([end, back + across, back - across])).astype(np.int32)
            cv2.fillPoly(self.picture, [corners], ink, cv2.LINE_AA)

    def plate(
        self,
        lines: Sequence[str],
        at: Points2,
        away: Points2 | None = None,
        *,
        size: float = 1.0,
    ) -> None:
        """Write lines of text on a white plate, kept inside the picture.

        Parameters
        ----------
        lines : sequence of str
        at : (2,) [canvas px]
            What the plate belongs to.
        away : (2,), optional
            Direction from there to the plate, which then keeps clear of `at`; without it the
            plate is centred there.
        size : float
            In letter heights.
        """
        letter = round(size * self.unit)
        widths = [self._width(text, letter) for text in lines]
        box = np.array([max(widths) + letter, 1.35 * letter * len(lines) + 0.5 * letter])
        centre = at if away is None else at + away * (self.unit + np.abs(away) @ box / 2)
        limit = np.array(self.picture.shape[1::-1]) - box - 4
        corner = np.clip(centre - box / 2, 4, np.maximum(limit, 4))
        low, high = (tuple(int(v) for v in point) for point in (corner, corner + box))
        cv2.rectangle(self.picture, low, high, WHITE, -1)
        cv2.rectangle(self.picture, low, high, DARK, 2)
        for row, text in enumerate(lines):
            place = (int(low[0] + 0.5 * letter), int(low[1] + 1.35 * letter * (row + 1)))
            cv2.putText(self.picture, text, place, DARK, _font(), letter, BOLD)

    def _width(self, text: str, letter: int) -> int:
        rect = cv2.getTextSize((0, 0), text, (0, 0), _font(), letter, BOLD)
        return int(rect[2])

    def jpeg(self, title: Sequence[str], legend: str) -> bytes:
        """Put the answer over the picture and the legend under it.

        Parameters
        ----------
        title : sequence of str
            The first line is written large.
        legend : str

        Returns
        -------
        bytes
            A JPEG no longer than 2000 px on either side.
        """
        letter = round(self.unit)
        head = _strip(self.picture.shape[1], title, letter, _font())
        foot = _strip(self.picture.shape[1], ["", legend], round(0.62 * letter), _font())
        whole = np.vstack([head, self.picture, foot])
        shrink = LARGEST_PX / max(whole.shape[:2])
        if shrink < 1:
            size = (round(whole.shape[1] * shrink), round(whole.shape[0] * shrink))
            whole = np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), np.uint8)
        done, data = cv2.imencode(".jpg", whole, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
        if not done:
            raise AssertionError("the picture could not be packed")
        return bytes(data.tobytes())


def _strip(width: int, lines: Sequence[str], letter: int, font: Any) -> Picture:
    """White strip with lines of text, the first larger, shrunk where they are too long."""
    sizes = [round(1.4 * letter), *[letter] * (len(lines) - 1)]
    rows = [(text, size) for text, size in zip(lines, sizes, strict=True) if text]
    strip = np.full(
        (sum(round(1.5 * size) for _, size in rows) + letter // 2, width, 3), 255, np.uint8
    )
    bottom = 0
    for text, size in rows:
        bottom += round(1.5 * size)
        drawn = size
        long = cv2.getTextSize((0, 0), text, (0, 0), font, drawn, BOLD)[2]
        if long > width - letter:
            drawn = max(8, int(size * (width - letter) / long))
        cv2.putText(strip, text, (letter // 2, bottom - size // 4), DARK, font, drawn, BOLD)
    return strip


def _dashes(points: Points2, pattern: Sequence[float]) -> list[Points2]:
    """Cut a polyline into dashes of the pattern's lengths (dash, gap, dash, gap …)."""
    if not pattern:
        return [points]
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    pieces, start, index = [], 0.0, 0
    while start < at[-1]:
        stop = min(at[-1], start + pattern[index % len(pattern)])
        if index % 2 == 0:
            inner = at[(at > start) & (at < stop)]
            along = np.concatenate(([start], inner, [stop]))
            pieces.append(np.column_stack([np.interp(along, at, points[:, k]) for k in (0, 1)]))
        start, index = stop, index + 1
    return pieces


def _steps(points: Points2, step: float) -> list[tuple[Points2, Points2]]:
    """Places every `step` along a polyline, with the direction there."""
    lengths = np.hypot(*np.diff(points, axis=0).T)
    at = np.concatenate(([0.0], np.cumsum(lengths)))
    if at[-1] == 0:
        return []
    where = np.arange(0.5 * min(step, at[-1]), at[-1], step)
    places = np.column_stack([np.interp(where, at, points[:, k]) for k in (0, 1)])
    segment = np.clip(np.searchsorted(at, where, side="right") - 1, 0, len(lengths) - 1)
    ways = np.diff(points, axis=0)[segment] / np.maximum(lengths[segment], 1e-9)[:, None]
    return list(zip(places, ways, strict=True))
