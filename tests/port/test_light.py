"""The curve that light draws round the wall, and what is known of it."""

import numpy as np
import pytest

from photomeasure.port.light import curve_terms, known_curve, lit_rad, spill_of, wave_px

SIDES = np.radians(np.tile(np.arange(-80.0, 81.0, 4.0), 6))
TURNS = np.repeat(np.arange(6.0), 41)


def test_a_rounded_crest_bends_more_than_a_sharp_one() -> None:
    sharp, rounded = known_curve(1.5, False), known_curve(25.4 / 19, False)
    assert rounded.middle_px[1] > sharp.middle_px[1] > 0
    assert known_curve(25.4 / 11, True).middle_px[1] > known_curve(25.4 / 11.5, True).middle_px[1]


def test_hats_add_up_to_any_shift_and_the_bend_is_one_at_sixty_degrees() -> None:
    terms = curve_terms(np.radians(60), SIDES, TURNS, 0 * SIDES)
    assert terms[:, 6:].sum(axis=1) == pytest.approx(np.ones(len(SIDES)))
    assert terms[np.isclose(SIDES, np.radians(60)), 1] == pytest.approx(np.ones(6))
    # what changes with depth changes as much to either end
    first, last = terms[TURNS == 0], terms[TURNS == 5]
    assert first[:, 3] == pytest.approx(last[:, 3])
    assert first[:, 5] == pytest.approx(-last[:, 5])


def test_only_bright_light_spills_over() -> None:
    assert spill_of(np.array([0.3, 1.0])).tolist() == [0.0, 1.0]
    assert 0 < spill_of(np.array([0.9]))[0] < 0.5


def test_a_wave_that_all_turns_share_is_found_among_scatter() -> None:
    rng = np.random.default_rng(1)
    wave = 0.5 * np.sin(3 * SIDES)
    scatter = rng.normal(0, 0.2, len(SIDES))
    even = np.ones(len(SIDES))
    assert wave_px(SIDES, wave + scatter, even) == pytest.approx(np.std(wave), abs=0.06)
    assert wave_px(SIDES, scatter, even) < 0.12


def test_light_that_waves_or_spills_is_trusted_less() -> None:
    curve = known_curve(1.5, False)
    assert curve.stretch(0.0, 0.0) == 1
    assert curve.stretch(0.5, 0.0) > 5
    assert curve.stretch(0.0, 0.8) > 2


def test_a_wavy_photo_strains_less_by_the_same_curve_but_pays_for_the_wave() -> None:
    curve = known_curve(1.5, False)
    usual = curve.middle_px
    assert curve.strain(usual, 0.0) == 0
    assert curve.strain(usual, 0.5) > 1
    far = usual + 6 * curve.u_px
    assert curve.strain(far, 0.5) < curve.strain(far, 0.0)


def test_light_that_reaches_less_far_bends_as_much_over_what_it_lights() -> None:
    narrow = np.where(np.abs(SIDES) < np.radians(30), 1.0, 0.01)
    lit = lit_rad(SIDES, narrow)
    assert np.radians(25) <= lit < np.radians(32)
    assert lit_rad(SIDES, np.ones(len(SIDES))) == pytest.approx(np.radians(60))
    whole, part = known_curve(1.5, False), known_curve(1.5, False, lit)
    assert part.u_px[1] == whole.u_px[1]  # at a smaller angle: four times the curvature
    assert part.middle_px[1] < whole.middle_px[1] / 3
