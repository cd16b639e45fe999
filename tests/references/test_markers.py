"""The markers' own reading, against OpenCV's."""

import cv2
import numpy as np
import pytest

from photomeasure.references.board import DICTIONARY
from photomeasure.references.catalogue import print_of
from photomeasure.references.consensus import pieces_seen
from photomeasure.references.markers import SeenMarkers, read_markers
from tests.references.projected import View, developed, ideal

VIEW = View((1600, 1200), 1180, 300, tilt_deg=25, tilt_towards_deg=40, turn_deg=200)


@pytest.fixture(scope="module")
def grey() -> np.ndarray:
    return developed(ideal(print_of("sheet", "A4"), VIEW, 3), np.random.default_rng(1), noise=3)


def test_ids_and_order_of_corners_are_the_librarys(grey):
    seen = read_markers(grey)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY))
    found, ids, _ = detector.detectMarkers(grey)
    theirs = dict(zip(ids.ravel().tolist(), found, strict=True))
    ours = dict(zip(seen.ids.tolist(), seen.corners_px, strict=True))
    assert len(ours) >= 0.98 * len(theirs) > 140
    for number in ours.keys() & theirs.keys():
        assert np.abs(ours[number] - theirs[number].reshape(4, 2)).max() < 3


def test_false_markers_are_outvoted(grey):
    seen, rng = read_markers(grey), np.random.default_rng(2)
    false = 40
    corners = rng.uniform(100, 1000, (false, 1, 2)) + np.array([[0, 0], [30, 0], [30, 30], [0, 30]])
    mixed = SeenMarkers(
        np.concatenate((seen.ids, rng.integers(0, 154, false))),
        np.concatenate((seen.corners_px, corners)),
        np.concatenate((seen.is_sure, np.zeros(false, dtype=np.bool_))),
    )
    pieces = print_of("sheet", "A4").pieces
    (marked,) = pieces_seen(mixed, pieces)
    assert len(marked.rows) >= 0.98 * len(seen.ids)
    true = VIEW.project(pieces[0].marker_corners_page_mm[marked.rows].reshape(-1, 2))
    assert np.abs(marked.corners_px.reshape(-1, 2) - true).max() < 5


def test_two_markers_are_no_sheet(grey):
    seen = read_markers(grey)
    two = SeenMarkers(seen.ids[:2], seen.corners_px[:2], seen.is_sure[:2])
    assert pieces_seen(two, print_of("sheet", "A4").pieces) == []


def test_a_lone_marker_proves_a_band_only_if_it_is_sure():
    band = print_of("bands", "A4").pieces[0]
    corners = np.array([[[100, 100], [140, 100], [140, 140], [100, 140]]], dtype=float)
    for is_sure in (True, False):
        seen = SeenMarkers(band.marker_ids[:1], corners, np.array([is_sure]))
        assert len(pieces_seen(seen, (band,))) == int(is_sure)
