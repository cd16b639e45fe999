"""What the person says beside the photos."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from photomeasure.scene import BarReading

__all__ = ["EVERY_PRINT", "Laid", "Lies", "PhotoOptions", "RouteOptions"]

Lies = Literal["on-thread", "on-hex", "on-both", "unknown"]
Laid = Literal["flat", "space"]
EVERY_PRINT = ""  # the key of a bar reading that holds for every print in the photo


@dataclass(frozen=True, slots=True)
class PhotoOptions:
    """What holds for every photo.

    Attributes
    ----------
    bars : mapping of str to BarReading
        By the print's kind or name, `EVERY_PRINT` for all; none: the print is unverified.
    camera_profile : Path or None
        What `photomeasure camera` learnt of this phone.
    """

    bars: Mapping[str, BarReading] = field(default_factory=lambda: MappingProxyType({}))
    camera_profile: Path | None = None


@dataclass(frozen=True, slots=True)
class RouteOptions:
    """What is said of a route; lengths in mm, None where nothing was said."""

    laid: Laid | None = None
    hose_od_mm: float | None = None
    line_od_mm: float | None = None
    line: Literal["tape", "cord", "rod", "hose"] = "tape"
    sides: tuple[tuple[int, str], ...] = ()
    points_px: tuple[tuple[float, float], ...] = ()
