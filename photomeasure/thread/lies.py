"""How the fitting lies, as the user says: it leaves only the postures that agree."""

from dataclasses import replace
from typing import Literal

from photomeasure.thread.look import Seen
from photomeasure.thread.rest import Posture
from photomeasure.thread.values import Causes, sizes

__all__ = ["Lies", "lying_as"]

Lies = Literal["on-thread", "on-hex", "on-both", "unknown"]

DOUBTFUL = 0.02  # chance by the photo alone


def lying_as(seen: Seen, lies: Lies) -> tuple[Seen, tuple[str, ...]]:
    """Keep the postures that agree with what the user says.

    Parameters
    ----------
    seen : Seen
    lies : Lies
        "on-thread": the measured thread touches the paper. "on-hex": it does not. "on-both":
        hexagon and thread touch.

    Returns
    -------
    seen : Seen
    warnings : tuple of str
    """
    if lies == "unknown":
        return seen, ()
    allowed = _allowed(seen, lies)
    chances = {posture: seen.chances.get(posture, 0.0) for posture in allowed}
    total = sum(chances.values())
    if not chances or total == 0:
        return seen, (f"The photo does not show how the part could lie {lies}: left out.",)
    warnings = () if total > DOUBTFUL else (f"The photo does not look as if the part lay {lies}.",)
    kept = {posture: chance / total for posture, chance in chances.items()}
    return replace(seen, chances=kept, posture=max(kept, key=kept.__getitem__)), warnings


def _allowed(seen: Seen, lies: Lies) -> tuple[Posture, ...]:
    if not seen.features.has_hexagon:
        return ("on thread",) if lies == "on-thread" else ()
    flat = sizes(seen.scene, seen.features, seen.axis, "flat", Causes())
    ends: tuple[tuple[Posture, ...], ...] = (
        ("tipped to low", "leaning to low"),
        ("tipped to high", "leaning to high"),
    )
    to_thread, away = ends if flat.from_end > 0 else ends[::-1]
    return ("flat", *away) if lies == "on-hex" else to_thread
