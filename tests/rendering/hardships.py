"""What makes a photo hard, as data of its scene."""

from dataclasses import asdict, dataclass
from typing import Any, Literal

from tests.rendering.hands import Hand
from tests.rendering.lumps import Lump
from tests.rendering.stains import Stain

__all__ = ["HARDSHIPS", "Hardship", "Hardships"]

Hardship = Literal["oil", "dirt", "torch", "oblique", "curl", "hand", "tele"]
HARDSHIPS: tuple[Hardship, ...] = ("oil", "dirt", "torch", "oblique", "curl", "hand", "tele")


@dataclass(frozen=True, slots=True, eq=False)
class Hardships:
    """All that is in the way; the light, the camera and the sheet's curl stand in the scene.

    Attributes
    ----------
    names : of HARDSHIPS
    film : float
        How much of the part an oil film covers, 0 to 1.
    lumps : of oil and grit
    stains : of oil in the paper
    hand : Hand or None
    gloss : (paper, toner) or None
        How rough they are, where a torch is mirrored in them.
    """

    names: tuple[Hardship, ...] = ()
    film: float = 0.0
    lumps: tuple[Lump, ...] = ()
    stains: tuple[Stain, ...] = ()
    hand: Hand | None = None
    gloss: tuple[float, float] | None = None

    def truth(self) -> dict[str, Any]:
        """For the file beside the picture."""
        return {
            "names": list(self.names),
            "film": self.film,
            "beads": sum(lump.kind == "oil" for lump in self.lumps),
            "grains": sum(lump.kind == "grit" for lump in self.lumps),
            "stains": [asdict(stain) for stain in self.stains],
            "hand": None if self.hand is None else asdict(self.hand),
            "gloss": self.gloss,
        }
