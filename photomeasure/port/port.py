"""Read a female port through the collar stuck round its mouth."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import WrongPrintError
from photomeasure.photo import Photo
from photomeasure.port.budget import Parts, parts_of, sizes_of, spot_face_diameter, values_of
from photomeasure.port.ends import (
    HOUSING_BEFOREHAND,
    ThreadEnds,
    housing_chance,
    thread_ends,
)
from photomeasure.port.fit import Fitted, fit_port
from photomeasure.port.mouth import HOLE_SLACK_MM
from photomeasure.port.reading import Hand, PortReading, Supposed
from photomeasure.port.refusals import demand_certainty, no_bore, no_mouth, no_thread
from photomeasure.port.solve import UNKNOWNS
from photomeasure.port.square import bore_diameter, find_bore
from photomeasure.port.trace import trace, trace_bore
from photomeasure.port.view import PortView
from photomeasure.port.wall import Stripes, find_stripes
from photomeasure.quantities import Quantity, Source
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading, solve_scenes

__all__ = ["PortOptions", "read_port"]

Vector = NDArray[np.float64]

LEAST_SHARE = 0.06  # of the wall's fine contrast that is thread
TOO_SQUARE_RAD = np.radians(22.0)
STRAY_PX = 0.8  # crest points that scatter more lie on no plain thread
LEAST_TURNS = 3
MOST_EVIDENCE = 30.0  # of a hand, by one photo (chi-squared)
# A circle that reaches so near to the collar's hole is that hole's edge, not the mouth's: look for
# one well within it, and for a bore of so much of the size
LEAST_CLEAR_MM, WELL_CLEAR_MM, WITHIN = 0.2, 0.75, 0.75
LEAST_CHANCE = 0.02  # of either taper: edges may mislead
HOUSING_CHANCE = 0.95  # from here on the mouth's circle is called a counterbore


@dataclass(frozen=True, slots=True)
class PortOptions:
    """What the user adds to the photo.

    Attributes
    ----------
    bars : mapping of str to BarReading
        By print name or kind; "" holds for every print.
    piece : str or None
        The collar to use, if several are seen.
    """

    bars: Mapping[str, BarReading] = field(default_factory=dict)
    piece: str | None = None


def read_port(
    photo: Photo, pieces: tuple[FoundPiece, ...], options: PortOptions, port_key: str = ""
) -> PortReading:
    """Read the port that a collar is stuck round.

    Parameters
    ----------
    photo : Photo
    pieces : tuple of FoundPiece
        As found in it.
    options : PortOptions
    port_key : str
        Names the port in several photos, which share what is known of it beforehand.

    Returns
    -------
    PortReading

    Raises
    ------
    MeasuringError
        With what to do about it: no collar, not flat, too square, too dark, no thread.
    """
    collar, told = _collar(photo, pieces, options.piece)
    (scene,) = solve_scenes([photo], [[collar]], options.bars)
    view = PortView.of(photo, scene, collar)
    if view.slant_rad < TOO_SQUARE_RAD:
        return _bore_alone(view, told)
    return _whole_port(view, told, port_key or photo.key)


def _whole_port(view: PortView, told: list[str], port_key: str) -> PortReading:
    """Mouth, bore, pitch and depth of a port seen at a slant."""
    fitted = _fitted(view)
    ends, theta = thread_ends(view, fitted), fitted.solution.theta
    parts = parts_of(view, fitted, ends, port_key)
    doubt = _taper_doubt(view, fitted, ends)
    sizes = sizes_of(values_of(theta, ends), parts | doubt)
    demand_certainty(view, sizes["bore"])
    other = theta if fitted.other_taper is None else fitted.other_taper
    supposed = (
        _supposed(theta, ends, parts, fitted.taper_chance),
        _supposed(other, ends, parts, 1 - fitted.taper_chance),
    )
    return replace(_reading(view, fitted, sizes, ends, told), supposed=supposed)


def _fitted(view: PortView) -> Fitted:
    """The port as solved; once more within, if the collar's own edge was taken for its mouth."""
    stripes = find_stripes(view)
    fitted = _solved(view, stripes)
    if fitted is None:
        raise no_thread(view)
    if not _is_collar_edge(view, fitted):
        return fitted
    smaller = find_stripes(view, WITHIN * fitted.stripes.bore.radius_mm)
    both = (_solved(view, stripes, WELL_CLEAR_MM), _solved(view, smaller))
    within = [one for one in both if one is not None and not _is_collar_edge(view, one)]
    if not within:
        raise no_mouth(view)
    return min(within, key=lambda one: one.misfit)


def _solved(
    view: PortView, stripes: Stripes, off_hole_mm: float = HOLE_SLACK_MM / 2
) -> Fitted | None:
    fitted = fit_port(view, stripes, off_hole_mm) if stripes.share > LEAST_SHARE else None
    if fitted is None or len(set(fitted.features.crests.turns.tolist())) < LEAST_TURNS:
        return None
    return fitted


def _is_collar_edge(view: PortView, fitted: Fitted) -> bool:
    mouth = fitted.mouth
    reach = float(np.hypot(mouth.x_mm, mouth.y_mm)) + mouth.radius_mm
    return reach > view.hole_radius_mm - LEAST_CLEAR_MM


def _bore_alone(view: PortView, told: list[str]) -> PortReading:
    """The bore of a port seen square on: its wall, and with it the pitch, is not seen."""
    edge = find_bore(view)
    if edge is None:
        raise no_bore(view)
    bore = bore_diameter(view, edge)
    demand_certainty(view, bore)
    square = (
        f"{view.photo.name} looks {np.degrees(view.slant_rad):.0f}° from square on: it shows the "
        "bore, but not the pitch, and bores of different threads are alike. Take one more photo "
        "with the phone leaned 40 to 50°, and give both."
    )
    return PortReading(
        bore_diameter=bore,
        bore_at_mm=0.0,
        bore_at_mouth=bore,
        pitch=None,
        taper_half_angle=None,
        hand="unknown",
        hand_evidence=0.0,
        mouth_diameter=None,
        counterbore_diameter=None,
        spot_face_diameter=None,
        housing_chance=HOUSING_BEFOREHAND,
        thread_depth=None,
        misfit_p=1.0,
        print_is_verified=view.scene.scale.is_verified,
        traces=(trace_bore(view, edge),),
        warnings=(*view.photo.warnings, *told, *_print_warnings(view)),
        left_open=(square,),
        piece=view.found.piece.name,
    )


def _supposed(theta: Vector, ends: ThreadEnds, parts: Parts, chance: float) -> Supposed:
    sizes = sizes_of(values_of(theta, ends), parts)
    depth = theta[UNKNOWNS.index("first depth")] - theta[UNKNOWNS.index("mouth depth")]
    return Supposed(
        chance=float(np.clip(chance, LEAST_CHANCE, 1 - LEAST_CHANCE)),
        bore_diameter=sizes["bore"],
        bore_at_mm=float(depth),
        pitch=sizes["pitch"],
        taper_half_angle=sizes["taper"],
    )


def _taper_doubt(view: PortView, fitted: Fitted, ends: ThreadEnds) -> Parts:
    """Doubt between parallel and 1:16, as a spread about their mixture."""
    if fitted.other_taper is None:
        return {}
    source = Source("parallel or taper", "whether it is tapered", "photo", view.photo.key)
    doubt = np.sqrt(fitted.taper_chance * (1 - fitted.taper_chance))
    gap = values_of(fitted.other_taper, ends) - values_of(fitted.solution.theta, ends)
    return {source: np.asarray(doubt * gap)}


def _collar(
    photo: Photo, pieces: tuple[FoundPiece, ...], name: str | None
) -> tuple[FoundPiece, list[str]]:
    """The collar that is named, else the one nearest to the photo's middle."""
    collars = [piece for piece in pieces if piece.print_.kind == "collar"]
    if not collars:
        names = ", ".join(sorted({piece.print_.kind for piece in pieces})) or "nothing"
        raise WrongPrintError(
            f"{photo.name} shows {names}, but no collar, through which a port is measured.",
            "Print the collars, stick the one that just clears the mouth flat on the port's face, "
            "and take the photo again.",
        )
    if name is not None:
        named = [piece for piece in collars if piece.piece.name == name]
        if not named:
            seen = ", ".join(piece.piece.name for piece in collars)
            raise WrongPrintError(
                f"{photo.name} does not show '{name}', but {seen}.", f"Name one of these: {seen}."
            )
        return named[0], []
    middle = np.array(photo.aim_px)
    nearest = min(collars, key=lambda one: float(np.hypot(*(one.corners_px.mean(axis=0) - middle))))
    many = f"{len(collars)} collars are seen; '{nearest.piece.name}', nearest to the middle, was "
    is_told = len(collars) > 1 and not photo.marked_px
    return nearest, [f"{many}used: name the one you mean."] if is_told else []


def _reading(
    view: PortView, fitted: Fitted, sizes: Mapping[str, Quantity], ends: ThreadEnds, told: list[str]
) -> PortReading:
    solution, spot = fitted.solution, fitted.spot_face
    is_clean = solution.scatter_px[1] < STRAY_PX
    hand: Hand = "unknown"
    if fitted.is_hand_sure:
        hand = "right" if fitted.features.hand > 0 else "left"
    housing = housing_chance(fitted, ends)
    recess = None if spot is None else spot_face_diameter(view, spot, sizes["mouth"])
    return PortReading(
        bore_diameter=sizes["bore"],
        bore_at_mm=solution.value("first depth") - solution.value("mouth depth"),
        bore_at_mouth=sizes["at mouth"],
        pitch=sizes["pitch"],
        taper_half_angle=sizes["taper"],
        hand=hand,
        hand_evidence=fitted.features.hand * min(fitted.other_misfit, MOST_EVIDENCE),
        mouth_diameter=sizes["mouth"],
        counterbore_diameter=sizes["mouth"] if housing > HOUSING_CHANCE else None,
        spot_face_diameter=recess,
        housing_chance=housing,
        thread_depth=sizes["depth"] if ends.is_end_seen else None,
        misfit_p=1.0 if is_clean else 0.0,
        print_is_verified=view.scene.scale.is_verified,
        traces=(trace(view, fitted, ends),),
        warnings=(*view.photo.warnings, *told, *_warnings(view, is_clean)),
        left_open=_left_open(ends),
        piece=view.found.piece.name,
    )


def _warnings(view: PortView, is_clean: bool) -> list[str]:
    warnings = _print_warnings(view)
    if not is_clean:
        warnings.append("The crest lines do not line up: the thread is worn or dirty.")
    return warnings


def _left_open(ends: ThreadEnds) -> tuple[str, ...]:
    if ends.is_end_seen:
        return ()
    return (
        f"The thread goes on {ends.last_mm:.0f} mm below the mouth, as deep as the photo shows it: "
        "measure its full depth with a rod or a caliper's tail.",
    )


def _print_warnings(view: PortView) -> list[str]:
    return [view.scene.scale.caution] if view.scene.scale.caution else []
