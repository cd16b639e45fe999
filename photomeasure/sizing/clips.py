"""Clips along the hose, and a sleeve where it can rub."""

import math
from dataclasses import dataclass

from photomeasure.sizing.cut import CutLengths
from photomeasure.sizing.entries import JobEntries

__all__ = ["Dressing", "dressing"]

# Common practice, no source: 300 to 600 mm by size, the closer one; NAVEDTRA 14105, page 5-11:
# at most 24 in (610 mm) apart. NAVEDTRA 14009: 1 1/2 in of slack to what the engine carries.
_CLIP_EVERY_MM = 300.0
_SLEEVE_OVER_MM = 50.0  # own choice: so much more at each end of the place that rubs


@dataclass(frozen=True, slots=True)
class Dressing:
    """What holds and guards the hose; None while the length is not known.

    `spacing_mm` is from socket to clip to clip to socket.
    """

    clips: int
    spacing_mm: float
    sleeve_mm: float | None

    @property
    def words(self) -> str:
        """Say it for the bench."""
        if self.clips:
            clip = (
                f"Clip it every {self.spacing_mm:.0f} mm ({self.clips} in all; common practice: at "
                f"most {_CLIP_EVERY_MM:.0f} mm), not in a bend; none joins engine to chassis "
                "without a loop between, 38 mm of slack or more"
            )
        else:
            clip = f"Short enough for no clip (under {_CLIP_EVERY_MM:.0f} mm; common practice)"
        if self.sleeve_mm is None:
            return f"{clip}. Sleeve it where it can rub."
        return f"{clip}. Sleeve {self.sleeve_mm:.0f} mm of it where it rubs."


def dressing(job: JobEntries, lengths: CutLengths) -> Dressing | None:
    """Work out clips and sleeve.

    Parameters
    ----------
    job : JobEntries
    lengths : CutLengths

    Returns
    -------
    Dressing or None
        None while the cut is not known.
    """
    if lengths.cut_at is None:
        return None
    hidden = sum(end.socket_depth.value for end in job.ends if end.socket_depth is not None)
    free_mm = max(0.0, lengths.cut_at.value - hidden)
    spans = max(1, math.ceil(free_mm / _CLIP_EVERY_MM))
    sleeve = None
    if job.rubs_over is not None and job.rubs_over.value > 0:
        longest = job.rubs_over.value + 2 * job.rubs_over.u
        sleeve = min(free_mm, longest + 2 * _SLEEVE_OVER_MM)
    return Dressing(spans - 1, free_mm / spans, sleeve)
