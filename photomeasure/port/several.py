"""Several photos of one port, taken together: what each knows, weighed by its covariance."""

import math
from collections.abc import Sequence
from dataclasses import replace
from hashlib import sha256

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc
from uncertainties import UFloat, covariance_matrix

from photomeasure.errors import MeasuringError, NotConnectedError
from photomeasure.photo import Photo
from photomeasure.port.ends import HOUSING_BEFOREHAND
from photomeasure.port.fit import HAND_DIFFERS
from photomeasure.port.port import HOUSING_CHANCE, LEAST_CHANCE, PortOptions, read_port
from photomeasure.port.reading import Hand, PortReading, Supposed
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.find import find_pieces

__all__ = ["joined", "read_ports"]

Matrix = NDArray[np.float64]

TAPERED_DEG = 0.9  # half of 1:16's 1.79 degrees
RADIAN = math.pi / 180
CONTRADICTION = 0.001  # chance by which photos of one port differ so much
DIFFER = "The photos contradict each other: is it the same port?"


def read_ports(photos: Sequence[Photo], options: PortOptions) -> PortReading:
    """Read one port from all its photos; those that cannot be read are left out and told.

    Parameters
    ----------
    photos : sequence of Photo
    options : PortOptions

    Returns
    -------
    PortReading

    Raises
    ------
    MeasuringError
        Of the first photo, if none can be read; `NotConnectedError` for different collars.
    """
    names = "\n".join(sorted(photo.key for photo in photos))
    key = photos[0].key if len(photos) == 1 else sha256(names.encode()).hexdigest()
    readings, errors = [], []
    for photo in photos:
        try:
            readings.append(read_port(photo, find_pieces(photo), options, key))
        except MeasuringError as error:
            errors.append(error)
    if not readings:
        raise errors[0]
    whole = joined(readings, key)
    left_out = tuple(f"Left out: {error.message}" for error in errors)
    return replace(whole, warnings=(*whole.warnings, *left_out))


def joined(readings: Sequence[PortReading], key: str) -> PortReading:
    """Weigh the readings of one port together.

    Parameters
    ----------
    readings : sequence of PortReading
    key : str
        Of what the photos have in common.

    Returns
    -------
    PortReading

    Raises
    ------
    NotConnectedError
        If they are of different collars.

    Notes
    -----
    Each photo's sizes are weighed by the inverse of its own covariance; what the photos share
    (print scale, how concentric and square the port is) stays shared in the result.
    """
    collars = sorted({one.piece for one in readings})
    if len(collars) > 1:
        raise NotConnectedError(
            f"The photos show different collars: {', '.join(collars)}.",
            "Give photos of one port with one collar, or name the collar.",
        )
    if len(readings) == 1:
        return readings[0]
    slanted = [one for one in readings if one.supposed]
    if not slanted:
        bore = _scalar([one.bore_diameter for one in readings], key) or readings[0].bore_diameter
        return replace(_together(readings, bore), bore_at_mouth=bore)
    square = [one.bore_diameter for one in readings if not one.supposed]
    chance = _taper_chance(slanted)
    whole = [_supposed(slanted, square, key, is_tapered) for is_tapered in (False, True)]
    parallel, tapered = (
        replace(one[0], chance=share)
        for one, share in zip(whole, (1 - chance, chance), strict=True)
    )
    likely, other = (tapered, parallel) if chance > 0.5 else (parallel, tapered)
    differs = whole[int(chance > 0.5)][1]
    sizes = _with_doubt(likely, other, key)
    together = _together(readings, sizes[0])
    return replace(
        together,
        bore_at_mm=likely.bore_at_mm,
        bore_at_mouth=sizes[3],
        pitch=sizes[1],
        taper_half_angle=sizes[2],
        supposed=(likely, other),
        warnings=(*together.warnings, *((DIFFER,) if differs else ())),
    )


def _taper_chance(slanted: Sequence[PortReading]) -> float:
    """Of being tapered, by all photos: their odds multiply."""
    odds = 0.0
    for one in slanted:
        first = one.supposed[0]
        chance = first.chance if _is_tapered(first) else 1 - first.chance
        odds += math.log(chance / (1 - chance))
    return float(np.clip(1 / (1 + math.exp(-odds)), LEAST_CHANCE, 1 - LEAST_CHANCE))


def _is_tapered(one: Supposed) -> bool:
    return one.taper_half_angle.value > TAPERED_DEG


def _supposed(
    slanted: Sequence[PortReading], square: Sequence[Quantity], key: str, is_tapered: bool
) -> tuple[Supposed, bool]:
    """All photos under one supposition, and whether they contradict each other."""
    chosen = [
        next((part for part in one.supposed if _is_tapered(part) == is_tapered), one.supposed[0])
        for one in slanted
    ]
    at_mm = float(np.mean([one.bore_at_mm for one in chosen]))
    vectors = [_at(one, at_mm) for one in chosen]
    whole, differs = _weighed(vectors, key)
    for bore in square:
        moved = bore.number - _growth(whole[2], at_mm)
        (wider,), differs_too = _weighed([[whole[0]], [moved]], key)
        whole, differs = [wider, *whole[1:]], differs or differs_too
    bore, pitch, taper = whole
    return (
        Supposed(
            chance=0.5,
            bore_diameter=Quantity.normal(bore, "mm"),
            bore_at_mm=at_mm,
            pitch=Quantity.normal(pitch, "mm"),
            taper_half_angle=Quantity.normal(taper, "deg"),
        ),
        differs,
    )


def _growth(taper_deg: UFloat, depth_mm: float) -> UFloat:
    """How much narrower a bore is so much deeper."""
    slope = math.tan(taper_deg.nominal_value * RADIAN)
    return 2 * depth_mm * (slope + (taper_deg - taper_deg.nominal_value) * RADIAN)


def _at(one: Supposed, at_mm: float) -> list[UFloat]:
    """Bore at a depth, pitch and taper of one photo."""
    taper = one.taper_half_angle.number
    bore = one.bore_diameter.number - _growth(taper, at_mm - one.bore_at_mm)
    return [bore, one.pitch.number, taper]


def _weighed(vectors: Sequence[Sequence[UFloat]], key: str) -> tuple[list[UFloat], bool]:
    """Mean by inverse covariances, and whether the parts differ more than chance lets them."""
    if len(vectors) == 1:
        return list(vectors[0]), False
    values = np.array([[number.nominal_value for number in one] for one in vectors])
    inverses = [np.linalg.inv(np.array(covariance_matrix(list(one)))) for one in vectors]
    total = np.linalg.inv(sum(inverses))
    weights = [total @ inverse for inverse in inverses]
    middle = sum(weight @ value for weight, value in zip(weights, values, strict=True))
    misfit = sum(
        float((value - middle) @ inverse @ (value - middle))
        for value, inverse in zip(values, inverses, strict=True)
    )
    freedom = values.size - values.shape[1]
    means: list[UFloat] = [
        sum(
            float(weight[row, column]) * one[column]
            for weight, one in zip(weights, vectors, strict=True)
            for column in range(values.shape[1])
        )
        for row in range(values.shape[1])
    ]
    excess = max(misfit / freedom - 1, 0.0)
    source = Source("photos differ", "the photos differ", "answer", key)
    widened = [
        mean + measured(0.0, {source: math.sqrt(excess) * mean.std_dev}) if excess else mean
        for mean in means
    ]
    return widened, float(chdtrc(freedom, misfit)) < CONTRADICTION


def _scalar(sizes: Sequence[Quantity | None], key: str) -> Quantity | None:
    """Mean of a size over the photos that show it."""
    seen = [size for size in sizes if size is not None]
    if len(seen) < 2:
        return seen[0] if seen else None
    (mean,), _ = _weighed([[size.number] for size in seen], key)
    return Quantity.normal(mean, seen[0].unit)


def _with_doubt(likely: Supposed, other: Supposed, key: str) -> list[Quantity]:
    """Bore, pitch, taper and bore at the mouth, with the doubt of the taper."""

    def sizes(one: Supposed) -> list[UFloat]:
        taper = one.taper_half_angle.number
        bore = one.bore_diameter.number
        return [bore, one.pitch.number, taper, bore + _growth(taper, one.bore_at_mm)]

    source = Source("parallel or taper", "whether it is tapered", "answer", key)
    share = math.sqrt(likely.chance * other.chance)
    units = ("mm", "mm", "deg", "mm")
    return [
        Quantity.normal(
            one + measured(0.0, {source: share * (two.nominal_value - one.nominal_value)}), unit
        )
        for one, two, unit in zip(sizes(likely), sizes(other), units, strict=True)
    ]


def _together(readings: Sequence[PortReading], bore: Quantity) -> PortReading:
    """All but the thread itself."""
    first = min(readings, key=lambda one: (one.pitch is None, one.bore_diameter.u))
    key = "|".join(one.traces[0].photo_key for one in readings)
    housing = _housing(readings)
    mouth = _scalar([one.mouth_diameter for one in readings], key)
    depth = _scalar([one.thread_depth for one in readings], key)
    is_open = depth is None
    return replace(
        first,
        bore_diameter=bore,
        hand=_hand(readings),
        mouth_diameter=mouth,
        counterbore_diameter=mouth if housing > HOUSING_CHANCE else None,
        spot_face_diameter=_scalar([one.spot_face_diameter for one in readings], key),
        housing_chance=housing,
        thread_depth=depth,
        misfit_p=min(one.misfit_p for one in readings),
        traces=tuple(trace for one in readings for trace in one.traces),
        warnings=tuple(dict.fromkeys(text for one in readings for text in one.warnings)),
        left_open=first.left_open if is_open else (),
    )


def _hand(readings: Sequence[PortReading]) -> Hand:
    """The hand that all photos together fit clearly better."""
    evidence = sum(one.hand_evidence for one in readings)
    if abs(evidence) <= HAND_DIFFERS:
        return "unknown"
    return "right" if evidence > 0 else "left"


def _housing(readings: Sequence[PortReading]) -> float:
    beforehand = HOUSING_BEFOREHAND / (1 - HOUSING_BEFOREHAND)
    odds = beforehand
    for one in readings:
        chance = min(max(one.housing_chance, 1e-6), 1 - 1e-6)
        odds *= chance / (1 - chance) / beforehand
    return odds / (1 + odds)
