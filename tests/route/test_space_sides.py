"""The hose's own sides: where a sight touches it, how they are found, what they do to the curve."""

from dataclasses import replace

import cv2
import numpy as np

from photomeasure.route.space.alone import best_alone, misfit
from photomeasure.route.space.chain import Chain
from photomeasure.route.space.chainfit import Bands, fit_chain
from photomeasure.route.space.model import Points, State, exp, predict, predict_world
from photomeasure.route.space.outline import Stretch, sides_in
from photomeasure.route.space.sides import Sides, shifted_mm, sights
from tests.route.test_space_curve import bands_on, quarter_and_straights

STRAIGHT = Chain(np.array([-120.0, 0.0, 0.0]), np.eye(3), np.zeros((48, 2)))


def state_of(radius_mm: float = 9.0) -> State:
    """One camera 500 mm above a straight hose, a little aslant."""
    turn = np.diag([1.0, -1.0, -1.0])  # looks down
    turn = exp(np.array([[0.3, 0.1, 0.2]]))[0] @ turn
    return State(
        lens=np.array([[3000.0, 1000.0, 750.0, 0.02, 0.0]]),
        turn=turn[None],
        shift=np.array([[0.0, 0.0, 500.0]]),
        thing_turn=np.eye(3)[None],
        thing_shift=np.zeros((1, 3)),
        skew=np.zeros(1),
        bend=np.zeros((1, 2)),
        scale=np.ones((1, 2)),
        radius_mm=radius_mm,
        give=0.5,
        is_band=np.array([True]),
        print_row=np.array([0]),
    )


def picture_of(state: State, light: tuple[int, int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Brightness and hue of the hose: light of one side's ground, hose, other side's ground."""
    at = np.linspace(0.0, STRAIGHT.length_mm, 200)
    seen = sights(state, 0, STRAIGHT, at)
    grey = np.full((6000, 8000), light[0], np.uint8)
    for sign, colour in ((1.0, light[2]), (0.0, light[1])):
        far = 300.0 * sign + seen.half_mm[:, None] * (1 - sign)
        edges = [
            predict_world(state, 0, seen.middles - seen.half_mm[:, None] * seen.across),
            predict_world(state, 0, seen.middles + far * seen.across),
        ]
        around = np.concatenate([edges[0], edges[1][::-1]])
        cv2.fillPoly(grey, [np.round((around + 0.5) * 64 * 4 - 32).astype(np.int32)], colour, 16, 6)
    small = cv2.resize(grey, (2000, 1500), interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small, (0, 0), 0.8), np.full((750, 1000, 2), 128, np.uint8)


def stretch(chain: Chain) -> Stretch:
    return Stretch(chain, (10.0, 230.0), np.array([[100.0, 124.0]]), 5.0)


def aside(chain: Chain, off_mm: float) -> Chain:
    return replace(chain, start_mm=chain.start_mm + np.array([0.0, off_mm, 0.0]))


def test_a_sight_touches_the_hose() -> None:
    state = state_of()
    seen = sights(state, 0, STRAIGHT, np.array([20.0, 120.0, 200.0]))
    eye = -state.turn[0].T @ state.shift[0]
    for sign in (-1.0, 1.0):
        touched = seen.middles + sign * seen.half_mm[:, None] * seen.across
        out = touched - seen.points
        assert np.allclose(np.linalg.norm(out, axis=1), state.bare_radius_mm)
        assert np.allclose(np.sum(out * (touched - eye), axis=1), 0.0, atol=1e-9)


def test_a_dark_hose_is_found_where_it_lies() -> None:
    state = state_of()
    views = picture_of(state, (180, 40, 120))
    found = sides_in(views, 0, state, stretch(aside(STRAIGHT, 2.0)))
    assert len(found.photo) >= 12
    assert not np.any((found.at_mm > 100.0) & (found.at_mm < 124.0))  # under a band
    across = found.off_mm * found.across[:, 1]  # off along y, as far as across the sight
    assert np.allclose(across, -2.0 * found.across[:, 1] ** 2, atol=0.15)


def test_a_hose_without_a_second_side_is_left_alone() -> None:
    state = state_of()
    views = picture_of(state, (180, 40, 40))  # its shade side as dark as the ground
    assert len(sides_in(views, 0, state, stretch(STRAIGHT)).photo) == 0


def test_a_hose_of_its_grounds_brightness_is_found_by_hue() -> None:
    state = state_of()
    grey, _ = picture_of(state, (160, 60, 160))
    hue = np.stack([grey[::2, ::2], 255 - grey[::2, ::2]], axis=2)
    plain = np.full_like(grey, 90)
    assert len(sides_in((plain, hue), 0, state, stretch(STRAIGHT)).photo) >= 12


def test_what_a_photo_says_follows_its_pose() -> None:
    state, at = state_of(), np.array([30.0, 90.0, 150.0])
    seen = sights(state, 0, STRAIGHT, at)
    sides = Sides(
        np.zeros(3, np.int64), at, seen.points, seen.across, np.zeros(3), np.full(3, 0.1)
    )  # fmt: skip
    moved_points = seen.points + 1.5 * seen.across
    assert np.allclose(shifted_mm(state, sides, state, moved_points), -1.5, atol=0.02)
    slid = seen.points + np.array([1.0, 0.0, 0.0])  # along the hose nothing is seen to move
    assert np.allclose(shifted_mm(state, sides, state, slid), 0.0, atol=1e-3)


def _sides_on(curve_points: np.ndarray, chain: Chain) -> Sides:
    """True sides from two directions, every 12 mm between the bands."""
    at = np.arange(30.0, chain.length_mm - 30.0, 12.0)
    here, frames = chain.at(at)
    rows = []
    for k in (1, 2):
        for one, point, frame in zip(at, here, frames, strict=True):
            beside = curve_points - point
            away = np.abs(beside @ frame[0]) + 1e-3 * np.linalg.norm(beside, axis=1)
            rows.append((k, one, point, frame[k], beside[int(away.argmin())] @ frame[k]))
    photo, along, points, across, off = zip(*rows, strict=True)
    return Sides(
        np.array(photo), np.array(along), np.array(points), np.array(across), np.array(off),
        np.full(len(rows), 0.1),
    )  # fmt: skip


def test_sides_hold_a_curve_between_bands_that_are_far_apart() -> None:
    curve = quarter_and_straights(60.0)
    bands = bands_on(curve, 95.0)
    index = [curve.index(at) for at in np.arange(15.0, curve.at_mm[-1] - 10.0, 95.0)]
    true = curve.at_mm[index[-1]] - curve.at_mm[index[0]]
    alone = fit_chain(bands)
    sides = _sides_on(curve.points, alone.chain)
    held = fit_chain(bands, 500.0, sides, alone.chain)
    errors = [abs(fit.at_mm[-1] - fit.at_mm[0] - true) for fit in (alone, held)]
    assert errors[1] < 0.3
    assert errors[1] < 0.5 * errors[0]


def test_a_false_side_hardly_moves_the_curve() -> None:
    curve = quarter_and_straights(80.0)
    bands = bands_on(curve, 45.0)
    alone = fit_chain(bands)
    sides = _sides_on(curve.points, alone.chain)
    off = sides.off_mm.copy()
    off[7] += 4.0  # a rod beside the hose
    true, false = (
        fit_chain(bands, 500.0, one, alone.chain) for one in (sides, replace(sides, off_mm=off))
    )
    here, there = (fit.chain.at(sides.at_mm[[7]])[0][0] for fit in (true, false))
    assert np.linalg.norm(here - there) < 0.3
    assert abs(false.side_residuals[7]) > 10.0


def test_a_curve_over_a_long_gap_does_not_run_away() -> None:
    curve = quarter_and_straights(60.0)
    at = [15.0, 45.0, 75.0, 330.0, 360.0, 390.0, 420.0]
    index = [curve.index(one) for one in at]
    bands = Bands(
        curve.points[index], curve.frames[index, 0], np.zeros((len(at), 6, 6)),
        np.array([0.1, 0.1, 0.005, 0.005]),
    )  # fmt: skip
    fit = fit_chain(bands)
    assert np.all(np.diff(fit.at_mm) > 20.0)
    assert np.abs(fit.residuals).max() < 5.0


def test_a_band_solved_as_its_mirror_image_is_put_right() -> None:
    state = state_of()
    state = replace(
        state,
        lens=np.repeat(state.lens, 2, axis=0),
        turn=np.concatenate([state.turn, exp(np.array([[0.0, 0.5, 0.0]])) @ state.turn]),
        shift=np.repeat(state.shift, 2, axis=0),
        thing_turn=exp(np.array([[0.2, 1.2, 0.1]])),
    )
    nominal = np.array([[x, y] for x in (-6.0, 0.0, 6.0) for y in (-5.0, 0.0, 5.0)])
    photo = np.repeat([0, 1], len(nominal))
    blank = Points(
        photo, np.zeros(len(photo), np.int64), np.tile(nominal, (2, 1)),
        np.zeros((len(photo), 2)), np.full(len(photo), 0.05),
    )  # fmt: skip
    points = replace(blank, px=predict(state, blank, slopes=False)[0])
    leant = exp(np.array([[0.0, -0.45, 0.2]])) @ state.thing_turn
    false = replace(state, thing_turn=leant, thing_shift=np.array([[1.0, -2.0, 3.0]]))
    right = best_alone(false, points, 0)
    assert misfit(right, points) < 1e-3 * misfit(false, points)
    assert right.thing_turn[0][:, 2] @ state.thing_turn[0][:, 2] > np.cos(0.02)
