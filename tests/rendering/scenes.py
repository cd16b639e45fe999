"""Seeded recipes of fitting scenes: part, rest, metal, light, camera, print, all drawn afresh."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tests.rendering.camera import PhoneCamera, focused, look_at
from tests.rendering.compose import Bench
from tests.rendering.fittings import (
    Fitting,
    Hexagon,
    OtherEnd,
    fitting_mesh,
    outline_sections,
)
from tests.rendering.hardships import Hardships
from tests.rendering.lights import Light, draw_light
from tests.rendering.materials import METALS, Finish, draw_finish
from tests.rendering.meshes import Mesh
from tests.rendering.page import Sheet
from tests.rendering.rest import Rest, place, settle
from tests.rendering.sensor import Development, draw_development
from tests.rendering.thread_list import DrawnThread, draw_size, draw_unlisted, listed
from tests.rendering.threads import ThreadEnds, ThreadSize

__all__ = [
    "Bars",
    "Conditions",
    "FittingScene",
    "draw_aim",
    "draw_bench",
    "draw_fitting_scene",
    "draw_sheet",
]

Floats = NDArray[np.float64]

UNLISTED_SHARE = 0.10
LEFT_SHARE = 0.08
READING_SD_MM = 0.05  # of a check bar, as a person reads it
# spanner sizes, mm: metric, then inch
SPANNERS = (14, 17, 19, 22, 24, 27, 30, 32, 36, 41, 46, 50, 55)
INCH_SPANNERS = tuple(
    25.4 * n / 16 for n in (9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 20, 22, 24, 26)
)
FULL_PX = (4032, 3024)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What the print's layout asks of a photo; `hand` may be forced to left or right."""

    page_mm: tuple[float, float]
    bed_centre_mm: tuple[float, float]
    bed_size_mm: tuple[float, float]
    distance_mm: tuple[float, float]
    tilt_deg: tuple[float, float]
    scale_px: float = 1.0
    thread: str = ""
    hand: str = "draw"
    lights: tuple[str, ...] = ("window", "window", "overcast", "overcast", "lamp", "lamp", "sun")


@dataclass(frozen=True, slots=True)
class Bars:
    """Check bars: what they measure, and what a person reads; None: nobody read them."""

    x_true_mm: float
    y_true_mm: float
    x_read_mm: float | None
    y_read_mm: float | None


@dataclass(frozen=True, slots=True, eq=False)
class FittingScene:
    """Everything about one photograph of a fitting."""

    seed: int
    thread: DrawnThread
    fitting: Fitting
    spanner_mm: float
    mesh: Mesh
    rest: Rest
    sheet_from_thread: Floats
    sheet: Sheet
    bars: Bars
    finish: Finish
    light: Light
    bench: Bench
    camera: PhoneCamera
    development: Development
    hard: Hardships = field(default_factory=Hardships)

    @property
    def middle_mm(self) -> Floats:
        """The middle of the thread, sheet frame, (3,)."""
        middle = np.array([0, 0, self.fitting.ends.full_to_mm / 2, 1])
        return np.asarray((self.sheet_from_thread @ middle)[:3])

    @property
    def reach_mm(self) -> Floats | None:
        """From the thread's middle to its end in plan, (2,); None if it is the part's only one."""
        return _reach_mm(self.sheet_from_thread, self.fitting)


def _reach_mm(pose: Floats, fitting: Fitting) -> Floats | None:
    """As `FittingScene.reach_mm`: the print says to aim at the thread, so no farther."""
    half = np.asarray(pose[:2, 2] * fitting.ends.full_to_mm / 2)
    return half if fitting.other.kind == "thread" else None


def _draw_thread(rng: np.random.Generator, wanted: str) -> DrawnThread:
    is_left = bool(rng.random() < LEFT_SHARE)
    unlisted = bool(rng.random() < UNLISTED_SHARE)
    choice = listed()[int(rng.integers(len(listed())))]
    if wanted:
        return draw_size(next(t for t in listed() if t.designation == wanted), False, rng)
    return draw_unlisted(rng) if unlisted else draw_size(choice, is_left, rng)


def _ends(size: ThreadSize, turns_free: bool, rng: np.random.Generator) -> tuple[ThreadEnds, float]:
    """How the thread begins and ends, and the undercut's length."""
    p, minor = size.pitch_mm, size.minor_mm
    full = float(rng.uniform(8, 16) if turns_free else max(rng.uniform(8, 16), 6.5 * p + 2))
    start = minor / 2 - rng.uniform(0.05, 0.35)
    slope = 1 / np.tan(np.radians(rng.uniform(30, 50)))
    if not size.is_tapered and rng.random() < 0.5:
        floor = minor / 2 - rng.uniform(0.05, 0.3)
        return ThreadEnds(full + 0.6 * p, start, slope, full, -1.2, floor), float(rng.uniform(2, 4))
    rise = 0.614 * p / (rng.uniform(1.2, 2.2) * p)
    length = full + 0.614 * p / rise + rng.uniform(0.2, 1.5)
    return ThreadEnds(float(length), start, slope, full, rise, minor / 2), 0.0


def _hexagon(largest_mm: float, rng: np.random.Generator) -> tuple[Hexagon, float]:
    sizes = sorted(SPANNERS if rng.random() < 0.6 else INCH_SPANNERS)
    fits = [s for s in sizes if s >= 1.1 * largest_mm + 0.5] or [1.2 * largest_mm]
    nominal = fits[min(int(rng.integers(0, 3)), len(fits) - 1)]
    tolerance = (
        0.27 if nominal <= 18 else 0.33 if nominal <= 30 else 0.62 if nominal <= 50 else 0.74
    )
    hexagon = Hexagon(
        across_flats_mm=float(nominal - rng.uniform(0, tolerance)),
        corner_factor=float(rng.uniform(1.11, 1.155)),
        length_mm=float(rng.uniform(6, 14)),
        turned_rad=float(rng.uniform(0, np.pi / 3)),
        chamfers=str(rng.choice(["both", "front", "back"])),  # type: ignore[arg-type]
    )
    return hexagon, float(nominal)


def _second_thread(room_mm: float, rng: np.random.Generator) -> OtherEnd:
    small = [t for t in listed() if t.nominal_mm < room_mm]
    if not small:
        return OtherEnd("stub", room_mm / 2.4, float(rng.uniform(8, 16)))
    size = draw_size(small[int(rng.integers(len(small)))], False, rng).size
    ends, _ = _ends(size, True, rng)
    return OtherEnd("thread", 0.0, ends.length_mm, 0.0, size, ends)


def _other(hexagon: Hexagon, rng: np.random.Generator) -> OtherEnd:
    af = hexagon.across_flats_mm
    kind = str(rng.choice(["thread", "stub", "nose", "collar"], p=[0.35, 0.25, 0.25, 0.15]))
    if kind == "thread":
        return _second_thread(0.88 * af, rng)
    if kind == "nose":
        half = float(np.radians(rng.choice([12.0, 24.0, 30.0, 37.0, 45.0])))
        return OtherEnd(
            "nose", float(rng.uniform(0.25, 0.38) * af), float(rng.uniform(8, 16)), half
        )
    if kind == "collar":
        return OtherEnd("collar", float(rng.uniform(0.44, 0.49) * af), float(rng.uniform(1.5, 4)))
    return OtherEnd("stub", float(rng.uniform(0.22, 0.42) * af), float(rng.uniform(8, 20)))


def _draw_fitting(thread: DrawnThread, rng: np.random.Generator) -> tuple[Fitting, float]:
    size = thread.size
    ends, undercut = _ends(size, bool(rng.random() < 0.1), rng)
    hexagon, nominal = _hexagon(size.major_mm, rng)
    other = _other(hexagon, rng)
    narrow = min(size.minor_mm, 2 * other.radius_mm or size.minor_mm)
    if other.size is not None:
        narrow = min(narrow, other.size.minor_mm)
    if other.kind == "nose":
        narrow *= 0.45
    bore = float(rng.uniform(0.35, 0.68) * narrow) if rng.random() < 0.85 else 0.0
    return Fitting(size, ends, undercut, hexagon, other, bore), nominal


def draw_sheet(
    page_mm: tuple[float, float],
    flat_at_mm: tuple[float, float],
    flat_within_mm: float,
    rng: np.random.Generator,
) -> tuple[Sheet, Bars]:
    """A printed page with its printer's scale and curl, and its bars as read."""
    scales = 1 + rng.normal(0, 0.005, 2)
    lifts = np.abs(rng.normal(0, 0.7, 4)).clip(0, 2)
    sheet = Sheet(
        page_mm=page_mm,
        scale_x=float(scales[0]),
        scale_y=float(scales[1]),
        lifts_mm=tuple(float(lift) for lift in lifts),  # type: ignore[arg-type]
        flat_at_mm=flat_at_mm,
        flat_within_mm=flat_within_mm,
        rises_over_mm=60.0,
    )
    true = 100 * scales
    read = np.round((true + rng.normal(0, READING_SD_MM, 2)) * 100) / 100
    return sheet, Bars(*(float(v) for v in (*true, *read)))


def draw_bench(rng: np.random.Generator) -> Bench:
    """Wood, steel, cardboard, rubber mat or a painted top."""
    looks = (
        ((0.30, 0.19, 0.10), 0.18, 2.0, 14.0),
        ((0.22, 0.22, 0.23), 0.08, 1.0, 4.0),
        ((0.36, 0.25, 0.15), 0.06, 1.2, 1.5),
        ((0.04, 0.04, 0.045), 0.10, 1.0, 1.0),
        ((0.16, 0.24, 0.20), 0.05, 6.0, 1.0),
    )
    colour, grain, length, stretch = looks[int(rng.integers(len(looks)))]
    return Bench(colour, grain, length, stretch, int(rng.integers(2**31)))


def _eye(target_mm: Floats, axis_yaw: float, cond: Conditions, rng: np.random.Generator) -> Floats:
    """Where the camera is: leaning mostly sideways across the fitting."""
    distance = rng.uniform(*cond.distance_mm)
    tilt = np.radians(rng.uniform(*cond.tilt_deg))
    side = axis_yaw + np.pi / 2 * rng.choice([-1, 1]) + rng.normal(0, np.radians(22))
    way = np.array([np.sin(tilt) * np.cos(side), np.sin(tilt) * np.sin(side), np.cos(tilt)])
    return np.asarray(target_mm + distance * way)


def draw_aim(target_mm: Floats, reach_mm: Floats | None, rng: np.random.Generator) -> Floats:
    """Where a hand points a phone: within 12 mm of the target, but not past the thread's ends.

    `reach_mm` leads from the thread's middle to its end in plan, (2,); None if nothing bounds it.
    """
    off = rng.uniform(-12, 12, 2)
    if reach_mm is not None:
        half = float(np.hypot(*reach_mm))
        along = float(off @ reach_mm) / half
        off = off + (np.clip(along, -half, half) - along) * reach_mm / half
    return np.asarray(target_mm + np.append(off, 0))


def draw_camera(
    target_mm: Floats,
    eye_mm: Floats,
    scale_px: float,
    rng: np.random.Generator,
    reach_mm: Floats | None = None,
) -> tuple[PhoneCamera, int | None, tuple[int, float]]:
    """A phone's camera over the target; its EXIF orientation; its focal lengths as noted."""
    orientation = (1, 3, 6, 8, None)[int(rng.integers(5))]
    width, height = (round(n * scale_px) for n in FULL_PX)
    if orientation in {6, 8}:
        width, height = height, width
    far_px = 2970 * (1 + float(np.clip(rng.normal(0, 0.02), -0.05, 0.05)))
    focal_mm = float(rng.uniform(4.2, 6.9))
    distance = float(np.linalg.norm(target_mm - eye_mm))
    focal = far_px * (1 + focal_mm / distance) * scale_px
    by = 43.267 / np.hypot(*FULL_PX) if rng.random() < 0.5 else 36 / FULL_PX[0]
    aim = draw_aim(target_mm, reach_mm, rng)
    off = rng.uniform(-0.01, 0.01, 2) * max(width, height)
    camera = PhoneCamera(
        size_px=(width, height),
        focal_px=float(focal),
        centre_x_px=float((width - 1) / 2 + off[0]),
        centre_y_px=float((height - 1) / 2 + off[1]),
        k1=float(np.clip(rng.normal(0, 0.013), -0.03, 0.03)),
        k2=float(np.clip(rng.normal(0, 0.01), -0.03, 0.03)),
        aperture_mm=float(rng.uniform(0.8, 2.0)),
        focus_mm=0.0,
        camera_from_sheet=look_at(eye_mm, aim, float(rng.uniform(0, 2 * np.pi))),
    )
    return camera, orientation, (int(np.round(far_px * by)), focal_mm)


def _placed(
    fitting: Fitting, rest: Rest, cond: Conditions, rng: np.random.Generator
) -> tuple[Floats, float, Floats]:
    """Pose on the sheet inside the bed, yaw, and the middle of the thread, sheet frame."""
    yaw = float(rng.uniform(0, 2 * np.pi))
    along = np.array([np.cos(yaw), np.sin(yaw)])
    length = outline_sections(fitting).end_mm
    bed = np.array(
        [cond.bed_centre_mm[0] - cond.page_mm[0] / 2, cond.page_mm[1] / 2 - cond.bed_centre_mm[1]]
    )
    free = np.maximum(np.asarray(cond.bed_size_mm) / 2 - 8 - length / 2 * np.abs(along) - 12, 0)
    centre = bed + rng.uniform(-1, 1, 2) * np.minimum(free, 18)
    x, y = centre - along * length / 2
    pose = place(rest, yaw, float(x), float(y))
    middle = pose @ np.array([0, 0, fitting.ends.full_to_mm / 2, 1])
    return pose, yaw, middle[:3]


def _handed(thread: DrawnThread, hand: str) -> DrawnThread:
    """The same thread, cut the way that is wanted; nothing is drawn for it."""
    if hand == "draw":
        return thread
    return replace(thread, size=replace(thread.size, is_left=hand == "left"))


def draw_fitting_scene(seed: int, cond: Conditions) -> FittingScene:
    """Draw one scene; the same seed and conditions give the same scene."""
    rng = np.random.default_rng(seed)
    thread = _handed(_draw_thread(rng, cond.thread), cond.hand)
    fitting, spanner = _draw_fitting(thread, rng)
    mesh = fitting_mesh(fitting)
    rest = settle(mesh, rng)
    pose, yaw, middle = _placed(fitting, rest, cond, rng)
    reach = outline_sections(fitting).end_mm / 2
    centre = pose @ np.array([0, 0, reach, 1])
    flat_at = (float(centre[0]), float(centre[1]))
    sheet, bars = draw_sheet(cond.page_mm, flat_at, reach + 5, rng)
    eye = _eye(middle, yaw, cond, rng)
    reach = _reach_mm(pose, fitting)
    camera, orientation, focal = draw_camera(middle, eye, cond.scale_px, rng, reach)
    near = middle + np.array([0, 0, rng.uniform(-0.2, 0.8) * thread.size.major_mm / 2])
    return FittingScene(
        seed=seed,
        thread=thread,
        fitting=fitting,
        spanner_mm=spanner,
        mesh=mesh,
        rest=rest,
        sheet_from_thread=pose,
        sheet=sheet,
        bars=bars,
        finish=draw_finish(METALS[int(rng.integers(len(METALS)))], rng),
        light=draw_light(str(rng.choice(cond.lights)), eye, rng),  # type: ignore[arg-type]
        bench=draw_bench(rng),
        camera=focused(camera, near),
        development=draw_development(orientation, focal, rng),
    )
