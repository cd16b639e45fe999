"""Read a female port through the collar stuck round its mouth."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoThreadError, TooUncertainError, WrongPrintError
from photomeasure.photo import Photo
from photomeasure.port.fit import Fitted, fit_port
from photomeasure.port.reading import Hand, PortReading, Supposed
from photomeasure.port.solve import BIASES, UNKNOWNS, Biases, moved
from photomeasure.port.trace import trace
from photomeasure.port.view import PortView
from photomeasure.port.wall import find_stripes
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading, Scene, solve_scenes

__all__ = ["PortOptions", "read_port"]

Vector = NDArray[np.float64]

NAMES = ("bore", "pitch", "taper", "at mouth")
UNITS = ("mm", "mm", "deg", "mm")
LEAST_SHARE = 0.06  # of the wall's fine contrast that is thread
TOO_SQUARE_RAD = np.radians(22.0)
DARKEST = 0.006  # of full light
LARGEST_RELATIVE_U = 0.05
STRAY_PX = 0.8  # crest points that scatter more lie on no plain thread
LEAST_TURNS = 3
# Light on the crests: of the bore at least, by the scatter [mm per pixel], and of how much wider
# edges make it than stripes as a whole if that is much; of the pitch; by scenes for tuning
LIGHT_U_MM, SCATTER_MM, ROUGH_SHARE, ROUGH_MM, PITCH_SHARE = 0.1, 0.6, 0.6, 0.5, 0.005
BEND_U_PX = 0.4  # how surely edges are seen at the lit wall's ends as at its middle
LEAST_CHANCE = 0.02  # of either taper: edges may mislead


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


def read_port(photo: Photo, pieces: tuple[FoundPiece, ...], options: PortOptions) -> PortReading:
    """Read the port that a collar is stuck round.

    Parameters
    ----------
    photo : Photo
    pieces : tuple of FoundPiece
        As found in it.
    options : PortOptions

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
    _demand_slant(view)
    stripes = find_stripes(view)
    fitted = fit_port(view, stripes) if stripes.share > LEAST_SHARE else None
    if fitted is None or len(set(fitted.features.crests.turns.tolist())) < LEAST_TURNS:
        raise _no_thread(view)
    parts = _parts(view, fitted)
    doubt = _taper_doubt(view, fitted)
    numbers = _numbers(_values(fitted.solution.theta), parts | doubt)
    _demand_certainty(photo, numbers["bore"])
    other = fitted.solution.theta if fitted.other_taper is None else fitted.other_taper
    supposed = (
        _supposed(fitted.solution.theta, parts, fitted.taper_chance),
        _supposed(other, parts, 1 - fitted.taper_chance),
    )
    return replace(_reading(view, fitted, numbers, told), supposed=supposed)


def _supposed(theta: Vector, parts: Mapping[Source, Vector], chance: float) -> Supposed:
    numbers = _numbers(_values(theta), parts)
    depth = theta[UNKNOWNS.index("first depth")] - theta[UNKNOWNS.index("mouth depth")]
    return Supposed(
        chance=float(np.clip(chance, LEAST_CHANCE, 1 - LEAST_CHANCE)),
        bore_diameter=numbers["bore"],
        bore_at_mm=float(depth),
        pitch=numbers["pitch"],
        taper_half_angle=numbers["taper"],
    )


def _taper_doubt(view: PortView, fitted: Fitted) -> dict[Source, Vector]:
    """Doubt between parallel and 1:16, as a spread about their mixture."""
    if fitted.other_taper is None:
        return {}
    source = Source("parallel or taper", "whether it is tapered", "photo", view.photo.key)
    doubt = np.sqrt(fitted.taper_chance * (1 - fitted.taper_chance))
    gap = _values(fitted.other_taper) - _values(fitted.solution.theta)
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


def _demand_slant(view: PortView) -> None:
    if view.slant_rad < TOO_SQUARE_RAD:
        raise NoThreadError(
            f"{view.photo.name} looks {np.degrees(view.slant_rad):.0f}° from square on into the "
            "port: the thread on its wall is not seen.",
            "Lean the phone 40 to 50° from square on, so that it sees the far wall, and take it "
            "again.",
        )


def _no_thread(view: PortView) -> NoThreadError:
    """Why there is no thread: too dark, or nothing regular on the wall."""
    reach = 0.6 * view.hole_radius_mm
    places = np.linspace(-reach, reach, 41)
    x, y = np.meshgrid(places, places)
    light = view.light(np.stack([x, y, 0 * x], axis=-1))[np.hypot(x, y) < reach]
    if float(np.percentile(light, 75)) < DARKEST:
        return NoThreadError(
            f"{view.photo.name}: it is too dark in the port to see its wall.",
            "Light the far wall with a torch from the phone's side, no flash, and take it again.",
        )
    return NoThreadError(
        f"{view.photo.name}: no thread is seen on the wall of the hole in '{view.found.piece.name}'"
        ".",
        "Wipe grease and swarf out of the thread, see that the collar is round the right hole, and "
        "lean the phone 40 to 50° from square on.",
    )


def _values(theta: Vector) -> Vector:
    radius, narrowing, first, pitch, mouth = (
        float(theta[UNKNOWNS.index(name)])
        for name in ("radius", "narrowing", "first depth", "pitch", "mouth depth")
    )
    taper = float(np.degrees(np.arctan(narrowing)))
    return np.array([2 * radius, pitch, taper, 2 * (radius + narrowing * (first - mouth))])


def _numbers(values: Vector, parts: Mapping[Source, Vector]) -> dict[str, Quantity]:
    return {
        name: Quantity.normal(
            measured(values[index], {source: part[index] for source, part in parts.items()}),
            UNITS[index],
        )
        for index, name in enumerate(NAMES)
    }


def _parts(view: PortView, fitted: Fitted) -> dict[Source, Vector]:
    """Signed change of every size by one standard uncertainty of every source."""
    best = fitted.solution
    values = _values(best.theta)
    key = view.photo.key

    def own(name: str, label: str) -> Source:
        return Source(name, label, "photo", key)

    def change(scene: Scene = view.scene, biases: Biases = (0.0, 0.0)) -> Vector:
        step = moved(scene, fitted.features, best, biases)
        return np.asarray(_values(best.theta + step) - values)

    parts: dict[Source, Vector] = {}
    poses = []
    for source, scene in view.scene.variants():
        if source.scope != "photo":
            parts[source] = change(scene)
        else:
            poses.append(change(scene))
    parts |= _joined(poses, "sheet pose", "lens and pose of the collar", f"{key} port")
    for index, (name, bias) in enumerate(BIASES.items()):
        biases = (bias, 0.0) if index == 0 else (0.0, bias)
        parts[own(name, "where an edge in the port is seen")] = change(biases=biases)
    for name, shift in best.prior_shifts.items():
        parts[own(name, f"{name} of the port, known beforehand")] = (
            _values(best.theta + shift) - values
        )
    doubt_mm = _light_doubt_mm(fitted)
    parts[own("light on the crests", "which edge of a crest the light shows")] = np.array(
        [doubt_mm, 0.0, 0.0, doubt_mm]
    )
    parts[own("light along the wall", "how crests look along the wall")] = np.array(
        [0.0, PITCH_SHARE * values[1], 0.0, 0.0]
    )
    sides = fitted.features.crests.sides_rad
    reach = float(np.percentile(np.abs(sides), 95))
    parts[own("light round the wall", "how crests look round the wall")] = change(
        biases=(0.0, BEND_U_PX * (sides / reach) ** 2)
    )
    if fitted.other_hand is not None:
        apart = _values(fitted.other_hand) - values
        parts[own("hand", "which way the thread turns")] = np.asarray(apart / 2)
    noise = np.linalg.eigh(best.noise)
    shifts = [
        _values(best.theta + vector * np.sqrt(max(value, 0.0))) - values
        for value, vector in zip(noise[0], noise[1].T, strict=True)
    ]
    return parts | _joined(shifts, "crest fit", "scatter of the crest lines", key)


def _light_doubt_mm(fitted: Fitted) -> float:
    """Doubt of the bore by where light lets the crests be seen."""
    apart_mm = 2 * (fitted.solution.value("radius") - fitted.rough_radius_mm)
    wide_mm = apart_mm if apart_mm > ROUGH_MM else 0.0  # stripes say less, but not so much less
    ragged_mm = SCATTER_MM * fitted.solution.scatter_px[1]
    return float(np.sqrt((ROUGH_SHARE * wide_mm) ** 2 + ragged_mm**2 + LIGHT_U_MM**2))


def _joined(shifts: list[Vector], name: str, label: str, key: str) -> dict[Source, Vector]:
    """As few sources as there are sizes, with the same covariance (QR decomposition)."""
    if not shifts:
        return {}
    root = np.linalg.qr(np.stack(shifts), mode="r")
    return {
        Source(f"{name}/{number}", label, "photo", key): row
        for number, row in enumerate(root, start=1)
    }


def _demand_certainty(photo: Photo, bore: Quantity) -> None:
    share = bore.u / bore.value
    if not share < LARGEST_RELATIVE_U:
        raise TooUncertainError(
            f"{photo.name}: the bore would be uncertain by {share:.0%}, more than "
            f"{LARGEST_RELATIVE_U:.0%}.",
            "Measure the printed bars, come nearer, and lean the phone 40 to 50° from square on.",
        )


def _reading(
    view: PortView, fitted: Fitted, numbers: Mapping[str, Quantity], told: list[str]
) -> PortReading:
    solution = fitted.solution
    is_clean = solution.scatter_px[1] < STRAY_PX
    hand: Hand = "unknown"
    if fitted.is_hand_sure:
        hand = "right" if fitted.features.hand > 0 else "left"
    warnings = [*view.photo.warnings, *told]
    if view.scene.scale.caution:
        warnings.append(view.scene.scale.caution)
    if not is_clean:
        warnings.append("The crest lines do not line up: the thread is worn or dirty.")
    return PortReading(
        bore_diameter=numbers["bore"],
        bore_at_mm=solution.value("first depth") - solution.value("mouth depth"),
        bore_at_mouth=numbers["at mouth"],
        pitch=numbers["pitch"],
        taper_half_angle=numbers["taper"],
        hand=hand,
        mouth_diameter=None,
        counterbore_diameter=None,
        thread_depth=None,
        misfit_p=1.0 if is_clean else 0.0,
        print_is_verified=view.scene.scale.is_verified,
        traces=(trace(view, fitted),),
        warnings=tuple(warnings),
    )
