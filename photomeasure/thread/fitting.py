"""Read a male thread that lies on the sheet, from the side."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import (
    NoFittingError,
    NoThreadError,
    SheetNotFlatError,
    TooFewCornersError,
    TooUncertainError,
    WrongPrintError,
)
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading, Scene, solve_scenes
from photomeasure.thread.bend import Lean, leaned, looked
from photomeasure.thread.budget import Doubted, Shown, numbers, parts, pipe_end
from photomeasure.thread.crest import crest_loss_mm
from photomeasure.thread.extras import Known, known, with_extras
from photomeasure.thread.lies import Lies, lying_as
from photomeasure.thread.look import Seen
from photomeasure.thread.paper import page_on_sheet
from photomeasure.thread.reading import FittingReading
from photomeasure.thread.rest import Posture
from photomeasure.thread.trace import trace
from photomeasure.thread.values import NAMES, Causes, Sizes, faced, sizes

__all__ = [
    "FittingOptions",
    "demand_certainty",
    "radius_loss_mm",
    "read_fitting",
    "reading_of",
    "seen_in",
    "sheets_in",
    "shown_by",
]

Vector = NDArray[np.float64]

NEAR_MM, LEAST_NEAR = 60.0, 12
LARGEST_NEAR_RESIDUAL_PX = 1.0
MOST_HIDDEN = 0.35  # of the corners that the picture reaches
LARGEST_RELATIVE_U = 0.03
ROUGH_CREST = 0.04  # of a pitch: crests that scatter more are no clean thread
TAPER_SPLIT_DEG = 0.9  # half of 1:16's 1.79 degrees
SURE_POSTURE = 0.5
PITCHES_DIFFER = 0.016  # between the two sides
FACE_DIFFERS = 0.04  # between the outline's pitch and that of the lines on the face
STEEPEST_TAPER_DEG = (-1.1, 2.7)


@dataclass(frozen=True, slots=True)
class FittingOptions:
    """What the user adds to the photos.

    Attributes
    ----------
    bars : mapping of str to BarReading
        By print name or kind; "" holds for every print.
    lies : Lies
    spanner_mm : float or None [mm]
        The one that fits the hexagon.
    """

    bars: Mapping[str, BarReading] = field(default_factory=dict)
    lies: Lies = "unknown"
    spanner_mm: float | None = None


def read_fitting(
    photo: Photo, pieces: tuple[FoundPiece, ...], options: FittingOptions
) -> FittingReading:
    """Read the thread of a fitting on the sheet from one photo.

    Parameters
    ----------
    photo : Photo
    pieces : tuple of FoundPiece
        As found in it.
    options : FittingOptions

    Returns
    -------
    FittingReading

    Raises
    ------
    MeasuringError
        With what to do about it: too few corners, no fitting, no thread, too uncertain.
    """
    sheets = sheets_in(photo, pieces)
    (scene,) = solve_scenes([photo], [sheets], options.bars)
    seen, told = seen_in(photo, scene, sheets[0], options.lies)
    knowns = known(seen, options.spanner_mm, told)
    lean = leaned(seen, seen.posture)
    causes = replace(knowns.causes, lean_rad=lean.rad)
    causes = faced(causes, seen.heading, seen.face_spacing)
    best = sizes(seen.scene, seen.features, seen.axis, seen.posture, causes)
    doubted = _doubted(seen, best, replace(knowns, causes=causes), lean)
    found = numbers(best.vector, parts(doubted), 2 * radius_loss_mm(seen)[0])
    demand_certainty(photo, found["crest_diameter"])
    return with_extras(reading_of(seen, best, found), seen, best, knowns)


def seen_in(
    photo: Photo, scene: Scene, sheet: FoundPiece, lies: Lies
) -> tuple[Seen, tuple[str, ...]]:
    """Find the part and its thread, and weigh how it lies.

    Parameters
    ----------
    photo : Photo
    scene : Scene
    sheet : FoundPiece
    lies : Lies

    Returns
    -------
    seen : Seen
    warnings : tuple of str

    Raises
    ------
    MeasuringError
    """
    try:
        seen = looked(photo, scene, sheet)
    except (NoFittingError, NoThreadError):
        _demand_open_sheet(photo, scene, sheet)
        raise
    _demand_near_corners(seen)
    return lying_as(seen, lies)


def radius_loss_mm(seen: Seen) -> tuple[float, float]:
    """What the crests' radius loses in the picture, and how well that is known [mm]."""
    return crest_loss_mm(seen.turns.pitch_mm, seen.outline.blur_mm)


def sheets_in(photo: Photo, pieces: tuple[FoundPiece, ...]) -> list[FoundPiece]:
    """Give the sheets among the prints found; one at least is needed."""
    sheets = [piece for piece in pieces if piece.print_.kind == "sheet"]
    if not sheets:
        names = ", ".join(sorted({piece.print_.kind for piece in pieces})) or "nothing"
        raise WrongPrintError(
            f"{photo.name} shows {names}, but not the sheet on which a fitting is measured.",
            "Print the sheet, lay the fitting on its bed, and take the photo again.",
        )
    return sheets


def _demand_open_sheet(photo: Photo, scene: Scene, sheet: FoundPiece) -> None:
    """Most of the print that the picture reaches must be seen, or that is what to mend first."""
    scale, shift_mm = page_on_sheet(scene, sheet)
    laid = sheet.piece.corners_page_mm * scale + shift_mm
    px = scene.px(np.column_stack([laid, np.zeros(len(laid))]))
    inside = np.all((px > 0) & (px < np.array(photo.size_px)), axis=1)
    hidden = 1 - len(sheet.corner_ids) / max(int(inside.sum()), 1)
    if hidden > MOST_HIDDEN:
        raise TooFewCornersError(
            f"{photo.name}: {hidden:.0%} of the sheet's chessboard is hidden or cannot be read.",
            "Take hands, tools and hard shadows off the sheet and take the photo again.",
        )


def _demand_near_corners(seen: Seen) -> None:
    """Corners round the part carry its scale: enough of them must be in the picture."""
    middle = seen.features.turns_px.mean(axis=0)
    reach = NEAR_MM / seen.outline.pixel_mm
    near = np.hypot(*(seen.scene.corners_px - middle).T) < 1.5 * reach
    if near.sum() < LEAST_NEAR:
        raise TooFewCornersError(
            f"{seen.photo.name} shows {near.sum()} of the sheet's corners round the fitting; "
            f"{LEAST_NEAR} are needed.",
            "Lay the fitting in the middle of the bed and keep the print round it in the picture.",
        )
    off = float(np.median(np.hypot(*seen.scene.residuals_px[near].T)))
    if off > LARGEST_NEAR_RESIDUAL_PX:
        raise SheetNotFlatError(
            f"{seen.photo.name}: the print's corners round the fitting are {off:.1f} pixels off "
            f"any smooth sheet; {LARGEST_NEAR_RESIDUAL_PX:.0f} is the most.",
            "Fix the sheet's corners to something flat and take the photo again.",
        )


def _doubted(seen: Seen, best: Sizes, knowns: Known, lean: Lean) -> Doubted:
    """The sizes of one photo as a function of the world."""

    def change(causes: Causes, index: int | None, posture: Posture) -> Vector:
        scene = seen.scene if index is None else seen.scene.shifted[index]
        if posture != seen.posture:
            causes = replace(causes, lean_rad=leaned(seen, posture).rad)
        return sizes(scene, seen.features, seen.axis, posture, causes).vector - best.vector

    return Doubted(
        change=change,
        causes=knowns.causes,
        sources=seen.scene.sources,
        posture=seen.posture,
        chances=seen.chances,
        shown=(shown_by(seen, best, seen.doubts_mm, np.ones(len(NAMES))),),
        corner_ratio_u=knowns.corner_ratio_u if seen.features.has_hexagon else None,
        lean_u_rad=lean.u_rad,
        pixel_mm=seen.outline.pixel_mm,
        loss_u_mm=radius_loss_mm(seen)[1],
    )


def shown_by(
    seen: Seen, best: Sizes, doubts_mm: tuple[float, float] | None, weight: Vector
) -> Shown:
    """What a photo adds to sizes.

    Parameters
    ----------
    seen : Seen
    best : Sizes
    doubts_mm : (left, right) or None
        None where its edges are counted elsewhere.
    weight : (6,)

    Returns
    -------
    Shown
    """
    return Shown(seen.photo.key, best, doubts_mm, seen.turns.has_likeness, weight)


def demand_certainty(photo: Photo, diameter: Quantity) -> None:
    """Refuse a diameter that is hardly known."""
    share = diameter.u / diameter.value
    if share > LARGEST_RELATIVE_U:
        raise TooUncertainError(
            f"{photo.name}: the diameter would be uncertain by {share:.0%}, more than "
            f"{LARGEST_RELATIVE_U:.0%}.",
            "Measure the printed bars, come nearer and keep more of the sheet in the picture.",
        )


def reading_of(seen: Seen, best: Sizes, found: Mapping[str, Quantity]) -> FittingReading:
    """One photo's reading, without what `with_extras` adds."""
    taper = found["taper_half_angle"]
    is_tapered = taper.value > TAPER_SPLIT_DEG
    is_clean = _is_clean(seen, best)
    return FittingReading(
        crest_diameter=found["crest_diameter"],
        crest_diameter_at_mm=best.middle_mm,
        pitch=found["pitch"],
        taper_half_angle=taper,
        is_tapered=is_tapered,
        diameter_at_small_end=pipe_end(found, seen.photo.key) if is_tapered else None,
        minor_diameter=None,
        thread_angle=None,
        thread_length=found["length"],
        across_flats=None,
        spanner=(),
        nose_half_angle=None,
        hand="unknown",
        misfit_p=1.0 if is_clean else 0.0,
        print_is_verified=seen.scene.scale.is_verified,
        traces=(trace(seen.photo, seen.scene, seen.outline, seen.turns, best),),
        warnings=_warnings(seen, best, is_clean),
    )


def _is_clean(seen: Seen, best: Sizes) -> bool:
    """Whether both sides show one and the same plain thread."""
    features, along = seen.features, best.rest.along_mm
    spans, pitches = [], []
    for sign in (1, -1):
        side = features.turn_signs == sign
        spans.append((float(along[side].min()), float(along[side].max())))
        pitches.append(abs(float(np.polyfit(features.turn_numbers[side], along[side], 1)[0])))
    shared = min(high for _, high in spans) - max(low for low, _ in spans)
    shorter = min(high - low for low, high in spans)
    return (
        best.scatter_mm < ROUGH_CREST * best.vector[1]
        and abs(pitches[0] / pitches[1] - 1) < PITCHES_DIFFER
        and shared > 0.5 * shorter
        and (seen.face_spacing is None or abs(seen.face_spacing - 1) < FACE_DIFFERS)
        and STEEPEST_TAPER_DEG[0] < best.vector[2] < STEEPEST_TAPER_DEG[1]
        and max(seen.chances.values()) > SURE_POSTURE
        and seen.is_aimed_at
    )


def _warnings(seen: Seen, best: Sizes, is_clean: bool) -> tuple[str, ...]:
    warnings = list(seen.photo.warnings)
    if seen.scene.scale.caution:
        warnings.append(seen.scene.scale.caution)
    if not seen.features.has_hexagon:
        warnings.append("No hexagon is seen: the part is taken to lie on its thread.")
    if seen.turns.has_likeness:
        warnings.append("The thread is clear on one side only; the other is laid by its turns.")
    if not seen.is_aimed_at:
        warnings.append("The thread read is not in the photo's middle: aim at the one you mean.")
    elif not is_clean:
        warnings.append("The crests do not line up: the thread is worn, dirty or no plain thread.")
    return tuple(warnings)
