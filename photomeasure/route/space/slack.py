"""What movement asks of a hose: slack, and room for what is marked."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from photomeasure.errors import UsageError
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.space.reading import Clearance, SpaceSaid

__all__ = ["ENDS", "moved_apart", "slack_for"]

ENDS = "ends"  # by this name the movement of the hose's ends against each other is said
RULE_U_MM = 1.0  # a movement measured with a rule on a machine; own estimate
LABEL = "how well the movement was measured"


def slack_for(said: SpaceSaid, length: Quantity, key: str) -> tuple[Quantity | None, list[str]]:
    """Ask for slack where the ends move against each other.

    Parameters
    ----------
    said : SpaceSaid
    length : Quantity
        Of the route [mm].
    key : str
        Names the photos.

    Returns
    -------
    slack : Quantity or None
        None where the ends do not move, or where nothing was said.
    told : list of str

    Notes
    -----
    Whichever way an end moves by m, the path is at most m longer. A hose that is too long by m for
    the length L then bows out by sqrt(3 m L / 8) (parabola between two fixed ends).
    """
    moves = dict(said.moves).get(ENDS, 0.0)
    if moves <= 0:
        return None, []
    own = {Source("movement/ends", LABEL, "answer", key): RULE_U_MM}
    bow = float(np.sqrt(3 * moves * length.value / 8))
    told = (
        f"The ends move {moves:.0f} mm against each other: unless the photos show them farthest "
        f"apart, the hose must be {moves:.0f} mm longer than the path. Nearest together, it is as "
        f"much too long and may bow out by {bow:.0f} mm: look there at bends and at what is near."
    )
    return Quantity.normal(measured(moves, own), "mm"), [told]


def moved_apart(found: Sequence[Clearance], said: SpaceSaid) -> tuple[Clearance, ...]:
    """Take off each distance what the thing and the hose's ends may move.

    Parameters
    ----------
    found : sequence of Clearance
    said : SpaceSaid

    Returns
    -------
    tuple of Clearance

    Raises
    ------
    UsageError
        A movement is named that nothing marked has.
    """
    moves = dict(said.moves)
    for name in moves:
        if name != ENDS and name not in {mark.name for mark in said.marks}:
            raise UsageError(
                f"'{name}' is said to move, but nothing is marked by that name.",
                f"Mark it with --mark {name}@PHOTO:X,Y in two photos, or write {ENDS}=12mm for the "
                "hose's ends.",
            )
    ends = moves.get(ENDS, 0.0)
    return tuple(replace(one, moves_mm=ends + moves.get(one.name, 0.0)) for one in found)
