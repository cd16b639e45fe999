"""The hand by the lean of crest lines: drawn faces, and the samples with their mirror images."""

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.thread.hand import crest_lean
from photomeasure.thread.hands import (
    LEAN_BY_HEADING,
    LIKELY_STARTS,
    HandSeen,
    heading_odds,
    weighed,
)
from photomeasure.thread.values import Slopes

Face = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
PITCH_MM, RADIUS_MM, HELIX_DEG = 1.5, 8.0, 1.7
SIDES_U = 0.12


def _odds(left_deg: float, right_deg: float, right_u_deg: float = 0.1) -> NDArray[np.float64]:
    """Of headings, where the left side is clear."""
    slopes = Slopes(*np.radians([left_deg, right_deg, 0.1, right_u_deg]))
    return heading_odds(slopes)


def _face(lead_mm: float, heading_rad: float = 0.0, rise: float = 0.0) -> Face:
    """Narrow bright crests of a helix, darker towards one side, with noise."""
    angles = np.radians(np.arange(-66.0, 67.0))
    along = np.arange(0.0, 14.0, 0.075)
    shift = -lead_mm * angles / (2 * np.pi)
    shift = shift + RADIUS_MM * (heading_rad * np.sin(angles) - rise * np.cos(angles))
    phase = 2 * np.pi * (along - shift[:, None]) / PITCH_MM
    shade = 90 + 60 * np.exp(3 * (np.cos(phase) - 1))
    noise = np.random.default_rng(3).normal(0, 6, shade.shape)
    return angles, along, shade * (0.6 + 0.3 * np.sin(angles))[:, None] + noise


@pytest.mark.parametrize("starts", [-3, -1, 1, 3])
@pytest.mark.parametrize("rise", [-0.1, 0.0, 0.2])
def test_the_lean_of_a_drawn_helix_is_its_starts_with_the_hand_as_sign(
    starts: int, rise: float
) -> None:
    lean = crest_lean(*_face(starts * PITCH_MM, rise=rise), PITCH_MM, RADIUS_MM)
    assert lean.pitches_a_turn == pytest.approx(starts, abs=0.11)
    assert lean.agreement > 0.8
    assert lean.rise_rad == pytest.approx(np.arctan(rise), abs=0.012)


def test_mirroring_turns_the_sign_and_nothing_else() -> None:
    angles, along, face = _face(PITCH_MM, heading_rad=0.01)
    there = crest_lean(angles, along, face, PITCH_MM, RADIUS_MM)
    back = crest_lean(angles, along, face[::-1], PITCH_MM, RADIUS_MM)
    assert back.pitches_a_turn == pytest.approx(-there.pitches_a_turn, abs=1e-9)
    assert back.agreement == pytest.approx(there.agreement, abs=1e-9)


@pytest.mark.parametrize("heading_in_helix_angles", [-1.2, -0.5, 0.0, 0.5, 1.2])
@pytest.mark.parametrize("hand", [1, -1])
def test_a_wrong_heading_never_turns_the_hand(hand: int, heading_in_helix_angles: float) -> None:
    heading = heading_in_helix_angles * np.radians(HELIX_DEG)
    lean = crest_lean(*_face(hand * PITCH_MM, heading_rad=-heading), PITCH_MM, RADIUS_MM)
    sides = 0.5 - heading_in_helix_angles / np.pi + hand * 0.03
    off_deg = heading_in_helix_angles * HELIX_DEG
    told = weighed(lean.pitches_a_turn, (sides, SIDES_U), HELIX_DEG, _odds(off_deg, -off_deg))
    right = told.right if hand > 0 else 1 - told.right
    assert right > 0.985


@pytest.mark.parametrize("taper_deg", [0.0, 1.79])
@pytest.mark.parametrize("hand", [1, -1])
def test_a_clear_side_tells_the_heading_where_the_other_is_lost(
    hand: int, taper_deg: float
) -> None:
    heading_deg = -1.2
    lean = hand + LEAN_BY_HEADING * heading_deg / HELIX_DEG
    odds = _odds(taper_deg + heading_deg, taper_deg + heading_deg, 1.0)
    told = weighed(lean, (0.1, np.inf), HELIX_DEG, odds)
    assert told.hand == ("right" if hand > 0 else "left")


def test_where_both_sides_are_lost_a_lean_between_the_hands_tells_none() -> None:
    odds = heading_odds(Slopes(0.0, 0.0, 0.02, 0.02))
    assert weighed(0.0, (0.1, np.inf), HELIX_DEG, odds).hand == "unknown"


@pytest.mark.parametrize("heading_in_helix_angles", [-0.6, 0.3, 0.9])
@pytest.mark.parametrize("hand", [1, -1])
def test_the_lean_tells_the_heading_once_the_hand_is_known(
    hand: int, heading_in_helix_angles: float
) -> None:
    heading = heading_in_helix_angles * np.radians(HELIX_DEG)
    lean = crest_lean(*_face(hand * PITCH_MM, heading_rad=-heading), PITCH_MM, RADIUS_MM)
    told = (lean.pitches_a_turn - hand) / LEAN_BY_HEADING
    assert told == pytest.approx(heading_in_helix_angles, abs=0.15)


@pytest.mark.parametrize("wrong", [0.93, 1.0, 1.08])
def test_the_lines_tell_their_own_spacing_whatever_pitch_is_supposed(wrong: float) -> None:
    lean = crest_lean(*_face(PITCH_MM, rise=0.05), PITCH_MM * wrong, RADIUS_MM)
    assert lean.spacing * wrong == pytest.approx(1.0, abs=0.005)


def test_lines_without_lean_tell_no_hand() -> None:
    lean = crest_lean(*_face(0.0), PITCH_MM, RADIUS_MM)
    told = weighed(lean.pitches_a_turn, (0.5, SIDES_U), HELIX_DEG, _odds(0, 0))
    assert told.hand == "unknown"
    assert told.is_neither
    assert not HandSeen(0.5, 0.01).is_neither  # no lines were seen at all
    assert not weighed(1.0, (0.5, SIDES_U), HELIX_DEG, _odds(0, 0)).is_neither


@pytest.mark.parametrize("hand", [1, -1])
def test_three_starts_are_noted(hand: int) -> None:
    told = weighed(3.0 * hand, (0.5 + 0.09 * hand, SIDES_U), HELIX_DEG, _odds(0, 0))
    assert told.several_starts > LIKELY_STARTS
    assert (told.right if hand > 0 else 1 - told.right) > 0.95
    one = weighed(1.0 * hand, (0.5 + 0.03 * hand, SIDES_U), HELIX_DEG, _odds(0, 0))
    assert one.several_starts < 0.01


def test_the_heading_is_told_though_either_hand_is_left() -> None:
    odds = _odds(-3.0, -3.0 + 1.5, 0.5)
    told = weighed(-0.6, (0.2, np.inf), HELIX_DEG, odds)
    sure = weighed(
        1 - 3.0 * LEAN_BY_HEADING / HELIX_DEG, (0.1, np.inf), HELIX_DEG, _odds(-3.0, 3.0)
    )
    assert sure.hand == "right"
    assert sure.turned_deg == pytest.approx(-3.0, abs=0.1)
    assert sure.turned_u_deg < 0.2
    assert told.turned_u_deg > sure.turned_u_deg
