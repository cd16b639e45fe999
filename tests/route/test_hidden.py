"""Something over a line's end: refused, unless the end was pointed at. Drawn strips."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.errors import NoLineError
from photomeasure.route.arcfit import fit_arcs
from photomeasure.route.arcs import Arcs
from photomeasure.route.flat import RIM_SEEN, _without_rims
from photomeasure.route.hidden import refuse_hidden_ends
from photomeasure.route.look import Pass
from photomeasure.route.sides import Side
from photomeasure.route.strip import RoundLook, Strip
from photomeasure.route.track import End, Track
from tests.route.scenes import draw_route

WIDTH_MM, LENGTH_MM = 20.0, 400.0
GREY, GREY_RED, BLUE = (120.0, 128.0, 128.0), (120.0, 150.0, 120.0), (80.0, 110.0, 160.0)
NOWHERE = np.zeros((0, 2))
GUIDE = Arcs(np.zeros(2), 0.0, np.array([0.0, LENGTH_MM]), np.zeros(1))

Colour = tuple[float, float, float]
Patch = tuple[float, float, Colour]  # from, to beyond the end [mm], brightness and hue


def _seen(*patches: Patch, look: RoundLook = "flat", line: Colour = BLUE) -> Pass:
    """A straight line from 0 to 400 mm on a grey floor, patches across its end."""
    along, across = np.arange(-160.0, LENGTH_MM + 160.0), np.arange(-44.0, 45.0)
    colour = np.broadcast_to(np.float32(GREY), (len(along), len(across), 3)).copy()
    on_line = np.ix_((along > 0) & (along < LENGTH_MM), np.abs(across) < WIDTH_MM / 2)
    colour[on_line] = line
    for first, last, tint in patches:
        colour[(along > LENGTH_MM + first) & (along < LENGTH_MM + last)] = tint
    colour += np.random.default_rng(1).normal(0.0, 2.0, colour.shape).astype(np.float32)
    share = np.zeros(colour.shape[:2], np.float32)
    share[on_line] = 1.0
    yes, no = np.ones(len(along), bool), np.zeros(len(along), bool)
    strip = Strip(
        along, across, share, share, True, False, False, yes, yes, no, look, WIDTH_MM, 80.0,
        colour, 160.0,
    )  # fmt: skip
    at, half = np.linspace(0.0, LENGTH_MM, 50), np.full(50, WIDTH_MM / 2)
    track = Track(at, np.zeros(50), half, -half, np.ones(50), WIDTH_MM, 0.01)
    fit = fit_arcs(np.column_stack((at, np.zeros(50))), np.ones(50), 0.1)
    ends = (End(0.0, 0.05, is_seen=True), End(LENGTH_MM, 0.05, is_seen=True))
    return Pass(GUIDE, strip, ends, track, fit)


def test_bare_floor_beyond_both_ends_is_no_reason_to_refuse() -> None:
    refuse_hidden_ends(_seen(), NOWHERE)
    refuse_hidden_ends(_seen(look="dark"), NOWHERE)


@pytest.mark.parametrize(
    "thing",
    [(0.0, 90.0, (220.0, 128.0, 128.0)), (0.0, 90.0, (40.0, 128.0, 128.0)), (0.0, 90.0, GREY_RED)],
    ids=["white card", "boot", "coloured, as bright as the floor"],
)
@pytest.mark.parametrize("look", ["flat", "dark", "light"])
def test_a_thing_that_may_hide_the_rest_is_refused_until_the_end_is_pointed_at(
    look: RoundLook, thing: Patch
) -> None:
    covered = _seen(thing, look=look)
    with pytest.raises(NoLineError, match="Something lies at the line's end"):
        refuse_hidden_ends(covered, NOWHERE)
    refuse_hidden_ends(covered, np.array([[LENGTH_MM - 5.0, 3.0]]))
    with pytest.raises(NoLineError):
        refuse_hidden_ends(covered, np.array([[5.0, 0.0]]))  # the other end does not help


def test_a_round_line_s_own_shadow_hides_nothing() -> None:
    refuse_hidden_ends(_seen((0.0, 26.0, (80.0, 128.0, 128.0)), look="dark"), NOWHERE)


def test_a_dark_hose_on_a_dark_floor_that_goes_on_is_refused() -> None:
    """Its lit top is little lighter than the floor; beyond its true end lies shadow."""
    goes_on = replace(_seen((0.0, 90.0, (127.0, 128.0, 128.0)), look="dark"), is_faint=True)
    with pytest.raises(NoLineError, match="end is not told from the floor"):
        refuse_hidden_ends(goes_on, NOWHERE)
    refuse_hidden_ends(goes_on, np.array([[LENGTH_MM, 0.0]]))
    shaded = replace(_seen((0.0, 20.0, (113.0, 128.0, 128.0)), look="dark"), is_faint=True)
    refuse_hidden_ends(shaded, NOWHERE)


def test_a_thing_taken_for_the_line_s_last_bit_is_refused() -> None:
    """A white card as wide as the tape lies on its end, bare floor beyond both."""
    with pytest.raises(NoLineError, match="Something"):
        refuse_hidden_ends(_seen((-30.0, 0.0, (220.0, 128.0, 128.0))), NOWHERE)


def test_a_printed_reference_over_an_end_is_refused() -> None:
    look = _seen()
    covered = replace(look, ends=(look.ends[0], replace(look.ends[1], is_covered=True)))
    with pytest.raises(NoLineError, match="printed reference lies at the line's end"):
        refuse_hidden_ends(covered, NOWHERE)
    refuse_hidden_ends(covered, np.array([[LENGTH_MM, 0.0]]))


def test_rims_that_stick_out_are_taken_off() -> None:
    """An end's outermost place is a rim's top where it points away, its foot where it does not.

    That lies a radius times the lean of the sight beyond the axis' end (similar triangles).
    """
    scene, radius_mm, height_mm = draw_route(np.random.default_rng(6)).scene, 12.0, 11.5
    far, near = height_mm + radius_mm, height_mm - radius_mm

    def seen_mm(end_mm: float) -> float:
        tops: NDArray[np.float64] = np.array([[end_mm, 0.0, far], [end_mm, 0.0, near]])
        places = scene.sheet_mm(scene.px(tops), height_mm)[:, 0]
        return float(places.max() if end_mm else places.min())

    ends = tuple(End(seen_mm(at), 0.05, is_seen=True) for at in (0.0, LENGTH_MM))
    look = replace(_seen(), ends=(ends[0], ends[1]))
    found = _without_rims(look, scene, 2 * radius_mm, height_mm).ends
    for before, after, truth in zip(ends, found, (0.0, LENGTH_MM), strict=True):
        out_mm = before.along_mm - truth
        assert abs(out_mm) > 1.0
        assert (before.along_mm - after.along_mm) / out_mm == pytest.approx(RIM_SEEN, abs=0.01)


def test_a_line_like_the_floor_is_refused() -> None:
    coded = np.full((200, 60, 3), 100.0, np.float32)
    with pytest.raises(NoLineError, match="hardly differs"):
        Side(coded, np.linspace(0.0, 2.2, 60), np.zeros(200, bool), 10)
