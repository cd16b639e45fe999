"""Ports as surfaces: the tapped bore with its mouth as rings, the face round it as a grid."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.meshes import Mesh, Rings, columns, mesh_of_rings
from tests.rendering.port_threads import InternalThread, TappedDepth, internal_rows

__all__ = [
    "COLUMN_COUNT",
    "Contour",
    "Mouth",
    "Port",
    "bore_mesh",
    "contour_radius",
    "first_crest_mm",
]

Floats = NDArray[np.float64]
MouthKind = Literal["chamfer", "O-ring cone"]
COLUMN_COUNT = 360
DRILL_POINT_RAD = float(np.radians(59.0))  # half of 118 degrees
INTO_PORT = np.diag([1.0, -1.0, -1.0])  # from the bore's frame (z into it) to the port's (z out)


@dataclass(frozen=True, slots=True)
class Contour:
    """A contour that only narrows with depth: (depth, radius) points, straight between them."""

    z_mm: tuple[float, ...]
    r_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Mouth:
    """How a port opens.

    Attributes
    ----------
    kind
        "O-ring cone": a conical housing for an O-ring and a 45 degree countersink behind it.
    diameter_mm : float
        Outer edge, in the mouth's plane.
    half_angle_deg : float
        Of the chamfer or cone, from the axis.
    cone_depth_mm : float
        Of the O-ring's housing; 0 for a chamfer.
    spot_face_mm, spot_depth_mm : float
        Diameter of the turned recess that the mouth lies in, and its depth below the face;
        0: the face itself is the mouth's plane.
    """

    kind: MouthKind
    diameter_mm: float
    half_angle_deg: float
    cone_depth_mm: float
    spot_face_mm: float
    spot_depth_mm: float

    @property
    def contour(self) -> Contour:
        """Radius that the mouth leaves at least, by depth, until it meets the axis."""
        r, slope = self.diameter_mm / 2, np.tan(np.radians(self.half_angle_deg))
        if self.kind == "chamfer":
            return Contour((0.0, r / slope), (r, 0.0))
        deep = self.cone_depth_mm
        inner = r - deep * slope
        return Contour((0.0, deep, deep + inner), (r, inner, 0.0))


@dataclass(frozen=True, slots=True)
class Port:
    """One port.

    Attributes
    ----------
    size : InternalThread
    depth : TappedDepth
    mouth : Mouth
    drilled_mm : float
        Depth of the bore behind the thread, to where the drill's point begins.
    passage_mm, passage_end_mm : float
        Diameter of the oil's way at the bottom, and the depth of its end.
    off_mm : (x, y)
        Thread's axis at the mouth's plane from the mouth's centre, bore's frame.
    lean_rad : (x, y)
        How far the thread's axis runs off for each millimetre of depth.
    """

    size: InternalThread
    depth: TappedDepth
    mouth: Mouth
    drilled_mm: float
    passage_mm: float
    passage_end_mm: float
    off_mm: tuple[float, float]
    lean_rad: tuple[float, float]


def contour_radius(mouth: Mouth, z_mm: Floats) -> Floats:
    """Radius of the mouth's chamfer or cone at depths, (...) [mm]; 0 below it."""
    contour = mouth.contour
    return np.asarray(np.interp(z_mm, contour.z_mm, contour.r_mm, right=0.0))


def first_crest_mm(port: Port) -> float:
    """Depth at which the mouth has narrowed to the crests, where the bore begins to be seen."""
    z = np.linspace(0, port.mouth.contour.z_mm[-1], 20001)
    bore = port.size.minor_mm / 2 - port.size.taper * z
    return float(z[np.argmax(contour_radius(port.mouth, z) <= bore)])


def _thread_rows(port: Port, theta: Floats, fine: int) -> tuple[Floats, Floats]:
    """The thread, off the mouth's axis, cut open by the mouth."""
    z, r = internal_rows(port.size, port.depth, theta, fine)
    x, y = (off + lean * z for off, lean in zip(port.off_mm, port.lean_rad, strict=True))
    r = r + x * np.cos(theta) + y * np.sin(theta)  # good to off^2 / 2 r: below a micrometre
    return z, np.maximum(r, contour_radius(port.mouth, z))


def _ring(z: float, r: float | Floats, theta: Floats) -> tuple[Floats, Floats]:
    row = np.zeros((1, len(theta)))
    return row + z, row + r


def _bottom(port: Port, theta: Floats) -> list[tuple[Floats, Floats]]:
    """From the far end of the passage back to the thread's end."""
    passage = port.passage_mm / 2
    bore = port.size.minor_mm / 2 - port.size.taper * port.depth.end_mm
    point = port.drilled_mm + (bore - passage) / np.tan(DRILL_POINT_RAD)
    points = [
        (port.passage_end_mm, 0.0),
        (port.passage_end_mm, passage),
        (point, passage),
        (port.drilled_mm, bore),
    ]
    return [_ring(z, r, theta) for z, r in points]


def _spot_face(port: Port, theta: Floats, step_mm: float) -> list[tuple[Floats, Floats]]:
    """The turned recess round the mouth and its wall, rings fine enough to bear turning marks."""
    spot, deep = port.mouth.spot_face_mm / 2, port.mouth.spot_depth_mm
    if spot <= 0:
        return []
    inner = port.mouth.diameter_mm / 2
    radii = np.linspace(inner, spot, max(2, int((spot - inner) / step_mm)))[1:]
    rings = [_ring(0.0, float(r), theta) for r in radii]
    return [*rings, _ring(-deep, spot, theta)]


def bore_mesh(port: Port, fine: int = 2, step_mm: float = 0.1) -> Mesh:
    """Everything turned about the axis, from the passage's end to the edge of the face.

    Parameters
    ----------
    port : Port
    fine : int
        Refinement of the thread's profile.
    step_mm : float [mm]
        Between the rings of the spot face.

    Returns
    -------
    Mesh
        In the bore's frame: z into the port from the mouth's plane; normals towards the air.
    """
    theta = columns(COLUMN_COUNT)
    z, r = _thread_rows(port, theta, fine)
    parts = [*_bottom(port, theta), (z[::-1], r[::-1]), *_spot_face(port, theta, step_mm)]
    rings = Rings(
        np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts]), theta
    )
    return mesh_of_rings(rings)
