"""The hose along its path: bends, the straight behind each end, clearance."""

from typing import Any

import pytest

from photomeasure.sizing.checks import Check
from photomeasure.sizing.entries import HoseEntry
from photomeasure.sizing.path import least_axis_radius_mm, path_checks
from tests.sizing.jobs import Entries, entries, plain, q

ROUTE: Entries = {
    "length": q(1000, 2),
    "turning": q(90, 1, "deg"),
    "tightest_radius": q(120, 2),
    "bends": [{"at": q(400, 1), "radius": q(120, 2), "angle": q(90, 1, "deg")}],
}
SEEN: Entries = {
    "full_travel": True,
    "by": "F.",
    "moving_mm": 30,
    "exhaust_mm": 120,
    "length_change_tried": True,
}


def check(name: str, **changes: Any) -> Check:
    hose = {"outside_diameter_mm": 18, "bend_radius_mm": 90}
    document = plain(**{"route": ROUTE, "hose": hose, "clearance": SEEN, **changes})
    return next(found for found in path_checks(entries(document)) if found.name == name)


@pytest.mark.parametrize(
    ("said", "radius_mm"),
    [("inside", 99.0), (None, 99.0), ("axis", 90.0)],  # by hand: 90 + 18 / 2; unsaid means inside
)
def test_inside_radius_becomes_axis_radius(said: Any, radius_mm: float) -> None:
    hose = HoseEntry(bend_radius_mm=90, outside_diameter_mm=18, bend_radius_to=said)
    assert least_axis_radius_mm(hose) == radius_mm


@pytest.mark.parametrize(
    ("tightest", "ok"),
    [
        (q(120, 2), True),
        (q(95, 1), False),
        (q(100, 3), None),  # 94 to 106 straddles the 99 mm that are needed
    ],
)
def test_the_whole_band_of_the_tightest_bend_counts(tightest: Entries, ok: bool | None) -> None:
    assert check("bend radius", route={**ROUTE, "tightest_radius": tightest}).ok is ok


def test_every_bend_counts_whatever_the_tightest_is_said_to_be() -> None:
    # 99 mm are needed; the route says 120 and one of its own bends 70: the bend decides.
    tight = {"at": q(700, 1), "radius": q(70, 2), "angle": q(40, 1, "deg")}
    found = check("bend radius", route={**ROUTE, "bends": [*ROUTE["bends"], tight]})
    assert found.ok is False
    assert "Bend 2" in found.detail


@pytest.mark.parametrize(
    ("radius", "ok", "word"),
    [(q(110, 2), True, "110 mm"), (q(90, 2), False, "too small"), (None, None, "path is shortest")],
)
def test_the_bend_where_the_path_is_shortest(
    radius: Entries | None, ok: bool | None, word: str
) -> None:
    movement = {**moved(12, 8), "tightest_radius": radius}
    found = check("bend radius at the shortest path", mounts="soft", movement=movement)
    assert found.ok is ok
    assert word in found.detail


def test_an_exhaust_that_the_photos_show_nearer_is_a_contradiction() -> None:
    # Entered 120 mm; the photos of the route say 60 ± 5 mm.
    shown = {"name": "hot exhaust", "distance": q(60, 2.5)}
    found = check("clearance through full movement", route={**ROUTE, "clearances": [shown]})
    assert found.ok is None
    assert "which is true" in found.detail
    far = {**shown, "distance": q(130, 2.5)}
    assert check("clearance through full movement", route={**ROUTE, "clearances": [far]}).ok is True


def test_a_straight_run_needs_no_radius() -> None:
    straight = {"length": q(1000, 2), "turning": q(4, 1, "deg"), "bends": []}
    assert check("bend radius", route=straight).ok is True
    assert check("straight behind end A", route=straight).ok is True


def test_a_typed_length_leaves_the_bends_open() -> None:
    typed = {"length": q(1000, 2)}
    assert check("bend radius", route=typed).ok is None
    assert check("straight behind end B", route=typed).ok is None


@pytest.mark.parametrize(
    ("at_mm", "ok"),
    [
        # By hand: half the bend's arc is 120 x pi / 4 = 94.25; the socket reaches 30 + 25 = 55;
        # 1.5 x 18 = 27 must stay straight: the bend's middle lies beyond 176.25 mm.
        (400, True),
        (181, True),
        (171, False),
        (176, None),
    ],
)
def test_no_bend_right_behind_a_socket(at_mm: float, ok: bool | None) -> None:
    bend = {"at": q(at_mm, 1), "radius": q(120, 0.1), "angle": q(90, 1, "deg")}
    mirrored = {**bend, "at": q(1000 - at_mm, 1)}
    assert check("straight behind end A", route={**ROUTE, "bends": [bend]}).ok is ok
    assert check("straight behind end B", route={**ROUTE, "bends": [mirrored]}).ok is ok


@pytest.mark.parametrize(
    ("change", "ok"),
    [
        ({}, True),
        ({"moving_mm": 24}, False),
        ({"exhaust_mm": 80}, False),
        ({"exhaust_mm": 80, "exhaust_shielded": True}, True),
        ({"full_travel": False}, None),
        ({"length_change_tried": False}, None),
        ({"exhaust_mm": None}, None),
    ],
)
def test_clearance(change: Entries, ok: bool | None) -> None:
    assert check("clearance through full movement", clearance={**SEEN, **change}).ok is ok


def test_nobody_looked() -> None:
    found = check("clearance through full movement", clearance=None)
    assert found.ok is None
    assert "both locks" in found.detail


def moved(longer_mm: float, shorter_mm: float) -> Entries:
    return {"longer": q(longer_mm, 0.1), "shorter": q(shorter_mm, 0.1), "by": "F."}


@pytest.mark.parametrize(
    ("mounts", "movement", "ok", "word"),
    [
        (None, moved(12, 8), None, "engine mounts"),
        ("one part", None, True, "one part"),
        ("one part", moved(12, 8), None, "which is true"),
        ("solid", None, True, "Solid"),
        ("solid", moved(12, 8), True, "12 mm longer"),
        ("soft", None, None, "levered"),
        ("soft", moved(0, 0), None, "levered"),  # an engine on soft mounts that never rocks
        ("soft", moved(12, 8), True, "8 mm shorter"),
        ("linkage", moved(0, 0), None, "lock to lock"),
        ("linkage", moved(0, 20), True, "20 mm shorter"),
    ],
)
def test_what_lies_between_the_ends_says_whether_they_move(
    mounts: str | None, movement: Entries | None, ok: bool | None, word: str
) -> None:
    found = check("movement", mounts=mounts, movement=movement)
    assert found.ok is ok
    assert word in found.detail
