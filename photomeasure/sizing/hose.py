"""Does the hose carry its line? Checks against the hose's own data sheet.

Sizes, radius and pressures are entries read from its data sheet, or what the standard printed on
the hose promises; a check whose entry is missing stays open and names it.
"""

import math
import re
from collections.abc import Callable, Iterator

from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.connection import Chain, Connection
from photomeasure.sizing.entries import EndEntry, HoseEntry, JobEntries, LineEntry
from photomeasure.sizing.hose_class import duty_of
from photomeasure.sizing.materials import PLANNED_FLUID, kind_of_fluid, most_c, suit_of

__all__ = ["flow_speed_m_per_s", "hose_checks", "is_ptfe", "peak_pressure_mpa"]

_BURST_FACTOR = 4.0  # four to one, the common design factor of hydraulic hose: common practice
_FEED_SPEED_M_PER_S = 1.2  # suction line: common practice, no source
_IN_SCOPE = ("steering", "hydraulic")
_SEALS = ("O-ring", "washer")
_BEYOND_THE_VALVE = ("return", "feed")
_BULK_YEARS = 4.0  # a German guideline, from memory; others allow more


def flow_speed_m_per_s(flow_l_per_min: float, bore_mm: float) -> float:
    """Mean speed of the fluid in a round bore.

    Parameters
    ----------
    flow_l_per_min : float [L/min]
    bore_mm : float [mm]

    Returns
    -------
    float [m/s]
    """
    return flow_l_per_min / 60_000 / (math.pi / 4 * (bore_mm / 1000) ** 2)


def peak_pressure_mpa(line: LineEntry) -> float | None:
    """Highest pressure that the line sees: the peak if known, else the valve that limits it.

    Parameters
    ----------
    line : LineEntry

    Returns
    -------
    float [MPa] or None
        None while the valve that limits this line is not known.

    Notes
    -----
    A return and a feed line lie beyond the valve: they see their own peak, which must be entered.
    """
    if line.kind in _BEYOND_THE_VALVE:
        return line.peak_pressure_mpa
    needed = [line.relief_pressure_mpa]
    if line.kind == "cylinder":
        needed.append(line.shock_pressure_mpa)
    known = [value for value in needed if value is not None]
    if len(known) < len(needed):
        return None
    return max([*known, line.peak_pressure_mpa or 0.0])


def is_ptfe(hose: HoseEntry) -> bool:
    """Whether the hose has a liner of PTFE, which is made up in its own way."""
    return "ptfe" in f"{hose.liner} {hose.kind} {hose.standard}".casefold()


def hose_checks(job: JobEntries, connection: Connection | None = None) -> tuple[Check, ...]:
    """All checks of the hose against its line and its ends.

    Parameters
    ----------
    job : JobEntries
    connection : Connection or None
        Tells which ends have an adapter and a seal; without it each is taken to have both.

    Returns
    -------
    tuple of Check
    """
    return (
        _system(job.line),
        _line_kind(job.line, job.hose),
        _relief(job.line),
        *(
            _tested_pair(end, letter, job.hose.dash)
            for end, letter in zip(job.ends, "AB", strict=False)
        ),
        _rating(job, connection),
        _burst(job.hose),
        _temperature(job, connection),
        _fluid(job, connection),
        _age(job),
    )


def _joined(
    job: JobEntries, connection: Connection | None
) -> Iterator[tuple[str, EndEntry, Chain | None]]:
    """Give letter, entries and chain of each end."""
    chains: tuple[Chain | None, ...] = (None, None) if connection is None else connection.chains
    yield from zip("AB", job.ends, chains, strict=False)


def _sealed(job: JobEntries, connection: Connection | None) -> Iterator[tuple[str, EndEntry]]:
    """Give the ends of which a joint has a seal that can swell or bake."""
    for letter, end, chain in _joined(job, connection):
        if chain is None or any(joint.seat.seal in _SEALS for joint in chain.joints):
            yield letter, end


def _system(line: LineEntry) -> Check:
    name = "system"
    if line.system is None:
        return missing(name, "what the line belongs to (power steering or hydraulics?)")
    if not any(word in line.system.casefold() for word in _IN_SCOPE):
        return missing(name, f"whether '{line.system}' is mineral-oil steering or hydraulics")
    return Check(name, True, f"{line.system}, as entered.")


def _line_kind(line: LineEntry, hose: HoseEntry) -> Check:
    name = "line kind"
    if line.kind is None:
        return missing(name, "whether this is a pressure, return, feed or cylinder line")
    if line.kind == "feed":
        return _feed(name, line, hose)
    if line.kind == "return":
        return _return(name, line, hose)
    if duty_of(hose) == "return":
        return Check(name, False, f"{hose.standard} is written for return lines only.")
    return Check(name, True, f"A {line.kind} line: crimped or screwed ends only, no clamps.")


def _feed(name: str, line: LineEntry, hose: HoseEntry) -> Check:
    if hose.suction_rated is None or line.flow_l_per_min is None or hose.inside_diameter_mm is None:
        return missing(name, "suction rating, pump flow and bore, for a feed line")
    speed = flow_speed_m_per_s(line.flow_l_per_min, hose.inside_diameter_mm)
    fine = hose.suction_rated and speed <= _FEED_SPEED_M_PER_S
    rated = "suction-rated" if hose.suction_rated else "not suction-rated"
    usual = f"(common practice: up to {_FEED_SPEED_M_PER_S:g} m/s)"
    return Check(name, fine, f"Feed line, {rated}, {speed:.2f} m/s {usual}.")


def _return(name: str, line: LineEntry, hose: HoseEntry) -> Check:
    if hose.inside_diameter_mm is None or line.pressure_line_bore_mm is None:
        return missing(name, "bore of this hose and of the pressure line, for a return line")
    fine = hose.inside_diameter_mm >= line.pressure_line_bore_mm
    bores = f"{hose.inside_diameter_mm:g} mm against {line.pressure_line_bore_mm:g} mm"
    return Check(name, fine, f"Return line, bore not below the pressure line's: {bores}.")


def _relief(line: LineEntry) -> Check:
    name = "relief pressure"
    if line.relief_pressure_mpa is None:
        return missing(name, "relief pressure, read off pump, manual or gauge")
    if line.relief_by is None:
        return missing(name, "who says so, or where the relief pressure was read")
    if line.kind == "cylinder" and line.shock_pressure_mpa is None:
        return missing(name, "the shock valves' setting: a cylinder line sees more than the relief")
    shock = line.shock_pressure_mpa
    if line.kind == "cylinder" and shock is not None and shock < line.relief_pressure_mpa:
        words = f"shock valves {shock:g} MPa, relief {line.relief_pressure_mpa:g} MPa"
        return missing(name, f"which is true: {words} (shock valves stand above the relief)")
    return Check(name, True, f"{line.relief_pressure_mpa:g} MPa ({line.relief_by}).")


_DASHES = re.compile(r"(?<![\w.])-(\d{1,2})\b")  # a size as people write it: -6

_SAID_OF_AN_END: tuple[tuple[str, Callable[[EndEntry], bool]], ...] = (
    (
        "the pressure for which the end maker states it",
        lambda end: end.fits_hose is not None and end.fits_hose.pressure_mpa is not None,
    ),
    ("whether the end is crimped or screwed together", lambda end: end.made is not None),
    ("whether the end is straight, 45° or 90°", lambda end: "end" in end.model_fields_set),
)


def _tested_pair(end: EndEntry, letter: str, dash: int | None) -> Check:
    name = f"end {letter} made for this hose"
    if end.fits_hose is None:
        return missing(name, "the end maker's statement that this end fits this hose type and dash")
    sizes = [int(size) for size in _DASHES.findall(end.fits_hose.statement)]
    if sizes and dash is not None and dash not in sizes:
        return missing(name, f"which is true: an end for -{sizes[0]} or a hose of -{dash}")
    lacks = [words for words, is_said in _SAID_OF_AN_END if not is_said(end)]
    if lacks:
        return missing(name, *lacks)
    stated = f"{end.fits_hose.statement}, {end.fits_hose.pressure_mpa or 0:g} MPa"
    return Check(name, True, f"{stated} ({end.fits_hose.by}).")


def _hose_rating(line: LineEntry, hose: HoseEntry) -> tuple[float | None, str]:
    """Give the hose's working pressure at the hottest temperature, or what is missing for it."""
    if hose.working_pressure_mpa is None:
        return None, "the hose's working pressure"
    if line.hottest_c is None or hose.working_pressure_to_c is None:
        return None, "the temperature up to which the working pressure holds, and the hottest here"
    if line.hottest_c <= hose.working_pressure_to_c:
        return hose.working_pressure_mpa, ""
    if hose.working_pressure_hot_mpa is None:
        return None, f"the hose's working pressure at {line.hottest_c:g} °C"
    return min(hose.working_pressure_hot_mpa, hose.working_pressure_mpa), ""


def _parts_mpa(
    job: JobEntries, connection: Connection | None, hose_mpa: float | None
) -> dict[str, float | None]:
    """Give the rating of every part of the line; None is what nobody entered."""
    parts = {"hose": hose_mpa}
    for letter, end, chain in _joined(job, connection):
        parts[f"end {letter}"] = end.fits_hose.pressure_mpa if end.fits_hose else None
        if chain is None or chain.adapters:
            parts[f"adapters at {letter}"] = _adapters_mpa(end, chain)
    return parts


def _adapters_mpa(end: EndEntry, chain: Chain | None) -> float | None:
    """Give the weakest of what was entered and what the shelf says of each adapter."""
    told = [] if chain is None else [part.pressure_mpa for part in chain.adapters]
    known = [value for value in (end.adapter_pressure_mpa, *told) if value is not None]
    if end.adapter_pressure_mpa is None and (not told or None in told):
        return None
    return min(known)


def _rating(job: JobEntries, connection: Connection | None) -> Check:
    name = "line rating"
    peak = peak_pressure_mpa(job.line)
    hose, hose_lacks = _hose_rating(job.line, job.hose)
    parts = _parts_mpa(job, connection, hose)
    lacks = [f"the rating of {part}" for part, value in parts.items() if value is None]
    lacks = [hose_lacks if hose_lacks and item == "the rating of hose" else item for item in lacks]
    known = {part: value for part, value in parts.items() if value is not None}
    weakest = min(known, key=lambda part: known[part], default=None)
    if peak is not None and weakest is not None and known[weakest] < peak:
        short = f"{weakest} carries {known[weakest]:g} MPa, the line sees {peak:g} MPa"
        return Check(name, False, f"Too weak: {short}.")
    if peak is None:
        lacks.insert(0, f"the highest pressure that {_this_line(job.line)} sees")
    if lacks or weakest is None or peak is None:
        return missing(name, *lacks)
    return Check(name, True, f"Weakest: {weakest}, {known[weakest]:g} MPa; line {peak:g} MPa.")


def _this_line(line: LineEntry) -> str:
    if line.kind not in _BEYOND_THE_VALVE:
        return "the line"
    return f"the {line.kind} line itself (cold and fast, by gauge or manual, not the relief)"


def _burst(hose: HoseEntry) -> Check:
    name = "burst four to one"
    if hose.burst_pressure_mpa is None or hose.working_pressure_mpa is None:
        return missing(name, "burst and working pressure from the hose's data sheet")
    least_mpa = _BURST_FACTOR * hose.working_pressure_mpa
    words = f"Burst {hose.burst_pressure_mpa:g} MPa against 4 × {hose.working_pressure_mpa:g} MPa."
    return Check(name, hose.burst_pressure_mpa >= least_mpa, words)


def _temperature(job: JobEntries, connection: Connection | None) -> Check:
    name = "temperature"
    parts = {"hose": job.hose.temperature_max_c}
    for letter, end in _sealed(job, connection):
        parts[f"O-rings at {letter}"] = most_c(end.seal_material, end.seal_max_c)
    hottest = job.line.hottest_c
    known = {part: value for part, value in parts.items() if value is not None}
    weakest = min(known, key=lambda part: known[part], default=None)
    if hottest is not None and weakest is not None and hottest > known[weakest]:
        words = f"{weakest}: {known[weakest]:g} °C allowed, {hottest:g} °C here"
        return Check(name, False, f"Too hot for the {words}.")
    lacks = [f"highest temperature of the {part}" for part, most in parts.items() if most is None]
    if hottest is None or job.line.hottest_by is None:
        lacks.insert(0, "the hottest the hose gets, and who says so")
    if lacks or weakest is None:
        return missing(name, *lacks)
    return Check(name, True, f"{hottest:g} °C here, {known[weakest]:g} °C allowed ({weakest}).")


def _fluid(job: JobEntries, connection: Connection | None) -> Check:
    name, fluid = "fluid", job.line.fluid
    if fluid is None or job.line.fluid_by is None:
        return missing(
            name, "the fluid, from cap or manual (never from its colour), and who read it"
        )
    kind = kind_of_fluid(fluid)
    if kind is None:
        say = f"if its own sheet says so, write: mineral oil, {fluid}"
        return missing(name, f"whether '{fluid}' is a mineral oil ({say})")
    if kind != PLANNED_FLUID:
        return Check(name, False, f"{fluid} is no {PLANNED_FLUID}: stop and see a specialist.")
    if job.hose.fluids is not None and kind not in map(kind_of_fluid, job.hose.fluids):
        return Check(name, False, f"The hose's data sheet does not name {fluid}.")
    return _what_the_oil_meets(name, fluid, job, connection)


def _what_the_oil_meets(
    name: str, fluid: str, job: JobEntries, connection: Connection | None
) -> Check:
    """Check liner and seals, each by a row of its own: an unknown material is no good one."""
    materials = {"liner": job.hose.liner}
    for letter, end in _sealed(job, connection):
        materials[f"O-rings at {letter}"] = end.seal_material
    lacks = [] if job.hose.fluids else ["the fluids that the hose's data sheet names"]
    for part, material in materials.items():
        suit = suit_of(material or "", PLANNED_FLUID)
        if suit is not None and not suit.suits:
            return Check(name, False, f"{material} ({part}) does not go with {fluid}.")
        if not material:
            lacks.append(f"material of the {part}")
        elif suit is None:
            lacks.append(f"whether {material} ({part}) stands {fluid}")
    if lacks:
        return missing(name, *lacks)
    return Check(name, True, f"{fluid} ({job.line.fluid_by}): hose and O-rings stand it.")


def _years_between(made_on: str, build_date: str) -> float:
    made_year, made_month = (int(part) for part in made_on.split("-")[:2])
    year, month = (int(part) for part in build_date.split("-")[:2])
    if not (1 <= made_month <= 12 and 1 <= month <= 12):
        raise ValueError("no such month")
    return (year - made_year) + (month - made_month) / 12


def _age(job: JobEntries) -> Check:
    name = "hose age"
    if job.hose.second_hand:
        return Check(name, False, "A second-hand pressure hose is never used.")
    if job.hose.second_hand is None or job.hose.made_on is None or job.build_date is None:
        return missing(
            name, "whether the hose is new, its date of making (YYYY-MM), the build date"
        )
    try:
        years = _years_between(job.hose.made_on, job.build_date)
    except ValueError:
        return missing(name, "dates written YYYY-MM")
    if years < 0:
        return missing(name, f"which is true: made {job.hose.made_on}, built {job.build_date}")
    words = f"{years:.1f} years old when built (a German guideline says up to 4; others allow more)"
    return Check(name, years <= _BULK_YEARS, f"{words}.")
