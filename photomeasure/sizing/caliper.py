"""Caliper and pitch-gauge readings against each other, the published threads and a photo."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from uncertainties import UFloat

from photomeasure.errors import UsageError
from photomeasure.quantities import Quantity
from photomeasure.sizing.agreement import CheckedReading, all_agree, best_of, checked_readings
from photomeasure.sizing.body import Body
from photomeasure.sizing.evidence import Judged, PhotoValues, Suspect, weigh
from photomeasure.sizing.instruments import Instrument, Kind, Observation, observed
from photomeasure.sizing.judge import QuantityName
from photomeasure.sizing.match import (
    LEAST_MISFIT_P,
    Candidate,
    Prior,
    ThreadReading,
    Verdict,
    candidates_of,
    thread_warnings,
    verdict_of,
)
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.settle import Asked, settle_by
from photomeasure.sizing.zones import Member

__all__ = [
    "CaliperAnswer",
    "CaliperReadings",
    "CheckedReading",
    "Span",
    "Suspect",
    "check_readings",
]

BELIEVED = 0.93  # chance of "no slip" below which the readings do not agree
PROBABLE = 0.5
TOLD = 0.9  # a reading is set aside only if it is this likely that it is the wrong one
TAPER_TOLD_RAD = math.radians(0.9)  # half of 1:16: above it a photo's thread is tapered
COMBINED: Mapping[str, str] = {
    "major": "major_diameter",
    "minor": "minor_diameter",
    "bore": "bore_diameter",
    "pitch": "pitch",
}
EXTERNAL_KINDS: frozenset[Kind] = frozenset({"major", "minor"})
LONGEST_MM = 1e4


@dataclass(frozen=True, slots=True)
class Span:
    """A length over a number of pitches, crest to crest."""

    length_mm: float
    threads: int


@dataclass(frozen=True, slots=True, eq=False)
class CaliperReadings:
    """What was read, each as often as it was read; lengths in mm.

    `major_mm` over the crests and `minor_mm` in the root of a male thread, `bore_mm` of a port,
    `pitch_mm` by a pitch gauge. `photo` is what a saved answer says of the same thread,
    `seen` what somebody saw of its seat. `across_flats_mm` is the width of the hexagon that turns
    it, `mouth_mm` the outer circle of a port's chamfer, `depth_mm` the length of full thread.
    """

    major_mm: tuple[float, ...] = ()
    minor_mm: tuple[float, ...] = ()
    bore_mm: tuple[float, ...] = ()
    pitch_mm: tuple[float, ...] = ()
    spans: tuple[Span, ...] = ()
    jaw_flat_mm: float | None = None
    resolution_mm: float | None = None
    photo: ThreadReading | None = None
    seen: SeatLook | None = None
    across_flats_mm: float | None = None
    mouth_mm: float | None = None
    depth_mm: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class CaliperAnswer:
    """The judgement; `combined` names the values that the agreeing readings give together."""

    agree: bool
    readings: tuple[CheckedReading, ...]
    candidates: tuple[Candidate, ...]
    suspects: tuple[Suspect, ...]
    combined: tuple[tuple[str, Quantity | None], ...]
    verdict: Verdict
    settle_by: str | None
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, object]:
        """Give the contract's answer to `caliper`."""
        return {
            "kind": "caliper",
            "verdict": self.verdict,
            "agree": self.agree,
            "readings": [_reading_json(one) for one in self.readings],
            "candidates": [
                {
                    "designation": one.designation,
                    "family": one.family,
                    "probability": one.probability,
                    "seats": list(one.seats),
                }
                for one in self.candidates
            ],
            "suspects": [
                {
                    "slip": one.slip,
                    "probability": one.probability,
                    "readings": list(one.readings),
                }
                for one in self.suspects
            ],
            "combined": {
                name: None if value is None else value.as_json() for name, value in self.combined
            },
            "settle_by": self.settle_by,
            "warnings": list(self.warnings),
        }


def _reading_json(one: CheckedReading) -> dict[str, object]:
    return {
        "name": one.name,
        "reading": one.reading.as_json(),
        "expected": None if one.expected is None else one.expected.as_json(),
        "score": one.score,
    }


_EVERYDAY = Prior()


def check_readings(readings: CaliperReadings, prior: Prior = _EVERYDAY) -> CaliperAnswer:
    """Judge caliper and pitch-gauge readings.

    Parameters
    ----------
    readings : CaliperReadings
    prior : Prior
        How likely the families of threads are beforehand.

    Returns
    -------
    CaliperAnswer

    Raises
    ------
    UsageError
        If nothing was read, or a reading makes no sense.
    """
    _refuse_nonsense(readings)
    every = tuple(_observations(readings))
    member = _member(readings)
    photo = _photo_of(readings, member)
    checked = checked_readings(every, _by_kind(photo, member))
    instrument = Instrument(readings.resolution_mm, readings.jaw_flat_mm)
    own = tuple(one for one in every if _is_judged(one, member, photo))
    judged = weigh(own, photo, member, instrument, prior)
    agree = all_agree(checked) and judged.chance_of_no_slip >= BELIEVED
    threads = judged.posterior.zones.threads
    misfit_p = judged.misfit_p if agree else 0.0
    verdict = verdict_of(threads, judged.probabilities, misfit_p)
    combined = _combined(every, _by_kind(photo, member), judged, agree=agree)
    return CaliperAnswer(
        agree=agree,
        readings=checked,
        candidates=candidates_of(threads, judged.probabilities),
        suspects=judged.suspects,
        combined=tuple(combined),
        verdict=verdict,
        settle_by=None if verdict == "identified" else _settle_by(judged, member, agree=agree),
        warnings=(
            *_warnings(readings, member, photo, judged),
            *_apart_warnings(checked, agree=agree),
            *thread_warnings(threads, judged.probabilities),
        ),
    )


def _refuse_nonsense(readings: CaliperReadings) -> None:
    lengths = [
        *(*readings.major_mm, *readings.minor_mm, *readings.bore_mm, *readings.pitch_mm),
        *(span.length_mm for span in readings.spans),
    ]
    if not lengths:
        raise UsageError(
            "There is no reading to check.", "Give --major, --bore, --pitch or --span."
        )
    said = (
        *(readings.jaw_flat_mm, readings.resolution_mm),
        *(readings.across_flats_mm, readings.mouth_mm, readings.depth_mm),
    )
    optional = [x for x in said if x is not None]
    for length in (*lengths, *optional):
        if not (math.isfinite(length) and 0 < length < LONGEST_MM):
            raise UsageError(f"{length:g} mm is not a reading.", "Give the length that was read.")
    for span in readings.spans:
        if span.threads < 1:
            raise UsageError(
                f"A span over {span.threads} threads cannot be measured.",
                "Count the pitches between the crests: 1 or more.",
            )


def _observations(readings: CaliperReadings) -> Iterator[Observation]:
    instrument = Instrument(readings.resolution_mm, readings.jaw_flat_mm)
    plain: Mapping[Kind, tuple[float, ...]] = {
        "major": readings.major_mm,
        "minor": readings.minor_mm,
        "bore": readings.bore_mm,
        "pitch": readings.pitch_mm,
    }
    for kind, lengths in plain.items():
        for number, length in enumerate(lengths, start=1):
            yield observed(kind, number, length, instrument)
    for number, span in enumerate(readings.spans, start=1):
        yield observed("span", number, span.length_mm, instrument, turns=span.threads)


def _member(readings: CaliperReadings) -> Member:
    if readings.major_mm or readings.minor_mm:
        return "external"
    if readings.bore_mm:
        return "internal"
    return "external" if readings.photo is None else readings.photo.member


def _photo_of(readings: CaliperReadings, member: Member) -> PhotoValues:
    photo = readings.photo
    body = Body(readings.across_flats_mm, readings.mouth_mm, readings.depth_mm)
    if photo is None or photo.member != member:
        return PhotoValues({}, seen=readings.seen, body=body)
    known = photo.taper_half_angle is not None or photo.diameter_at_mm != 0
    seen = readings.seen or photo.seen
    return PhotoValues(photo.quantities(), photo.diameter_at_mm, known, seen, body)


def _is_tapered(photo: PhotoValues) -> bool:
    taper = photo.numbers.get("taper")
    return taper is not None and float(taper.nominal_value) > TAPER_TOLD_RAD


def _by_kind(photo: PhotoValues, member: Member) -> dict[str, UFloat]:
    """What the photo says of what a caliper reads; a taper's diameters depend on where."""
    names: Mapping[str, QuantityName] = (
        {"major": "diameter", "minor": "minor", "pitch": "pitch"}
        if member == "external"
        else {"bore": "diameter", "pitch": "pitch"}
    )
    if _is_tapered(photo):
        names = {"pitch": "pitch"}
    return {kind: photo.numbers[name] for kind, name in names.items() if name in photo.numbers}


def _is_judged(one: Observation, member: Member, photo: PhotoValues) -> bool:
    if one.quantity == "pitch":
        return True
    if _is_tapered(photo):
        return False
    return (one.kind in EXTERNAL_KINDS) == (member == "external")


def _settle_by(judged: Judged, member: Member, *, agree: bool) -> str | None:
    if not agree and judged.suspects:
        first = judged.suspects[0]
        return f"read again: {', '.join(first.readings)} ({first.slip}?)"
    values = judged.fused.values[judged.likeliest]
    covariance = judged.fused.covariances[judged.likeliest]
    read = {
        name: (float(values[i]), math.sqrt(covariance[i, i]))
        for i, name in enumerate(judged.quantities)
    }
    return settle_by(Asked(member, judged.posterior.zones, judged.probabilities, read))


def _combined(
    every: tuple[Observation, ...], photo: Mapping[str, UFloat], judged: Judged, *, agree: bool
) -> Iterator[tuple[str, Quantity | None]]:
    """One value a quantity out of the readings that agree; None where they contradict."""
    suspected = frozenset() if agree else judged.touched
    told = judged.chance_of_touched >= TOLD
    photo = {} if told and "photo" in suspected else photo
    for kind, name in COMBINED.items():
        kinds = {kind, "span"} if kind == "pitch" else {kind}
        own = [one for one in every if one.kind in kinds]
        doubted = {one.name for one in own} & suspected
        trusted = [one for one in own if one.name not in doubted]
        numbers = [one.number_with_sources() for one in trusted]
        numbers += [photo[kind]] if kind in photo else []
        apart = not agree and (
            bool(doubted and not told) or not all_agree(checked_readings(trusted, photo))
        )
        best = None if apart else best_of(numbers)
        yield name, None if best is None else Quantity.normal(best, "mm")


def _apart_warnings(checked: tuple[CheckedReading, ...], *, agree: bool) -> Iterator[str]:
    if not agree:
        yield "The readings do not agree; read again what is suspected."
        return
    far = [one.name for one in checked if one.score is not None and abs(one.score) > 1]
    if far:
        yield f"Further from the others than usual: {', '.join(far)}. Read once more."


def _warnings(
    readings: CaliperReadings, member: Member, photo: PhotoValues, judged: Judged
) -> Iterator[str]:
    if readings.photo is not None and readings.photo.member != member:
        yield "The photo shows the other part of the pair: it is not used."
    if member == "external" and readings.bore_mm:
        yield "Crests and bore are of two parts: the thread is judged by the male one."
    if _is_tapered(photo) and (readings.major_mm or readings.minor_mm or readings.bore_mm):
        yield "The thread is tapered: a caliper's diameter counts only where it was read; not used."
    for suspect in judged.suspects:
        if suspect.probability >= PROBABLE:
            yield f"Probably {suspect.slip}: {', '.join(suspect.readings)}. Read again."
    if judged.misfit_p < LEAST_MISFIT_P:
        yield "The readings do not fit the nearest thread: measure again, or it is worn."
