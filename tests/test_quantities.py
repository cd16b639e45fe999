"""Units, uncertain numbers and their sources, against the GUM's own worked examples."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import UFloat, correlation_matrix, umath

from photomeasure.errors import UsageError
from photomeasure.quantities import (
    Normal,
    Quantity,
    Source,
    components,
    measured,
    parse_length_mm,
    parse_pitch_mm,
)


def _source(name: str, key: str = "one") -> Source:
    return Source(name, name, "answer", key)


def _independent(value: float, name: str, u: float) -> UFloat:
    return measured(value, {_source(name): u})


def test_gum_h1_end_gauge() -> None:
    """JCGM 100:2008, H.1: l = 50.000838 mm, u_c = 32 nm from terms of 25, 9.7, 2.9, 16.6 nm."""
    standard_nm = _independent(50_000_623.0, "standard", 25.0)
    difference_nm = _independent(215.0, "comparison", 9.7)
    expansion = _independent(11.5e-6, "expansion of the standard", 1.2e-6)
    expansion_gap = _independent(0.0, "expansion apart", 0.58e-6)
    temperature = _independent(-0.1, "temperature", 0.41)
    temperature_gap = _independent(0.0, "temperature apart", 0.029)
    length_nm = (
        standard_nm
        + difference_nm
        - standard_nm * (expansion_gap * temperature + expansion * temperature_gap)
    )
    parts = {source.id: abs(part) for source, part in components(length_nm).items()}
    assert length_nm.nominal_value == pytest.approx(50_000_838, abs=0.5)
    assert length_nm.std_dev == pytest.approx(32, abs=0.5)
    assert parts["standard"] == pytest.approx(25, abs=0.5)
    assert parts["comparison"] == pytest.approx(9.7, abs=0.05)
    assert parts["expansion apart"] == pytest.approx(2.9, abs=0.05)
    assert parts["temperature apart"] == pytest.approx(16.6, abs=0.1)  # 16.675 unrounded
    assert "temperature" not in parts  # its slope is zero there
    assert "expansion of the standard" not in parts


def _h2_inputs() -> tuple[UFloat, UFloat, UFloat]:
    """JCGM 100:2008, table H.2: five readings of V [V], I [mA], phi [rad], taken together."""
    readings = np.array(
        [
            [5.007, 19.663, 1.0456],
            [4.994, 19.639, 1.0438],
            [5.005, 19.640, 1.0468],
            [4.990, 19.685, 1.0428],
            [4.999, 19.678, 1.0433],
        ]
    )
    covariance = np.cov(readings, rowvar=False) / len(readings)
    scale = np.sqrt(np.diag(covariance))
    root = scale[:, None] * np.linalg.cholesky(covariance / np.outer(scale, scale))
    sources = [_source(f"readings/{number}") for number in (1, 2, 3)]
    volt, milliampere, phase = (
        measured(mean, dict(zip(sources, row, strict=True)))
        for mean, row in zip(readings.mean(axis=0), root, strict=True)
    )
    return volt, milliampere, phase


def test_gum_h2_correlated_readings() -> None:
    """JCGM 100:2008, tables H.3 and H.4: R, X, Z, their u and their correlations."""
    volt, milliampere, phase = _h2_inputs()
    ohm = 1000 * volt / milliampere
    resistance, reactance = ohm * umath.cos(phase), ohm * umath.sin(phase)
    for number, value, u in [
        (resistance, 127.732, 0.071),
        (reactance, 219.847, 0.295),
        (ohm, 254.260, 0.236),
    ]:
        assert number.nominal_value == pytest.approx(value, abs=0.0005)
        # u(X) is printed as 0.295 where the data give 0.2956: cut, not rounded
        assert number.std_dev == pytest.approx(u, abs=0.001)
    correlation = correlation_matrix([resistance, reactance, ohm])
    assert correlation[0, 1] == pytest.approx(-0.588, abs=0.0005)
    assert correlation[0, 2] == pytest.approx(-0.485, abs=0.0005)
    assert correlation[1, 2] == pytest.approx(0.993, abs=0.0005)


def test_jcgm_101_additive_model() -> None:
    """JCGM 101:2008, 9.2.2, table 2: four N(0, 1) add to u = 2.0, 95 % within -3.92 and 3.92."""
    number = sum((_independent(0.0, f"x{i}", 1.0) for i in range(4)), measured(0.0, {}))
    quantity = Quantity.normal(number, "mm")
    assert quantity.u == pytest.approx(2.0)
    assert (quantity.low, quantity.high) == pytest.approx((-3.92, 3.92), abs=0.005)


def test_one_scale_cancels_in_a_ratio() -> None:
    scale = _source("print scale")
    diameter, pitch = measured(16.0, {scale: 0.16}), measured(1.5, {scale: 0.015})
    assert (diameter / pitch).std_dev == pytest.approx(0.0, abs=1e-12)


def test_equal_id_under_another_key_is_another_variable() -> None:
    one, other = (measured(10.0, {_source("edge", key): 0.1}) for key in ("photo 1", "photo 2"))
    assert (one - other).std_dev == pytest.approx(math.hypot(0.1, 0.1))
    again = measured(10.0, {_source("edge", "photo 1"): 0.1})
    assert (one - again).std_dev == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("15.9mm", 15.9),
        ("15,9 mm", 15.9),
        ("5/8in", 15.875),
        ('5/8"', 15.875),
        ("1 1/16in", 26.9875),
        (".625in", 15.875),
        ("40thou", 1.016),
        ("2cm", 20.0),
        ("1 m", 1000.0),
    ],
)
def test_lengths_are_read_with_their_unit(text: str, length_mm: float) -> None:
    # one inch is 25.4 mm: international yard and pound agreement of 1959
    assert parse_length_mm(text) == pytest.approx(length_mm, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        *("15.9", "mm", "", "5/0in", "-3mm", "0mm", "1e3mm", "3kg", "5//8in", "nan mm", "inf in"),
        "9" * 400 + "mm",
    ],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(UsageError) as refusal:
        parse_length_mm(text)
    assert refusal.value.code == "usage"
    assert refusal.value.remedy


@given(st.floats(min_value=0.01, max_value=5000))
def test_a_printed_length_reads_back(length_mm: float) -> None:
    assert parse_length_mm(f"{length_mm:.6f}mm") == pytest.approx(length_mm, abs=5e-7)


@pytest.mark.parametrize(
    ("text", "pitch_mm"), [("1.5mm", 1.5), ("18tpi", 25.4 / 18), ("11.5 TPI", 25.4 / 11.5)]
)
def test_pitches_are_read(text: str, pitch_mm: float) -> None:
    assert parse_pitch_mm(text) == pytest.approx(pitch_mm, rel=1e-12)


@pytest.mark.parametrize("text", ["0tpi", "18", "-2tpi", "tpi"])
def test_what_is_no_pitch_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_pitch_mm(text)


def test_a_band_follows_its_mixture_as_sampling_does() -> None:
    """JCGM 101: two normals, one far off, and a plain normal on top."""
    parts = (Normal(0.8, 0.3, 0.2), Normal(0.2, -1.8, 0.4))
    odd = Source("odd", "odd", "print", "mixture", parts)
    number = measured(10.0, {odd: 0.5, _source("plain"): 0.1})
    rng, count = np.random.default_rng(0), 400_000
    far = rng.random(count) < 0.2
    odd_draws = np.where(far, rng.normal(-1.8, 0.4, count), rng.normal(0.3, 0.2, count))
    draws = 10 + 0.5 * odd_draws + 0.1 * rng.standard_normal(count)
    band = Quantity.normal(number, "mm")
    assert (band.low, band.high) == pytest.approx(np.quantile(draws, (0.025, 0.975)), abs=0.005)


def test_a_mixture_is_known_by_id_and_key_alone() -> None:
    """A stored answer knows the source's name; it is the same variable with its mixture."""
    stored = Source("scale", "scale", "print", "one print")
    told = Source("scale", "scale", "print", "one print", (Normal(1.0, 0.5, 0.1),))
    first, second = measured(1.0, {stored: 0.1}), measured(2.0, {told: 0.2})
    assert (second - 2 * first).std_dev == pytest.approx(0, abs=1e-12)
    assert Quantity.normal(first, "mm").low > 1.0
