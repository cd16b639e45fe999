"""The marks on a printed page, as vectors in millimetres (page frame: x right, y down)."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Marker", "Polygon", "Rectangles", "Ring", "Shape", "Text"]


@dataclass(frozen=True, slots=True, eq=False)
class Rectangles:
    """Upright rectangles that do not overlap, inked as one path.

    Attributes
    ----------
    boxes_mm : (N, 4)
        Left, top, right, bottom.
    ink : float
        1 is black, 0 is paper.
    absorbs : (3,)
        Share of red, green and blue that full ink takes away.
    """

    boxes_mm: NDArray[np.float64]
    ink: float = 1.0
    absorbs: tuple[float, float, float] = (1.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class Polygon:
    """A filled polygon.

    Attributes
    ----------
    points_mm : (N, 2)
    ink : float
    """

    points_mm: NDArray[np.float64]
    ink: float = 1.0


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle drawn as a line."""

    centre_mm: tuple[float, float]
    diameter_mm: float
    line_mm: float = 0.2
    ink: float = 1.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `at_mm` is on its base line, `turn_deg` turns it clockwise."""

    at_mm: tuple[float, float]
    text: str
    size_mm: float = 2.8
    anchor: Literal["left", "middle", "right"] = "left"
    is_bold: bool = False
    turn_deg: Literal[0, 90, 270] = 0
    ink: float = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Marker:
    """A coded marker; its black modules are looked up when it is drawn.

    Attributes
    ----------
    marker_id : int
    box_mm : (4,)
        Left, top, right, bottom.
    ink : float
    """

    marker_id: int
    box_mm: NDArray[np.float64]
    ink: float = 1.0


Shape = Rectangles | Polygon | Ring | Text | Marker
