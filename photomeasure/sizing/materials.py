"""What stands which oil: seals and liners against the fluid and the heat.

A material that no row names is neither good nor bad: its check stays open.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["PLANNED_FLUID", "Suit", "kind_of_fluid", "most_c", "suit_of"]

PLANNED_FLUID = "mineral oil"  # all that this program plans for
_OTHERS = ("glycol", "phosphate ester")


@dataclass(frozen=True, slots=True)
class Suit:
    """Whether a material stands a fluid, and up to which temperature [°C] that is usual."""

    suits: bool
    most_c: float | None
    source: str


def kind_of_fluid(fluid: str) -> str | None:
    """Give the kind of a fluid as the tables call it, or None for one that they do not name.

    Parameters
    ----------
    fluid : str
        As read off cap or manual.

    Returns
    -------
    str or None
    """
    said = fluid.casefold()
    return next((kind for kind in (PLANNED_FLUID, *_OTHERS) if kind in said), None)


@cache
def _table() -> Mapping[tuple[str, str], Suit]:
    text = files(__package__).joinpath("data", "materials.csv").read_text("utf-8")
    return {
        (row["material"].casefold(), row["fluid"]): Suit(
            row["suits"] == "yes", float(row["most_c"]) if row["most_c"] else None, row["source"]
        )
        for row in csv.DictReader(text.splitlines(), strict=True)
    }


def suit_of(material: str, kind: str) -> Suit | None:
    """Say whether a material stands a kind of fluid, or None where no row says so.

    Parameters
    ----------
    material : str
    kind : str
        From `kind_of_fluid`.

    Returns
    -------
    Suit or None
    """
    return _table().get((material.strip().casefold(), kind))


def most_c(material: str | None, said_c: float | None) -> float | None:
    """Give the heat that a seal stands: as entered, but never more than its material does.

    Parameters
    ----------
    material : str or None
    said_c : float or None [°C]
        As entered.

    Returns
    -------
    float or None [°C]
        None where nobody said.
    """
    suit = None if material is None else suit_of(material, PLANNED_FLUID)
    if said_c is None or suit is None or suit.most_c is None:
        return said_c
    return min(said_c, suit.most_c)
