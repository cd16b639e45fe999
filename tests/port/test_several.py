"""Several photos of one port, as readings with known truth."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.errors import NotConnectedError
from photomeasure.port.reading import PortReading, PortTrace, Supposed
from photomeasure.port.several import DIFFER, joined
from photomeasure.quantities import Quantity, Source, measured

BORE, PITCH, DEEP = 16.4, 1.5, 6.0
SCALE = Source("print scale x", "the print's scale", "print", "collar")
SCALE_U = 0.002
OWN_U = {"bore": 0.1, "pitch": 0.012, "taper": 0.12}


def _own(name: str, key: str) -> Source:
    return Source(name, name, "photo", key)


def _size(value: float, key: str, name: str, unit: str = "mm") -> Quantity:
    parts = {SCALE: SCALE_U * value, _own(name, key): OWN_U[name]}
    return Quantity.normal(measured(value, parts), unit)


def _trace(key: str) -> PortTrace:
    none = np.empty((0, 2))
    return PortTrace(key, none, none, (), none, none, np.empty((0, 0), np.uint8), (0.0, 0.0), ())


def _reading(key: str, rng: np.random.Generator, scale: float = 0.0) -> PortReading:
    """One photo's reading of the port, off by its own errors and the common scale's."""
    bore = BORE * (1 + SCALE_U * scale) + rng.normal(0, OWN_U["bore"])
    pitch = PITCH * (1 + SCALE_U * scale) + rng.normal(0, OWN_U["pitch"])
    taper = Quantity.normal(
        measured(rng.normal(0, OWN_U["taper"]), {_own("taper", key): OWN_U["taper"]}), "deg"
    )
    sizes = (_size(bore, key, "bore"), _size(pitch, key, "pitch"))
    parallel = Supposed(0.9, sizes[0], DEEP, sizes[1], taper)
    tilted = Quantity.normal(taper.number + 1.79, "deg")
    tapered = Supposed(0.1, sizes[0], DEEP, sizes[1], tilted)
    return PortReading(
        bore_diameter=sizes[0],
        bore_at_mm=DEEP,
        bore_at_mouth=sizes[0],
        pitch=sizes[1],
        taper_half_angle=taper,
        hand="right",
        hand_evidence=12.0,
        mouth_diameter=None,
        counterbore_diameter=None,
        spot_face_diameter=None,
        housing_chance=0.35,
        thread_depth=None,
        misfit_p=1.0,
        print_is_verified=True,
        traces=(_trace(key),),
        warnings=(),
        left_open=("lean more",),
        piece="collar 24",
        supposed=(parallel, tapered),
    )


def test_two_photos_are_surer_than_one_but_not_of_their_common_scale() -> None:
    rng = np.random.default_rng(1)
    first, second = _reading("a", rng), _reading("b", rng)
    both = joined([first, second], "key")
    chosen = both.supposed[0].bore_diameter
    common = SCALE_U * BORE
    assert chosen.u == pytest.approx(np.hypot(OWN_U["bore"] / np.sqrt(2), common), rel=0.4)
    assert chosen.u > common
    assert len(both.traces) == 2


def test_bands_of_joined_photos_hold_the_truth() -> None:
    rng = np.random.default_rng(2)
    scores = []
    for _ in range(300):
        scale = float(rng.standard_normal())
        pair = [_reading(key, rng, scale) for key in ("a", "b", "c")]
        bore = joined(pair, "key").supposed[0].bore_diameter
        scores.append((bore.value - BORE) / bore.u)
    inside = np.mean(np.abs(scores) < 1.96)
    # widened where the photos differ by chance: never too narrow
    assert 0.92 <= inside <= 0.995
    assert 0.5 < np.mean(np.square(scores)) < 1.15


def test_the_taper_s_odds_multiply() -> None:
    rng = np.random.default_rng(3)
    both = joined([_reading("a", rng), _reading("b", rng)], "key")
    assert both.supposed[0].chance == pytest.approx(0.98, abs=0.001)  # 81 to 1, as far as trusted
    assert both.supposed[0].taper_half_angle.value < 0.9


def test_photos_of_two_ports_contradict_each_other() -> None:
    rng = np.random.default_rng(4)
    first, second = _reading("a", rng), _reading("b", rng)
    apart = measured(2.0, {})
    wide = tuple(
        replace(one, bore_diameter=Quantity.normal(one.bore_diameter.number + apart, "mm"))
        for one in second.supposed
    )
    both = joined([first, replace(second, supposed=wide)], "key")
    assert DIFFER in both.warnings
    assert both.bore_diameter.u > 0.4  # half of the gap between them, about


def test_different_collars_are_not_one_port() -> None:
    rng = np.random.default_rng(5)
    other = replace(_reading("b", rng), piece="collar 30")
    with pytest.raises(NotConnectedError, match="collar 24, collar 30"):
        joined([_reading("a", rng), other], "key")


def test_hands_that_disagree_leave_it_unknown() -> None:
    rng = np.random.default_rng(6)
    left = replace(_reading("b", rng), hand="left", hand_evidence=-9.0)
    assert joined([_reading("a", rng), left], "key").hand == "unknown"
    unsure = replace(left, hand="unknown", hand_evidence=-2.0)
    assert joined([_reading("a", rng), unsure], "key").hand == "right"
    surer = replace(left, hand_evidence=-25.0)
    assert joined([_reading("a", rng), surer], "key").hand == "left"
