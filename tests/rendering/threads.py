"""Helical external threads: the profile of the standard's form, wound as a real helix."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["ThreadEnds", "ThreadSize", "profile", "thread_radius", "thread_rows"]

Floats = NDArray[np.float64]
Form = Literal["60", "whitworth", "npt"]

TAPER_HALF_ANGLE_RAD = float(np.arctan(1 / 32))  # 1:16 on diameter (ISO 7-1, ASME B1.20.1)
WHITWORTH_ROUND = 0.137329  # radius over pitch (ISO 228-1)


@dataclass(frozen=True, slots=True)
class ThreadSize:
    """The true sizes of one external thread; those of a taper hold at its small end.

    Attributes
    ----------
    form
        "60": flat crest, rounded root. "whitworth": 55 degrees, both rounded. "npt": both flat.
    major_mm, pitch_diameter_mm, pitch_mm : float
    root_mm : float
        Radius of the root ("60", "whitworth") or depth of its truncation ("npt").
    is_tapered, is_left : bool
    """

    form: Form
    major_mm: float
    pitch_diameter_mm: float
    pitch_mm: float
    root_mm: float
    is_tapered: bool = False
    is_left: bool = False

    @property
    def flank_angle_rad(self) -> float:
        return float(np.radians(27.5 if self.form == "whitworth" else 30.0))

    @property
    def taper(self) -> float:
        """Growth of the radius for each millimetre along the axis."""
        return float(np.tan(TAPER_HALF_ANGLE_RAD)) if self.is_tapered else 0.0

    @property
    def minor_mm(self) -> float:
        """Diameter at the root of the axial section."""
        return float(2 * profile(self)[1].min())


@dataclass(frozen=True, slots=True)
class ThreadEnds:
    """How a thread begins and ends.

    Attributes
    ----------
    length_mm : float
        From the end face to where the next section begins.
    start_radius_mm, start_slope : float
        The lead-in cone: radius at the end face and its growth along z.
    full_to_mm : float
        Where the last full crest is.
    run_out_slope : float
        Above 0: the root rises so from `full_to_mm`. Below 0: the crest falls so from there,
        to an undercut.
    floor_radius_mm : float
        The undercut's radius.
    """

    length_mm: float
    start_radius_mm: float
    start_slope: float
    full_to_mm: float
    run_out_slope: float
    floor_radius_mm: float


def _arc(centre: float, radius: float, half_angle: float, up: bool, count: int) -> Floats:
    """Points of a rounding, (count, 2): axial from its middle, radial."""
    turn = np.linspace(-half_angle, half_angle, count)
    radial = centre + (radius if up else -radius) * np.cos(turn)
    return np.column_stack([radius * np.sin(turn), radial])


def _crest(size: ThreadSize) -> Floats:
    """Crest, from left flank to right flank, (K, 2): axial from its middle, radial."""
    tangent = np.tan(size.flank_angle_rad)
    top = size.major_mm / 2
    apex = size.pitch_diameter_mm / 2 + size.pitch_mm / 4 / tangent
    if size.form != "whitworth":
        half = (apex - top) * tangent
        return np.array([[-half, top], [-half / 2, top], [0, top], [half / 2, top], [half, top]])
    stretch = 1 / np.sin(size.flank_angle_rad)
    radius = min(WHITWORTH_ROUND * size.pitch_mm, (apex - top) / (stretch - 1))
    centre = apex - radius * stretch
    arc = _arc(centre, radius, np.pi / 2 - size.flank_angle_rad, True, 13)
    return np.column_stack([arc[:, 0], np.minimum(arc[:, 1], top)])


def _root(size: ThreadSize) -> Floats:
    """Root, from left flank to right flank, (K, 2): axial from its middle, radial."""
    tangent = np.tan(size.flank_angle_rad)
    bottom = size.pitch_diameter_mm / 2 - size.pitch_mm / 4 / tangent
    if size.form == "npt":
        half, floor = size.root_mm * tangent, bottom + size.root_mm
        return np.array([[-half, floor], [0, floor], [half, floor]])
    centre = bottom + size.root_mm / np.sin(size.flank_angle_rad)
    return _arc(centre, size.root_mm, np.pi / 2 - size.flank_angle_rad, False, 13)


def profile(size: ThreadSize) -> tuple[Floats, Floats]:
    """One pitch of the axial section at the small end, from a crest's middle to the next.

    Parameters
    ----------
    size : ThreadSize

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
    down = crest[-1] + flank * (root[0] + half - crest[-1])
    up = root[-1] + half
    rise = up + flank * (crest[0] + 2 * half - up)
    parts = [
        crest[middle:], down, root + half, rise,
        crest[: middle + 1] + 2 * half,
    ]  # fmt: skip
    points = np.concatenate(parts)
    return points[:, 0], points[:, 1]


def thread_radius(size: ThreadSize, ends: ThreadEnds, z_mm: Floats, theta_rad: Floats) -> Floats:
    """Radius of the thread's surface at points round the axis.

    Parameters
    ----------
    size : ThreadSize
    ends : ThreadEnds
    z_mm, theta_rad : (...) [mm], [rad]
        A crest starts at z = 0, theta = 0 and, right-handed, advances with theta.

    Returns
    -------
    (...) [mm]
    """
    axial, radial = profile(size)
    turn = -1.0 if size.is_left else 1.0
    phase = np.mod(z_mm - turn * size.pitch_mm * theta_rad / (2 * np.pi), size.pitch_mm)
    radius = np.interp(phase, axial, radial) + size.taper * z_mm
    past = np.maximum(z_mm - ends.full_to_mm, 0)
    crest = size.major_mm / 2 + size.taper * z_mm
    root = radial.min() + size.taper * z_mm
    if ends.run_out_slope > 0:
        radius = np.maximum(radius, np.minimum(root + ends.run_out_slope * past, crest))
    else:
        falling = crest + ends.run_out_slope * past
        radius = np.where(past > 0, np.minimum(radius, falling), radius)
        radius = np.where(z_mm > ends.full_to_mm, np.maximum(radius, ends.floor_radius_mm), radius)
    return np.minimum(radius, ends.start_radius_mm + ends.start_slope * z_mm)


def thread_rows(
    size: ThreadSize, ends: ThreadEnds, theta_rad: Floats, fine: int = 1
) -> tuple[Floats, Floats]:
    """Rows of rings that follow the helix, cut square at both ends.

    Parameters
    ----------
    size : ThreadSize
    ends : ThreadEnds
    theta_rad : (columns,) [rad]
    fine : int
        Divides each piece of the profile once more.

    Returns
    -------
    z_mm, r_mm : (rows, columns) [mm]
    """
    axial, _ = profile(size)
    steps = [np.linspace(a, b, fine + 1)[:-1] for a, b in pairwise(axial)]
    one = np.concatenate(steps)
    turns = np.arange(-2, int(np.ceil(ends.length_mm / size.pitch_mm)) + 3)
    rows = (turns[:, None] * size.pitch_mm + one).ravel()
    turn = -1.0 if size.is_left else 1.0
    z = rows[:, None] + turn * size.pitch_mm * theta_rad / (2 * np.pi)
    z = np.clip(z, 0, ends.length_mm)
    z = z[(z.max(axis=1) > 0) & (z.min(axis=1) < ends.length_mm)]
    edge = np.zeros((1, len(theta_rad)))
    z = np.concatenate([edge, z, edge + ends.length_mm])
    return z, thread_radius(size, ends, z, theta_rad)
