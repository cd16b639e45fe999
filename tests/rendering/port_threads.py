"""Helical internal threads: the standard's form cut into a bore, wound as a real helix."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.threads import TAPER_HALF_ANGLE_RAD, WHITWORTH_ROUND

__all__ = ["InternalThread", "TappedDepth", "internal_profile", "internal_radius", "internal_rows"]

Floats = NDArray[np.float64]
Form = Literal["60", "whitworth", "npt"]


@dataclass(frozen=True, slots=True)
class InternalThread:
    """The true sizes of one internal thread; those of a taper hold at the mouth's plane.

    Attributes
    ----------
    form
        "60": flat crest and flat root. "whitworth": 55 degrees, both rounded, the crest cut flat
        where the bore is wide. "npt": 60 degrees, both flat.
    minor_mm, pitch_diameter_mm, pitch_mm : float
        The minor diameter is that of the crests.
    major_mm : float
        Diameter at the root; "whitworth" has its own from the pitch diameter.
    is_tapered, is_left : bool
    """

    form: Form
    minor_mm: float
    pitch_diameter_mm: float
    pitch_mm: float
    major_mm: float
    is_tapered: bool = False
    is_left: bool = False

    @property
    def flank_angle_rad(self) -> float:
        return float(np.radians(27.5 if self.form == "whitworth" else 30.0))

    @property
    def taper(self) -> float:
        """Loss of the radius for each millimetre of depth."""
        return float(np.tan(TAPER_HALF_ANGLE_RAD)) if self.is_tapered else 0.0

    @property
    def root_mm(self) -> float:
        """Diameter at the root of the axial section."""
        return float(2 * internal_profile(self)[1].max())


@dataclass(frozen=True, slots=True)
class TappedDepth:
    """How deep the thread goes.

    Attributes
    ----------
    full_to_mm : float
        Depth of the last full root.
    run_out_mm : float
        Length over which the roots rise to the bore behind that.
    """

    full_to_mm: float
    run_out_mm: float

    @property
    def end_mm(self) -> float:
        """Where nothing of the thread is left."""
        return self.full_to_mm + self.run_out_mm


def _arc(centre: float, radius: float, half_angle: float, outwards: bool) -> Floats:
    """Points of a rounding, (K, 2): axial from its middle, radial."""
    turn = np.linspace(-half_angle, half_angle, 13)
    radial = centre + (radius if outwards else -radius) * np.cos(turn)
    return np.column_stack([radius * np.sin(turn), radial])


def _flat(half: float, radial: float) -> Floats:
    return np.column_stack([np.linspace(-half, half, 5), np.full(5, radial)])


def _crest(size: InternalThread) -> Floats:
    """Crest (nearest the axis), (K, 2): axial from its middle, radial."""
    tangent = np.tan(size.flank_angle_rad)
    apex = size.pitch_diameter_mm / 2 - size.pitch_mm / 4 / tangent
    top = size.minor_mm / 2
    if size.form != "whitworth":
        return _flat((top - apex) * tangent, top)
    stretch = 1 / np.sin(size.flank_angle_rad)
    radius = min(WHITWORTH_ROUND * size.pitch_mm, (top - apex) / (stretch - 1))
    arc = _arc(apex + radius * stretch, radius, np.pi / 2 - size.flank_angle_rad, False)
    if arc[0, 1] <= top:  # the bore is so wide that nothing of the rounding is left
        return _flat((top - apex) * tangent, top)
    return np.column_stack([arc[:, 0], np.maximum(arc[:, 1], top)])


def _root(size: InternalThread) -> Floats:
    """Root (farthest from the axis), (K, 2): axial from its middle, radial."""
    tangent = np.tan(size.flank_angle_rad)
    apex = size.pitch_diameter_mm / 2 + size.pitch_mm / 4 / tangent
    if size.form != "whitworth":
        return _flat((apex - size.major_mm / 2) * tangent, size.major_mm / 2)
    radius = WHITWORTH_ROUND * size.pitch_mm
    centre = apex - radius / np.sin(size.flank_angle_rad)
    return _arc(centre, radius, np.pi / 2 - size.flank_angle_rad, True)


def internal_profile(size: InternalThread) -> tuple[Floats, Floats]:
    """One pitch of the axial section at the mouth's plane, from a crest's middle to the next.

    Parameters
    ----------
    size : InternalThread

    Returns
    -------
    axial_mm : (K,) [mm]
        From 0 to the pitch, increasing.
    radial_mm : (K,) [mm]
        Distance from the axis.
    """
    crest, root = _crest(size), _root(size)
    middle = len(crest) // 2
    half = np.array([size.pitch_mm / 2, 0])
    flank = np.linspace(0, 1, 6)[1:-1, None]
    out = crest[-1] + flank * (root[0] + half - crest[-1])
    last = root[-1] + half
    back = last + flank * (crest[0] + 2 * half - last)
    points = np.concatenate(
        [crest[middle:], out, root + half, back, crest[: middle + 1] + 2 * half]
    )
    return points[:, 0], points[:, 1]


def internal_radius(
    size: InternalThread, depth: TappedDepth, z_mm: Floats, theta_rad: Floats
) -> Floats:
    """Radius of the bore's wall at points round the axis, before the mouth is chamfered.

    Parameters
    ----------
    size : InternalThread
    depth : TappedDepth
    z_mm, theta_rad : (...) [mm], [rad]
        Depth below the mouth's plane; a crest starts at z = 0, theta = 0 and, right-handed,
        goes deeper with theta (a right-hand turn about z, which points into the bore).

    Returns
    -------
    (...) [mm]
    """
    axial, radial = internal_profile(size)
    turn = -1.0 if size.is_left else 1.0
    phase = np.mod(z_mm - turn * size.pitch_mm * theta_rad / (2 * np.pi), size.pitch_mm)
    radius = np.interp(phase, axial, radial)
    height = float(radial.max()) - size.minor_mm / 2
    past = np.clip((z_mm - depth.full_to_mm) / depth.run_out_mm, 0, 1)
    radius = np.minimum(radius, radial.max() - height * past)
    return np.asarray(np.maximum(radius, size.minor_mm / 2) - size.taper * z_mm)


def internal_rows(
    size: InternalThread, depth: TappedDepth, theta_rad: Floats, fine: int = 2
) -> tuple[Floats, Floats]:
    """Rows of rings that follow the helix from the mouth's plane to the thread's end.

    Parameters
    ----------
    size : InternalThread
    depth : TappedDepth
    theta_rad : (columns,) [rad]
    fine : int
        Divides each piece of the profile once more.

    Returns
    -------
    z_mm, r_mm : (rows, columns) [mm]
    """
    axial, _ = internal_profile(size)
    one = np.concatenate([np.linspace(a, b, fine + 1)[:-1] for a, b in pairwise(axial)])
    turns = np.arange(-2, int(np.ceil(depth.end_mm / size.pitch_mm)) + 3)
    rows = (turns[:, None] * size.pitch_mm + one).ravel()
    turn = -1.0 if size.is_left else 1.0
    z = rows[:, None] + turn * size.pitch_mm * theta_rad / (2 * np.pi)
    z = np.clip(z, 0, depth.end_mm)
    z = z[(z.max(axis=1) > 0) & (z.min(axis=1) < depth.end_mm)]
    edge = np.zeros((1, len(theta_rad)))
    z = np.concatenate([edge, z, edge + depth.end_mm])
    return z, internal_radius(size, depth, z, theta_rad)
