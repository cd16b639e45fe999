"""A check is true, false, or open because something is missing."""

from dataclasses import dataclass

from photomeasure.quantities import COVERAGE_95
from photomeasure.sizing.entries import Measured

__all__ = ["Check", "at_least", "headline", "interval", "missing", "open_count"]


@dataclass(frozen=True, slots=True)
class Check:
    """One hold point: `ok` is None while its data is missing; `detail` says what is."""

    name: str
    ok: bool | None
    detail: str

    def as_json(self) -> dict[str, str | bool | None]:
        """Give the contract's form."""
        return {"name": self.name, "ok": self.ok, "detail": self.detail}


def missing(name: str, *items: str) -> Check:
    """Give an open check that names what it lacks."""
    return Check(name, None, f"Missing: {'; '.join(items)}.")


def interval(reading: Measured) -> tuple[float, float]:
    """Central 95 % interval of an entry, from its quantiles where it has them.

    Parameters
    ----------
    reading : Measured [any]

    Returns
    -------
    tuple of float [same unit]
    """
    half = COVERAGE_95 * reading.u
    low = reading.value - half if reading.low is None else reading.low
    high = reading.value + half if reading.high is None else reading.high
    return low, high


def at_least(name: str, reading: Measured, least: float, words: str) -> Check:
    """Hold a reading against a limit: true only if its whole band lies on the safe side.

    Parameters
    ----------
    name : str
    reading : Measured [any]
    least : float [same unit]
    words : str
        What is compared with what, for the detail.

    Returns
    -------
    Check
        Open where the band straddles the limit.
    """
    low, high = interval(reading)
    found = f"{words}: {reading.value:.0f} mm ({low:.0f} to {high:.0f}), at least {least:.0f} mm"
    if low >= least:
        return Check(name, True, f"{found}.")
    if high < least:
        return Check(name, False, f"{found}: too small.")
    return Check(name, None, f"{found}: too near to call; measure it better or give it room.")


def open_count(checks: tuple[Check, ...]) -> int:
    """Count the checks that are not true."""
    return sum(check.ok is not True for check in checks)


def headline(checks: tuple[Check, ...]) -> str:
    """Say in words whether the hose may be built."""
    count = open_count(checks)
    return f"NOT READY TO BUILD: {count} open" if count else f"All {len(checks)} checks passed"
