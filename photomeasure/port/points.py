"""Points on the thread's crest lines."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CrestPoints"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]

SIDE_RAD = float(np.radians(5.0))  # over which light does about the same


@dataclass(frozen=True, eq=False)
class CrestPoints:
    """Points on crest lines.

    Attributes
    ----------
    px : (N, 2)
    turns : (N,)
        Number of the turn that each is on, from the mouth.
    parts : (N,)
        Stretch round the wall that each is on: between them all turns' edges may jump.
    sides_rad : (N,)
        Where on the wall, from the far side.
    weights : (N,)
        1 where light falls as steeply as the picture's blur lets it, less where it fades.
    spills : (N,)
        How much full light spills over the edge at each, 0 to 1.
    clear : (T,)
        Share of each turn's points that is clear, 0 where nothing of it can be seen.
    depth_mm : float
        Of turn 0 at the far side.
    """

    px: Points2
    turns: NDArray[np.int64]
    parts: NDArray[np.int64]
    sides_rad: Vector
    weights: Vector
    spills: Vector
    clear: Vector
    depth_mm: float

    @property
    def beside(self) -> Vector:
        """How many points lie at about the same side, on all turns, (N,)."""
        _, places, counts = np.unique(
            np.rint(self.sides_rad / SIDE_RAD), return_inverse=True, return_counts=True
        )
        return counts[places].astype(np.float64)

    @property
    def other_parts(self) -> NDArray[np.int64]:
        """The stretches round the wall but for the one with the most points."""
        parts, counts = np.unique(self.parts, return_counts=True)
        return np.asarray(parts[np.argsort(-counts, kind="stable")][1:])
