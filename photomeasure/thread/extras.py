"""What a thread's photo tells beside its sizes: the hand."""

from dataclasses import dataclass

from photomeasure.thread.hand import LIKELY_STARTS, hand_of
from photomeasure.thread.look import Seen
from photomeasure.thread.reading import Hand
from photomeasure.thread.values import Sizes

__all__ = ["Extras", "extras"]


@dataclass(frozen=True, slots=True, eq=False)
class Extras:
    """What is seen beside diameter, pitch, length and taper; None is not seen."""

    hand: Hand
    warnings: tuple[str, ...]


def extras(seen: Seen, best: Sizes) -> Extras:
    """Read the rest of the part.

    Parameters
    ----------
    seen : Seen
    best : Sizes

    Returns
    -------
    Extras
    """
    hand = hand_of(seen, best)
    warnings = []
    if hand.several_starts > LIKELY_STARTS:
        warnings.append("The crest lines lean like those of a thread of several starts.")
    return Extras(hand.hand, tuple(warnings))
