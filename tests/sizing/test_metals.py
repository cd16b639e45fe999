"""Metals in the port, clips and sleeve, and a low part where room is short."""

from dataclasses import replace
from typing import Any

import pytest

from photomeasure.sizing.clips import dressing
from photomeasure.sizing.connection import Connection, chain_to
from photomeasure.sizing.cut import cut_lengths
from photomeasure.sizing.entries import JobEntries
from photomeasure.sizing.metals import metal_checks
from photomeasure.sizing.shelf import Adapter, Face, adapters
from tests.sizing.jobs import entries, plain, q

PORT = Face("O-ring port", "M18x1.5", "female")
FLAT = Face("flat face", "G1/2", "female")
TORQUE = {"newton_metres": 40.0, "by": "its own table"}


def _job(**end: Any) -> JobEntries:
    job = plain()
    job["ends"] = [{**one, "sex": "female", **end} for one in job["ends"]]
    return entries(job)


def _connection(port: Face = PORT) -> Connection:
    chain = chain_to(port, 8)
    assert chain is not None
    return Connection(8, (chain, chain))


def _own(name: str, stand_off_mm: float | None) -> Adapter:
    part = next(one for one in adapters() if one.name == "M18x1.5 O-ring stud to 37° flare -8")
    return replace(part, name=name, stand_off_mm=stand_off_mm, on_shelf=True)


@pytest.mark.parametrize(
    ("end", "ok", "words"),
    [
        ({}, None, "made of"),
        ({"port_material": "steel"}, None, "made of"),
        ({"port_material": "cast iron", "adapter_material": "steel"}, True, "no soft thread"),
        ({"port_material": "aluminium", "adapter_material": "steel"}, None, "softer metal"),
        ({"port_material": "Aluminum", "adapter_material": "steel"}, None, "softer metal"),
        ({"port_material": "die-cast alloy", "adapter_material": "steel"}, None, "softer metal"),
        ({"port_material": "grey stuff", "adapter_material": "steel"}, None, "'grey stuff' is"),
        (
            {"port_material": "aluminium", "adapter_material": "steel", "torque": TORQUE},
            True,
            "oil the thread",
        ),
        (
            {"port_material": "steel", "adapter_material": "aluminium", "torque": TORQUE},
            True,
            "oil the thread",
        ),
    ],
)
def test_metals_that_meet(end: dict[str, Any], ok: bool | None, words: str) -> None:
    first, second = metal_checks(_job(**end), _connection())
    assert (first.ok, second.ok) == (ok, ok)
    assert words in first.detail


@pytest.mark.parametrize(("stud_mm", "ok"), [(14.0, False), (32.0, True)])
def test_a_short_stud_strips_aluminium(stud_mm: float, ok: bool) -> None:
    # G1/2 is 20.955 mm over the crests (ISO 228-1, table 1): one and a half are 31.4 mm.
    end = {"port_material": "aluminium", "adapter_material": "steel", "torque": TORQUE}
    job = _job(**end, stud_length_mm=stud_mm)
    assert metal_checks(job, _connection(FLAT))[0].ok is ok


def test_no_adapters_no_metals() -> None:
    assert metal_checks(_job(), None) == ()


def test_the_lower_of_two_parts_is_taken() -> None:
    low, tall = _own("low", 8.0), _own("tall", 13.0)
    for shelf in ((low, tall), (tall, low)):
        chain = chain_to(PORT, 8, shelf)
        assert chain is not None
        assert chain.adapters[0].name == "low"
        assert chain.height_mm == pytest.approx(8.0)


def test_a_part_that_hides_its_height_wins_nothing() -> None:
    chain = chain_to(PORT, 8, (_own("silent", None), _own("told", 20.0)))
    assert chain is not None
    assert chain.adapters[0].name == "told"


def test_clips_and_sleeve() -> None:
    # By hand: mark 964.07, 25 mm in each socket: 914.07 free; four spans of 228.5, three clips.
    # It rubs over 120 mm: 220 mm of sleeve.
    job = entries(plain(rubs_over={"value": 120, "u": 0}))
    found = dressing(job, cut_lengths(job))
    assert found is not None
    assert found.clips == 3
    assert found.spacing_mm == pytest.approx(228.5, abs=0.05)
    assert found.sleeve_mm == pytest.approx(220)
    assert "3 in all" in found.words


def test_a_short_hose_needs_no_clip() -> None:
    job = entries(plain(route={"length": q(250, 1), "near_straight": False}))
    found = dressing(job, cut_lengths(job))
    assert found is not None
    assert (found.clips, found.sleeve_mm) == (0, None)


def test_no_cut_no_clips() -> None:
    job = entries(plain(slack=None))
    assert dressing(job, cut_lengths(job)) is None
