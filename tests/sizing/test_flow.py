"""Speed and pressure drop of the oil, against a reference library of fluid mechanics."""

import pytest

from photomeasure.sizing.entries import HoseEntry, LineEntry, RouteEntry
from photomeasure.sizing.flow import flow_check, friction_factor, pressure_drop_mpa, reynolds
from photomeasure.sizing.hose import flow_speed_m_per_s
from tests.sizing.jobs import q

# fluids 1.3.1, friction.friction_factor(Re, eD=0): computed with that library
FRICTION = [  # Reynolds number, factor
    (500, 0.128),
    (1000, 0.064),
    (1800, 0.035555555555555556),
    (4500, 0.038550824714018425),
    (10_000, 0.030882950353487693),
    (34_000, 0.022806797996649603),
    (100_000, 0.01798977308427384),
    (1_000_000, 0.011645040997991626),
]
# fluids 1.3.1, Reynolds, K_from_f and dP_from_K, eD = 0: computed with that library
DROPS = [  # flow [L/min], bore [mm], viscosity [mm²/s], density [kg/m³], length [mm]; Re; drop [Pa]
    ((12, 9.5, 32, 870, 1000), 837.6575952205019, 27852.546143474337),
    ((12, 9.5, 8, 850, 1000), 3350.6303808820076, 14986.785503691328),
    ((30, 9.5, 8, 850, 800), 8376.57595220502, 57666.84257661325),
    ((30, 25, 46, 880, 600), 553.5824107544187, 1266.6651468811315),
    ((60, 12.7, 10, 860, 2000), 10025.508226261125, 130234.44816679372),
    ((20, 6.3, 12, 860, 500), 5613.9309732590955, 141168.14592695914),
]


@pytest.mark.parametrize(("reynolds_number", "factor"), FRICTION)
def test_friction_factor_of_the_reference_library(reynolds_number: float, factor: float) -> None:
    assert friction_factor(reynolds_number) == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize(("case", "reynolds_number", "drop_pa"), DROPS)
def test_pressure_drop_of_the_reference_library(
    case: tuple[float, float, float, float, float], reynolds_number: float, drop_pa: float
) -> None:
    flow, bore, viscosity, density, length = case
    oil = LineEntry(viscosity_mm2_per_s=viscosity, density_kg_per_m3=density)
    speed = flow_speed_m_per_s(flow, bore)
    assert reynolds(speed, bore, viscosity) == pytest.approx(reynolds_number, rel=1e-9)
    found = pressure_drop_mpa(length, flow, bore, oil)
    assert found == pytest.approx(drop_pa / 1e6, rel=1e-9)


LINE = {
    "kind": "pressure",
    "flow_l_per_min": 12,
    "viscosity_mm2_per_s": 32,
    "density_kg_per_m3": 870,
    "relief_pressure_mpa": 9,
}


@pytest.mark.parametrize(
    ("line", "bore_mm", "ok", "word"),
    [
        ({}, 9.5, True, "0.028 MPa"),  # 27852 Pa for a metre, as above
        ({}, None, None, "bore"),
        ({"flow_l_per_min": None}, 9.5, None, "pump's flow"),
        ({"viscosity_mm2_per_s": None}, 9.5, None, "viscosity"),
        ({"density_kg_per_m3": None}, 9.5, None, "density"),
        ({"kind": None}, 9.5, None, "kind of line"),
        ({"flow_l_per_min": 26}, 9.5, False, "wider hose"),  # by hand: 6.11 m/s
        ({"kind": "return", "flow_l_per_min": 13}, 9.5, False, "3.1 m/s"),  # by hand: 3.06
        ({"viscosity_mm2_per_s": 1200}, 9.5, True, "more than a tenth"),  # 37.5 times 27.9 kPa
    ],
)
def test_flow_check(line: dict[str, object], bore_mm: float | None, ok: object, word: str) -> None:
    route = RouteEntry.model_validate({"length": q(1000, 1)})
    entry = LineEntry.model_validate({**LINE, **line})
    found = flow_check(entry, HoseEntry(inside_diameter_mm=bore_mm), route)
    assert found.ok is ok
    assert word in found.detail


def test_without_a_route_the_drop_is_open() -> None:
    found = flow_check(LineEntry.model_validate(LINE), HoseEntry(inside_diameter_mm=9.5), None)
    assert found.ok is None
    assert "route" in found.detail
