"""Several photos of one part in one frame: which way each photo's axis points and runs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.thread.axis import Axis
from photomeasure.thread.bend import Lean, leaned
from photomeasure.thread.look import Seen
from photomeasure.thread.rest import Posture

__all__ = ["Frame", "View", "shared_postures", "views_of"]

Vector = NDArray[np.float64]

OTHER_WAY: dict[Posture, Posture] = {
    "tipped to low": "tipped to high",
    "tipped to high": "tipped to low",
    "leaning to low": "leaning to high",
    "leaning to high": "leaning to low",
}


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What one photo shows.

    Attributes
    ----------
    seen : Seen
    is_turned : bool
        Its axis points against the first photo's.
    leans : dict of Posture to Lean
        In its own sense.
    """

    seen: Seen
    is_turned: bool
    leans: dict[Posture, Lean]

    @property
    def sign(self) -> int:
        """Of its rises, in the common sense."""
        return -1 if self.is_turned else 1

    def posture(self, posture: Posture) -> Posture:
        """Give a posture in this photo's own sense, or its own in the common one."""
        return OTHER_WAY.get(posture, posture) if self.is_turned else posture


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The middle of the thread in plan, and the axis' heading, both roughly; fixed once taken."""

    x_mm: float
    y_mm: float
    heading_rad: float

    def axis(self, view: View, standing: Vector) -> Axis:
        """Axis of height [mm] and rise [rad] there, in a photo's own sense."""
        height, rise = standing
        heading = self.heading_rad + np.pi * view.is_turned
        return Axis(self.x_mm, self.y_mm, float(height), heading, view.sign * float(rise))

    def standing(self, view: View, axis: Axis) -> Vector:
        """Height over this place and rise of a photo's axis, in the common sense, (2,)."""
        ahead = axis.direction[:2]
        place = ahead @ (self.x_mm - axis.x_mm, self.y_mm - axis.y_mm) / (ahead @ ahead)
        height = axis.height_mm + place * axis.direction[2]
        return np.array([height, view.sign * axis.rise_rad])

    def plan(self, view: View, axis: Axis) -> Vector:
        """How far a photo's axis lies to the left of this place, and turned, (2,) [mm, rad]."""
        heading = axis.heading_rad - np.pi * view.is_turned
        turned = (heading - self.heading_rad + np.pi) % (2 * np.pi) - np.pi
        left = np.array([-np.sin(self.heading_rad), np.cos(self.heading_rad)])
        return np.array([left @ (axis.x_mm - self.x_mm, axis.y_mm - self.y_mm), turned])


def views_of(seen: Sequence[Seen]) -> tuple[View, ...]:
    """Compare the photos' axes with the first one's."""
    first = seen[0].axis.direction
    return tuple(
        View(
            one,
            bool(one.axis.direction @ first < 0),
            {posture: leaned(one, posture) for posture in one.chances},
        )
        for one in seen
    )


def shared_postures(views: Sequence[View]) -> set[Posture]:
    """Postures, in the common sense, that every photo allows."""
    return set.intersection(*({view.posture(one) for one in view.seen.chances} for view in views))
