"""Seeded recipes of port scenes: port, face, collar, light, camera, all drawn afresh."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera
from tests.rendering.lights import FLASH, Light, LightKind, Panel, draw_light
from tests.rendering.materials import Finish
from tests.rendering.port_bodies import Mouth, Port, first_crest_mm
from tests.rendering.port_collar import Collar, Ring
from tests.rendering.port_list import (
    DrawnPort,
    ListedPort,
    draw_port,
    draw_unlisted_port,
    listed_ports,
)
from tests.rendering.port_looks import (
    BORE_METALS,
    FACES,
    BoreMetal,
    FaceKind,
    FaceLook,
    draw_bore_finish,
    draw_face_look,
)
from tests.rendering.port_surroundings import Surroundings, draw_surroundings
from tests.rendering.port_swarf import Chip, draw_chips
from tests.rendering.port_threads import TappedDepth
from tests.rendering.scenes import READING_SD_MM, UNLISTED_SHARE, Bars, draw_camera
from tests.rendering.sensor import Development, draw_development

__all__ = ["PortConditions", "PortScene", "draw_port_scene"]

Floats = NDArray[np.float64]
Hand = Literal["left", "right", "draw"]

LEFT_SHARE = 0.08
DEEP_MM = 0.6  # a recess deeper than this has the collar round it
LEAST_CLEAR_MM = 1.6  # of the collar's hole over what it clears
_RAW: dict[bool, FaceKind] = {True: "cast", False: "painted"}
STEEP_SHARE = 0.2  # of the photos taken 30 to 40 degrees from square on


@dataclass(frozen=True, slots=True)
class PortConditions:
    """What the print's layout asks of a photo, and what the user wants drawn.

    Attributes
    ----------
    rings : tuple of Ring
    distance_mm, tilt_deg : (least, most)
    slant_deg : (least, most) or None
        None: `tilt_deg`, and now and then 30 degrees to its least.
    scale_px : float
    thread, face : str
        A designation, a kind of face; empty: drawn.
    hand : "left", "right" or "draw"
    lights : tuple of str
    """

    rings: tuple[Ring, ...]
    distance_mm: tuple[float, float]
    tilt_deg: tuple[float, float]
    slant_deg: tuple[float, float] | None = None
    scale_px: float = 1.0
    thread: str = ""
    face: str = ""
    hand: Hand = "draw"
    lights: tuple[str, ...] = ("window", "window", "overcast", "overcast", "lamp", "torch", "sun")


@dataclass(frozen=True, slots=True, eq=False)
class PortScene:
    """Everything about one photograph of a port; the tracer's world is the port's frame.

    `camera.camera_from_sheet` is camera_from_port here; `port_from_sheet` places the collar.
    """

    seed: int
    thread: DrawnPort
    port: Port
    metal: BoreMetal
    finish: Finish
    face: FaceLook
    ground: FaceLook
    collar: Collar
    clears_spot_face: bool
    port_from_sheet: Floats
    bars: Bars
    around: Surroundings
    chips: tuple[Chip, ...]
    light: Light
    camera: PhoneCamera
    tilt_deg: float
    distance_mm: float
    development: Development


def _draw_thread(cond: PortConditions, rng: np.random.Generator) -> DrawnPort:
    is_left, unlisted = rng.random() < LEFT_SHARE, rng.random() < UNLISTED_SHARE
    is_left = {"left": True, "right": False}.get(cond.hand, bool(is_left))
    names = sorted({port.designation for port in listed_ports()})
    name = cond.thread or names[int(rng.integers(len(names)))]
    choices = [port for port in listed_ports() if port.designation == name]
    chosen = choices[int(rng.integers(len(choices)))]
    if unlisted and not cond.thread:
        return draw_unlisted_port(is_left, rng)
    return draw_port(chosen, is_left, rng)


def _spot_face(port: ListedPort, look: str, rng: np.random.Generator) -> tuple[float, float]:
    """Diameter and depth of the recess; 0, 0 where the whole face is machined."""
    turned = rng.random() < (0.45 if look == "machined" else 1.0)
    size = (port.spot_face_mm or 1.35 * port.nominal_mm) + rng.uniform(0, 1.5)
    deep = rng.uniform(0.2, max(0.6, min(port.spot_depth_mm, 1.5)))
    if not turned or (port.family in {"Rc", "NPT"} and look == "machined"):
        return 0.0, 0.0
    return float(size), float(deep)


def _mouth(drawn: DrawnPort, look: str, rng: np.random.Generator) -> Mouth:
    port = drawn.port
    spot, deep = _spot_face(port, look, rng)
    if port.cone_mm:
        return Mouth(
            kind="O-ring cone",
            diameter_mm=float(port.cone_mm + rng.uniform(0, 0.1)),
            half_angle_deg=float(port.cone_half_deg + rng.uniform(-1, 1)),
            cone_depth_mm=float(port.cone_depth_mm + rng.uniform(0, 0.4)),
            spot_face_mm=spot,
            spot_depth_mm=deep,
        )
    wide = drawn.size.root_mm + rng.uniform(0.1, 0.3 + 0.04 * port.nominal_mm)
    half = 45.0 if rng.random() < 0.6 else 60.0
    return Mouth("chamfer", float(wide), half + float(rng.uniform(-2, 2)), 0.0, spot, deep)


def _draw_port(drawn: DrawnPort, look: str, rng: np.random.Generator) -> Port:
    size = drawn.size
    depth = TappedDepth(
        full_to_mm=float(drawn.port.thread_depth_mm + rng.uniform(0, 4)),
        run_out_mm=float(rng.uniform(1, 2.5) * size.pitch_mm),
    )
    drilled = depth.end_mm + rng.uniform(0.5, 5)
    passage = rng.uniform(0.3, 0.65) * size.minor_mm
    off = rng.normal(0, 0.03, 2)
    lean = np.radians(rng.normal(0, 0.12, 2))
    return Port(
        size=size,
        depth=depth,
        mouth=_mouth(drawn, look, rng),
        drilled_mm=float(drilled),
        passage_mm=float(passage),
        passage_end_mm=float(drilled + size.minor_mm / 2 + rng.uniform(12, 40)),
        off_mm=(float(off[0]), float(off[1])),
        lean_rad=(float(lean[0]), float(lean[1])),
    )


def _ring(
    mouth: Mouth, rings: tuple[Ring, ...], rng: np.random.Generator
) -> tuple[Ring, float, bool]:
    """The ring that a person cuts out, what it clears, and whether that is the spot face.

    Paper lies over the rim of a recess only where that is shallow, or no ring is large enough.
    """
    may_bridge = mouth.spot_depth_mm < DEEP_MM and rng.random() < 0.5
    wants_spot = bool(mouth.spot_face_mm) and not may_bridge
    for size, is_spot in ((mouth.spot_face_mm, True), (mouth.diameter_mm, False)):
        fits = [ring for ring in rings if ring.hole_mm >= size + LEAST_CLEAR_MM]
        if fits and (wants_spot or not is_spot):
            return fits[0], size, is_spot
    raise ValueError(f"no ring clears a mouth of {mouth.diameter_mm:.1f} mm")


def _draw_collar(ring: Ring, rng: np.random.Generator) -> tuple[Collar, Bars]:
    scales = 1 + rng.normal(0, 0.005, 2)
    lifts = np.abs(rng.normal(0, 0.25, 4)).clip(0, 0.9)
    wobble = [(float(rng.normal(0.05, 0.12)), 0.0)]
    waves = [rng.normal(0, 0.15 / k, 2) for k in range(2, 7)]
    wobble += [(float(wave[0]), float(wave[1])) for wave in waves]
    collar = Collar(
        ring=ring,
        scale_x=float(scales[0]),
        scale_y=float(scales[1]),
        thickness_mm=float(np.clip(rng.normal(0.1, 0.03), 0.05, 0.2)),
        lifts_mm=tuple(float(lift) for lift in lifts),  # type: ignore[arg-type]
        bow_mm=float(min(abs(rng.normal(0, 0.12)), 0.4)),
        bow_rad=float(rng.uniform(0, np.pi)),
        hole_wobble_mm=(wobble[0], (0.0, 0.0), *wobble[1:]),
    )
    true = 100 * scales
    read = np.round((true + rng.normal(0, READING_SD_MM, 2)) * 100) / 100
    return collar, Bars(*(float(v) for v in (*true, *read)))


def _stuck(
    collar: Collar, mouth: Mouth, clear_mm: float, lean_deg: float, rng: np.random.Generator
) -> Floats:
    """Pose port_from_sheet of the collar on the face, (4, 4) [mm]."""
    room = max(0.0, (collar.ring.hole_mm - clear_mm) / 2 - 0.4)
    off = min(abs(rng.normal(0, 0.5)), 0.8 * room) * np.exp(1j * rng.uniform(0, 2 * np.pi))
    turn, (a, b) = rng.uniform(0, 2 * np.pi), np.radians(rng.normal(0, lean_deg, 2))
    flat = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    tip_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    tip_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    pose = np.eye(4)
    pose[:3, :3] = tip_x @ tip_y @ flat
    half_x, half_y = collar.half_mm
    low = min((pose[:3, :3] @ (x, y, 0))[2] for x in (-half_x, half_x) for y in (-half_y, half_y))
    pose[:3, 3] = off.real, off.imag, mouth.spot_depth_mm + collar.thickness_mm - low
    return pose


def _hand_torch(eye_mm: Floats, rng: np.random.Generator) -> Light:
    """A torch in the other hand, shining into the port from the camera's side."""
    side = np.arctan2(eye_mm[1], eye_mm[0]) + rng.normal(0, 0.9)
    up = np.radians(rng.uniform(40, 80))
    away = rng.uniform(120, 350)
    x, y = (away * np.cos(up) * f(side) for f in (np.cos, np.sin))
    share, half = float(rng.uniform(0.5, 0.8)), float(rng.uniform(3, 10))
    panel = Panel((float(x), float(y), float(away * np.sin(up))), (half, half), FLASH, share)
    return Light("torch", (panel,), 1 - share, (1.0, 1.0, 1.0), int(rng.integers(2**31)))


def _draw_light(kind: LightKind, eye_mm: Floats, rng: np.random.Generator) -> Light:
    return _hand_torch(eye_mm, rng) if kind == "torch" else draw_light(kind, eye_mm, rng)


def _slant(cond: PortConditions, rng: np.random.Generator) -> float:
    steep = rng.random() < STEEP_SHARE
    least, most = cond.slant_deg or cond.tilt_deg
    if cond.slant_deg is None and steep:
        least, most = min(30.0, least), least
    return float(rng.uniform(least, most))


def _eye(
    target_mm: Floats, tilt_deg: float, cond: PortConditions, rng: np.random.Generator
) -> Floats:
    tilt, side = np.radians(tilt_deg), rng.uniform(0, 2 * np.pi)
    way = np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    return np.asarray(target_mm + rng.uniform(*cond.distance_mm) * way)


def draw_port_scene(seed: int, cond: PortConditions) -> PortScene:
    """Draw one scene; the same seed and conditions give the same scene."""
    rng = np.random.default_rng([seed, 4])
    drawn = _draw_thread(cond, rng)
    metal = BORE_METALS[int(rng.choice(3, p=[0.35, 0.25, 0.4]))]
    kind = FACES[int(rng.choice(3, p=[0.5, 0.25, 0.25]))]
    face = draw_face_look(cond.face or kind, metal, rng)  # type: ignore[arg-type]
    port = _draw_port(drawn, face.kind, rng)
    ring, clear, is_spot = _ring(port.mouth, cond.rings, rng)
    collar, bars = _draw_collar(ring, rng)
    lean = 0.08 if face.kind == "machined" else 0.25
    pose = _stuck(collar, port.mouth, clear, lean, rng)
    target = np.array([0.0, 0.0, port.mouth.spot_depth_mm])
    tilt = _slant(cond, rng)
    eye = _eye(target, tilt, cond, rng)
    camera, orientation, focal = draw_camera(target, eye, cond.scale_px, rng)
    sharp = np.array([0, 0, -first_crest_mm(port) - rng.uniform(-2, 5)])
    depth = float(camera.camera_from_sheet[2, :3] @ sharp + camera.camera_from_sheet[2, 3])
    return PortScene(
        seed=seed,
        thread=drawn,
        port=port,
        metal=metal,
        finish=draw_bore_finish(metal, rng),
        face=face,
        ground=face
        if face.kind != "machined"
        else draw_face_look(_RAW[rng.random() < 0.5], metal, rng),
        collar=collar,
        clears_spot_face=is_spot,
        port_from_sheet=pose,
        bars=bars,
        around=draw_surroundings(max(collar.half_mm), ring.hole_mm / 2, eye, rng),
        chips=draw_chips(
            port, ring.hole_mm / 2 - np.hypot(*pose[:2, 3]) - 0.3, np.random.default_rng([seed, 5])
        ),
        light=_draw_light(str(rng.choice(cond.lights)), eye, rng),  # type: ignore[arg-type]
        camera=replace(camera, focus_mm=depth),
        tilt_deg=tilt,
        distance_mm=float(np.linalg.norm(eye - target)),
        development=draw_development(orientation, focal, rng),
    )
