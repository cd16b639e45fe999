"""The curve that light draws round the wall, and what is known of it."""

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.port.light import curve_terms, known_curve, lit_rad, spill_of, wave_of
from photomeasure.port.points import CrestPoints

SIDES = np.radians(np.tile(np.arange(-80.0, 81.0, 4.0), 6))
TURNS = np.repeat(np.arange(6), 41)
PITCH_PX = -14.0 * np.cos(SIDES)  # a line a pitch deeper lies that much farther in


def _points(parts: NDArray[np.int64] | None = None) -> CrestPoints:
    none = np.zeros(len(SIDES))
    stretches = np.zeros(len(SIDES), int) if parts is None else parts
    return CrestPoints(
        np.zeros((len(SIDES), 2)), TURNS, stretches, SIDES, none + 1, none, np.ones(6), 0.0
    )


def test_a_rounded_crest_bends_more_than_a_sharp_one() -> None:
    sharp, rounded = known_curve(1.5, False), known_curve(25.4 / 19, False)
    assert rounded.middle[3] < sharp.middle[3] <= 0  # at the sides seen less deep
    assert known_curve(25.4 / 11, True).middle[3] < known_curve(25.4 / 11.5, True).middle[3]


def test_light_shifts_edges_along_the_wall_so_that_the_sides_tell_the_bore() -> None:
    terms = curve_terms(np.radians(60), _points(), PITCH_PX)
    at_60, at_80 = (np.isclose(SIDES, np.radians(side)) for side in (60, 80))
    assert terms[at_60, 3] == pytest.approx(PITCH_PX[at_60])  # the bend is one at 60 degrees
    assert np.abs(terms[at_80, 7:].sum(axis=1)).max() < 0.2 * np.abs(PITCH_PX).max()
    assert terms[:, 0] == pytest.approx(np.ones(len(SIDES)))  # but for an edge's own place


def test_hats_add_up_to_any_shift_and_what_changes_with_depth_does_to_either_end() -> None:
    terms = curve_terms(np.radians(60), _points(), PITCH_PX)
    assert terms[:, 7:].sum(axis=1) == pytest.approx(PITCH_PX)
    first, last = terms[TURNS == 0], terms[TURNS == 5]
    assert first[:, 4] == pytest.approx(last[:, 4])
    assert first[:, 6] == pytest.approx(-last[:, 6])


def test_a_stretch_between_jumps_has_a_shift_of_its_own() -> None:
    parts = (np.radians(30) < SIDES).astype(int) + (np.radians(70) < SIDES)
    points = _points(parts)
    assert set(points.other_parts.tolist()) == {1, 2}  # of the three the first is the longest
    terms = curve_terms(np.radians(60), points, PITCH_PX)
    curve = known_curve(1.5, False, steps=2)
    assert terms.shape[1] == len(curve.middle)
    column = 7 + 9 + points.other_parts.tolist().index(1)
    assert terms[:, column] == pytest.approx(np.where(parts == 1, PITCH_PX, 0))


def test_an_edge_is_seen_the_farther_out_the_more_the_picture_is_blurred() -> None:
    sharp, soft = known_curve(1.5, False, blur_px=0.6), known_curve(1.5, False, blur_px=1.2)
    assert soft.middle[0] == pytest.approx(2 * sharp.middle[0])
    assert 0.3 < sharp.middle[0] < 0.6


def test_only_bright_light_spills_over() -> None:
    assert spill_of(np.array([0.3, 1.0])).tolist() == [0.0, 1.0]
    assert 0 < spill_of(np.array([0.9]))[0] < 0.5


def test_a_wave_that_all_turns_share_is_found_among_scatter() -> None:
    rng = np.random.default_rng(1)
    wave = 0.5 * np.sin(3 * SIDES)
    scatter = rng.normal(0, 0.2, len(SIDES))
    even = np.ones(len(SIDES))
    assert wave_of(SIDES, wave + scatter, even) == pytest.approx(np.std(wave), abs=0.06)
    assert wave_of(SIDES, scatter, even) < 0.12


def test_light_that_waves_is_trusted_less() -> None:
    curve = known_curve(1.5, False)
    assert curve.stretch(0.0) == 1
    assert curve.stretch(0.05) > 3


def test_a_wavy_photo_strains_less_by_the_same_curve_but_pays_for_the_wave() -> None:
    curve = known_curve(1.5, False)
    usual = curve.middle
    assert curve.strain(usual, 0.0) == 0
    assert curve.strain(usual, 0.1) > 1
    far = usual + 6 * curve.u
    assert curve.strain(far, 0.1) < curve.strain(far, 0.0)


def test_light_that_reaches_less_far_bends_as_much_over_what_it_lights() -> None:
    narrow = np.where(np.abs(SIDES) < np.radians(30), 1.0, 0.01)
    lit = lit_rad(SIDES, narrow)
    assert np.radians(25) <= lit < np.radians(32)
    assert lit_rad(SIDES, np.ones(len(SIDES))) == pytest.approx(np.radians(60))
    pitch = 25.4 / 14
    whole, part = known_curve(pitch, False), known_curve(pitch, False, at_rad=lit)
    assert part.u[3] == whole.u[3]  # at a smaller angle: four times the curvature
    assert abs(part.middle[3]) < abs(whole.middle[3]) / 3
