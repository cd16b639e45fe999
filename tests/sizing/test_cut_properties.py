"""The arithmetic of the cut: what must hold for any hose."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sizing.jobs import cut, end, plain, q, straight_job, value

lengths_mm = st.floats(200, 3000)
small_mm = st.floats(0.0, 10.0)


@given(turns=st.floats(0, 2), pitch=st.floats(1, 8), straight=st.booleans())
@settings(deadline=None, max_examples=40)
def test_half_a_turn_more_back_off_cuts_half_a_hose_thread_pitch_less(
    turns: float, pitch: float, straight: bool
) -> None:
    base = straight_job() if straight else plain()
    ways = [
        cut(
            end(
                base,
                0,
                back_off_turns=turns + more,
                back_off_in_cut_off=0,
                hose_thread_pitch=q(pitch, 0.01),
                nipple_thread_pitch_mm=1.5,
            )
        )
        for more in (0.0, 0.5)
    ]
    less = value(ways[0].cut_length) - value(ways[1].cut_length)
    assert less == pytest.approx(pitch / 2, rel=0, abs=1e-9)


@given(gap=small_mm)
@settings(deadline=None, max_examples=40)
def test_a_millimetre_more_gap_cuts_a_millimetre_less(gap: float) -> None:
    ways = [
        cut(end(plain(), 1, gap=q(gap + more, 0.1), gap_in_cut_off=q(0, 0.1)))
        for more in (0.0, 1.0)
    ]
    less = value(ways[0].cut_length) - value(ways[1].cut_length)
    assert less == pytest.approx(1, rel=0, abs=1e-9)


@given(gap=small_mm, turns=st.floats(0.01, 3), straight=st.booleans())
@settings(max_examples=25, deadline=None)
def test_back_off_and_gap_never_make_the_cut_longer(
    gap: float, turns: float, straight: bool
) -> None:
    base = straight_job() if straight else plain()
    more = end(base, 0, gap=q(gap, 0.1), gap_in_cut_off={"value": 0, "u": 0})
    more = end(more, 1, back_off_turns=turns, back_off_in_cut_off=0, hose_thread_pitch=q(4, 0.1))
    assert value(cut(more).cut_length) <= value(cut(base).cut_length)


@given(length=lengths_mm, more=st.floats(0.1, 500))
@settings(deadline=None, max_examples=40)
def test_a_longer_route_gives_a_longer_hose(length: float, more: float) -> None:
    short, long = (
        cut(plain(route={"length": q(metres, 2), "near_straight": False}))
        for metres in (length, length + more)
    )
    assert value(long.cut_length) - value(short.cut_length) == pytest.approx(more, rel=1e-9)


@given(small=st.floats(0.1, 5), factor=st.floats(1, 4))
@settings(deadline=None, max_examples=40)
def test_a_less_certain_route_never_moves_the_mark_down(small: float, factor: float) -> None:
    sure, unsure = (
        cut(plain(route={"length": q(1000, u), "near_straight": False}))
        for u in (small, small * factor)
    )
    assert value(unsure.cut_at) >= value(sure.cut_at)
