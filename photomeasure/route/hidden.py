"""Whether something lies over a line's end, so that the line may go on under it."""

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.route.look import Pass
from photomeasure.route.track import End

__all__ = ["not_told", "refuse_hidden_ends"]

Points2 = NDArray[np.float64]  # (N, 2)
Vector = NDArray[np.float64]  # (N,)
Mask = NDArray[np.bool_]  # (N,)

OFF_FLAT = (10.0, 6.0)  # stored levels of 255, in brightness and in hue, between the floor and
# what lies beyond a tape's end, from which that may hide the rest; bare drawn floors stay below 6
# and 1.5
OFF_ROUND = ((18.0, 6.0), (15.0, 28.0, 6.0))  # the same of a round line: lighter or of another hue
# close by; darker, lighter or of another hue beyond its own shadow
AHEAD = ((0.25, 0.65), (1.6, 2.2))  # widths beyond an end, close by and beyond a shadow
LEAST_AHEAD_MM = 6.0
BESIDE = ((-4.0, -0.8), (0.85, 1.5))  # widths before the end, and aside: there lies the floor
OFF_FAINT = 4.0  # levels lighter than the floor: the lit top of a hose as dark as that goes on
GRAINS = 3.0  # times the scatter of the floor's own patches, where that is more
LAST = (
    (-0.6, -0.15),
    (-5.0, -1.5),
)  # widths from an end: the line's last bit, and what comes before
OFF_LINE = (40.0, 20.0)  # levels by which that is lighter, if tape, or of another hue: something
# lies on the line
POINTED_AT = (1.0, 8.0)  # widths and mm: an end that is pointed at so nearly is vouched for


def not_told(name: str) -> NoLineError:
    """What to say of an end, `start` or `end`, that is as dark as the floor."""
    return NoLineError(
        f"The line's {name} is not told from the floor.",
        "Lay a piece of paper under its end, or drag its ends in the app.",
    )


def refuse_hidden_ends(look: Pass, pointed_mm: Points2) -> None:
    """Refuse a line that may go on under something, unless its end was pointed at.

    Parameters
    ----------
    look : Pass
    pointed_mm : (N, 2) [mm]
        What a person pointed at, in the line's plane.

    Raises
    ------
    NoLineError
    """
    near_mm = max(POINTED_AT[0] * look.track.width_mm, POINTED_AT[1])
    places = look.guide.points(np.array([end.along_mm for end in look.ends]))
    for end, place, name in zip(look.ends, places, ("start", "end"), strict=True):
        if np.any(np.hypot(*(pointed_mm - place).T) < near_mm):
            continue
        if look.is_faint and _goes_on(look, end):
            raise not_told(name)
        what = "A printed reference" if end.is_covered else "Something"
        if end.is_covered or _is_stopped(look, end):
            raise NoLineError(
                f"{what} lies at the line's {name}, and the line may go on under it.",
                "Move it away; or, if the line does end there, point at both ends and at places "
                "between them with --points, or drag its ends in the app.",
            )


def _goes_on(look: Pass, end: End) -> bool:
    """Whether it is lighter than the floor beyond an end, as a dark hose's top is."""
    patches = _Patches(look, end)
    return patches.off_floor(AHEAD[0])[0] > max(OFF_FAINT, GRAINS * patches.grain)


def _is_stopped(look: Pass, end: End) -> bool:
    """Whether there is no floor beyond an end, but something else that may hide the rest."""
    patches = _Patches(look, end)
    near, far = (patches.off_floor(reach) for reach in AHEAD)
    lighter, hue = patches.off_line()
    is_flat = look.strip.round_look == "flat"
    if (is_flat and lighter > OFF_LINE[0]) or hue > OFF_LINE[1]:
        return True
    grain = GRAINS * patches.grain
    if is_flat:
        return abs(near[0]) > max(OFF_FLAT[0], grain) or near[1] > max(OFF_FLAT[1], grain)
    lighter, hue = np.maximum(OFF_ROUND[0], grain)
    dark, light, far_hue = np.maximum(OFF_ROUND[1], grain)
    return bool(
        near[0] > lighter or near[1] > hue or not -dark < far[0] < light or far[1] > far_hue
    )


class _Patches:
    """Colours of line and floor near one end."""

    def __init__(self, look: Pass, end: End) -> None:
        self.strip, self.width_mm = look.strip, look.track.width_mm
        sign = -1 if end is look.ends[0] else 1
        self.beyond_mm = sign * (self.strip.along_mm - end.along_mm)
        self.aside = self.strip.across_mm / self.width_mm
        self.grain = self._grain(look)

    def _colour(self, rows: Mask, columns: Mask) -> Vector | None:
        """Median colour of a patch, (3,); None if nothing of it is known."""
        part = self.strip.colour[np.ix_(rows & ~self.strip.covered, columns)]
        known = part[np.isfinite(part[..., 0])]
        return np.asarray(np.median(known, axis=0), np.float64) if len(known) else None

    def _rows(self, reach: tuple[float, float], least_mm: float = 0.0) -> Mask:
        """Which rows lie between two distances beyond the end [widths], or a little more."""
        first, last = (r * self.width_mm for r in reach)
        return (self.beyond_mm > first) & (self.beyond_mm < max(last, first + least_mm))

    def _sides(self) -> tuple[Mask, Mask]:
        return (
            (self.aside > BESIDE[1][0]) & (self.aside < BESIDE[1][1]),
            (-self.aside > BESIDE[1][0]) & (-self.aside < BESIDE[1][1]),
        )

    def off_floor(self, reach: tuple[float, float]) -> tuple[float, float]:
        """How much brighter it is beyond the end than on the floor beside, and how far off in hue.

        Of both sides' floors that which is more alike counts.
        """
        ahead = self._colour(self._rows(reach, LEAST_AHEAD_MM), np.abs(self.aside) < 0.3)
        before = self._rows(BESIDE[0])
        found = [_off(ahead, self._colour(before, side)) for side in self._sides()]
        return min(found, key=lambda off: abs(off[0]) + off[1])

    def off_line(self) -> tuple[float, float]:
        """How much brighter the line's last bit is than the bit before, and how far off in hue.

        Of striped tape that says nothing.
        """
        if self.strip.is_striped:
            return 0.0, 0.0
        middle = np.abs(self.aside) < 0.3
        return _off(*(self._colour(self._rows(reach), middle) for reach in LAST))

    def _grain(self, look: Pass) -> float:
        """Scatter of the brightness of floor patches beside the line, a few widths apart."""
        rows = max(1, round(max((AHEAD[0][1] - AHEAD[0][0]) * self.width_mm, LEAST_AHEAD_MM)
                            / self.strip.step_mm))  # fmt: skip
        first, last = (end.along_mm for end in look.ends)
        on_line = (self.strip.along_mm > first) & (self.strip.along_mm < last)
        apart = []
        for side in self._sides():
            floor = self.strip.light[np.ix_(on_line & ~self.strip.covered, side)]
            count = len(floor) // rows
            patches = np.median(floor[: count * rows].reshape(count, -1), axis=1)
            apart.append(patches[4:] - patches[:-4])
        known = np.concatenate(apart)
        known = known[np.isfinite(known)]
        return float(1.4826 * np.median(np.abs(known))) if len(known) else 0.0


def _off(patch: Vector | None, like: Vector | None) -> tuple[float, float]:
    """How much brighter a patch is than another, and how far off in hue; shade dulls hues."""
    if patch is None or like is None:
        return 0.0, 0.0
    hue = (like[1:] - 128.0) * min(1.0, patch[0] / max(like[0], 1.0))
    return float(patch[0] - like[0]), float(np.hypot(*(patch[1:] - 128.0 - hue)))
