"""Why a port cannot be read, each reason with its own sentence and what to do."""

import numpy as np

from photomeasure.errors import NoThreadError, TooUncertainError
from photomeasure.port.mouth import Circle
from photomeasure.port.view import PortView
from photomeasure.port.wall import MARGIN_MM, Bore, unwrap
from photomeasure.quantities import Quantity

__all__ = ["demand_certainty", "no_bore", "no_mouth", "no_thread"]

DARKEST = 0.006  # of full light
WITHIN = 0.6  # of the collar's hole: there the port is looked at
FLAT = 0.12  # scatter of light's logarithm: less, and there is no hole
SIDES_RAD, STEP_MM, SMOOTH_MM = np.radians(np.arange(-40, 41, 4.0)), 0.12, 0.9
UNEVEN = 0.05  # of the logarithm of light: what grease and swarf do, and a plain wall does not
DARK = 0.01
LARGEST_RELATIVE_U = 0.05


def no_thread(view: PortView) -> NoThreadError:
    """Tell dark, no hole, a plain wall and a dirty one apart.

    Parameters
    ----------
    view : PortView
        In which no thread was found.

    Returns
    -------
    NoThreadError
        To be raised.
    """
    name, collar = view.photo.name, view.found.piece.name
    reach = WITHIN * view.hole_radius_mm
    places = np.linspace(-reach, reach, 61)
    x, y = np.meshgrid(places, places)
    light = view.light(np.stack([x, y, 0 * x], axis=-1))[np.hypot(x, y) < reach]
    if float(np.percentile(light, 75)) < DARKEST:
        return NoThreadError(
            f"{name}: it is too dark in the port to see its wall.",
            "Light the far wall with a torch from the phone's side, no flash, and take it again.",
        )
    low, high = np.percentile(np.log(light + DARK), [5, 95])
    if high - low < FLAT:
        return NoThreadError(
            f"{name}: '{collar}' lies round no hole.",
            "Stick the collar round the mouth of the port that you mean, its hole clear of the "
            "edge.",
        )
    if _unevenness(view) > UNEVEN:
        return NoThreadError(
            f"{name}: grease, swarf or dirt hides the thread of the port in '{collar}'.",
            "Plug the port below its thread, wipe the thread clean and dry, and take it again.",
        )
    return NoThreadError(
        f"{name}: the wall of the hole in '{collar}' shows no thread: it is the wrong hole, or "
        "grease fills the thread evenly.",
        "See that the collar is round the right hole, wipe it clean, and lean the phone 40 to 50° "
        "from square on.",
    )


def _unevenness(view: PortView) -> float:
    """Median size of the fine light and dark on the far wall, of the logarithm of light."""
    radius = WITHIN * view.hole_radius_mm
    mouth = Circle(0.0, 0.0, radius + MARGIN_MM, 1.0)
    wall = unwrap(view, Bore(0.0, 0.0, radius), mouth, SIDES_RAD, STEP_MM)
    tone = np.log(wall.light + DARK)
    count = max(round(SMOOTH_MM / STEP_MM), 1)
    broad = np.apply_along_axis(
        lambda line: np.convolve(line, np.full(count, 1 / count), mode="same"), 1, tone
    )
    seen = wall.is_seen.copy()
    seen[:, :count] = seen[:, -count:] = False
    return float(np.median(np.abs(tone - broad)[seen])) if seen.any() else 0.0


def no_mouth(view: PortView) -> NoThreadError:
    """The collar's own edge is all that stands out: to be raised."""
    collar = view.found.piece.name
    return NoThreadError(
        f"{view.photo.name}: within '{collar}' no mouth is told from the collar's own edge.",
        "Use the collar that just clears the mouth, light the port evenly, and take it again.",
    )


def no_bore(view: PortView) -> NoThreadError:
    """Square on and no edge of a bore: to be raised."""
    return NoThreadError(
        f"{view.photo.name} looks {np.degrees(view.slant_rad):.0f}° from square on into the port: "
        "the thread on its wall is not seen, and no edge of a bore stands out.",
        "Lean the phone 40 to 50° from square on, so that it sees the far wall, and take it again.",
    )


def demand_certainty(view: PortView, bore: Quantity) -> None:
    """Refuse a bore that is too uncertain to be of use."""
    share = bore.u / bore.value
    if not share < LARGEST_RELATIVE_U:
        raise TooUncertainError(
            f"{view.photo.name}: the bore would be uncertain by {share:.0%}, more than "
            f"{LARGEST_RELATIVE_U:.0%}.",
            "Measure the printed bars, come nearer, and lean the phone 40 to 50° from square on.",
        )
