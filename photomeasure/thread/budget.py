"""What a thread's sizes are uncertain by: one signed change of all sizes for every source."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from uncertainties import covariance_matrix

from photomeasure.quantities import Quantity, Source, measured
from photomeasure.thread.rest import Posture
from photomeasure.thread.values import NAMES, SIDE_TILT, Causes, Sizes

__all__ = [
    "LIFT_U_MM",
    "Change",
    "Doubted",
    "Shown",
    "lean_u_rad",
    "numbers",
    "own_parts",
    "parts",
    "pipe_end",
    "side_tilt_rad",
]

Vector = NDArray[np.float64]  # (6,), in the order of NAMES
Parts = dict[Source, Vector]
Own = Callable[[str, str], Source]
Change = Callable[[Causes, int | None, Posture], Vector]

EDGE_BIAS_PX = 0.1  # common to all edges: halo, glow and tone curve
LIFT_U_MM = 0.15  # paper under the part, burrs
LEAN_U_RAD = 0.006  # play of a part on its flat, along the axis
TIPPED_LEAN_U_RAD = 0.016  # of a part that rests on an edge and a crest
END_FACE_U_MM = 0.4
LAID_TAPER_U_DEG = 0.25  # of a half angle where one side was laid by the other
LAID_ALONE_TAPER_U_DEG = 0.6  # where no crest lines tell the heading: it must not decide
LIGHT_DRIFT = 0.0008  # of the pitch: crests seem moved along, in every photo by one light
TAPER_BIAS_DEG = 0.1  # shade towards the hexagon draws the outline in, on both sides alike
PIPE_TAPER_DEG = 1.7899  # ISO 7-1 and ASME B1.20.1: 1:16 on the diameter
PIPE_TAPER_U_DEG = 0.07  # ASME B1.20.1 gauges 0.719 to 0.812 for 0.75 inch a foot [memory]
LIKELY_ALTERNATIVE = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """What one photo adds to the sizes.

    Attributes
    ----------
    key : str
        The photo's.
    best : Sizes
    doubts_mm : (left, right) or None
        Of its edges; None where they are counted elsewhere.
    is_laid : bool
        One side was laid by the other's turns.
    weight : (6,)
        Of this photo's sizes in the answer's.
    """

    key: str
    best: Sizes
    doubts_mm: tuple[float, float] | None
    is_laid: bool
    weight: Vector


@dataclass(frozen=True, slots=True, eq=False)
class Doubted:
    """Sizes as a function of the world, and what is not known of the world.

    Attributes
    ----------
    change : function of (causes, index of a shifted scene or None, posture)
        By how much the sizes change, (6,).
    causes : Causes
        At their best estimates.
    sources : tuple of Source
        Of the shifted scenes.
    posture : Posture
    chances : mapping of Posture to float
    shown : tuple of Shown
    corner_ratio_u : float or None
        None where there is no hexagon.
    lean_u_rad : float
        Of the axis along itself.
    pixel_mm, loss_u_mm : float
        Size of a pixel at the thread; of the height that blur takes off the crests.
    """

    change: Change
    causes: Causes
    sources: tuple[Source, ...]
    posture: Posture
    chances: Mapping[Posture, float]
    shown: tuple[Shown, ...]
    corner_ratio_u: float | None
    lean_u_rad: float
    pixel_mm: float
    loss_u_mm: float

    @property
    def key(self) -> str:
        """Of what all photos share."""
        return "+".join(one.key for one in self.shown)


def parts(doubted: Doubted) -> Parts:
    """Signed change of every size by one standard uncertainty of every source.

    Parameters
    ----------
    doubted : Doubted

    Returns
    -------
    dict of Source to (6,)
    """
    poses = {
        source: doubted.change(doubted.causes, index, doubted.posture)
        for index, source in enumerate(doubted.sources)
    }
    found = {source: vector for source, vector in poses.items() if source.scope != "photo"}
    found |= _joined([v for s, v in poses.items() if s.scope == "photo"], doubted.key)
    found |= _causes(doubted)
    for shown in doubted.shown:
        found |= {source: shown.weight * vector for source, vector in own_parts(shown).items()}
    return found


def _causes(doubted: Doubted) -> Parts:
    """What all photos of an untouched part share."""
    base, posture = doubted.causes, doubted.posture

    def own(name: str, label: str) -> Source:
        return Source(name, label, "photo", doubted.key)

    bias, loss_u = EDGE_BIAS_PX * doubted.pixel_mm, doubted.loss_u_mm
    shifts = (
        ("edge bias", "where the edge of shiny metal is seen", {"outward_mm": bias}),
        ("crest rounding", "height that blur takes off the crests", {"outward_mm": loss_u}),
        ("axis height", "paper and burrs under the part", {"lift_mm": LIFT_U_MM}),
        (
            "axis lean",
            "play of the part along its axis",
            {"lean_rad": base.lean_rad + doubted.lean_u_rad},
        ),
    )
    found = {
        own(name, label): doubted.change(replace(base, **shift), None, posture)
        for name, label, shift in shifts
    }
    if base.heading_rad is not None:
        shifted = replace(base, heading_rad=base.heading_rad + base.heading_u_rad)
        source = own("axis heading", "which way the axis runs by its crest lines")
        found[source] = doubted.change(shifted, None, posture)
    if doubted.corner_ratio_u is not None:
        shifted = replace(base, corner_ratio=base.corner_ratio + doubted.corner_ratio_u)
        source = own("hexagon corners", "rounding of the hexagon's corners")
        found[source] = doubted.change(shifted, None, posture)
        found |= _alternative(doubted, own("posture", "on which edge the part rests"))
    middle = float(np.mean([one.best.middle_mm for one in doubted.shown]))
    found[own("shade", "shade beside the part")] = _taper(TAPER_BIAS_DEG, middle)
    drift = np.zeros(len(NAMES))
    drift[1] = LIGHT_DRIFT * doubted.shown[0].best.vector[1]
    found[own("light", "light that changes along the part")] = drift
    return found


def lean_u_rad(posture: Posture) -> float:
    """How well a posture tells the axis' rise."""
    return LEAN_U_RAD if posture == "flat" else TIPPED_LEAN_U_RAD


def _alternative(doubted: Doubted, source: Source) -> Parts:
    """Doubt between the likeliest posture and the next, as a spread about their mixture."""
    others = {p: c for p, c in doubted.chances.items() if p != doubted.posture}
    if not others:
        return {}
    other = max(others, key=others.__getitem__)
    chance = others[other]
    if chance < LIKELY_ALTERNATIVE:
        return {}
    moved = doubted.change(doubted.causes, None, other)
    return {source: np.sqrt(chance * (1 - chance)) * moved}


def own_parts(shown: Shown) -> Parts:
    """What one photo alone is uncertain by: its edges, its end face and its scatter.

    Parameters
    ----------
    shown : Shown

    Returns
    -------
    dict of Source to (6,)
    """

    def own(name: str, label: str) -> Source:
        return Source(name, label, "photo", shown.key)

    best = shown.best
    found = {} if shown.doubts_mm is None else _sides(best, shown.doubts_mm, own)
    end = np.zeros(len(NAMES))
    end[4] = 2 * np.tan(np.radians(best.vector[2])) * END_FACE_U_MM
    end[5] = -END_FACE_U_MM
    found[own("end face", "where the thread's end face is")] = end
    if shown.is_laid and np.ptp(best.taper_shares) == 0:
        u_deg = LAID_TAPER_U_DEG if shown.doubts_mm is None else LAID_ALONE_TAPER_U_DEG
        laid = _taper(u_deg, best.middle_mm)
        found[own("laid side", "how a side runs that was laid by the other's turns")] = laid
    return found | _noise(best, own)


def _taper(u_deg: float, middle_mm: float) -> Vector:
    """Every size by a doubt of the taper alone."""
    moved = np.zeros(len(NAMES))
    moved[2] = u_deg
    moved[4] = -2 * np.radians(u_deg) * middle_mm
    return moved


def _sides(best: Sizes, doubts_mm: tuple[float, float], own: Own) -> Parts:
    sides = zip(("left", "right"), doubts_mm, best.taper_shares, strict=True)
    return {
        own(f"{name} edge", f"how clear the edge is on the {name}"): _side(best, doubt, share)
        for name, doubt, share in sides
    }


def side_tilt_rad(doubt_mm: float, length_mm: float) -> float:
    """How much a doubtful edge may be tilted over the thread's length."""
    return SIDE_TILT * doubt_mm / max(length_mm, 1.0)


def _side(best: Sizes, doubt_mm: float, share: float) -> Vector:
    """One side farther out by its doubt, and tilted."""
    lean = side_tilt_rad(doubt_mm, float(np.ptp(best.rest.along_mm)))
    moved = np.zeros(len(NAMES))
    moved[0] = doubt_mm
    moved[2] = np.degrees(lean) * share
    moved[4] = doubt_mm - 2 * share * lean * best.middle_mm
    return moved


def _noise(best: Sizes, own: Own) -> Parts:
    """Scatter of the turns: one source a size, the small end shared with its parents."""
    labels = ("edge", "pitch fit", "taper fit", "hexagon edge", "", "last crest")
    found = {}
    for index, label in enumerate(labels):
        if not label:
            continue
        vector = np.zeros(len(NAMES))
        vector[index] = best.noise[index]
        if label == "edge":
            vector[4] = best.noise[0]
        if label == "taper fit":
            vector = _taper(best.noise[2], best.middle_mm)
        if label == "hexagon edge":
            vector[index] = 0.003 * best.vector[index]
        found[own(label, f"scatter of the {label}")] = vector
    return found


def _joined(poses: list[Vector], key: str) -> Parts:
    """As few sources as there are sizes, with the same covariance (QR decomposition)."""
    if not poses:
        return {}
    root = np.linalg.qr(np.stack(poses), mode="r")
    return {
        Source(f"sheet pose/{n}", "lens and pose of the sheet", "photo", f"{key} thread"): row
        for n, row in enumerate(root, start=1)
    }


def numbers(vector: Vector, found: Parts, loss_mm: float) -> dict[str, Quantity]:
    """Sizes with their sources.

    Parameters
    ----------
    vector : (6,)
    found : dict of Source to (6,)
    loss_mm : float [mm]
        Of the crest diameter, by blur.

    Returns
    -------
    dict of str to Quantity
        By `NAMES`.
    """
    units = ("mm", "mm", "deg", "mm", "mm", "mm")
    values = vector + np.array([loss_mm, 0, 0, 0, loss_mm, 0])
    return {
        name: Quantity.normal(
            measured(values[index], {source: part[index] for source, part in found.items()}),
            units[index],
        )
        for index, name in enumerate(NAMES)
    }


def pipe_end(sizes: Mapping[str, Quantity], key: str) -> Quantity:
    """Small end of a tapered thread, whose taper is known: every one of fluid ports is 1:16."""
    end, taper = sizes["small_end"].number, sizes["taper_half_angle"].number
    own = Source("pipe taper", "how truly the thread's taper is 1:16", "photo", key)
    known = measured(PIPE_TAPER_DEG, {own: PIPE_TAPER_U_DEG})
    shared = covariance_matrix([end, taper])
    gain = shared[0][1] / (shared[1][1] + PIPE_TAPER_U_DEG**2)
    return Quantity.normal(end - gain * (taper - known), "mm")
