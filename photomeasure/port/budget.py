"""The sizes of a solved port, and what moves them: one signed part for every source."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.port.circles import SpotFace
from photomeasure.port.ends import ThreadEnds
from photomeasure.port.fit import Fitted
from photomeasure.port.solve import BIASES, UNKNOWNS, Biases, moved
from photomeasure.port.view import PortView
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.scene import Scene

__all__ = ["Parts", "parts_of", "sizes_of", "spot_face_diameter", "values_of"]

Vector = NDArray[np.float64]
Parts = dict[Source, Vector]

NAMES = ("bore", "pitch", "taper", "at mouth", "mouth", "depth")
UNITS = ("mm", "mm", "deg", "mm", "mm", "mm")
BORE = np.array([1.0, 0.0, 0.0, 1.0, 0.0, 0.0])
PITCH, MOUTH, DEPTH = (np.eye(6)[NAMES.index(name)] for name in ("pitch", "mouth", "depth"))
LIGHT_U_MM = 0.03  # which edge of a crest the light shows, of the bore; by scenes for tuning
# Which edge of a mouth's rim the light shows: so much too far in, so uncertain at least, and by its
# points' scatter [mm per pixel]; by scenes for tuning
MOUTH_WIDER_MM, MOUTH_U_MM, MOUTH_SCATTER = 0.05, 0.08, 0.12
# A thread's full crests end above its last clear one: a tap's lead of 1 to 2.5 pitches, or none
# before a relief (common practice, no source), less half of the pitch until the next crest would
# show
RUN_OUT, RUN_OUT_U = 1.05, 0.75
SPOT_WIDER_MM, SPOT_U_MM = 0.16, 0.2  # a recess's edge is seen too far in; by scenes for tuning


@dataclass(frozen=True, slots=True)
class _Own:
    """Names sources of one photo, and of the port that it has in common with others."""

    photo_key: str
    port_key: str

    def photo(self, name: str, label: str) -> Source:
        return Source(name, label, "photo", self.photo_key)

    def port(self, name: str) -> Source:
        return Source(name, f"{name} of the port, known beforehand", "answer", self.port_key)


def values_of(theta: Vector, ends: ThreadEnds) -> Vector:
    """Bore, pitch, taper, bore at the mouth, mouth, depth of full thread.

    Parameters
    ----------
    theta : (12,)
    ends : ThreadEnds

    Returns
    -------
    (6,) [mm, degrees]
    """
    radius, narrowing, first, pitch, mouth, mouth_radius = (
        float(theta[UNKNOWNS.index(name)])
        for name in ("radius", "narrowing", "first depth", "pitch", "mouth depth", "mouth radius")
    )
    taper = float(np.degrees(np.arctan(narrowing)))
    at_mouth = 2 * (radius + narrowing * (first - mouth))
    depth = first - mouth + (ends.last_turns - RUN_OUT) * pitch
    opening = 2 * mouth_radius + MOUTH_WIDER_MM
    return np.array([2 * radius, pitch, taper, at_mouth, opening, depth])


def sizes_of(values: Vector, parts: Mapping[Source, Vector]) -> dict[str, Quantity]:
    """The sizes as quantities.

    Parameters
    ----------
    values : (6,)
        From `values_of`.
    parts : mapping of Source to (6,)

    Returns
    -------
    dict of str to Quantity
    """
    return {
        name: Quantity.normal(
            measured(values[index], {source: part[index] for source, part in parts.items()}),
            UNITS[index],
        )
        for index, name in enumerate(NAMES)
    }


def parts_of(view: PortView, fitted: Fitted, ends: ThreadEnds, port_key: str) -> Parts:
    """Signed change of every size by one standard uncertainty of every source.

    Parameters
    ----------
    view : PortView
    fitted : Fitted
    ends : ThreadEnds
    port_key : str
        Of what is known of the port beforehand.

    Returns
    -------
    dict of Source to (6,)
    """
    best, own = fitted.solution, _Own(view.photo.key, port_key)
    values = values_of(best.theta, ends)

    def shifted(step: Vector) -> Vector:
        return np.asarray(values_of(best.theta + step, ends) - values)

    def change(scene: Scene = view.scene, biases: Biases = (0.0, 0.0)) -> Vector:
        return shifted(moved(scene, fitted.features, best, biases))

    parts = _pose_parts(view, change)
    for index, (name, bias) in enumerate(BIASES.items()):
        biases = (bias, 0.0) if index == 0 else (0.0, bias)
        parts[own.photo(name, "where an edge in the port is seen")] = change(biases=biases)
    parts |= {own.port(name): shifted(shift) for name, shift in best.prior_shifts.items()}
    parts |= _light_parts(fitted, own, values)
    light = [shifted(shift) for shift in best.light_shifts.T]
    parts |= _joined(light, "light round the wall", "how light bends the crests", own.photo_key)
    if fitted.other_hand is not None:
        apart = values_of(fitted.other_hand, ends) - values
        parts[own.photo("hand", "which way the thread turns")] = np.asarray(apart / 2)
    noise = np.linalg.eigh(best.noise)
    shifts = [
        shifted(vector * np.sqrt(max(value, 0.0)))
        for value, vector in zip(noise[0], noise[1].T, strict=True)
    ]
    return parts | _joined(shifts, "crest fit", "scatter of the crest lines", own.photo_key)


def spot_face_diameter(view: PortView, spot: SpotFace, mouth: Quantity) -> Quantity:
    """Diameter of the recess round the mouth.

    Parameters
    ----------
    view : PortView
    spot : SpotFace
    mouth : Quantity
        The mouth's diameter, which errs with the print's scale as this does.

    Returns
    -------
    Quantity
    """
    value = 2 * spot.radius_mm + SPOT_WIDER_MM
    scale = mouth.number - mouth.number.nominal_value
    key = view.photo.key
    edge = Source("edge of the recess", "where the recess round the mouth ends", "photo", key)
    number = measured(value, {edge: SPOT_U_MM}) + scale * (value / mouth.value)
    return Quantity.normal(number, "mm")


def _pose_parts(view: PortView, change: Callable[[Scene], Vector]) -> Parts:
    parts, poses = {}, []
    for source, scene in view.scene.variants():
        if source.scope != "photo":
            parts[source] = change(scene)
        else:
            poses.append(change(scene))
    key = f"{view.photo.key} port"
    return parts | _joined(poses, "sheet pose", "lens and pose of the collar", key)


def _light_parts(fitted: Fitted, own: _Own, values: Vector) -> Parts:
    pitch_mm = values[NAMES.index("pitch")]
    ragged_mm = MOUTH_SCATTER * fitted.solution.scatter_px[0]
    return {
        own.photo("light on the crests", "which edge of a crest the light shows"): (
            LIGHT_U_MM * BORE
        ),
        own.photo("light on the mouth", "which edge of the mouth the light shows"): (
            float(np.hypot(MOUTH_U_MM, ragged_mm)) * MOUTH
        ),
        own.port("run-out"): RUN_OUT_U * pitch_mm * DEPTH,
    }


def _joined(shifts: list[Vector], name: str, label: str, key: str) -> Parts:
    """As few sources as there are sizes, with the same covariance (QR decomposition)."""
    if not shifts:
        return {}
    root = np.linalg.qr(np.stack(shifts), mode="r")
    return {
        Source(f"{name}/{number}", label, "photo", key): row
        for number, row in enumerate(root, start=1)
    }
