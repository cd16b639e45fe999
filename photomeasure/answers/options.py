"""What the person says beside the photos."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from photomeasure.scene import BarReading
from photomeasure.thread.lies import Lies

__all__ = ["EVERY_PRINT", "Laid", "Lies", "PhotoOptions"]

Laid = Literal["flat", "space"]
EVERY_PRINT = ""  # the key of a bar reading that holds for every print in the photo


@dataclass(frozen=True, slots=True)
class PhotoOptions:
    """What holds for every photo.

    Attributes
    ----------
    bars : mapping of str to BarReading
        By the print's kind or name, `EVERY_PRINT` for all; none: the print is unverified.
    machine : str
        What the machine mostly has, one of `MACHINES`.
    """

    bars: Mapping[str, BarReading] = field(default_factory=lambda: MappingProxyType({}))
    machine: str = "any"
