"""Two ways to the cut, each with its own band, and the published tolerance beside them."""

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from photomeasure.quantities import COVERAGE_95
from photomeasure.sizing.cut import CutLengths
from photomeasure.sizing.entries import EndEntry, JobEntries

__all__ = ["Way", "awkward_end", "length_tolerance_mm", "ways"]

_MARK_U_MM = 0.6  # pencil and steel rule read to 1 mm, rectangular: 1 / sqrt(3), JCGM 100, 4.3.7


@dataclass(frozen=True, slots=True)
class Way:
    """One way to find the cut; `half_band_mm` is 95 %, None while a term is missing."""

    name: str
    half_band_mm: float | None
    words: str

    def as_json(self) -> dict[str, str | float | None]:
        """Give the form that goes into the cut's JSON."""
        return {"name": self.name, "half_band_mm": self.half_band_mm, "words": self.words}


@cache
def _tolerances() -> tuple[tuple[float, float, float], ...]:
    text = files(__package__).joinpath("data", "length_tolerances.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines(), strict=True)
    return tuple(
        (
            float(row["up_to_mm"] or math.inf),
            float(row["tolerance_mm"] or 0),
            float(row["share"] or 0),
        )
        for row in rows
    )


def length_tolerance_mm(length_mm: float) -> float:
    """Published tolerance, plus or minus, of a hose cut to a length.

    Parameters
    ----------
    length_mm : float [mm]

    Returns
    -------
    float [mm]

    Notes
    -----
    RMA IP-2:2003, table 4-8.
    """
    for up_to_mm, tolerance_mm, share in _tolerances():
        if length_mm <= up_to_mm:
            return tolerance_mm + share * length_mm
    raise AssertionError("the table's last row has no upper end")


def awkward_end(job: JobEntries) -> int:
    """Index of the end to make up first: the angled one, else the first.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    int
    """
    angled = [index for index, end in enumerate(job.ends) if end.end != "straight"]
    return angled[0] if angled else 0


def ways(job: JobEntries, lengths: CutLengths) -> tuple[Way, Way]:
    """Give both ways: measured and cut, and marked in place.

    Parameters
    ----------
    job : JobEntries
    lengths : CutLengths

    Returns
    -------
    tuple of two Way

    Notes
    -----
    Marked in place, route, datums and cut-offs fall out: only the insertion depth and the mark
    are left, for the position in which the hose is held.
    """
    return _measured(lengths), _in_place(job)


def _measured(lengths: CutLengths) -> Way:
    if lengths.cut_length is None or lengths.cut_at is None:
        return Way("measured and cut", None, f"Missing: {'; '.join(lengths.missing)}.")
    half = COVERAGE_95 * lengths.cut_length.u
    published = length_tolerance_mm(lengths.cut_at.value)
    words = f"± {half:.1f} mm; published tolerance of a cut this long: ± {published:.1f} mm"
    return Way("measured and cut", half, words)


def _in_place(job: JobEntries) -> Way:
    name = "marked in place"
    ends = list(job.ends)
    second: EndEntry | None = ends[1 - awkward_end(job)] if len(ends) == 2 else None
    if second is None or second.socket_depth is None:
        return Way(name, None, "Missing: how deep the hose goes into the second socket.")
    half = COVERAGE_95 * math.hypot(second.socket_depth.u, _MARK_U_MM)
    words = f"± {half:.1f} mm as held; movement and slack are to be held in by hand"
    return Way(name, half, words)
