"""Values of a flat route with all that makes them uncertain."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from uncertainties import UFloat

from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.arcfit import ArcFit
from photomeasure.route.arcs import Arcs
from photomeasure.route.curve import CurveValues, curve_values, dense_points, layout
from photomeasure.route.reading import Bend, FlatOptions, FlatScene, RouteReading, RouteTrace
from photomeasure.route.track import End

__all__ = ["Budget", "FlatLine"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)

BRIGHT_BIAS_PX = 0.10  # standard uncertainty of an edge's common shift, told by brightness
COLOUR_BIAS_PX = 0.35  # and by colour, which JPEG blurs; both as found in drawn pictures
FLAT_U_MM = 0.1  # tape lies on the floor, but for creases; common practice, no source
ROUND_U = (0.2, 0.002)  # mm and of the diameter: height of a cord's, rod's or hose's axis
ROUND_SIDE_PX = {"tape": 0.0, "cord": 0.5, "rod": 0.6, "hose": 0.2}  # its shaded side against its
# shadow; both in rendered pictures
ROUND_END_U = (0.08, 0.003)  # mm and of the diameter: the same at an end
END_FACE_U = 0.12  # of radius times lean of the sight: where on an end's rim or face its edge lies
_OWN = ("line start", "line end", "line fit", "line width")  # sources that photos do not share
SMALL = 0.03  # of a standard uncertainty, for slopes
LARGEST_U = 0.10  # of the value; beyond it a quantity is not seen
LARGEST_ANGLE_U_DEG = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class FlatLine:
    """The measured line.

    Attributes
    ----------
    fit : ArcFit
        Its middle in the plane `height_mm` above the sheet.
    at_mm : (N,) [mm]
        Arc lengths of close points from start to end.
    px : (N, 2) [px]
        Where they are seen.
    height_mm, od_mm : float [mm]
        Of its middle above the prints' faces, and its diameter, 0 of tape.
    above_u_mm : float [mm]
        Standard uncertainty of the prints' faces above the floor.
    ends : (End, End)
    ends_mm : (2, 2) [mm]
        Start and end as found, in that plane.
    width_mm, width_u_mm : float [mm]
    is_bright : bool
        Edges were told by brightness, not by colour.
    """

    fit: ArcFit
    at_mm: Vector
    px: Points2
    height_mm: float
    od_mm: float
    above_u_mm: float
    ends: tuple[End, End]
    ends_mm: Points2
    width_mm: float
    width_u_mm: float
    is_bright: bool


class Budget:
    """The route's values, and how each source moves them.

    Values come in one vector: length, turning, tightest radius, then place, radius and angle of
    every bend.
    """

    def __init__(
        self, line: FlatLine, scene: FlatScene, keys: tuple[str, str], options: FlatOptions
    ) -> None:
        """Take the photo's key, and that of all photos of this line, for what they share."""
        self.line, self.scene, self.keys, self.options = line, scene, keys, options
        self.od_mm = options.hose_od_mm or options.line_od_mm or line.od_mm or None
        self.layout = layout(line.fit.arcs, line.at_mm, self.od_mm)
        self.value = self._measure(scene, 0.0)
        self.parts: list[dict[Source, float]] = [{} for _ in self.value]
        self._add_scene()
        self._add_ends()
        self._add_fit()

    def _measure(self, scene: FlatScene, rise_mm: float) -> Vector:
        """Values if the same pixels belonged to this scene."""
        points = scene.sheet_mm(self.line.px, self.line.height_mm + rise_mm)
        return _vector(curve_values(points, self.layout))

    def _source(self, name: str) -> Source:
        is_own = name.startswith(_OWN)
        return Source(name, name, "photo", self.keys[0] if is_own else self.keys[1])

    def _add(self, source: Source, change: Vector) -> None:
        for parts, step in zip(self.parts, change, strict=True):
            if np.isfinite(step) and step:
                parts[source] = parts.get(source, 0.0) + float(step)

    def _add_scene(self) -> None:
        for source, moved in self.scene.variants():
            self._add(source, self._measure(moved, 0.0) - self.value)
        rises = {
            "line height": FLAT_U_MM + self._of_round(ROUND_U),
            "print above the floor": -self.line.above_u_mm,
        }
        for name, rise in rises.items():
            self._add(self._source(name), self._measure(self.scene, rise) - self.value)

    def _add_ends(self) -> None:
        """Ends move the length, and the start the place of every bend."""
        start = np.zeros(len(self.value))
        start[0], start[3::3] = 1.0, 1.0
        stop = np.zeros(len(self.value))
        stop[0] = 1.0
        pixel_mm = [self._pixel_mm(k) for k in (0, -1)]
        for k, (move, name) in enumerate(((start, "line start"), (stop, "line end"))):
            u_mm = np.hypot(self.line.ends[k].u_mm, self._round_end_mm(k))
            self._add(self._source(name), move * u_mm)
        bias_px = BRIGHT_BIAS_PX if self.line.is_bright else COLOUR_BIAS_PX
        moved = bias_px * (start * pixel_mm[0] + stop * pixel_mm[1])
        self._add(self._source("line edge bias"), moved)
        shaded = np.zeros(len(self.value))
        net_rad = float(np.diff(self.line.fit.arcs.headings(self.line.at_mm[[0, -1]]))[0])
        pixel = ROUND_SIDE_PX[self.options.line]
        shaded[0] = pixel * 0.5 * (pixel_mm[0] + pixel_mm[1]) * net_rad
        self._add(self._source("line shaded side"), shaded)

    def _round_end_mm(self, index: int) -> float:
        """How unsure a round line's end is beyond its scatter."""
        if not self.line.od_mm:
            return 0.0
        end = self.line.ends_mm[index]
        heading = float(self.line.fit.arcs.headings(self.line.at_mm[[0, -1]])[index])
        away = self.scene.centre_mm[:2] - end
        lean = float(away @ (np.cos(heading), np.sin(heading))) / float(self.scene.centre_mm[2])
        face_mm = END_FACE_U * 0.5 * self.line.od_mm * abs(lean)
        return float(np.hypot(face_mm, self._of_round(ROUND_END_U)))

    def _of_round(self, share: tuple[float, float]) -> float:
        """So much, and so much of the diameter [mm]; nothing of tape."""
        return share[0] + share[1] * self.line.od_mm if self.line.od_mm else 0.0

    def _pixel_mm(self, index: int) -> float:
        """A pixel's length along the line at one end."""
        neighbour = 1 if index == 0 else -2
        gap_px = float(np.hypot(*(self.line.px[index] - self.line.px[neighbour])))
        return float(abs(self.line.at_mm[1] - self.line.at_mm[0])) / gap_px

    def _add_fit(self) -> None:
        """Curves that the edge points allow as well; one variable for each value.

        Steps go both ways, as a knot's move changes the length by its square, too.
        """
        fit = self.line.fit
        steps = [
            (self._of_curve(fit.moved(column, SMALL)) - self._of_curve(fit.moved(column, -SMALL)))
            / (2 * SMALL)
            for column in range(fit.root.shape[1])
        ]
        u = np.sqrt(np.sum(np.square(steps), axis=0))
        for k, name in enumerate(self._names()):
            if np.isfinite(u[k]) and u[k] > 0:
                self.parts[k][self._source(f"line fit/{name}")] = float(u[k])

    def _of_curve(self, arcs: Arcs) -> Vector:
        at = arcs.nearest(self.line.ends_mm)
        points, at_mm = dense_points(arcs, float(at[0]), float(at[1]))
        where = layout(arcs, at_mm, self.od_mm)
        values = _vector(curve_values(points, where))
        return values if where.signs == self.layout.signs else np.full(len(self.value), np.nan)

    def _names(self) -> list[str]:
        names = ["length", "turning", "tightest radius"]
        for k in range(len(self.layout.bends)):
            names += [f"bend {k + 1} {what}" for what in ("place", "radius", "angle")]
        return names

    @property
    def bend_places(self) -> Vector:
        """Arc length of each bend's middle from the start, (K,) [mm]."""
        return self.value[3::3]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is odd about the options."""
        count = len(self.layout.bends)
        return tuple(
            f"There is no bend {number}; the line has {count}."
            for number, _ in self.options.sides
            if not 1 <= number <= count
        )

    def _number(self, index: int) -> UFloat:
        return measured(float(self.value[index]), self.parts[index])

    def _length(self, index: int) -> Quantity | None:
        """Give a length; None if it is too uncertain."""
        if not np.isfinite(self.value[index]):
            return None
        number = self._number(index)
        good = 0 < number.std_dev <= LARGEST_U * abs(number.nominal_value)
        return Quantity.normal(number, "mm") if good else None

    def _angle(self, index: int) -> Quantity | None:
        number = self._number(index)
        good = 0 < number.std_dev <= LARGEST_ANGLE_U_DEG
        return Quantity.normal(number, "deg") if good else None

    def _hose_length(self) -> Quantity | None:
        """Length along the hose: longer round a bend that it rides over, shorter inside one."""
        if self.options.hose_od_mm is None:
            return None
        number = self._number(0)
        lift_mm = 0.5 * (self.options.hose_od_mm - self.line.od_mm)
        for bend, side in self.options.sides:
            if side == "in-plane" or not 1 <= bend <= len(self.layout.bends):
                continue
            angle_rad = np.pi / 180 * self._number(3 * bend + 2)
            number = number + (lift_mm if side == "outer" else -lift_mm) * angle_rad
        return Quantity.normal(number, "mm")

    def reading(self, trace: RouteTrace, warnings: tuple[str, ...]) -> RouteReading:
        """Put the answer together.

        Parameters
        ----------
        trace : RouteTrace
        warnings : tuple of str

        Returns
        -------
        RouteReading
        """
        bends = tuple(
            Bend(self._at(3 + 3 * k), self._length(4 + 3 * k), self._angle(5 + 3 * k))
            for k in range(len(self.layout.bends))
        )
        points = self.scene.sheet_mm(self.line.px, self.line.height_mm)
        height = np.full((len(points), 1), self.line.height_mm)
        width_u = {self._source("line width"): self.line.width_u_mm + 0.2 * self._pixel_mm(0)}
        return RouteReading(
            length=Quantity.normal(self._number(0), "mm"),
            hose_length=self._hose_length(),
            turning=self._angle(1),
            bends=bends,
            tightest_radius=self._length(2),
            line_width=Quantity.normal(measured(self.line.width_mm, width_u), "mm"),
            points_mm=np.hstack((points, height)),
            trace=trace,
            warnings=warnings,
        )

    def _at(self, index: int) -> Quantity:
        return Quantity.normal(self._number(index), "mm")


def _vector(values: CurveValues) -> Vector:
    tightest = np.nan if values.tightest_mm is None else values.tightest_mm
    rows = [values.length_mm, values.turning_deg, tightest]
    for bend in values.bends:
        rows += [bend.at_mm, bend.radius_mm, bend.angle_deg]
    return np.array(rows)
