"""What a photo tells of a thread: the values, and where they were found in the picture."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity

__all__ = ["FittingReading", "FittingTrace", "Hand", "SpannerSize"]

Hand = Literal["right", "left", "unknown"]
Points2 = NDArray[np.float64]  # (N, 2)


@dataclass(frozen=True, slots=True)
class SpannerSize:
    """A spanner that could fit the hexagon."""

    size: str
    probability: float


@dataclass(frozen=True, slots=True, eq=False)
class FittingTrace:
    """Where the reading was taken, in pixels of the upright photo, for the annotated picture.

    Attributes
    ----------
    photo_key : str
    axis_px : (2, 2)
        The axis from the thread's end face to its last full crest, at axis height.
    outline_px : tuple of (N, 2)
        The silhouette as found, one polyline a side.
    crest_lines_px : (2, 2, 2)
        The crest envelope's contour, both sides, over the thread's length.
    crests_px : (K, 2)
        Crests used, both sides.
    diameter_px : (2, 2)
        End points of the diameter's dimension line, on both crest contours.
    pitch_px : (2, 2)
        Two neighbouring crests of one side.
    hexagon_px : (2, 2) or None
        The hexagon's two outermost edges where its width was read.
    ignored_px : tuple of (N, 2)
        Stretches of outline left out (lead-in, run-out, dirt).
    """

    photo_key: str
    axis_px: Points2
    outline_px: tuple[Points2, ...]
    crest_lines_px: NDArray[np.float64]
    crests_px: Points2
    diameter_px: Points2
    pitch_px: Points2
    hexagon_px: Points2 | None
    ignored_px: tuple[Points2, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FittingReading:
    """A male thread read from the side; None is what the photo does not show.

    `crest_diameter` is over the crests at `crest_diameter_at_mm` from the end face, before
    any thread is assumed; `diameter_at_small_end` is the crest cone at the end face.
    `is_tapered` compares taper with parallel alone. Lengths in mm, angles in degrees.
    """

    crest_diameter: Quantity
    crest_diameter_at_mm: float
    pitch: Quantity
    taper_half_angle: Quantity
    is_tapered: bool
    diameter_at_small_end: Quantity | None
    minor_diameter: Quantity | None
    thread_angle: Quantity | None
    thread_length: Quantity | None
    across_flats: Quantity | None
    spanner: tuple[SpannerSize, ...]
    nose_half_angle: Quantity | None
    hand: Hand
    misfit_p: float
    print_is_verified: bool
    traces: tuple[FittingTrace, ...]
    warnings: tuple[str, ...]
