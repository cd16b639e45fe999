"""A hand that holds the sheet down: fingers, the back of the hand, an arm; bare or gloved."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.rendering.lumps import ellipsoid
from tests.rendering.surfaces import Body, Extra, dull_bsdf

__all__ = ["Hand", "draw_hand", "hand_extras"]

Floats = NDArray[np.float64]
Colour = tuple[float, float, float]

# linear RGB of skins and gloves, roughness; common practice, no source
SKINS: tuple[Colour, ...] = ((0.52, 0.31, 0.22), (0.40, 0.22, 0.15), (0.19, 0.10, 0.065))
GLOVES: tuple[Colour, ...] = ((0.03, 0.09, 0.30), (0.015, 0.015, 0.017))
GLOVED_SHARE = 0.35
SLEEVES: tuple[Colour, ...] = ((0.05, 0.07, 0.14), (0.10, 0.09, 0.08), (0.03, 0.03, 0.03))
# a finger's joints: out from the tip, up (to the middle), radius; millimetres of a grown hand
FINGER = ((0.0, 7.0, 6.5), (6.0, 7.6, 7.4), (24.0, 11.0, 8.0), (48.0, 22.0, 8.8), (88.0, 32.0, 9.5))
APART_MM = 18.5
NAIL_MM = (6.0, 4.6, 1.6)


@dataclass(frozen=True, slots=True)
class Hand:
    """Where a hand lies.

    Attributes
    ----------
    tip_mm : (x, y)
        Of the foremost finger, sheet frame.
    away_rad : float
        Direction from the tip to the wrist.
    fingers : int
    back_mm : tuple of float
        How far each fingertip lies behind the foremost.
    colour, sleeve : linear RGB
    is_gloved : bool
    """

    tip_mm: tuple[float, float]
    away_rad: float
    fingers: int
    back_mm: tuple[float, ...]
    colour: Colour
    sleeve: Colour
    is_gloved: bool


def draw_hand(tip_mm: Floats, away_rad: float, rng: np.random.Generator) -> Hand:
    """A hand with its foremost fingertip at a place on the paper."""
    fingers = int(rng.integers(1, 5))
    foremost = int(rng.integers(fingers))
    back = [abs(k - foremost) * float(rng.uniform(3, 9)) for k in range(fingers)]
    is_gloved = bool(rng.random() < GLOVED_SHARE)
    colours = GLOVES if is_gloved else SKINS
    colour = colours[int(rng.integers(len(colours)))]
    sleeve = SLEEVES[int(rng.integers(len(SLEEVES)))]
    x, y = (float(v) for v in tip_mm)
    return Hand((x, y), away_rad, fingers, tuple(back), colour, sleeve, is_gloved)


def _tube(points: Floats, radii: Floats) -> Body:
    """A round tube along a smooth line through points (N, 3), its ends rounded."""
    at = np.linspace(0, len(points) - 1, 16 * (len(points) - 1) + 1)
    knots = np.arange(len(points))
    line = np.column_stack([np.interp(at, knots, points[:, k]) for k in range(3)])
    radius = np.interp(at, knots, radii)
    kernel = np.ones(11) / 11  # rounds the joints
    smooth = np.pad(line, ((5, 5), (0, 0)), mode="edge")
    line = np.column_stack([np.convolve(smooth[:, k], kernel, "valid") for k in range(3)])
    way = np.gradient(line, axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    cap = np.linspace(0, np.pi / 2, 9)[1:]
    start = line[0] - way[0] * (radius[0] * np.sin(cap[::-1]))[:, None]
    finish = line[-1] + way[-1] * (radius[-1] * np.sin(cap))[:, None]
    line = np.concatenate([start, line, finish])
    radius = np.concatenate([radius[0] * np.cos(cap[::-1]), radius, radius[-1] * np.cos(cap)])
    way = np.concatenate([np.repeat(way[:1], 8, 0), way, np.repeat(way[-1:], 8, 0)])
    return _wrapped(line, way, radius)


def _wrapped(line: Floats, way: Floats, radius: Floats) -> Body:
    """Rings of given radii round a line."""
    side = np.cross(way, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    up = np.cross(side, way)
    turn = np.linspace(0, 2 * np.pi, 33)[None, :, None]
    out = np.cos(turn) * side[:, None] + np.sin(turn) * up[:, None]
    vertices = line[:, None] + np.maximum(radius, 1e-3)[:, None, None] * out
    index = np.arange(len(line) * 33).reshape(len(line), 33)
    a, b, c, d = index[:-1, :-1], index[1:, :-1], index[1:, 1:], index[:-1, 1:]
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    slope = np.gradient(radius) / np.maximum(
        np.linalg.norm(np.gradient(line, axis=0), axis=1), 1e-6
    )
    normals = out - np.clip(slope, -30, 30)[:, None, None] * way[:, None]
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    return Body(vertices.reshape(-1, 3), normals.reshape(-1, 3), faces)


def hand_extras(hand: Hand) -> tuple[Extra, ...]:
    """The hand's bodies with their surfaces, sheet frame."""
    away = np.array([np.cos(hand.away_rad), np.sin(hand.away_rad), 0.0])
    frame = np.stack([away, np.cross([0.0, 0.0, 1.0], away), [0.0, 0.0, 1.0]])
    tip = np.array([*hand.tip_mm, 0.0])
    surface = dull_bsdf(hand.colour, 0.18 if hand.is_gloved else 0.35)
    nail = dull_bsdf((0.62, 0.42, 0.34), 0.15)
    out, up, radius = np.array(FINGER).T
    extras = []
    for k, back in enumerate(hand.back_mm):
        aside = (k - (hand.fingers - 1) / 2) * APART_MM
        points = np.column_stack([out + back, np.full_like(out, aside), up])
        extras.append(Extra(_tube(points @ frame + tip, radius), surface))
        if not hand.is_gloved:
            at = np.array([back + 3.5, aside, 13.6]) @ frame + tip
            extras.append(Extra(Body(*ellipsoid(NAIL_MM, frame, at)), nail))
    body = ellipsoid((56.0, 44.0, 17.0), frame, np.array([128.0, 0.0, 30.0]) @ frame + tip, 32)
    extras.append(Extra(Body(*body), surface))
    arm = np.array([[170.0, 0.0, 34.0], [260.0, 0.0, 46.0], [480.0, 0.0, 80.0]])
    sleeve = dull_bsdf(hand.sleeve, 0.6)
    extras.append(Extra(_tube(arm @ frame + tip, np.array([30.0, 36.0, 45.0])), sleeve))
    return tuple(extras)
