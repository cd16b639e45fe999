"""What speaks against a line as it was followed: refusals and warnings."""

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.route.budget import FlatLine
from photomeasure.route.hidden import not_told
from photomeasure.route.look import Pass
from photomeasure.route.reading import FlatScene
from photomeasure.route.strip import Ground

__all__ = ["is_shadow", "refuse_open_ends", "refuse_what_was_lost", "warnings_of"]

Points2 = NDArray[np.float64]  # (N, 2)

FAR_MM = 400.0  # from the nearest reference; beyond, small errors of its pose grow
SHORTER = 2.5  # widths by which the followed line may end before what looked like it
LEAST_FOLLOWED = 0.85  # of its length; a rough path wavers and is up to a twentieth longer
TIGHTEST = 0.5  # of the width: a tape's or hose's middle cannot turn tighter; common practice
FOLDS_RAD = 4.0  # of turning in such folds, before the way is lost; where something crosses the
# line, its rim may throw up one or two of a radian
FLANK = (0.65, 1.65, 0.2)  # widths from the middle of a shadow, in steps: there lies what casts it
LIT_FLANK = -0.08  # of the shadow's darkness; beside drawn dark cords it stays above -0.02
VAGUE = 0.3  # of the width: doubt of a faint line's end that is too much
TURNED = ((0.1, 1.0), (0.55, 1.1), 0.4)  # widths beyond an end, widths aside, and share of the
# line's colour there from which a tape goes on round a corner that was not followed
OTHER_SIZE = (0.2, 0.7)  # of the diameter that was said, and mm, by which the seen one may be off
ROUND_SHADE = (0.12, (0.25, 0.42), 6.0)  # widths from the middle, towards a side, and stored levels
# between them or between the sides: no tape is shaded so; drawn tapes show none
ROUND_SHADOW = (
    (0.6, 0.75),
    (1.2, 1.7),
    10.0,
)  # widths aside, and levels: nor does it cast a shadow
LONGEST_GAP = (6.0, 40.0)  # widths and mm that may be bridged


def refuse_open_ends(look: Pass) -> None:
    """Refuse a line that leaves the picture, or of which an end is not found.

    Parameters
    ----------
    look : Pass

    Raises
    ------
    NoLineError
    """
    for end, name in zip(look.ends, ("start", "end"), strict=True):
        if end.is_cut_off:
            raise NoLineError(
                f"The line runs out of the picture at its {name}.",
                "Step back so that both ends show with some floor beyond them.",
            )
        if not end.is_seen:
            raise NoLineError(
                f"The line's {name} is not found.",
                "Keep other things and hard shadows away from its ends, or drag its ends in the "
                "app.",
            )


def refuse_what_was_lost(look: Pass, path_mm: Points2, height_mm: float, scene: FlatScene) -> None:
    """Refuse a line of which a stretch, an end or the way was lost.

    Parameters
    ----------
    look : Pass
    path_mm : (N, 2) [mm]
        What looked like the line at first, in its plane.
    height_mm : float [mm]
        Of that plane above the prints' faces.
    scene : FlatScene

    Raises
    ------
    NoLineError
        It says between which pixels.
    """
    if not look.is_clear:
        raise NoLineError(
            "The line hardly differs from the floor, and its edges are not clear enough.",
            "Lay paper or cardboard under it, or lay plain tape of another colour; if it can be "
            "seen in the picture, point at some places along it with --points.",
        )
    for gap_mm in (_lost_end(look, path_mm), _lost_stretch(look), _fold(look)):
        if gap_mm is None:
            continue
        px = scene.px(np.column_stack((gap_mm, np.full(2, height_mm))))
        where = " and ".join(f"({x:.0f}, {y:.0f})" for x, y in px)
        raise NoLineError(
            f"The line's edges cannot be followed between pixels {where}.",
            "Uncover it there, keep glare and shadows off, or lay plain tape of another colour.",
        )
    _refuse_corner(look)
    for end, name in zip(look.ends, ("start", "end"), strict=True):
        if look.is_faint and not end.is_covered and end.u_mm > VAGUE * look.track.width_mm:
            raise not_told(name)
        if end.is_ragged:
            raise NoLineError(
                f"The line's {name} cannot be told: its last stripe may look like the floor.",
                "Lay plain tape, or cut the tape square within a stripe that stands out.",
            )


def refuse_other_size(seen_mm: float, said_mm: float) -> None:
    """Refuse a diameter that the picture contradicts: the axis would lie at another height.

    Parameters
    ----------
    seen_mm, said_mm : float [mm]

    Raises
    ------
    NoLineError
    """
    if abs(seen_mm - said_mm) > OTHER_SIZE[0] * said_mm + OTHER_SIZE[1]:
        raise NoLineError(
            f"The line looks {seen_mm:.0f} mm thick, not {said_mm:.0f} mm.",
            "Measure what was photographed with a caliper and say that as --line-od, or leave it "
            "out.",
        )


def _looks_round(look: Pass) -> bool:
    """Whether what was said to be tape is shaded across and casts a shadow."""
    strip, width_mm = look.strip, look.track.width_mm
    if strip.round_look != "flat" or strip.is_striped:
        return False
    first, last = (end.along_mm for end in look.ends)
    light = strip.light[(strip.along_mm > first + width_mm) & (strip.along_mm < last - width_mm)]
    aside = strip.across_mm / width_mm

    def level(low: float, high: float) -> float:
        part = light[:, (aside > low) & (aside < high)]
        known = part[np.isfinite(part)]
        return float(np.median(known)) if len(known) else 0.0

    middle, (inner, outer) = ROUND_SHADE[0], ROUND_SHADE[1]
    tones = (level(-middle, middle), level(inner, outer), level(-outer, -inner))
    near, far, least = ROUND_SHADOW
    falls = (level(*far) - level(*near), level(-far[1], -far[0]) - level(-near[1], -near[0]))
    return max(tones) - min(tones) > ROUND_SHADE[2] and max(falls) > least


def is_shadow(look: Pass) -> bool:
    """Whether a dark line has a stripe lighter than the floor beside it: what casts a shadow.

    Parameters
    ----------
    look : Pass

    Returns
    -------
    bool
    """
    strip = look.strip
    if strip.round_look != "dark":
        return False
    first, last = (end.along_mm for end in look.ends)
    own = strip.sure[(strip.along_mm > first) & (strip.along_mm < last)]
    place = strip.across_mm / look.track.width_mm
    flanks = [
        float(np.median(np.mean(own[:, (side * place > low) & (side * place < low + FLANK[2])], 1)))
        for side in (1, -1)
        for low in np.arange(FLANK[0], FLANK[1], FLANK[2])
    ]
    return min(flanks) < LIT_FLANK


def _refuse_corner(look: Pass) -> None:
    """Refuse tape whose colour goes on sideways beyond an end, where its way was lost."""
    strip, width_mm = look.strip, look.track.width_mm
    if strip.round_look != "flat":
        return
    for end, sign, name in zip(look.ends, (-1, 1), ("start", "end"), strict=True):
        beyond = sign * (strip.along_mm - end.along_mm) / width_mm
        rows = (beyond > TURNED[0][0]) & (beyond < TURNED[0][1])
        for side in (-1, 1):
            aside = side * strip.across_mm / width_mm
            columns = (aside > TURNED[1][0]) & (aside < TURNED[1][1])
            if np.mean(strip.sure[np.ix_(rows, columns)] > 0.5) > TURNED[2]:
                raise NoLineError(
                    f"The line's {name} is not told from what lies beside it.",
                    "Keep other things away from the ends, and all of the tape well in the "
                    "picture.",
                )


def _lost_end(look: Pass, path_mm: Points2) -> Points2 | None:
    """From an end as found to where the line seemed to end at first, if that is farther out."""
    first, last = (end.along_mm for end in look.ends)
    seemed_mm = look.fit.arcs.nearest(path_mm[[0, -1]])
    found_mm = look.fit.arcs.nearest(look.guide.points(np.array([first, last])))
    short = (found_mm - seemed_mm) * (1, -1)
    worst = int(np.argmax(short))
    path_length_mm = float(np.sum(np.hypot(*np.diff(path_mm, axis=0).T)))
    if last - first < LEAST_FOLLOWED * path_length_mm - SHORTER * look.track.width_mm:
        worst = int(np.argmax(np.hypot(*(path_mm[[0, -1]] - look.fit.arcs.points(found_mm)).T)))
    elif short[worst] <= SHORTER * look.track.width_mm:
        gap_mm = np.hypot(*(path_mm[[0, -1]] - look.fit.arcs.points(found_mm)).T)
        if np.max(gap_mm) <= 2 * SHORTER * look.track.width_mm or np.min(short) < 0:
            return None
        worst = int(np.argmax(gap_mm))
    found = look.fit.arcs.points(found_mm)[worst]
    return np.vstack((found, path_mm[[0, -1]][worst]))


def _lost_stretch(look: Pass) -> Points2 | None:
    """Ends of the longest stretch without edges, if it is too long to be bridged."""
    track = look.track
    longest_mm = max(LONGEST_GAP[0] * track.width_mm, LONGEST_GAP[1])
    known = track.along_mm[track.weight > 0]
    marks = np.concatenate(([look.ends[0].along_mm], known, [look.ends[1].along_mm]))
    gap = int(np.argmax(np.diff(marks)))
    if marks[gap + 1] - marks[gap] <= longest_mm:
        return None
    return look.guide.points(marks[gap : gap + 2])


def _fold(look: Pass) -> Points2 | None:
    """Ends of the first piece that turns tighter than such a line can, if many do."""
    arcs = look.fit.arcs
    turned = np.abs(arcs.curvature_per_mm) * np.diff(arcs.knots_mm)
    is_fold = np.abs(arcs.curvature_per_mm) > 1 / (TIGHTEST * look.track.width_mm)
    folds = np.nonzero(is_fold)[0]
    if float(turned[folds].sum()) < FOLDS_RAD:
        return None
    return arcs.points(arcs.knots_mm[folds[0] : folds[0] + 2])


def warnings_of(look: Pass, line: FlatLine, ground: Ground) -> tuple[str, ...]:
    """Say what the person should look at.

    Parameters
    ----------
    look : Pass
    line : FlatLine
    ground : Ground

    Returns
    -------
    tuple of str
    """
    found = []
    lost = 1.0 - float(np.mean(look.track.weight > 0))
    if lost > 0.1:
        found.append(f"{lost:.0%} of the line is hidden or unclear; it was bridged smoothly.")
    if _looks_round(look):
        found.append(
            "The line looks round, not flat as tape does. If it is a hose, cord or rod, say so "
            "with --line: else it comes out some 1 to 3 % too long."
        )
    far = _farthest(line.px, ground)
    if len(ground.outlines_px) == 1:
        found.append(
            f"One reference in one place; the line goes {far:.0f} mm away from it. "
            "A second one at the other end makes the length surer."
        )
    elif far > FAR_MM:
        found.append(
            f"The line goes {far:.0f} mm away from the nearest reference; lay one beside there."
        )
    return tuple(found)


def _farthest(line_px: Points2, ground: Ground) -> float:
    """Greatest distance of the line from the nearest reference's corner or middle."""
    line = ground.scene.sheet_mm(line_px[:: max(1, len(line_px) // 50)])
    outlines = [ground.scene.sheet_mm(o) for o in ground.outlines_px]
    marks = np.vstack([np.vstack((o, o.mean(axis=0))) for o in outlines])
    distance = np.hypot(*(line[:, None] - marks[None]).transpose(2, 0, 1))
    return float(np.max(np.min(distance, axis=1)))
