"""Choosing between 55 and 60 degrees."""

import pytest

from photomeasure.answers.angle import nominal_angle
from photomeasure.quantities import Quantity, Source, components, measured


def _angle(value_deg: float, u_deg: float) -> Quantity:
    return Quantity.normal(measured(value_deg, {Source("flanks", "x", "photo", "k"): u_deg}), "deg")


@pytest.mark.parametrize(
    ("value_deg", "u_deg", "nominal_deg"),
    [(60.4, 1.3, 60.0), (59.0, 1.3, 60.0), (54.0, 1.5, 55.0), (55.9, 1.3, 55.0)],
)
def test_a_clear_angle_is_named(value_deg: float, u_deg: float, nominal_deg: float) -> None:
    named = nominal_angle(_angle(value_deg, u_deg))
    assert named is not None
    assert named.value == nominal_deg
    assert 0.3 < named.u < 1.5
    (part,) = components(named.number).values()
    assert abs(part) == pytest.approx(named.u)


@pytest.mark.parametrize(("value_deg", "u_deg"), [(57.5, 1.3), (58.0, 2.5), (59.0, 4.0)])
def test_an_angle_between_is_left_open(value_deg: float, u_deg: float) -> None:
    assert nominal_angle(_angle(value_deg, u_deg)) is None
    assert nominal_angle(None) is None


def test_a_surer_reading_never_widens_the_band() -> None:
    us = [named.u for u in (0.8, 1.2, 1.6, 2.0) if (named := nominal_angle(_angle(60.0, u)))]
    assert len(us) == 4
    assert us == sorted(us)
