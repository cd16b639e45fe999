"""Units, uncertain numbers and their named sources.

A measured value is a `uncertainties` number built from standard-normal variables, one for each
physical source. A variable is the same wherever the source's id and key are the same, so two
values that share a print scale stay correlated, also after they were stored and read back.
"""

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache, lru_cache
from typing import Literal, Self

import numpy as np
import pint
from numpy.typing import NDArray
from scipy.special import ndtr
from uncertainties import UFloat, ufloat
from uncertainties.core import AffineScalarFunc, LinearCombination

from photomeasure.errors import UsageError

__all__ = [
    "Normal",
    "Quantity",
    "Source",
    "components",
    "measured",
    "mixture_quantile",
    "mixtures",
    "parse_length_mm",
    "parse_pitch_mm",
    "parse_value",
]

COVERAGE_95 = 1.959963984540054  # normal quantile, central 95 %
HALVINGS = 60

Scope = Literal["print", "camera", "photo", "answer"]


@dataclass(frozen=True, slots=True)
class Normal:
    """One part of a mixture: its share, and where it lies in the mixture's standard deviations."""

    share: float
    mean: float
    u: float


@dataclass(frozen=True, slots=True)
class Source:
    """One physical cause of uncertainty, a variable of standard deviation 1.

    Two values share it only if `id` and `key` agree; `scope` says how far it reaches. It is normal
    unless `mixture` says what else it is, about its median.
    """

    id: str
    label: str
    scope: Scope
    key: str
    mixture: tuple[Normal, ...] = field(default=(), compare=False)


@lru_cache(maxsize=100_000)
def _variable(source: Source) -> UFloat:
    return ufloat(0.0, 1.0, tag=source)


def _variable_of(source: Source) -> UFloat:
    """The variable of a source; a stored answer knows its name but not its mixture."""
    variable = _variable(source)
    if source.mixture and not variable.tag.mixture:
        variable.tag = source
    return variable


def measured(value: float, contributions: Mapping[Source, float]) -> UFloat:
    """Build an uncertain number from its signed standard contributions.

    Parameters
    ----------
    value : float [any]
        Best estimate.
    contributions : mapping of Source to float [same unit]
        Change of the value when the source moves by one standard uncertainty.

    Returns
    -------
    UFloat [same unit]
    """
    slopes = {_variable_of(source): float(part) for source, part in contributions.items() if part}
    return AffineScalarFunc(float(value), LinearCombination(slopes))


def components(number: UFloat) -> dict[Source, float]:
    """Signed standard contribution of every source.

    Parameters
    ----------
    number : UFloat [any]

    Returns
    -------
    dict of Source to float [same unit]
        Their squares sum to the variance.
    """
    return {
        variable.tag: derivative * variable.std_dev
        for variable, derivative in number.derivatives.items()
        if isinstance(variable.tag, Source) and derivative
    }


def mixtures(sources: Iterable[Source]) -> list[tuple[float, dict[Source, Normal]]]:
    """Every way in which sources that are no plain normals may fall out.

    Parameters
    ----------
    sources : iterable of Source

    Returns
    -------
    list of (float, dict of Source to Normal)
        The chance of each way, and which part of its mixture each source then is; one way with
        nothing in it where all are normal.
    """
    ways: list[tuple[float, dict[Source, Normal]]] = [(1.0, {})]
    for source in sorted(set(sources), key=lambda one: (one.id, one.key)):
        if source.mixture:
            ways = [
                (chance * part.share, {**way, source: part})
                for chance, way in ways
                for part in source.mixture
            ]
    return ways


def mixture_quantile(
    shares: NDArray[np.float64],
    means: NDArray[np.float64],
    us: NDArray[np.float64],
    probability: float,
) -> float:
    """Quantile of a mixture of normals, by halving.

    Parameters
    ----------
    shares, means, us : (K,) [any]
    probability : float

    Returns
    -------
    float [same]
    """
    low, high = float((means - 9 * us).min()), float((means + 9 * us).max())
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        below = float(shares @ ndtr((middle - means) / us))
        low, high = (middle, high) if below < probability else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """A measured value with the interval that holds it with 95 % probability."""

    number: UFloat
    unit: str
    low: float
    high: float

    @classmethod
    def normal(cls, number: UFloat, unit: str) -> Self:
        """Take the interval from the standard uncertainty, and from mixtures where there are."""
        half = COVERAGE_95 * number.std_dev
        parts = components(number)
        ways = mixtures(parts)
        if not ways[0][1] or not half:
            return cls(number, unit, number.nominal_value - half, number.nominal_value + half)
        plain = sum(part**2 for source, part in parts.items() if not source.mixture)
        spread = [_fallen_out(way, parts, plain) for _, way in ways]
        shares = np.array([chance for chance, _ in ways])
        means = number.nominal_value + np.array([mean for mean, _ in spread])
        us = np.array([u for _, u in spread])
        low, high = (mixture_quantile(shares, means, us, p) for p in (0.025, 0.975))
        return cls(number, unit, low, high)

    @property
    def value(self) -> float:
        """Best estimate (the median)."""
        return float(self.number.nominal_value)

    @property
    def u(self) -> float:
        """Standard uncertainty."""
        return float(self.number.std_dev)

    def as_json(self) -> dict[str, float | str]:
        """Give the contract's form of a quantity."""
        return {
            "value": self.value,
            "u": self.u,
            "low": self.low,
            "high": self.high,
            "unit": self.unit,
        }


def _fallen_out(
    way: Mapping[Source, Normal], parts: Mapping[Source, float], plain: float
) -> tuple[float, float]:
    """Shift and standard deviation of a number if its mixtures fall out in one way."""
    mean = sum(parts[source] * part.mean for source, part in way.items())
    variance = plain + sum((parts[source] * part.u) ** 2 for source, part in way.items())
    return mean, max(math.sqrt(variance), 1e-12)


@cache
def _registry() -> pint.UnitRegistry[float]:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    registry.define("thou = inch / 1000")
    return registry


_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_LENGTH = re.compile(
    rf"^\s*(?:(?P<whole>\d+)[\s-]+)?(?P<number>\d+\s*/\s*\d+|{_NUMBER})\s*(?P<unit>[a-zA-Zµ\"″']+)?\s*$"
)
_UNITS = {"mm", "cm", "m", "in", "inch", "inches", "thou", "mil", "um", "µm", "ft"}
_MARKS = {'"': "in", "″": "in", "mil": "thou"}


def parse_length_mm(text: str) -> float:
    """Read a length with its unit: `15.9mm`, `5/8in`, `1 1/16in`, `.625in`, `40thou`, `15,9 mm`.

    Parameters
    ----------
    text : str

    Returns
    -------
    float [mm]

    Raises
    ------
    UsageError
        If it is no length, has no unit, or is not above zero.
    """
    match = _LENGTH.match(text)
    if match is None:
        raise UsageError(f"'{text}' is not a length.", "Write it like 15.9mm, 5/8in or 40thou.")
    unit = match["unit"]
    if unit is None:
        raise UsageError(f"'{text}' has no unit.", f"Write {text.strip()}mm or {text.strip()}in.")
    unit = _MARKS.get(unit, unit)
    if unit not in _UNITS:
        raise UsageError(f"'{unit}' is not a unit of length.", "Use mm, in or thou.")
    number = _number(match["number"], text)
    if match["whole"]:
        number += _number(match["whole"], text)
    length_mm = float(_registry().Quantity(number, unit).to("mm").magnitude)
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise UsageError(f"'{text}' is not above zero.", "Give the length that was read.")
    return length_mm


def _number(text: str, whole_text: str) -> float:
    try:
        return float(Fraction(text.replace(",", ".").replace(" ", "")))
    except (ValueError, ZeroDivisionError, OverflowError) as error:
        raise UsageError(
            f"'{whole_text}' is not a number.", "Write it like 15.9mm or 5/8in."
        ) from error


_TPI = re.compile(rf"^\s*({_NUMBER})\s*(?:tpi|/in)\s*$", re.IGNORECASE)


def parse_pitch_mm(text: str) -> float:
    """Read a pitch: `1.5mm` or `18tpi`.

    Parameters
    ----------
    text : str

    Returns
    -------
    float [mm]

    Raises
    ------
    UsageError
        If it is neither.
    """
    match = _TPI.match(text)
    if match is None:
        return parse_length_mm(text)
    per_inch = float(match[1].replace(",", "."))
    if not per_inch > 0:
        raise UsageError(f"'{text}' is not a pitch.", "Write it like 1.5mm or 18tpi.")
    return 25.4 / per_inch


_VALUE = re.compile(
    rf"^\s*(?P<sign>[+−-]?)\s*(?:(?P<whole>\d+)[\s-]+)?(?P<number>\d+\s*/\s*\d+|{_NUMBER})"
    r"\s*(?P<unit>[a-zA-Zµ°\"″²³/·]\S*(?:\s\S+)?)?\s*$"
)
_SPOKEN = {
    '"': "in",
    "″": "in",
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "°": "deg",
    "l/min": "L/min",
    "lpm": "L/min",
    "gpm": "gal/min",
    "Nm": "N*m",
    "N·m": "N*m",
    "cSt": "mm^2/s",
    "mm²/s": "mm^2/s",
    "kg/m³": "kg/m^3",
}


def parse_value(text: str, *, bare: str, unit: str) -> float:
    """Read a value of any kind: `1300 psi`, `90 bar`, `-5,5`, `1 1/16 in`, `212 °F`.

    Parameters
    ----------
    text : str
        A decimal comma is fine.
    bare : str
        The unit of a figure that stands alone.
    unit : str
        The unit that is wanted.

    Returns
    -------
    float [unit]

    Raises
    ------
    UsageError
        If it is no figure, or its unit is of another kind.
    """
    match = _VALUE.match(text)
    if match is None:
        raise UsageError(f"'{text.strip()}' is no figure.", f"Write it like 12.5 {bare}.")
    number = _number(match["number"], text) + _number(match["whole"] or "0", text)
    said = match["unit"] or bare
    signed = -number if match["sign"] in ("-", "−") else number
    try:
        given = _registry().Quantity(signed, _SPOKEN.get(said, said))
        value = float(given.to(_SPOKEN.get(unit, unit)).magnitude)
    except (pint.PintError, ValueError, TypeError, AttributeError) as error:
        raise UsageError(f"'{said}' is not understood here.", f"Give it in {bare}.") from error
    if not math.isfinite(value):
        raise UsageError(f"'{text.strip()}' is no figure.", f"Write it like 12.5 {bare}.")
    return value
