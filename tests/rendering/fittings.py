"""Bodies of fittings: thread, hexagon and another end as one closed surface round the axis."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.meshes import Mesh, Rings, columns, mesh_of_rings
from tests.rendering.threads import ThreadEnds, ThreadSize, thread_rows

__all__ = ["Fitting", "Hexagon", "OtherEnd", "Sections", "fitting_mesh", "outline_sections"]

Floats = NDArray[np.float64]
Rows = tuple[Floats, Floats]  # z, r: (rows, columns) each
EndKind = Literal["thread", "stub", "nose", "collar"]

COLUMN_COUNT = 288
CHAMFER_SLOPE = float(1 / np.tan(np.radians(30)))  # hexagons are turned at 30 degrees


@dataclass(frozen=True, slots=True)
class Hexagon:
    """A hexagon with turned corners.

    Attributes
    ----------
    across_flats_mm : float
        The part's own size, inside the tolerance of its nominal one.
    corner_factor : float
        Width over the turned corners divided by `across_flats_mm`, at most 1.1547.
    length_mm, turned_rad : float
        Along the axis; angle of a flat's normal from the thread frame's x axis.
    chamfers : "both", "front" or "back"
    """

    across_flats_mm: float
    corner_factor: float
    length_mm: float
    turned_rad: float
    chamfers: Literal["both", "front", "back"]

    def radius(self, theta_rad: Floats) -> Floats:
        """Distance from the axis to the sides, corners turned, (columns,) [mm]."""
        sixth = np.pi / 3
        off = np.mod(theta_rad - self.turned_rad + sixth / 2, sixth) - sixth / 2
        flat = self.across_flats_mm / 2 / np.cos(off)
        return np.minimum(flat, self.corner_factor * self.across_flats_mm / 2)

    def corners_rad(self) -> Floats:
        """Angles where the sides have an edge."""
        sixth = np.pi / 3
        half = np.arccos(min(1 / self.corner_factor, 1.0))
        edges = [half, sixth - half] if half < sixth / 2 else [sixth / 2]
        return np.array([self.turned_rad + k * sixth + e for k in range(6) for e in edges])


@dataclass(frozen=True, slots=True)
class OtherEnd:
    """What lies beyond the hexagon.

    Attributes
    ----------
    kind
        "thread": `size` and `ends` hold. "stub": a plain cylinder. "nose": a neck and a cone.
        "collar": a flat disc.
    radius_mm, length_mm, nose_half_angle_rad : float
    """

    kind: EndKind
    radius_mm: float
    length_mm: float
    nose_half_angle_rad: float = 0.0
    size: ThreadSize | None = None
    ends: ThreadEnds | None = None


@dataclass(frozen=True, slots=True)
class Fitting:
    """A whole fitting; z = 0 is the measured thread's end face, z grows into the part.

    Attributes
    ----------
    bore_mm : float
        Diameter of the hole right through; 0: none.
    undercut_mm : float
        Length of the groove between thread and hexagon; 0: none. Its radius is the thread
        ends' floor.
    """

    size: ThreadSize
    ends: ThreadEnds
    undercut_mm: float
    hexagon: Hexagon
    other: OtherEnd
    bore_mm: float


@dataclass(frozen=True, slots=True)
class Sections:
    """Where the sections begin along z, and where the part ends, in mm."""

    undercut_mm: float
    hexagon_mm: float
    other_mm: float
    end_mm: float


def outline_sections(fitting: Fitting) -> Sections:
    """Where along the axis each section of the fitting begins."""
    hexagon = fitting.ends.length_mm + fitting.undercut_mm
    other = hexagon + fitting.hexagon.length_mm
    return Sections(fitting.ends.length_mm, hexagon, other, other + fitting.other.length_mm)


def _ring(z: float, radius: float | Floats, theta: Floats) -> Rows:
    row = np.zeros((1, len(theta)))
    return row + z, row + radius


def _chamfer_rows(sides: Floats, half: float) -> Rows:
    """From a face inwards: the 30 degree cone up to where it meets each side, exactly."""
    deep = np.maximum((sides - 0.95 * half) / CHAMFER_SLOPE, 0)
    z = np.linspace(0, 1, 4)[:, None] * deep
    return z, np.minimum(sides, 0.95 * half + CHAMFER_SLOPE * z)


def _hexagon_rows(hexagon: Hexagon, start: float, theta: Floats) -> Rows:
    """The sides, cut by a 30 degree cone at the faces that are chamfered."""
    sides = hexagon.radius(theta)
    z, radius = _chamfer_rows(sides, hexagon.across_flats_mm / 2)
    square = (np.zeros((1, len(theta))), sides[None])
    front = (z, radius) if hexagon.chamfers in {"both", "front"} else square
    back = (z, radius) if hexagon.chamfers in {"both", "back"} else square
    end = start + hexagon.length_mm
    return (
        np.concatenate([start + front[0], end - back[0][::-1]]),
        np.concatenate([front[1], back[1][::-1]]),
    )


def _turned_rows(points: list[tuple[float, float]], theta: Floats) -> Rows:
    """A turned contour from (z, r) points, straight between them."""
    rings = [_ring(z, r, theta) for z, r in points]
    return np.concatenate([z for z, _ in rings]), np.concatenate([r for _, r in rings])


def _other_rows(other: OtherEnd, start: float, theta: Floats) -> Rows:
    end, r = start + other.length_mm, other.radius_mm
    if other.kind == "thread" and other.size is not None and other.ends is not None:
        z, radius = thread_rows(other.size, other.ends, -theta)
        return (end - z)[::-1], radius[::-1]
    if other.kind == "nose":
        cone = min(0.8 * r / np.tan(other.nose_half_angle_rad), 0.6 * other.length_mm)
        tip = r - cone * np.tan(other.nose_half_angle_rad)
        return _turned_rows([(start, r), (end - cone, r), (end, tip)], theta)
    edge = min(0.3, other.length_mm / 4)
    points = [(start, r), (end - edge, r), (end, r - edge)]
    return _turned_rows(points, theta)


def _bore_rows(fitting: Fitting, end: float, theta: Floats) -> tuple[Rows, Rows]:
    """First and last rows of the surface: the bore's wall, or the axis itself."""
    bore = fitting.bore_mm / 2
    if bore <= 0:
        return _ring(0, 0, theta), _ring(end, 0, theta)
    first = [(end / 2, bore), (0.4, bore), (0.0, bore + 0.3)]
    last = [(end, bore + 0.2), (end - 0.3, bore), (end / 2, bore)]
    return _turned_rows(first, theta), _turned_rows(last, theta)


def fitting_rings(fitting: Fitting, fine: int = 1) -> Rings:
    """The whole surface as rows of rings."""
    theta = columns(COLUMN_COUNT, fitting.hexagon.corners_rad())
    sections = outline_sections(fitting)
    first, last = _bore_rows(fitting, sections.end_mm, theta)
    floor = fitting.ends.floor_radius_mm
    parts = [first, thread_rows(fitting.size, fitting.ends, theta, fine)]
    if fitting.undercut_mm > 0:
        parts.append(
            _turned_rows([(sections.undercut_mm, floor), (sections.hexagon_mm, floor)], theta)
        )
    parts.append(_hexagon_rows(fitting.hexagon, sections.hexagon_mm, theta))
    parts.append(_other_rows(fitting.other, sections.other_mm, theta))
    parts.append(last)
    z = np.concatenate([part[0] for part in parts])
    r = np.concatenate([part[1] for part in parts])
    return Rings(z, r, theta)


def fitting_mesh(fitting: Fitting, fine: int = 1) -> Mesh:
    """The whole fitting as a closed mesh in the thread's frame.

    Parameters
    ----------
    fitting : Fitting
    fine : int
        Refinement of the thread's profile.

    Returns
    -------
    Mesh
    """
    return mesh_of_rings(fitting_rings(fitting, fine))
