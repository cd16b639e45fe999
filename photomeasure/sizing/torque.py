"""How tight a joint is made: torque, or flats from seated, each from a table that is named.

Only joints with a row have a figure. Stud torques differ by a factor of two between published
tables for one and the same thread, so they stand in no table here: they come from the part's own.
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from photomeasure.errors import TableError
from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.connection import Connection, Joint
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.standards import thread

__all__ = ["Tightening", "tightening_of", "torque_check", "torque_words"]

_NM_A_LBF_IN = 0.112984829  # exact lbf and inch, NIST SP 811
_LIKELY_SHARE = (0.003, 0.04)  # N·m a mm³: own choice, wide enough for aluminium
_BY_FLANKS = "taper thread"


@dataclass(frozen=True, slots=True)
class Tightening:
    """One row: torque range [N·m], or None, and flats of the nut from seated, or None."""

    torque_nm: tuple[float, float] | None
    flats: tuple[float, float] | None
    condition: str
    source: str

    @property
    def words(self) -> str:
        """Say it for the bench: torque or flats, never both."""
        said = []
        if self.torque_nm is not None:
            said.append(f"{self.torque_nm[0]:.0f} to {self.torque_nm[1]:.0f} N·m")
        if self.flats is not None:
            said.append(f"{self.flats[0]:g} to {self.flats[1]:g} flats from seated")
        return f"{', or '.join(said)} ({self.condition})"


@cache
def _table() -> dict[tuple[str, str], Tightening]:
    text = files(__package__).joinpath("data", "torques.csv").read_text("utf-8")
    found = {}
    for number, row in enumerate(csv.DictReader(text.splitlines(), strict=True), start=2):
        try:
            torque = _range(row["least_lbf_in"], row["most_lbf_in"], _NM_A_LBF_IN)
            flats = _range(row["least_flats"], row["most_flats"], 1.0)
        except ValueError as error:
            raise TableError(f"torques.csv, line {number}: {error}.", "Mend the row.") from error
        entry = Tightening(torque, flats, row["condition"], row["source"])
        found[row["joint"], row["thread"]] = entry
    return found


def _range(least: str, most: str, scale: float) -> tuple[float, float] | None:
    if not least:
        return None
    low, high = float(least) * scale, float(most) * scale
    if not 0 < low < high:
        raise ValueError(f"{least} to {most} is no range")
    return low, high


def tightening_of(joint: Joint) -> Tightening | None:
    """Give the row of a joint, or None where no table names it.

    Parameters
    ----------
    joint : Joint

    Returns
    -------
    Tightening or None
    """
    if joint.upper == "port":
        return None  # a stud in a port, or a nut on the machine's own: not in this table
    return _table().get((joint.seat.name, joint.thread))


def torque_words(joint: Joint, end: EndEntry) -> str | None:
    """Say how tight a joint is made, or None where nobody says.

    Parameters
    ----------
    joint : Joint
    end : EndEntry
        The end it belongs to, for the torque that the user read off the part's own table.

    Returns
    -------
    str or None
    """
    if joint.seat.name == _BY_FLANKS:
        return "finger-tight plus the turns that its maker lists, never backed off"
    row = tightening_of(joint)
    if row is not None:
        return row.words
    if end.torque is not None and joint.upper == "port":
        return f"{end.torque.newton_metres:g} N·m ({end.torque.by})"
    own = end.torque_hose_end
    if own is not None and joint.lower.startswith("hose end"):
        return f"{own.newton_metres:g} N·m ({own.by})"
    return None


def _is_likely(designation: str, newton_metres: float) -> bool:
    """Whether a stud's torque is within a factor of three or so of what tables give its size.

    Published tables run from 0.008 to 0.017 N·m a cubic millimetre of the major diameter.
    """
    least, most = (share * thread(designation).major_diameter_mm ** 3 for share in _LIKELY_SHARE)
    return least <= newton_metres <= most


def torque_check(job: JobEntries, connection: Connection | None) -> tuple[Check, ...]:
    """Ask for the torque of every joint that no table names.

    Parameters
    ----------
    job : JobEntries
    connection : Connection or None

    Returns
    -------
    tuple of Check
        Empty while the joints are not known.
    """
    if connection is None:
        return ()
    odd = [
        f"which is true: {end.torque.newton_metres:g} N·m on {chain.port.thread} at end {letter}"
        for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        if end.torque is not None and not _is_likely(chain.port.thread, end.torque.newton_metres)
    ]
    lacks = odd + [
        f"torque of {joint.thread}, {joint.seat.name}, at end {letter} (the part's own table)"
        for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        for joint in chain.joints
        if torque_words(joint, end) is None
    ]
    if lacks:
        return (missing("torque figures", *lacks),)
    return (Check("torque figures", True, "Every joint has its torque or its flats."),)
