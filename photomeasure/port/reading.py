"""What a photo tells of a port: the values, and where they were found in the picture."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Quantity

__all__ = ["Hand", "PortReading", "PortTrace", "Supposed"]

Hand = Literal["right", "left", "unknown"]
Points2 = NDArray[np.float64]  # (N, 2)


@dataclass(frozen=True, slots=True, eq=False)
class PortTrace:
    """Where the reading was taken, for the annotated picture; pixels of the upright photo.

    Attributes
    ----------
    photo_key : str
    mouth_px : (N, 2)
        The mouth's rim as solved, closed.
    recess_px : (N, 2)
        The rim of the recess round it, closed; none if not seen.
    crests_px : tuple of (N, 2)
        Crest lines as solved, one polyline a turn.
    points_px : (N, 2)
        Edge points used.
    bore_px : (2, 2)
        The bore's ends across the line of sight, at the middle turn.
    wall : (D, A) uint8
        The unwrapped wall, mouth at the top, 0 where hidden.
    wall_mm : (2,)
        Depth of the wall's first and last row below the mouth.
    wall_lines : tuple of (N, 2)
        The crest lines on the unwrapped wall: column, row.
    wall_end_row : float or None
        Where the thread ends on the unwrapped wall, if that is seen.
    """

    photo_key: str
    mouth_px: Points2
    recess_px: Points2
    crests_px: tuple[Points2, ...]
    points_px: Points2
    bore_px: Points2
    wall: NDArray[np.uint8]
    wall_mm: tuple[float, float]
    wall_lines: tuple[Points2, ...]
    wall_end_row: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Supposed:
    """The thread if it is taken to be parallel, or to be tapered; units as in the reading."""

    chance: float
    bore_diameter: Quantity
    bore_at_mm: float
    pitch: Quantity
    taper_half_angle: Quantity


@dataclass(frozen=True, slots=True, eq=False)
class PortReading:
    """A port read through its collar; None is what the photo does not show.

    `bore_diameter` is over the crests, `bore_at_mm` below the mouth; lengths in mm, angles in
    degrees. `hand_evidence` is how much better right fits than left (chi-squared).
    `bore_at_mouth` is the crest cone at the mouth. `housing_chance` is that of the mouth
    being the cone of an O-ring, whose edge is the `counterbore_diameter`; the mouth may lie in a
    recess of `spot_face_diameter`. `thread_depth` is that of full thread below the mouth;
    `left_open` says what another photo may settle. `piece` is the collar.
    `supposed` has the likelier and the other supposition of the taper; the reading's own bands
    allow for both.
    """

    bore_diameter: Quantity
    bore_at_mm: float
    bore_at_mouth: Quantity
    pitch: Quantity | None
    taper_half_angle: Quantity | None
    hand: Hand
    hand_evidence: float
    mouth_diameter: Quantity | None
    counterbore_diameter: Quantity | None
    spot_face_diameter: Quantity | None
    housing_chance: float
    thread_depth: Quantity | None
    misfit_p: float
    print_is_verified: bool
    traces: tuple[PortTrace, ...]
    warnings: tuple[str, ...]
    left_open: tuple[str, ...] = ()
    piece: str = ""
    supposed: tuple[Supposed, ...] = ()
