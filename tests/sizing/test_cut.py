"""The cut: worked by hand, with its missing terms, its sources and its checks."""

from typing import Any

import pytest

from photomeasure.errors import BadJobError
from photomeasure.quantities import Source, components, measured
from photomeasure.sizing.cut import convention_checks, too_little, too_long
from tests.sizing.jobs import Entries, cut, end, entries, plain, q, straight_job, value

NORMAL_975 = 1.959963984540054


def test_a_bent_hose_with_straight_ends() -> None:
    # By hand: 1000 + 20 - 30 - 30 = 960; u = sqrt(2^2 + 0.4^2 + 0.4^2) = 2.07846.
    lengths = cut(plain())
    assert value(lengths.cut_length) == pytest.approx(960, abs=1e-9)
    assert lengths.cut_length is not None
    assert lengths.cut_length.u == pytest.approx(2.07846, abs=1e-5)
    assert value(lengths.cut_at) == pytest.approx(960 + NORMAL_975 * 2.07846, abs=1e-4)
    # The assembly that is cut there: + 30 + 30.
    assert value(lengths.assembly_length) == pytest.approx(1020 + NORMAL_975 * 2.07846, abs=1e-4)
    assert lengths.missing == ()


def test_sockets_backed_off_and_gaps_left() -> None:
    # By hand: end A turned back 1/2 more than its cut-off holds, 4 mm hose thread: 2 mm.
    # End B: gap 1.5 mm, of which 0.5 mm in its cut-off: 1 mm. 960 - 2 - 1 = 957.
    job = end(plain(), 0, back_off_turns=1.0, back_off_in_cut_off=0.5, hose_thread_pitch=q(4, 0.05))
    job = end(job, 1, gap=q(1.5, 0.2), gap_in_cut_off=q(0.5, 0.1))
    assert value(cut(job).cut_length) == pytest.approx(957, abs=1e-9)


def test_from_the_port_face_and_to_the_nuts_end() -> None:
    # By hand: tape to port face A, adapter stands 22 mm off it: path 1000 - 22 = 978.
    # Cut-off B is 38 mm to the nut's end, which stands 7 mm past the seat: 31 mm to the seat.
    # 978 + 20 - 30 - 31 = 937.
    job = end(plain(), 0, datum="port face", stand_off=q(22, 0.3))
    job = end(job, 1, cut_off=q(38, 0.4), cut_off_to="nut end", nut_past_seat=q(7, 0.2))
    assert value(cut(job).cut_length) == pytest.approx(937, abs=1e-9)


def test_a_cut_off_measured_on_a_made_up_end_with_movement() -> None:
    # By hand: seat to socket 55.0, hose in it 24.5: cut-off 30.5. Band edge 6 mm before the seat.
    # Path at its longest 1000 + 6 + 12 = 1018; 1018 + 20 - 30.5 - 30 = 977.5.
    job = plain(movement={"longer": q(12, 1), "shorter": q(5, 1), "by": "F."})
    job = end(job, 0, cut_off=None, seat_to_socket=q(55, 0.2), socket_depth=q(24.5, 0.3))
    job = end(job, 0, datum="band edge", datum_offset=q(6, 0.3))
    assert value(cut(job).cut_length) == pytest.approx(977.5, abs=1e-9)


def test_a_near_straight_hose_gets_the_shortening_of_its_pressure() -> None:
    # By hand: shortens 0 to 4 % at 20 MPa; the line sees 10 MPa: 0 to 2 %, middle 1 %.
    # Assembly 1000 + 20; between the sockets 1020 - 60 - 50 = 910; 910 / 0.99 + 50 = 969.192.
    job = straight_job()
    assert value(cut(job).cut_length) == pytest.approx(910 / 0.99 + 50, abs=1e-9)
    assert value(cut(job).cut_length) == pytest.approx(969.192, abs=5e-4)


def test_two_angled_ends_are_reckoned_from_where_their_axes_cross() -> None:
    # By hand: path from crossing to crossing 700, cut-offs 45 and 41 to the crossings:
    # 700 + 0 - 86 = 614.
    job = plain(route={"length": q(700, 1), "near_straight": False}, slack={"value": 0, "u": 0})
    for index, cut_off in enumerate((45, 41)):
        job = end(job, index, end="90", datum="axes cross", cut_off=q(cut_off, 0.5))
        job = end(job, index, cut_off_to="axes cross")
    assert value(cut(job).cut_length) == pytest.approx(614, abs=1e-9)


def test_the_longest_usable_hose() -> None:
    # By hand: shortest path 1000 - 5, room 40 more: 1035 - 60 = 975, whatever the slack.
    job = plain(movement={"longer": q(0, 1), "shorter": q(5, 1), "by": "F."}, surplus=q(40, 3))
    lengths = cut(job)
    assert value(lengths.longest_usable) == pytest.approx(975, abs=1e-9)
    assert value(lengths.surplus) == 40


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"slack": None}, "slack"),
        ({"route": None}, "route"),
        ({"route": {"length": q(1000, 2)}}, "near-straight"),
        ({"ends": []}, "both ends"),
    ],
)
def test_a_missing_term_gives_no_mark_and_is_named(change: Entries, named: str) -> None:
    lengths = cut(plain(**change))
    assert lengths.cut_at is None
    assert lengths.cut_length is None
    assert any(named in need for need in lengths.missing)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"datum": None}, "datum"),
        ({"datum": "band edge", "datum_offset": None}, "band edge"),
        ({"made": "screw-together"}, "backed off"),
        (
            {"made": "screw-together", "back_off_turns": 0, "back_off_in_cut_off": 0},
            "gap left between socket and nipple",
        ),
        ({"datum": "port face"}, "stand-off"),
        ({"datum": "axes cross"}, "straight end"),
        ({"end": "90"}, "axes cross"),
        ({"end": "45", "datum": "axes cross"}, "never reckoned to its seat"),
        ({"cut_off": None}, "cut-off allowance"),
        ({"cut_off_to": "nut end"}, "nut's end"),
        ({"back_off_turns": 0.5}, "already in the cut-off"),
        ({"back_off_turns": 0.5, "back_off_in_cut_off": 0}, "coarse hose thread"),
        ({"gap": q(1, 0.1)}, "gap already in the cut-off"),
    ],
)
def test_a_missing_term_of_an_end_is_named(change: Entries, named: str) -> None:
    lengths = cut(end(plain(), 1, **change))
    assert lengths.cut_at is None
    assert any(named in need and "B" in need for need in lengths.missing)


def test_a_made_up_end_that_was_measured_holds_its_back_off_and_gap() -> None:
    job = end(plain(), 1, made="screw-together", cut_off=None, seat_to_socket=q(55, 0.2))
    assert cut(job).missing == ()


def test_a_ptfe_end_has_a_gap_but_no_back_off() -> None:
    job = end(plain(hose={"liner": "PTFE"}), 1, made="screw-together")
    assert [need for need in cut(job).missing if "backed off" in need] == []
    assert any("gap left" in need for need in cut(job).missing)


def test_a_seat_that_nobody_measured_to_is_a_millimetre_unsure() -> None:
    # Common practice: the tape meets the seat within 1 mm. Two of them: u² = 4.32 + 2 x 1 / 3.
    job = plain()
    for index in range(2):
        job = end(job, index, datum_offset=None)
    lengths = cut(job)
    assert lengths.cut_length is not None
    assert lengths.cut_length.u == pytest.approx((4.32 + 2 / 3) ** 0.5, abs=1e-4)


def test_shortening_needs_the_pressures_and_the_sockets_depths() -> None:
    job = plain(route={"length": q(1000, 2), "near_straight": True})
    assert any("pressure" in need for need in cut(job).missing)
    job = end(straight_job(), 0, socket_depth=None)
    assert any("depth of end A" in need for need in cut(job).missing)


def test_a_hose_that_the_route_bends_gets_no_shortening() -> None:
    job = straight_job()
    job["route"] = {"length": q(1000, 2), "turning": q(90, 1, "deg")}
    assert value(cut(job).cut_length) == pytest.approx(960, abs=1e-9)


def test_inches_and_millimetres_give_one_answer() -> None:
    metric = end(plain(), 0, cut_off="31.75mm ± 0.508mm")
    inch = end(plain(), 0, cut_off="1 1/4in ± 20thou")
    assert value(cut(metric).cut_at) == pytest.approx(value(cut(inch).cut_at), rel=0, abs=1e-9)


def test_a_lopsided_route_is_followed_on_its_long_side() -> None:
    # The route's upper quantile is 1008, twice the normal half width: with nothing else
    # uncertain the 97.5 % quantile of the cut is 1008 + 20 - 60.
    route = {**q(1000, 2), "high": 1008.0}
    job = plain(route={"length": route, "near_straight": False})
    for index in range(2):
        job = end(job, index, cut_off={"value": 30, "u": 0})
    assert value(cut(job).cut_at) == pytest.approx(968, abs=0.1)  # sampled: 0.8 % of u


def test_a_rectangular_entry_stays_rectangular() -> None:
    # Alone, "± 3 mm" has its 97.5 % quantile at 0.95 x 3 mm (a uniform distribution), not at
    # 1.96 u = 3.39 mm. The route's own u is small beside it.
    job = plain(route={"length": q(1000, 0.01), "near_straight": False})
    job = end(job, 0, cut_off="30mm ± 3mm")
    job = end(job, 1, cut_off={"value": 30, "u": 0})
    assert value(cut(job).cut_at) == pytest.approx(960 + 0.95 * 3, abs=0.03)


def test_the_routes_own_sources_reach_the_cut() -> None:
    scale = {"label": "print scale", "scope": "print", "key": "sheet 7"}
    job = plain(
        route={
            "length": q(1000, 2.5),
            "near_straight": False,
            "components": {"length": {"scale": 2.0, "placement": -1.5}},
            "sources": {"scale": scale, "placement": {**scale, "key": "p"}},
        }
    )
    lengths = cut(job)
    assert lengths.cut_length is not None
    parts = components(lengths.cut_length.number)
    shared = Source("scale", "print scale", "print", "sheet 7")
    assert parts[shared] == pytest.approx(2.0)
    # Correlation survives: the same variable, met elsewhere, cancels.
    other = measured(0.0, {shared: 2.0})
    rest = (lengths.cut_length.number - other).std_dev
    assert rest == pytest.approx((1.5**2 + 2 * 0.4**2) ** 0.5, rel=1e-9)


def test_components_that_do_not_make_up_the_uncertainty_are_refused() -> None:
    scale = {"label": "scale", "scope": "print", "key": "k"}
    route = {
        "length": q(1000, 2),
        "near_straight": False,
        "components": {"length": {"scale": 1.0}},
        "sources": {"scale": scale},
    }
    with pytest.raises(BadJobError, match="make u = 1"):
        cut(plain(route=route))
    with pytest.raises(BadJobError, match="not listed"):
        cut(plain(route={**route, "sources": {}}))
    with pytest.raises(BadJobError, match="no uncertainty"):
        cut(plain(route={"length": {"value": 1000, "u": 0}, "near_straight": False}))


def test_the_hoses_own_length_is_taken_before_the_tapes() -> None:
    job = plain(route={"length": q(1000, 2), "hose_length": q(1027, 2), "near_straight": False})
    assert value(cut(job).cut_length) == pytest.approx(987, abs=1e-9)


@pytest.mark.parametrize(
    ("surplus", "ok"),
    [(q(60, 2), True), (q(20, 2), False), (q(26, 3), None), (None, None)],
)
def test_a_mark_beyond_the_longest_usable_hose_fails(surplus: Any, ok: bool | None) -> None:
    # Cut at 964.07; longest usable 940 + surplus: 1000, 960, 966 (960.1 to 971.9).
    assert too_long(cut(plain(surplus=surplus))).ok is ok


def test_nobody_said_to_where_the_cut_off_runs() -> None:
    first, second = convention_checks(entries(end(plain(), 1, cut_off_to=None)))
    assert first.ok is True
    assert second.ok is None


def test_the_same_job_gives_the_same_mark() -> None:
    assert value(cut(straight_job()).cut_at) == value(cut(straight_job()).cut_at)


@pytest.mark.parametrize(
    ("length_mm", "ok"),
    # cut = length + 20 slack - 2 x 30 cut-off; depths 25 each; 3 x 18 mm outside = 54 needed
    [(1000, True), (150, True), (140, False), (50, False), (0, False), (-5, False)],
)
def test_ends_that_leave_no_hose_between_them_fail(length_mm: float, ok: bool) -> None:
    job = plain(
        route={"length": q(length_mm, 0.1), "near_straight": False},
        hose={"outside_diameter_mm": 18},
    )
    assert too_little(entries(job), cut(job)).ok is ok
    assert too_little(entries(plain(slack=None)), cut(plain(slack=None))).ok is None
