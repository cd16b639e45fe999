"""Read a male thread that lies on the sheet, from the side."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from uncertainties import covariance_matrix

from photomeasure.errors import (
    NoFittingError,
    NoThreadError,
    SheetNotFlatError,
    TooFewCornersError,
    TooUncertainError,
    WrongPrintError,
)
from photomeasure.photo import Photo
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading, Scene, solve_scenes
from photomeasure.thread.bend import by_crest_lines
from photomeasure.thread.crest import crest_loss_mm
from photomeasure.thread.extras import Known, known, with_extras
from photomeasure.thread.lies import Lies, lying_as
from photomeasure.thread.look import Seen, look
from photomeasure.thread.paper import page_on_sheet
from photomeasure.thread.reading import FittingReading
from photomeasure.thread.rest import Posture
from photomeasure.thread.trace import trace
from photomeasure.thread.values import NAMES, Causes, Sizes, sizes

__all__ = ["FittingOptions", "read_fitting"]

Vector = NDArray[np.float64]

EDGE_BIAS_PX = 0.1  # common to all edges: halo, glow and tone curve
SHORTFALL_PX = 0.15  # of a crest's top; median over rendered scenes kept for tuning
LIFT_U_MM = 0.15  # paper under the part, burrs
LEAN_U_RAD = 0.006  # play of a part on its flat, along the axis
TIPPED_LEAN_U_RAD = 0.02  # of a part that rests on an edge and a crest
END_FACE_U_MM = 0.4
NEAR_MM, LEAST_NEAR = 60.0, 12
LARGEST_NEAR_RESIDUAL_PX = 1.0
MOST_HIDDEN = 0.35  # of the corners that the picture reaches
LARGEST_RELATIVE_U = 0.03
ROUGH_CREST = 0.04  # of a pitch: crests that scatter more are no clean thread
PIPE_TAPER_DEG = 1.7899  # ISO 7-1 and ASME B1.20.1: 1:16 on the diameter
PIPE_TAPER_U_DEG = 0.07  # ASME B1.20.1 gauges 0.719 to 0.812 for 0.75 inch a foot [memory]
TAPER_SPLIT_DEG = 0.9  # half of 1:16's 1.79 degrees
LIKELY_ALTERNATIVE = 0.02
SURE_POSTURE = 0.5
PITCHES_DIFFER = 0.016  # between the two sides
STEEPEST_TAPER_DEG = (-1.1, 2.7)
TAPER_BIAS_DEG = 0.25  # shade towards the hexagon draws the outline in


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
    sheets = _sheets(photo, pieces)
    (scene,) = solve_scenes([photo], [sheets], options.bars)
    try:
        seen = by_crest_lines(look(photo, scene, sheets[0]))
    except (NoFittingError, NoThreadError):
        _demand_open_sheet(photo, scene, sheets[0])
        raise
    _demand_near_corners(seen)
    seen, told = lying_as(seen, options.lies)
    knowns = known(seen, options.spanner_mm, told)
    best = sizes(seen.scene, seen.features, seen.axis, seen.posture, knowns.causes)
    loss, loss_u = crest_loss_mm(seen.turns.pitch_mm, seen.outline.blur_mm)
    loss += SHORTFALL_PX * seen.outline.pixel_mm
    parts = _parts(seen, best, loss_u, knowns)
    numbers = _numbers(best, parts, 2 * loss)
    _demand_certainty(photo, numbers["crest_diameter"])
    return with_extras(_reading(seen, best, numbers), seen, best, knowns)


def _sheets(photo: Photo, pieces: tuple[FoundPiece, ...]) -> list[FoundPiece]:
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


def _parts(seen: Seen, best: Sizes, loss_u_mm: float, knowns: Known) -> dict[Source, Vector]:
    """Signed change of every size by one standard uncertainty of every source."""
    base = knowns.causes

    def change(causes: Causes, scene: Scene = seen.scene, posture: Posture | None = None) -> Vector:
        moved = sizes(scene, seen.features, seen.axis, posture or seen.posture, causes)
        return moved.vector - best.vector

    def own(name: str, label: str) -> Source:
        return Source(name, label, "photo", seen.photo.key)

    poses = [change(base, scene) for _, scene in seen.scene.variants()]
    names = [source for source, _ in seen.scene.variants()]
    parts = {s: v for s, v in zip(names, poses, strict=True) if s.scope == "print"}
    parts |= _joined(
        [v for s, v in zip(names, poses, strict=True) if s.scope != "print"], seen.photo.key
    )
    lean = LEAN_U_RAD if seen.posture == "flat" else TIPPED_LEAN_U_RAD
    plays = (
        ("edge bias", "where the edge of shiny metal is seen", "outward_mm", _bias_mm(seen)),
        ("crest rounding", "height that blur takes off the crests", "outward_mm", loss_u_mm),
        ("axis height", "paper and burrs under the part", "lift_mm", LIFT_U_MM),
        ("axis lean", "play of the part along its axis", "lean_rad", lean),
    )
    for name, label, cause, u in plays:
        parts[own(name, label)] = change(replace(base, **{cause: u}))
    if seen.features.has_hexagon:
        parts[own("hexagon corners", "rounding of the hexagon's corners")] = change(
            replace(base, corner_ratio=base.corner_ratio + knowns.corner_ratio_u)
        )
        parts |= _alternative(seen, best, base, own("posture", "on which edge the part rests"))
    for name, doubt in zip(("left", "right"), seen.doubts_mm, strict=True):
        source = own(f"{name} edge", f"how clear the edge is on the {name}")
        parts[source] = _tilted(best, doubt)
    end = np.zeros(len(NAMES))
    end[4] = 2 * np.tan(np.radians(best.vector[2])) * END_FACE_U_MM
    end[5] = -END_FACE_U_MM
    parts[own("end face", "where the thread's end face is")] = end
    shade = np.zeros(len(NAMES))
    shade[2] = TAPER_BIAS_DEG
    shade[4] = -2 * np.radians(TAPER_BIAS_DEG) * best.middle_mm
    parts[own("shade", "shade beside the part")] = shade
    return parts | _noise(best, own)


def _bias_mm(seen: Seen) -> float:
    return EDGE_BIAS_PX * seen.outline.pixel_mm


def _tilted(best: Sizes, doubt_mm: float) -> Vector:
    """One side farther out by its doubt, and half of that more at the hexagon than at the end."""
    places = best.rest.along_mm
    lean = 0.5 * doubt_mm / max(float(np.ptp(places)), 1.0)
    moved = np.zeros(len(NAMES))
    moved[0] = doubt_mm
    moved[2] = np.degrees(lean) / 2
    moved[4] = doubt_mm - lean * best.middle_mm
    return moved


def _noise(best: Sizes, own: Callable[[str, str], Source]) -> dict[Source, Vector]:
    """Scatter of the turns: one source a size, the small end shared with its parents."""
    labels = ("edge", "pitch fit", "taper fit", "hexagon edge", "", "last crest")
    parts = {}
    for index, label in enumerate(labels):
        if not label:
            continue
        vector = np.zeros(len(NAMES))
        vector[index] = best.noise[index]
        if label == "edge":
            vector[4] = best.noise[0]
        if label == "taper fit":
            vector[4] = -2 * np.radians(best.noise[2]) * best.middle_mm
        if label == "hexagon edge":
            vector[index] = 0.003 * best.vector[index]
        parts[own(label, f"scatter of the {label}")] = vector
    return parts


def _joined(poses: list[Vector], key: str) -> dict[Source, Vector]:
    """As few sources as there are sizes, with the same covariance (QR decomposition)."""
    if not poses:
        return {}
    root = np.linalg.qr(np.stack(poses), mode="r")
    return {
        Source(f"sheet pose/{n}", "lens and pose of the sheet", "photo", f"{key} thread"): row
        for n, row in enumerate(root, start=1)
    }


def _alternative(seen: Seen, best: Sizes, base: Causes, source: Source) -> dict[Source, Vector]:
    """Doubt between the likeliest posture and the next, as a spread about their mixture."""
    others = {p: c for p, c in seen.chances.items() if p != seen.posture}
    if not others:
        return {}
    other = max(others, key=others.__getitem__)
    chance = others[other]
    if chance < LIKELY_ALTERNATIVE:
        return {}
    moved = sizes(seen.scene, seen.features, seen.axis, other, base).vector
    return {source: np.sqrt(chance * (1 - chance)) * (moved - best.vector)}


def _numbers(best: Sizes, parts: Mapping[Source, Vector], loss_mm: float) -> dict[str, Quantity]:
    units = ("mm", "mm", "deg", "mm", "mm", "mm")
    values = best.vector + np.array([loss_mm, 0, 0, 0, loss_mm, 0])
    return {
        name: Quantity.normal(
            measured(values[index], {source: part[index] for source, part in parts.items()}),
            units[index],
        )
        for index, name in enumerate(NAMES)
    }


def _demand_certainty(photo: Photo, diameter: Quantity) -> None:
    share = diameter.u / diameter.value
    if share > LARGEST_RELATIVE_U:
        raise TooUncertainError(
            f"{photo.name}: the diameter would be uncertain by {share:.0%}, more than "
            f"{LARGEST_RELATIVE_U:.0%}.",
            "Measure the printed bars, come nearer and keep more of the sheet in the picture.",
        )


def _reading(seen: Seen, best: Sizes, numbers: Mapping[str, Quantity]) -> FittingReading:
    taper = numbers["taper_half_angle"]
    is_tapered = taper.value > TAPER_SPLIT_DEG
    is_clean = _is_clean(seen, best)
    return FittingReading(
        crest_diameter=numbers["crest_diameter"],
        crest_diameter_at_mm=best.middle_mm,
        pitch=numbers["pitch"],
        taper_half_angle=taper,
        is_tapered=is_tapered,
        diameter_at_small_end=_pipe_end(numbers, seen.photo.key) if is_tapered else None,
        minor_diameter=None,
        thread_angle=None,
        thread_length=numbers["length"],
        across_flats=None,
        spanner=(),
        nose_half_angle=None,
        hand="unknown",
        misfit_p=1.0 if is_clean else 0.0,
        traces=(trace(seen.photo, seen.scene, seen.outline, seen.turns, best),),
        warnings=_warnings(seen, best, is_clean),
    )


def _pipe_end(numbers: Mapping[str, Quantity], key: str) -> Quantity:
    """Small end of a tapered thread, whose taper is known: every one of fluid ports is 1:16."""
    end, taper = numbers["small_end"].number, numbers["taper_half_angle"].number
    own = Source("pipe taper", "how truly the thread's taper is 1:16", "photo", key)
    known = measured(PIPE_TAPER_DEG, {own: PIPE_TAPER_U_DEG})
    shared = covariance_matrix([end, taper])
    gain = shared[0][1] / (shared[1][1] + PIPE_TAPER_U_DEG**2)
    return Quantity.normal(end - gain * (taper - known), "mm")


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
        and STEEPEST_TAPER_DEG[0] < best.vector[2] < STEEPEST_TAPER_DEG[1]
        and max(seen.chances.values()) > SURE_POSTURE
        and seen.is_aimed_at
    )


def _warnings(seen: Seen, best: Sizes, is_clean: bool) -> tuple[str, ...]:
    warnings = list(seen.photo.warnings)
    if not seen.scene.scale.is_verified:
        warnings.append("The print's bars were not measured: its size is a guess.")
    if not seen.features.has_hexagon:
        warnings.append("No hexagon is seen: the part is taken to lie on its thread.")
    if seen.turns.has_likeness:
        warnings.append("The thread is clear on one side only; the other is laid by its turns.")
    if not seen.is_aimed_at:
        warnings.append("The thread read is not in the photo's middle: aim at the one you mean.")
    elif not is_clean:
        warnings.append("The crests do not line up: the thread is worn, dirty or no plain thread.")
    return tuple(warnings)
