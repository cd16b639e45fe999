"""Routes in space drawn at random, with bands, cards and hand-held cameras round them."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.references.catalogue import print_of
from photomeasure.references.prints import Piece
from tests.rendering.camera import PhoneCamera, project
from tests.route.space_cameras import draw_cameras

Floats = NDArray[np.float64]

STEP_MM = 0.25
BAND_MM, BAND_HALF_MM = 21.0, 10.5
PAPER_MM = 0.1
BANDS_A_PAGE = 22
APART_MM = 48.0
LOOSE = np.array([0.05, 0.05, 0.0025, 0.0025])  # mm and rad: paper wrapped by hand; own estimate
LEFTOVERS = 0.3  # share of routes with what is left of a page, numbers missing
CARD_NAMES = ("start", "end", "card 1", "card 2", "card 3", "card 4")


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Close points of an axis, with a frame that does not turn about it."""

    at_mm: Floats  # (N,)
    points: Floats  # (N, 3)
    frames: Floats  # (N, 3, 3): rows tangent, first and second normal
    curvature: Floats  # (N,) 1/mm

    def index(self, at_mm: float) -> int:
        return int(np.clip(round((at_mm - self.at_mm[0]) / STEP_MM), 0, len(self.at_mm) - 1))


def curve_of(pieces: Floats, smooth_mm: float, start: Floats) -> Curve:
    """Integrate pieces (length, two curvatures), their joints softened over `smooth_mm`."""
    k = np.concatenate([np.tile(p[1:], (round(p[0] / STEP_MM), 1)) for p in pieces])
    width = round(smooth_mm / STEP_MM)
    if width > 1:
        padded = np.pad(k, ((width, width), (0, 0)), mode="edge")
        kernel = np.ones(width) / width
        k = np.stack([np.convolve(padded[:, j], kernel, "same") for j in (0, 1)], axis=1)
        k = k[width:-width]
    frame, points, frames = start[:3].copy(), np.zeros(3), []
    path = []
    for one in k:
        path.append(points)
        frames.append(frame)
        turn = STEP_MM * (one[0] * frame[2] - one[1] * frame[1])
        half = cv2.Rodrigues(turn / 2)[0]
        points = points + STEP_MM * (half @ frame[0])
        frame = frame @ cv2.Rodrigues(turn)[0].T
    return Curve(
        np.arange(len(k), dtype=np.float64) * STEP_MM,
        np.array(path),
        np.array(frames),
        np.asarray(np.hypot(k[:, 0], k[:, 1]), dtype=np.float64),
    )


def draw_pieces(rng: np.random.Generator, od_mm: float) -> Floats:
    """Straights and bends in changing planes, (K, 3)."""
    while True:
        bends = int(rng.integers(2, 5))
        pieces = [[rng.uniform(60, 160), 0.0, 0.0]]
        plane = rng.uniform(0, 2 * np.pi)
        for bend in range(bends):
            radius = rng.uniform(max(45.0, 3 * od_mm), 150.0)
            angle = np.deg2rad(rng.uniform(30, 110))
            plane += rng.choice([0.0, np.pi, rng.uniform(0, 2 * np.pi)], p=[0.12, 0.13, 0.75])
            pieces.append([radius * angle, np.cos(plane) / radius, np.sin(plane) / radius])
            last = bend == bends - 1
            pieces.append([rng.uniform(60, 160) if last else rng.uniform(30, 260), 0.0, 0.0])
        length = sum(p[0] for p in pieces)
        if 400 <= length <= 1500:
            return np.array(pieces)


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    order: int
    at_mm: float  # arc length of its middle
    phase_rad: float
    skew_rad: float
    loose: Floats  # (4,): off the hose's axis along its two normals [mm], and leant to them [rad]


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    name: str
    pose: Floats  # (4, 4) world from card: x right, y up, z out of the paper, origin its middle


@dataclass(frozen=True, slots=True, eq=False)
class SpaceScene:
    """All that stands still, and the cameras round it."""

    seed: int
    od_mm: float
    curve: Curve
    pieces: Floats
    smooth_mm: float
    bands: tuple[Band, ...]
    stretch: float  # 0: the band's paper keeps its length outside a bend, 1: it follows the axis
    cards: tuple[Card, ...]
    cameras: tuple[PhoneCamera, ...]
    focal_35mm: int
    focal_mm: float
    scales: dict[str, tuple[float, float]]
    bars: dict[str, tuple[float, float]]

    @property
    def radius_mm(self) -> float:
        return self.od_mm / 2

    @property
    def ends(self) -> tuple[int, int]:
        half = BAND_HALF_MM * self.scales["bands"][1]
        return (
            self.curve.index(self.bands[0].at_mm - half),
            self.curve.index(self.bands[-1].at_mm + half),
        )


def piece_of(kind: str, name: str) -> Piece:
    pieces = print_of(kind, "A4").pieces  # type: ignore[arg-type]
    return next(piece for piece in pieces if piece.name == name)


def card_points(scene: SpaceScene, card: Card, page_mm: Floats) -> Floats:
    outline = piece_of("markers", card.name).outline_page_mm
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2
    flat = (page_mm - middle) * (1.0, -1.0) * scene.scales["markers"]
    local = np.column_stack([flat, np.zeros(len(flat))])
    return np.asarray(local @ card.pose[:3, :3].T + card.pose[:3, 3])


def band_points(scene: SpaceScene, band: Band, page_mm: Floats) -> tuple[Floats, Floats]:
    """Where points of a band's page lie in space, and their outward normals."""
    outline = piece_of("bands", f"band {band.order}").outline_page_mm
    left, middle = outline[:, 0].min(), outline[:, 1].mean()
    scale_x, scale_y = scene.scales["bands"]
    u, v = (page_mm[:, 0] - left) * scale_x, (page_mm[:, 1] - middle) * scale_y
    total = 85.0 * scale_x
    v = v + np.tan(band.skew_rad) * (u - total / 2)
    phi = band.phase_rad - u / (scene.radius_mm + PAPER_MM / 2)
    index = [scene.curve.index(band.at_mm + one) for one in v]
    frames = scene.curve.frames[index]
    out = np.cos(phi)[:, None] * frames[:, 1] + np.sin(phi)[:, None] * frames[:, 2]
    rest = (band.at_mm + v - scene.curve.at_mm[index])[:, None] * frames[:, 0]
    aside = band.loose[:2] + v[:, None] * band.loose[2:]
    rest = rest + np.einsum("nk,nki->ni", aside, frames[:, 1:])
    return scene.curve.points[index] + rest + (scene.radius_mm + PAPER_MM) * out, out


def shown_u(scene: SpaceScene, page_u_mm: Floats) -> NDArray[np.bool_]:
    """Whether a place along the strip is not under the strip's own end."""
    scale = scene.scales["bands"][0]
    circumference = 2 * np.pi * (scene.radius_mm + PAPER_MM / 2)
    return np.asarray(page_u_mm * scale > 85.0 * scale - circumference)


def _place_bands(
    rng: np.random.Generator, pieces: Floats, length: float, apart_mm: float
) -> list[float]:
    """One before, in and after each bend, at most so far apart there, 150 mm on straights."""
    edges = np.concatenate([[0.0], np.cumsum(pieces[:, 0])])
    fixed = [rng.uniform(14, 30), length - rng.uniform(14, 30)]
    for number in range(1, len(pieces), 2):
        begin, stop = edges[number] - rng.uniform(0, 12), edges[number + 1] + rng.uniform(0, 12)
        parts = max(2, int(np.ceil((stop - begin) / apart_mm)))
        fixed += list(np.linspace(begin, stop, parts + 1))
    fixed = sorted(at for at in fixed if 12 <= at <= length - 12)
    kept = [fixed[0]]
    for at in fixed[1:]:
        if at - kept[-1] > 26:
            gap = at - kept[-1]
            parts = int(np.ceil(gap / 140))
            kept += [kept[-1] + gap * (k + 1) / parts for k in range(parts)]
    if kept[-1] < fixed[-1] - 1e-6:
        kept[-1] = fixed[-1]
    return kept


def _oriented(normal: Floats, rng: np.random.Generator) -> Floats:
    normal = normal / np.linalg.norm(normal)
    side = np.cross(normal, rng.standard_normal(3))
    side /= np.linalg.norm(side)
    return np.stack([side, np.cross(normal, side), normal], axis=1)


def _card(name: str, middle: Floats, normal: Floats, rng: np.random.Generator) -> Card:
    pose = np.eye(4)
    pose[:3, :3], pose[:3, 3] = _oriented(normal, rng), middle
    return Card(name, pose)


def _end_card(
    name: str, at: Floats, tangent: Floats, away: Floats, rng: np.random.Generator
) -> Card:
    """A card about an angled end's port: its normal square to the hose within 35 degrees."""
    while True:
        normal = rng.standard_normal(3) + np.array([0, 0, 1.4])
        normal /= np.linalg.norm(normal)
        if abs(normal @ tangent) < np.sin(np.deg2rad(50)) and normal[2] > 0.55:
            break
    side = np.cross(tangent, normal)
    side *= rng.choice([-1, 1]) / np.linalg.norm(side)
    middle = at + rng.uniform(20, 45) * away + rng.uniform(42, 65) * side - 12 * normal
    return _card(name, middle, normal, rng)


def draw_space_scene(
    seed: int,
    photos: int | None = None,
    size_px: tuple[int, int] = (4032, 3024),
    end_cards: bool = True,
    apart_mm: float = APART_MM,
) -> SpaceScene:
    """Draw one scene.

    Parameters
    ----------
    seed : int
    photos : int or None
        4 to 8 unless given; one more where so many do not show both ends twice.
    size_px : (width, height)
    end_cards : bool
        Leave out the cards START and END if not.
    apart_mm : float [mm]
        Bands in a bend, at most; the print asks for 50.
    """
    rng = np.random.default_rng(seed)
    od = float(rng.uniform(12, 25))
    while True:
        pieces = draw_pieces(rng, od)
        places = _place_bands(rng, pieces, float(pieces[:, 0].sum()) - STEP_MM, apart_mm)
        if len(places) <= BANDS_A_PAGE:
            break
    smooth = float(rng.choice([0.0, rng.uniform(15, 50)]))
    curve = _lying(pieces, smooth, rng)
    orders = np.sort(rng.choice(np.arange(1, BANDS_A_PAGE + 1), len(places), replace=False))
    if np.random.default_rng(seed + 5_000).random() > LEFTOVERS:
        orders = np.arange(1, len(places) + 1)
    loose = LOOSE * np.random.default_rng(seed + 4_000).standard_normal((len(places), 4))
    bands = tuple(
        Band(int(order), at, float(rng.uniform(0, 2 * np.pi)), float(rng.normal(0, 0.006)), own)
        for order, at, own in zip(orders, places, loose, strict=True)
    )
    cards = _draw_cards(curve, rng, end_cards=end_cards)
    middles = [curve.index(band.at_mm) for band in bands]
    cameras, lens = draw_cameras(curve, middles, rng, photos or int(rng.integers(4, 9)), size_px)
    scales = {k: tuple(1 + rng.normal(0, 0.003, 2)) for k in ("markers", "bands")}
    bars = {k: tuple(100 * np.array(scales[k]) + rng.normal(0, 0.05, 2)) for k in scales}
    return SpaceScene(
        seed, od, curve, pieces, smooth, bands, float(rng.uniform(0, 1)), cards, cameras,
        lens.focal_35mm, lens.focal_mm, scales, bars,
    )  # fmt: skip


def _lying(pieces: Floats, smooth: float, rng: np.random.Generator) -> Curve:
    """Turn the curve so that it is flattest along z, which the cameras look along."""
    start = np.linalg.qr(rng.standard_normal((3, 3)))[0]
    if np.linalg.det(start) < 0:
        start[2] *= -1
    curve = curve_of(pieces, smooth, start)
    middle = curve.points.mean(axis=0)
    axes = np.linalg.svd(curve.points - middle, full_matrices=False)[2]
    if np.linalg.det(axes) < 0:
        axes[2] *= -1
    points = (curve.points - middle) @ axes.T
    points[:, 2] -= points[:, 2].min()
    return Curve(curve.at_mm, points, curve.frames @ axes.T, curve.curvature)


def _draw_cards(curve: Curve, rng: np.random.Generator, *, end_cards: bool) -> tuple[Card, ...]:
    cards = []
    if end_cards:
        start, stop = curve.frames[0, 0], curve.frames[-1, 0]
        cards.append(_end_card("start", curve.points[0], start, -start, rng))
        cards.append(_end_card("end", curve.points[-1], stop, stop, rng))
    count = int(np.clip(round(curve.at_mm[-1] / 350) + rng.integers(0, 2), 2, 4))
    for number in range(count):
        for _ in range(60):
            index = curve.index(curve.at_mm[-1] * (number + rng.uniform(0.2, 0.8)) / count)
            side = rng.standard_normal(3) * [1, 1, 0]
            side /= np.linalg.norm(side)
            middle = curve.points[index] + rng.uniform(60, 110) * side
            middle[2] = rng.uniform(-30, 60)
            near = np.linalg.norm(curve.points[:, :2] - middle[:2], axis=1).min()
            apart = [np.linalg.norm(c.pose[:2, 3] - middle[:2]) for c in cards]
            if near > 52 and all(d > 100 for d in apart):
                break
        normal = np.array([0, 0, 1.0]) + 0.45 * rng.standard_normal(3)
        cards.append(_card(CARD_NAMES[2 + number], middle, normal, rng))
    return tuple(cards)


# --- truth by the rules of the bars ---------------------------------------------------------------


def px_of(camera: PhoneCamera, points: Floats) -> Floats:
    return project(camera, points)
