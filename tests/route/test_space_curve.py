"""The curve through bands: its geometry, its fit and what is measured of it."""

import numpy as np
import pytest

from photomeasure.route.space.chain import Chain, chain_through
from photomeasure.route.space.chainfit import Bands, fit_chain
from photomeasure.route.space.values import Ends, clocking_deg, spans, values
from tests.route.space_scenes import Curve, curve_of, draw_space_scene
from tests.route.space_truth import truth_of

NAN = np.full((2, 3), np.nan)


def quarter_and_straights(radius: float = 80.0) -> Curve:
    """A straight, a quarter turn, a straight, a quarter turn in a plane square to the first."""
    arc = radius * np.pi / 2
    pieces = [[100, 0, 0], [arc, 1 / radius, 0], [100, 0, 0], [arc, 0, 1 / radius], [100, 0, 0]]
    return curve_of(np.array(pieces), 0.0, np.eye(3))


def bands_on(curve: Curve, step_mm: float, rng: np.random.Generator | None = None) -> Bands:
    index = [curve.index(at) for at in np.arange(15.0, curve.at_mm[-1] - 10.0, step_mm)]
    points, ways = curve.points[index], curve.frames[index, 0]
    if rng is not None:
        points = points + rng.normal(0, 0.1, points.shape)
        ways = ways + rng.normal(0, 0.005, ways.shape)
        ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
    return Bands(points, ways, np.zeros((len(index), 6, 6)), np.array([0.1, 0.1, 0.005, 0.005]))


def test_a_chain_of_equal_arcs_is_a_circle() -> None:
    chain = Chain(np.zeros(3), np.eye(3), np.tile([1 / 50, 0.0], (20, 1)))
    points, frames = chain.at(np.linspace(0, chain.length_mm, 101))
    centre = np.array([0.0, 50.0, 0.0])
    assert np.allclose(np.linalg.norm(points - centre, axis=1), 50.0, atol=1e-9)
    assert np.allclose(frames[-1, 0], [np.cos(2.0), np.sin(2.0), 0.0], atol=1e-9)


def test_the_frame_of_a_chain_does_not_turn_about_it() -> None:
    rng = np.random.default_rng(3)
    chain = Chain(np.zeros(3), np.eye(3), rng.normal(0, 0.01, (40, 2)))
    at = np.linspace(0, chain.length_mm, 20001)
    _, frames = chain.at(at)
    twist = np.sum(np.diff(frames[:, 1], axis=0) * frames[:-1, 2], axis=1)
    assert abs(twist.sum()) < 1e-3


def test_feet_of_points_beside_a_chain() -> None:
    rng = np.random.default_rng(5)
    chain = Chain(np.zeros(3), np.eye(3), rng.normal(0, 0.004, (40, 2)))
    at = rng.uniform(10, 190, 30)
    points, frames = chain.at(at)
    beside = points + 6.0 * frames[:, 1]
    assert np.allclose(chain.feet(beside, at + 4.0, 30), at, atol=1e-6)


@pytest.mark.parametrize("step_mm", [30.0, 45.0])
def test_exact_bands_give_length_and_radius(step_mm: float) -> None:
    curve = quarter_and_straights()
    bands = bands_on(curve, step_mm)
    fit = fit_chain(bands)
    ends = Ends(bands.points[[0, -1]], fit.at_mm[[0, -1]], NAN, NAN)
    where = spans(fit.chain, ends, 18.0)
    found = values(fit.chain, ends, where)
    true = np.arange(15.0, curve.at_mm[-1] - 10.0, step_mm)
    assert found.length_mm == pytest.approx(true[-1] - true[0], abs=0.4)
    assert len(found.bends) == 2
    assert found.tightest_mm == pytest.approx(80.0, rel=0.06)
    for _, radius, angle in found.bends:
        assert radius == pytest.approx(80.0, rel=0.06)
        assert angle == pytest.approx(90.0, abs=3.0)


def test_noise_makes_a_route_neither_longer_nor_shorter() -> None:
    curve = quarter_and_straights()
    errors = []
    for seed in range(8):
        bands = bands_on(curve, 45.0, np.random.default_rng(seed))
        fit = fit_chain(bands)
        count = len(bands.points)
        errors.append(fit.at_mm[-1] - fit.at_mm[0] - 45.0 * (count - 1))
    assert abs(np.mean(errors)) < 0.25
    assert np.std(errors) < 0.6


def test_the_gain_is_how_the_fit_moves() -> None:
    bands = bands_on(quarter_and_straights(), 45.0)
    fit = fit_chain(bands)
    moved = bands.points.copy()
    moved[3] += 0.05 * fit.frames[3, 1]
    again = fit_chain(Bands(moved, bands.ways, bands.covariance, bands.wrap))
    here = again.chain.at(np.array([again.at_mm[3]]))[0][0] - fit.chain.at(fit.at_mm[[3]])[0][0]
    step = fit.gain[:, 4 * 3] * 0.05
    assert np.isfinite(step).all()
    assert 0.0 < here @ fit.frames[3, 1] < 0.06


def test_clocking_is_counter_clockwise_positive_along_the_hose() -> None:
    way, up = np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
    frames = np.stack([np.stack([way, [0, 1.0, 0], up])] * 2)
    for degrees in (-170.0, -30.0, 0.0, 45.0, 120.0):
        # looking along +x with z up, y points left: counter-clockwise goes from z towards y
        turned = np.deg2rad(degrees)
        end = np.array([0.0, np.sin(turned), np.cos(turned)])
        assert clocking_deg(up, end, frames) == pytest.approx(degrees)
    assert clocking_deg(way, up, frames) is None
    assert clocking_deg(NAN[0], up, frames) is None


def test_clocking_and_length_as_the_bars_define_them() -> None:
    """Against the formula of the accuracy bars, by another integration of another curve."""
    for seed in (11, 12, 13):
        scene = draw_space_scene(seed)
        truth = truth_of(scene)
        index = [scene.curve.index(band.at_mm) for band in scene.bands]
        bands = Bands(
            scene.curve.points[index], scene.curve.frames[index, 0],
            np.zeros((len(index), 6, 6)), np.array([0.1, 0.1, 0.005, 0.005]),
        )  # fmt: skip
        fit = fit_chain(bands)
        first, last = scene.ends
        named = {card.name: card.pose for card in scene.cards}
        axes = np.array([named[name][:3, 2] for name in ("start", "end")])
        middles = np.array([named[name][:3, 3] for name in ("start", "end")])
        ends = Ends(scene.curve.points[[first, last]], fit.at_mm[[0, -1]], axes, middles)
        found = values(fit.chain, ends, spans(fit.chain, ends, scene.od_mm))
        assert found.length_mm == pytest.approx(truth["length"], abs=1.0)
        if truth["clocking"] is not None:
            assert found.clocking_deg == pytest.approx(truth["clocking"], abs=1.5)


def test_a_first_chain_passes_near_its_points() -> None:
    bands = bands_on(quarter_and_straights(), 45.0)
    chain, first = chain_through(bands.points, bands.ways, 20.0, 20.0)
    near = np.asarray(20.0 + 45.0 * np.arange(len(bands.points)), dtype=np.float64)
    assert np.abs(first - near).max() < 5.0
    assert np.linalg.norm(chain.at(first)[0] - bands.points, axis=1).max() < 3.0
