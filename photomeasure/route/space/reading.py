"""What photos tell of a route in space."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity
from photomeasure.route.reading import Bend

__all__ = ["Clearance", "Mark", "SpaceReading", "SpaceSaid", "SpaceTrace"]

Points2 = NDArray[np.float64]  # (N, 2)
Points3 = NDArray[np.float64]  # (N, 3)


@dataclass(frozen=True, slots=True)
class Mark:
    """A place beside the hose that the user points at in one photo.

    Attributes
    ----------
    name : str
        Of the thing; its first mark in each photo is one place, its second mark the next.
    photo : str
        The photo's file name, or its number from 1.
    px : (float, float)
        In the upright picture.
    """

    name: str
    photo: str
    px: tuple[float, float]


@dataclass(frozen=True, slots=True)
class SpaceSaid:
    """What the person says of a route in space.

    Attributes
    ----------
    last_band : int or None
        The number on the last band of the hose; None if not said.
    marks : tuple of Mark
    moves : tuple of (str, float) [mm]
        How far a marked thing moves from where it was photographed, or, by the name `ends`, the
        hose's two ends against each other; at most, either way.
    first_band : int or None
        The number on the first band; None if not said, then it should be 1.
    """

    last_band: int | None = None
    marks: tuple[Mark, ...] = ()
    moves: tuple[tuple[str, float], ...] = ()
    first_band: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Clearance:
    """How far the hose's surface stays from a thing that was marked.

    Attributes
    ----------
    name : str
    distance : Quantity
        Least distance [mm]; below 0 the marks lie inside the hose.
    at_mm : float
        How far along the route from its start [mm].
    between : (2, 3)
        The axis' and the thing's places that are nearest, in the frame of the route's points [mm].
    moves_mm : float
        How much nearer they may come as the thing and the hose's ends move.
    """

    name: str
    distance: Quantity
    at_mm: float
    between: Points3
    moves_mm: float = 0.0

    @property
    def least(self) -> Quantity:
        """Distance when all has moved as far as it may [mm]."""
        return Quantity.normal(self.distance.number - self.moves_mm, self.distance.unit)


@dataclass(frozen=True, slots=True, eq=False)
class SpaceTrace:
    """Where the solved route lies in one photo, in pixels of the upright picture.

    Attributes
    ----------
    photo_key, photo_name : str
    centre_px : (N, 2)
        The axis from start to end; not a number where it lies behind the camera.
    bands_px : (B, 2, 2)
        Both edges of each band, on the axis.
    orders : tuple of int
    bends_px : (K, 2)
        The middle of each bend.
    corners_px : (M, 2)
        What was used of cards and bands.
    clearances_px : (C, 2, 2)
        From the axis to each marked thing, where they are nearest.
    """

    photo_key: str
    photo_name: str
    centre_px: Points2
    bands_px: NDArray[np.float64]
    orders: tuple[int, ...]
    bends_px: Points2
    corners_px: Points2
    clearances_px: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class SpaceReading:
    """A route in space; None is what the photos do not show. Lengths in mm, angles in degrees.

    Attributes
    ----------
    start_to_card, end_to_card : Quantity or None
        From the outer band's outer edge along the hose's direction there, outwards, to beside the
        card's middle.
    line_od : Quantity
        Outside diameter of what the bands are wrapped round.
    points_mm : (N, 3)
        In the start card's frame, else in that of the first card, else of the first band.
    slack : Quantity or None
        What the hose must be longer than the path if that was not photographed at its longest.
    """

    length: Quantity
    turning: Quantity
    bends: tuple[Bend, ...]
    tightest_radius: Quantity | None
    clocking: Quantity | None
    start_to_card: Quantity | None
    end_to_card: Quantity | None
    line_od: Quantity
    points_mm: Points3
    traces: tuple[SpaceTrace, ...]
    warnings: tuple[str, ...]
    clearances: tuple[Clearance, ...] = ()
    slack: Quantity | None = None
