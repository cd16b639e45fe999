"""Quick pictures of a taped route: floor, sheets, light, lens, blur, noise and JPEG.

Not rendered by light transport; made to test the finding and the sub-pixel edges of a line.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from photomeasure.photo import Photo
from tests.route.scenes import DrawnRoute, FlatScene, page_corners

Image = NDArray[np.float32]
Points2 = NDArray[np.float64]
Points3 = NDArray[np.float64]

TAPES_BGR = {  # as seen in sRGB, 0 to 255
    "blue": (190, 110, 40),
    "yellow": (40, 190, 230),
    "white": (235, 235, 235),
    "black": (35, 32, 30),
    "red": (45, 40, 180),
    "green": (70, 140, 40),
    "beige": (150, 200, 220),
}
STRIPE_WIDTHS = 0.7
FLOORS_BGR = {
    "concrete": (140, 145, 150),
    "cardboard": (95, 140, 180),
    "planks": (70, 115, 165),
    "tiles": (175, 185, 190),
    "dark": (60, 60, 65),
}


@dataclass(frozen=True, slots=True)
class Look:
    """What the picture is made of."""

    tape: str
    floor: str
    noise: float = 2.0
    blur_px: float = 0.9
    quality: int = 90
    is_round: bool = False  # a hose of the route's width instead of tape
    stripes: str = ""  # colour of slanted stripes on the tape


def photo_of(
    route: DrawnRoute, look: Look, rng: np.random.Generator, size_px: tuple[int, int]
) -> Photo:
    """Draw the picture and develop it into a JPEG."""
    width, height = size_px
    floor_mm = _floor_coordinates(route.scene, size_px)
    light = _linear(_floor(look.floor, floor_mm, rng))
    for sheet in route.sheets:
        _lay_sheet(light, route.scene, sheet.outline(), sheet.points(page_corners()))
    if look.is_round:
        _lay_hose(light, route, look)
    else:
        _lay_tape(light, floor_mm, route, look, rng)
    light *= _lamp(size_px, rng)[..., None]
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), look.blur_px), np.float32)
    coded = 255 * np.clip(light, 0, 1) ** np.float32(1 / 2.2)
    grain = rng.standard_normal((height, width, 3), dtype=np.float32)
    coded += look.noise * cv2.GaussianBlur(grain, (0, 0), 0.5) * 2.0
    packed = cv2.imencode(
        ".jpg", np.clip(coded, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, look.quality]
    )[1]
    colour = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)
    grey = np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY), np.uint8)
    return Photo("drawn.jpg", grey, colour, f"drawn {rng.integers(1 << 60)}", None, "drawn")


def _linear(coded: Image) -> Image:
    return (np.clip(coded, 0, 255) / np.float32(255)) ** np.float32(2.2)


def _floor_coordinates(scene: FlatScene, size_px: tuple[int, int]) -> Image:
    """Floor millimetres of every pixel, from a coarse grid."""
    width, height = size_px
    step = 8
    across, down = (np.arange(-step, side + 2 * step, step) for side in size_px)
    x, y = np.meshgrid(across, down)
    blocks = np.column_stack((x.ravel(), y.ravel())).astype(np.float64)
    px = blocks + (step - 1) / 2  # their middles
    coarse = scene.sheet_mm(px).reshape(*x.shape, 2).astype(np.float32)
    size = (step * len(across), step * len(down))
    fine = cv2.resize(coarse, size, interpolation=cv2.INTER_LINEAR)  # good to 0.001 mm
    return np.asarray(fine[step : step + height, step : step + width], np.float32)


def _floor(kind: str, floor_mm: Image, rng: np.random.Generator) -> Image:
    """A speckled texture of 1 mm grain, with seams where the floor has them."""
    tile = np.zeros((1024, 1024), np.float32)
    for octave in (1, 4, 16, 64):
        fine = rng.standard_normal((1024 // octave, 1024 // octave)).astype(np.float32)
        tile += cv2.resize(fine, (1024, 1024), interpolation=cv2.INTER_CUBIC) * 5
    if kind == "planks":
        grain = rng.standard_normal((1024, 16)).astype(np.float32)
        tile += cv2.resize(grain, (1024, 1024), interpolation=cv2.INTER_CUBIC) * 8
    u, v = floor_mm[..., 0] % 1024, floor_mm[..., 1] % 1024
    speckle = cv2.remap(tile, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    if kind == "planks":
        speckle -= 45 * (np.abs(floor_mm[..., 1] % 140 - 70) > 68.5)
    if kind == "tiles":
        seam = np.maximum(*(np.abs(floor_mm[..., k] % 300 - 150) for k in range(2)))
        speckle -= 50 * (seam > 147.5)
    return np.asarray(FLOORS_BGR[kind], np.float32) + speckle[..., None]


def _lay_sheet(light: Image, scene: FlatScene, outline: Points2, corners: Points2) -> None:
    def px(points: Points2) -> NDArray[np.int32]:
        flat = scene.px(np.column_stack((points, np.zeros(len(points)))))
        return np.round(flat * 16).astype(np.int32)

    cv2.fillConvexPoly(light, px(outline), (0.8, 0.8, 0.8), cv2.LINE_AA, 4)
    grid = corners.reshape(15, 11, 2)
    for row in range(14):
        for column in range(row % 2, 10, 2):
            square = grid[[row, row, row + 1, row + 1], [column, column + 1, column + 1, column]]
            cv2.fillConvexPoly(light, px(square), (0.03, 0.03, 0.03), cv2.LINE_AA, 4)


def _lay_tape(
    light: Image, floor_mm: Image, route: DrawnRoute, look: Look, rng: np.random.Generator
) -> None:
    """Mix the tape's colour in by the share of each pixel that it covers."""
    at = np.arange(0.0, route.length_mm + 0.25, 0.5)
    line = route.arcs.points(at)
    px = route.scene.px(np.column_stack((line, np.zeros(len(line)))))
    near = np.zeros(light.shape[:2], np.uint8)
    thick = int(2.5 * route.width_mm * _px_per_mm(route.scene, line)) + 12
    cv2.polylines(near, [np.round(px).astype(np.int32)], False, 255, thick)
    rows, columns = np.nonzero(near)
    where = floor_mm[rows, columns].astype(np.float64)
    along, across, tangent = _on_tape(where, line, at, route)
    share = _cover(where, along, np.abs(across), tangent, route)
    texture = rng.normal(0, 3, (64, 64)).astype(np.float32)
    grain = texture[(where[:, 0] % 64).astype(int), (where[:, 1] % 64).astype(int)]
    colour = np.broadcast_to(np.asarray(TAPES_BGR[look.tape], np.float32), (len(where), 3))
    if look.stripes:
        is_other = (along + across) % (2 * STRIPE_WIDTHS * route.width_mm) < (
            STRIPE_WIDTHS * route.width_mm
        )
        colour = np.where(is_other[:, None], np.float32(TAPES_BGR[look.stripes]), colour)
    tape = _linear(np.asarray(colour + grain[:, None], np.float32))
    under = light[rows, columns]
    light[rows, columns] = under + share[:, None].astype(np.float32) * (tape - under)


def _lay_hose(light: Image, route: DrawnRoute, look: Look) -> None:
    """Fill between the contours of a tube lying on the floor, darker towards its sides."""
    radius = route.width_mm / 2
    at = np.arange(0.0, route.length_mm + 0.25, 0.5)
    axis = np.column_stack((route.arcs.points(at), np.full(len(at), radius)))
    heading = route.arcs.headings(at)
    tangent = np.column_stack((np.cos(heading), np.sin(heading), np.zeros(len(at))))
    colour = _linear(np.asarray(TAPES_BGR[look.tape], np.float32))
    for share in (1.0, 0.8, 0.6, 0.4, 0.2):
        sides = [_contour(route.scene, axis, tangent, share * s * radius) for s in (1, -1)]
        outlines = [np.vstack((sides[0], sides[1][::-1]))]
        if share == 1.0:
            outlines += [_face(route.scene, axis[k], tangent[k], radius) for k in (0, -1)]
        mask = np.zeros((4 * light.shape[0], 4 * light.shape[1]), np.uint8)
        for outline in outlines:
            cv2.fillPoly(mask, [np.round((4 * outline + 1.5) * 16).astype(np.int32)], 255, shift=4)
        cover = cv2.resize(mask, light.shape[1::-1], interpolation=cv2.INTER_AREA)
        cover = cover[..., None].astype(np.float32) / 255
        shade = np.float32(1.15 - 0.4 * share**2)
        light += cover * (shade * colour - light)


def _face(
    scene: FlatScene, middle: NDArray[np.float64], tangent: NDArray[np.float64], radius: float
) -> Points2:
    """Where the rim of a tube's cut end is seen."""
    turn = np.linspace(0.0, 2 * np.pi, 60, endpoint=False)[:, None]
    left, up = np.array([-tangent[1], tangent[0], 0.0]), np.array([0.0, 0.0, 1.0])
    return scene.px(middle + radius * (np.cos(turn) * left + np.sin(turn) * up))


def _contour(scene: FlatScene, axis: Points3, tangent: Points3, radius: float) -> Points2:
    """Where a ray touches the tube of this radius, on the side of its sign."""
    to_camera = scene.centre_mm - axis
    to_camera -= np.sum(to_camera * tangent, axis=1)[:, None] * tangent
    distance = np.linalg.norm(to_camera, axis=1)[:, None]
    out = to_camera / distance
    side = np.cross(out, tangent)
    sine = radius / distance
    touch = axis + np.abs(radius) * np.abs(sine) * out + radius * np.sqrt(1 - sine**2) * side
    return scene.px(touch)


def _px_per_mm(scene: FlatScene, line: Points2) -> float:
    step = np.array([[1.0, 0, 0], [0, 1.0, 0]])
    flat = np.column_stack((line, np.zeros(len(line))))
    return float(max(np.max(np.hypot(*(scene.px(flat + s) - scene.px(flat)).T)) for s in step))


def _on_tape(
    where: Points2, line: Points2, at: NDArray[np.float64], route: DrawnRoute
) -> tuple[NDArray[np.float64], NDArray[np.float64], Points2]:
    """How far along and to the left of the tape's middle points are, and its direction there."""
    index = cKDTree(line).query(where)[1]
    heading = route.arcs.headings(at[index])
    tangent = np.column_stack((np.cos(heading), np.sin(heading)))
    away = where - line[index]
    along = at[index] + np.sum(away * tangent, axis=1)
    return along, away[:, 1] * tangent[:, 0] - away[:, 0] * tangent[:, 1], tangent


def _cover(
    where: Points2,
    along: NDArray[np.float64],
    across: NDArray[np.float64],
    tangent: Points2,
    route: DrawnRoute,
) -> NDArray[np.float64]:
    """Covered share of each pixel, from its middle's distance to the tape's edges in pixels."""
    normal = np.column_stack((-tangent[:, 1], tangent[:, 0]))
    side = _slope(route.scene, where, normal, tangent)
    end = _slope(route.scene, where, tangent, normal)
    inside = np.clip((route.width_mm / 2 - across) * side + 0.5, 0, 1)
    inside *= np.clip(along * end + 0.5, 0, 1)
    share: NDArray[np.float64] = inside * np.clip((route.length_mm - along) * end + 0.5, 0, 1)
    return share


def _slope(
    scene: FlatScene, where: Points2, direction: Points2, edge: Points2
) -> NDArray[np.float64]:
    """Pixels, square to an edge in the picture, per millimetre along a floor direction."""
    flat = np.column_stack((where, np.zeros(len(where))))
    pad = np.zeros((len(where), 1))
    here = scene.px(flat)
    step = scene.px(flat + np.hstack((direction, pad))) - here
    along = scene.px(flat + np.hstack((edge, pad))) - here
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    slope: NDArray[np.float64] = np.abs(step[:, 0] * along[:, 1] - step[:, 1] * along[:, 0])
    return slope


def _lamp(size_px: tuple[int, int], rng: np.random.Generator) -> Image:
    """Uneven light with a soft shadow's edge across."""
    width, height = size_px
    x, y = np.meshgrid(
        np.linspace(-1, 1, width, dtype=np.float32), np.linspace(-1, 1, height, dtype=np.float32)
    )
    angle, place = rng.uniform(0, 2 * np.pi), rng.uniform(-0.5, 0.5)
    across = x * np.float32(np.cos(angle)) + y * np.float32(np.sin(angle))
    fall = 1 - np.float32(rng.uniform(0, 0.3)) * (x**2 + y**2) / 2
    shadow = 1 - np.float32(rng.uniform(0, 0.4)) / (1 + np.exp(-(across - place) / 0.05))
    return np.asarray(fall * shadow, np.float32)
