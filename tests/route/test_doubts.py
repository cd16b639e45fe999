"""What is refused rather than measured short; and photos of one line joined. Drawn pictures."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure.answers.route import _joined, _refuse_contradiction
from photomeasure.errors import NoLineError, TooUncertainError
from photomeasure.quantities import Quantity, Source, measured
from photomeasure.route.arcfit import fit_arcs
from photomeasure.route.arcs import Arcs
from photomeasure.route.doubts import _looks_round, refuse_other_size, refuse_what_was_lost
from photomeasure.route.flat import read_flat
from photomeasure.route.look import Pass
from photomeasure.route.reading import FlatOptions, RouteReading
from photomeasure.route.strip import Strip
from photomeasure.route.track import End, Track
from tests.route.pictures import Look, photo_of
from tests.route.scenes import draw_route, found_piece, known_scene

SIZE = (2000, 1500)


def _drawn(seed: int, look: Look, options: FlatOptions, hidden_widths: float = 0.0) -> RouteReading:
    """Read a drawn line, a stretch of it painted over with the floor's colour."""
    rng = np.random.default_rng(seed)
    route = draw_route(rng, SIZE)
    if look.is_round:
        route = replace(route, width_mm=19.0)
    photo = photo_of(route, look, rng, SIZE)
    if hidden_widths:
        middle = route.arcs.points(np.array([0.5 * route.length_mm]))
        px = route.scene.px(np.array([[*middle[0], 0.0], [*middle[0] + (route.width_mm, 0), 0.0]]))
        reach = round(0.5 * hidden_widths * float(np.hypot(*(px[1] - px[0]))))
        colour = photo.colour.copy()
        cv2.circle(colour, tuple(np.round(px[0]).astype(int).tolist()), reach, (90, 95, 100), -1)
        photo = replace(photo, colour=colour, grey=cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY))
    scene = known_scene(route.scene, route.sheets, rng, corner_u_px=0.08)
    pieces = tuple(found_piece(route, sheet, 0.9) for sheet in route.sheets)
    return read_flat(photo, scene, pieces, options)


def test_a_line_hidden_for_long_is_refused_not_measured_short() -> None:
    look = Look("blue", "concrete")
    whole = _drawn(6, look, FlatOptions())
    assert whole.length.value > 300
    with pytest.raises(NoLineError):
        _drawn(6, look, FlatOptions(), hidden_widths=9.0)


def test_a_hose_nearly_as_dark_as_the_floor_is_told_by_its_edges() -> None:
    route = draw_route(np.random.default_rng(11), SIZE)
    look = Look("black", "dark", is_round=True)
    length = _drawn(11, look, FlatOptions(line="hose")).length
    assert length.value == pytest.approx(route.length_mm, abs=0.003 * route.length_mm + 0.5)
    assert abs(length.value - route.length_mm) < 3 * length.u


def test_a_hose_of_which_no_edge_is_clear_is_refused() -> None:
    scene = draw_route(np.random.default_rng(6), SIZE).scene
    look = _pass(_strip(20.0, 0.0), (0.0, 100.0), 20.0)
    path = np.array([[0.0, 0.0], [100.0, 0.0]])
    with pytest.raises(NoLineError, match="not clear enough"):
        refuse_what_was_lost(replace(look, is_faint=True, is_clear=False), path, 0.0, scene)
    vague = (replace(look.ends[0], u_mm=8.0), look.ends[1])
    with pytest.raises(NoLineError, match="start is not told"):
        refuse_what_was_lost(replace(look, is_faint=True, ends=vague), path, 0.0, scene)


@pytest.mark.parametrize("floor", ["dark", "cardboard"])
def test_striped_tape_is_measured_whole_even_where_half_of_it_looks_like_the_floor(
    floor: str,
) -> None:
    """Black and yellow stripes; on the dark floor only the yellow ones stand out."""
    rng = np.random.default_rng(24)
    route = replace(draw_route(rng, SIZE), width_mm=45.0)
    photo = photo_of(route, Look("yellow", floor, stripes="black"), rng, SIZE)
    scene = known_scene(route.scene, route.sheets, rng, corner_u_px=0.08)
    pieces = tuple(found_piece(route, sheet, 0.9) for sheet in route.sheets)
    length = read_flat(photo, scene, pieces, FlatOptions()).length
    assert length.value == pytest.approx(route.length_mm, abs=0.003 * route.length_mm + 0.5)
    assert abs(length.value - route.length_mm) < 3 * length.u


def _straight(length_mm: float) -> Arcs:
    return Arcs(np.zeros(2), 0.0, np.array([0.0, length_mm]), np.zeros(1))


def _pass(strip: Strip, ends_mm: tuple[float, float], width_mm: float) -> Pass:
    """A look along a straight line whose edges are found all along."""
    at = np.linspace(*ends_mm, 50)
    half = np.full(50, width_mm / 2)
    track = Track(at, np.zeros(50), half, -half, np.ones(50), width_mm, 0.01)
    first, last = (End(along, 0.05, is_seen=True) for along in ends_mm)
    guide = _straight(ends_mm[1])
    fit = fit_arcs(np.column_stack((at, np.zeros(50))), np.ones(50), 0.1)
    return Pass(guide, strip, (first, last), track, fit)


def _strip(width_mm: float, sideways_mm: float) -> Strip:
    """Tape from 0 to 100 mm that then goes on for a width, to the left."""
    along, across = np.arange(-60.0, 160.0), np.arange(-45.0, 46.0)
    sure = (np.abs(across) < width_mm / 2) & ((along > 0) & (along < 100))[:, None]
    sure |= ((along > 100) & (along < 100 + width_mm))[:, None] & (
        (across > 0) & (across < sideways_mm)
    )
    share = sure.astype(np.float32)
    yes, no = np.ones(len(along), bool), np.zeros(len(along), bool)
    return Strip(
        along, across, share, share, True, False, False, yes, yes, no, "flat", width_mm, 100.0,
        np.stack((255 * share, share, share), axis=-1), 60.0,
    )  # fmt: skip


def test_tape_that_goes_on_round_a_corner_is_refused() -> None:
    path = np.array([[0.0, 0.0], [100.0, 0.0]])
    scene = draw_route(np.random.default_rng(6), SIZE).scene
    refuse_what_was_lost(_pass(_strip(20.0, 0.0), (0.0, 100.0), 20.0), path, 0.0, scene)
    with pytest.raises(NoLineError, match="what lies beside it"):
        refuse_what_was_lost(_pass(_strip(20.0, 40.0), (0.0, 100.0), 20.0), path, 0.0, scene)


def test_a_line_much_shorter_than_what_looked_like_it_is_refused() -> None:
    """Both ends of the path lie near the ends of what was followed; its way round is lost."""
    turn = np.linspace(0.0, 1.7 * np.pi, 200)
    path = 110.0 * np.column_stack((1 - np.cos(turn), np.sin(turn)))
    chord = float(np.hypot(*path[-1]))
    x, y = path[-1] / chord
    path = path @ np.array([[x, -y], [y, x]])
    scene = draw_route(np.random.default_rng(6), SIZE).scene
    look = _pass(_strip(20.0, 0.0), (0.0, chord), 20.0)
    with pytest.raises(NoLineError, match="cannot be followed"):
        refuse_what_was_lost(look, path, 0.0, scene)


def _reading(like: RouteReading, length_mm: float, parts: dict[Source, float]) -> RouteReading:
    return replace(like, length=Quantity.normal(measured(length_mm, parts), "mm"))


def test_joined_photos_share_what_they_share() -> None:
    """Two readings of u = 5 of which 4 is common: sqrt(4 ** 2 + 3 ** 2 / 2), by hand."""
    like = _drawn(6, Look("blue", "concrete"), FlatOptions())
    shared = Source("print above the floor", "", "photo", "both")
    own = [Source("line start", "", "photo", key) for key in ("one", "other")]
    one, other = (
        _reading(like, length, {shared: 4.0, mine: 3.0})
        for length, mine in zip((1000.0, 1002.0), own, strict=True)
    )
    joined = _joined([one, other])
    assert joined.length.value == pytest.approx(1001.0)
    assert joined.length.u == pytest.approx(np.sqrt(16 + 4.5))
    _refuse_contradiction([one.length, other.length], ["a.jpg", "b.jpg"])
    far = _reading(like, 1020.0, {shared: 4.0, own[1]: 3.0})
    with pytest.raises(TooUncertainError, match=r"1020 mm in b\.jpg, 1000 mm in a\.jpg"):
        _refuse_contradiction([one.length, far.length], ["a.jpg", "b.jpg"])


def test_a_diameter_that_the_picture_contradicts_is_refused() -> None:
    """A quarter off is a wrong entry; shading takes a tenth off a thin cord's width."""
    refuse_other_size(5.3, 6.0)
    refuse_other_size(19.8, 19.0)
    with pytest.raises(NoLineError, match="looks 23 mm thick, not 40 mm"):
        refuse_other_size(23.1, 40.0)
    with pytest.raises(NoLineError, match="looks 7 mm thick, not 10 mm"):
        refuse_other_size(7.0, 9.8)


def test_a_hose_said_to_be_tape_is_warned_of_and_tape_is_not() -> None:
    along, across = np.arange(-60.0, 160.0), np.arange(-45.0, 46.0)
    hose = 60.0 - 0.4 * across**2 * (np.abs(across) < 10) + 5.0 * across * (np.abs(across) < 10)
    floor = 150.0 - 40.0 * ((across < -10) & (across > -18))
    light = np.where(np.abs(across) < 10, hose, floor)[None] + np.zeros((len(along), 1))
    strip = replace(_strip(20.0, 0.0), colour=np.repeat(light[..., None], 3, axis=2))
    assert _looks_round(_pass(strip, (0.0, 100.0), 20.0))
    assert not _looks_round(_pass(_strip(20.0, 0.0), (0.0, 100.0), 20.0))
