"""The outer bands: photographed as the print says, read where bowed, kept or refused."""

from types import SimpleNamespace
from typing import Any, cast

import cv2
import numpy as np
import pytest

from photomeasure.errors import TooUncertainError
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.bands import BANDS_SHOOT
from photomeasure.references.board import DICTIONARY
from photomeasure.references.catalogue import print_of
from photomeasure.references.markers import propose_bent, propose_quads
from photomeasure.route.space.follow import _stretch
from photomeasure.route.space.looked import Job, Looked, usable
from photomeasure.route.space.model import Points, Thing
from photomeasure.route.space.whole import demand_no_gap, demand_sure
from tests.route.space_scenes import draw_space_scene, px_of


@pytest.mark.parametrize("seed", [9700, 9720, 9727])
def test_drawn_photos_show_both_ends_twice_and_near(seed: int) -> None:
    scene = draw_space_scene(seed, photos=4)
    for band in (scene.bands[0], scene.bands[-1]):
        point = scene.curve.points[scene.curve.index(band.at_mm)]
        shown = 0
        for camera in scene.cameras:
            px = px_of(camera, point[None])[0]
            away = float(np.linalg.norm(camera.centre_sheet_mm - point))
            shown += bool(np.all((px > 0) & (px < camera.size_px)) and away < 800.0)
        assert shown >= 2
    assert BANDS_SHOOT.distance_mm == (300.0, 800.0)


SIDE_PX = 31.0


def _bowed(radius_px: float, lean_rad: float, aside_rad: float) -> np.ndarray[Any, Any]:
    """A marker on white paper round an upright rod, seen from above."""
    scale = 10
    size = round(SIDE_PX * scale)
    flat = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(DICTIONARY), 723, size)
    flat = cv2.copyMakeBorder(flat, size, size, size, size, cv2.BORDER_CONSTANT, value=255)
    y, x = np.mgrid[-80.0:80.0, -80.0:80.0]
    round_ = np.arcsin(np.clip(x / radius_px, -0.999, 0.999))
    along = (y + radius_px * (np.cos(round_) - 1) * np.sin(lean_rad)) / np.cos(lean_rad)
    maps = (scale * v + 1.5 * size for v in (radius_px * (round_ - aside_rad), along))
    seen = cv2.remap(flat, *(v.astype(np.float32) for v in maps), cv2.INTER_AREA, borderValue=255.0)
    seen[np.abs(x) > radius_px] = 90
    return np.asarray(cv2.GaussianBlur(seen, (0, 0), 1.0))


def _large(quads: np.ndarray[Any, Any]) -> int:
    """How many of the squares are about as large as the marker."""
    return int(np.sum(np.abs(np.ptp(quads, axis=1) - 27).max(axis=1) < 14))


@pytest.mark.parametrize("aside_rad", [0.0, 0.3, 0.5])
def test_a_bowed_marker_is_proposed(aside_rad: float) -> None:
    """Its rim is no polygon of four to the usual search."""
    grey = np.asarray(_bowed(26.0, 1.0, aside_rad), dtype=np.uint8)
    assert _large(propose_quads(grey)) == 0
    assert _large(propose_bent(grey)) == 1


def _things() -> list[Thing]:
    bands = print_of("bands", "A4")
    return [Thing(bands, piece) for piece in bands.pieces[:4]]


def _points(counts: list[int], photos: int) -> Points:
    thing = np.repeat(np.arange(len(counts)), counts)
    photo = np.arange(len(thing)) % photos
    none = np.zeros((len(thing), 2))
    return Points(photo, thing, none, none, np.ones(len(thing)))


def test_an_outer_band_of_which_a_marker_is_read_is_kept() -> None:
    job = cast("Job", SimpleNamespace(things=_things()))
    counts = np.array([1, 2, 8, 0])
    looked = cast("Looked", SimpleNamespace(counts=counts, points=_points([5, 2, 8, 3], 2)))
    assert usable(job, looked) == [0, 2]  # of the last too little is seen, the second is no end


@pytest.mark.parametrize(
    ("photos", "u", "is_sure"), [(1, 9.0, False), (1, 1.0, True), (2, 9.0, True)]
)
def test_an_end_seen_once_must_leave_the_length_sure(photos: int, u: float, is_sure: bool) -> None:
    course = cast("Any", SimpleNamespace(rows=(0, 3)))
    number = measured(900.0, {Source("x", "x", "photo", "k"): u})
    asked = (_things(), course, _points([4, 0, 0, 4], photos), Quantity.normal(number, "mm"))
    if is_sure:
        demand_sure(*asked)
        return
    with pytest.raises(TooUncertainError, match="Band 1, where the route begins"):
        demand_sure(*asked)


@pytest.mark.parametrize(("apart_mm", "turn_deg", "is_told"), [(290, 80, True), (310, 80, False),
                                                              (400, 5, True)])  # fmt: skip
def test_a_bend_without_bands_is_not_told(apart_mm: float, turn_deg: float, is_told: bool) -> None:
    turn = np.deg2rad(turn_deg)
    ways = np.array([[1.0, 0, 0], [1, 0, 0], [np.cos(turn), np.sin(turn), 0]])
    fit = SimpleNamespace(at_mm=np.array([0.0, 50, 50 + apart_mm]), frames=ways[:, None])
    course = cast("Any", SimpleNamespace(rows=(0, 1, 3), fit=fit))
    if is_told:
        demand_no_gap(_things(), course)
        return
    with pytest.raises(TooUncertainError, match="Between bands 2 and 4 the hose bends for 310 mm"):
        demand_no_gap(_things(), course)


def test_bands_that_are_placed_in_the_wrong_order_are_refused() -> None:
    chain = SimpleNamespace(feet=lambda edges, near: np.array([40.0, 12.0]))
    fit = SimpleNamespace(chain=chain, at_mm=np.array([30.0, 20.0]))
    ends = SimpleNamespace(edges=None, near_mm=None)
    course = cast("Any", SimpleNamespace(rows=(0, 1), fit=fit, ends=ends))
    with pytest.raises(TooUncertainError, match="the last band lies before the first"):
        _stretch(_things(), course, 6.0)
