"""What is asked of a route and what a photo tells of it."""

from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity, Source

__all__ = ["Bend", "FlatOptions", "FlatScene", "LineKind", "RouteReading", "RouteTrace", "Side"]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)
LineKind = Literal["tape", "cord", "rod", "hose"]
Side = Literal["inner", "outer", "in-plane"]


class FlatScene(Protocol):
    """What a flat route needs of a solved photo (`photomeasure.scene.Scene` has it)."""

    @property
    def centre_mm(self) -> NDArray[np.float64]:
        """The camera's centre in the sheet frame, (3,) [mm]."""
        ...

    def sheet_mm(self, points_px: Points2, height_mm: float = 0.0) -> Points2:
        """Where pixels meet the plane `height_mm` above the sheet, (N, 2) [mm]."""
        ...

    def px(self, points_sheet_mm: Points3) -> Points2:
        """Where points of the sheet frame are seen, (N, 2) [px]."""
        ...

    def variants(self) -> "tuple[tuple[Source, FlatScene], ...]":
        """Each source with the scene moved by one standard uncertainty of it."""
        ...


@dataclass(frozen=True, slots=True)
class FlatOptions:
    """What the person says of a route laid flat.

    Attributes
    ----------
    hose_od_mm : float or None [mm]
        Outside diameter of the hose that will be made.
    line_od_mm : float or None [mm]
        Outside diameter of what is photographed; None or 0 for tape.
    line : LineKind
    sides : tuple of (int, Side)
        For a bend, counted from 1 along the route: on which side of the surface the hose lies
        there; bends not named lie in the surface.
    points_px : tuple of (float, float) [px]
        On or near the line, in order, upright picture; the first is nearest the start.
    """

    hose_od_mm: float | None = None
    line_od_mm: float | None = None
    line: LineKind = "tape"
    sides: tuple[tuple[int, Side], ...] = ()
    points_px: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """A stretch that turns; None is what the photo does not show well enough.

    `at` is the arc length of the middle of its turning from the start [mm], `radius` that of the
    line's axis [mm], `angle` its turning [deg].
    """

    at: Quantity | None
    radius: Quantity | None
    angle: Quantity | None


@dataclass(frozen=True, slots=True, eq=False)
class RouteTrace:
    """Where the reading was taken, in pixels of the upright photo, for the annotated picture.

    Attributes
    ----------
    photo_key : str
    centre_px : (N, 2)
        The fitted middle line from start to end.
    edges_px : tuple of (N, 2)
        Left and right edge as found.
    ends_px : (2, 2)
        Start and end.
    end_cuts_px : (2, 2, 2)
        A stroke across the line at the start and at the end.
    bends_px : (K, 2)
        The middle of each bend, in order.
    bend_arcs_px : tuple of (M, 2)
        The centre line over each bend.
    ignored_px : tuple of (M, 2)
        Stretches of the line whose edges were not used (hidden, glare, a seam).
    """

    photo_key: str
    centre_px: Points2
    edges_px: tuple[Points2, ...]
    ends_px: Points2
    end_cuts_px: NDArray[np.float64]
    bends_px: Points2
    bend_arcs_px: tuple[Points2, ...]
    ignored_px: tuple[Points2, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RouteReading:
    """A route; None is what the photo does not show. Lengths in mm, angles in degrees.

    `length`, `bends`, `turning`, `tightest_radius` and `points_mm` are of the photographed thing's
    middle line; `hose_length` is of the hose that will be made. `clocking` has no meaning flat.
    """

    length: Quantity
    hose_length: Quantity | None
    turning: Quantity | None
    bends: tuple[Bend, ...]
    tightest_radius: Quantity | None
    line_width: Quantity
    points_mm: Points3  # (N, 3), sheet frame
    trace: RouteTrace
    warnings: tuple[str, ...] = field(default=())
