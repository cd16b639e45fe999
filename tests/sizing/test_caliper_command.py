import contextlib
import io
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.cli import run


def asked(*arguments: str) -> tuple[int, dict[str, Any]]:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        code = run(["caliper", *arguments, "--json"])
    return code, json.loads(out.getvalue())


@pytest.mark.parametrize(
    "major", ["15.875mm", "5/8in", ".625in", "0.625 in", "625thou", "15,875mm"]
)
def test_every_way_of_writing_a_length_is_the_same_reading(major: str) -> None:
    code, data = asked(f"--major={major}", "--pitch=18tpi")
    assert code == 0
    assert data["readings"][0]["reading"]["value"] == pytest.approx(15.875, abs=1e-9)
    # eighteen to the inch
    assert data["readings"][1]["reading"]["value"] == pytest.approx(25.4 / 18, abs=1e-9)


@pytest.mark.parametrize(
    "arguments",
    [
        ("--major=15.9",),
        ("--major=5/8",),  # of what? the app asks
        ("--major=-3mm",),
        ("--major=0mm",),
        ("--major=5/0in",),
        ("--pitch=0tpi",),
        ("--pitch=99999999tpi", "--major=nan"),
        ("--span=13.5mm",),
        ("--span=13.5mm", "--threads=0"),
        ("--major=99999999mm",),
        ("--major=16mm", "--seen=nose"),
        (),
    ],
)
def test_what_makes_no_sense_is_complained_of(arguments: tuple[str, ...]) -> None:
    code, data = asked(*arguments)
    assert code == 2
    assert data["error"]["code"] == "usage"


WRITTEN = [
    *("15.9mm", "5/8in", ".625in", "15.85mm", "16.2mm", "0.624in", "158.5mm", "7.93mm", "14.1mm"),
    *("13.5mm", "1.5mm", "18tpi", "14tpi", "40thou", "0.001mm", "9999mm", "1 1/16in", "20.9mm"),
    *(
        "15.9",
        "-3mm",
        "nan",
        "",
        "mm",
        "5//8in",
        "1/0",
        "½in",
        "\x00",
        "'; --",
        "1e-300mm",
        "18 tpi",
    ),
]
OPTIONS = ["--major", "--minor", "--bore", "--pitch", "--span", "--jaw-flat", "--seen", "--photo"]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(OPTIONS), st.sampled_from(WRITTEN)), max_size=6),
    st.lists(st.sampled_from(["1", "5", "0", "-1", "x", "1000000000"]), max_size=2),
)
def test_junk_is_answered_or_refused_and_never_confident(
    options: list[tuple[str, str]], counts: list[str]
) -> None:
    code, data = asked(
        *(f"{name}={value}" for name, value in options), *(f"--threads={one}" for one in counts)
    )
    assert code in {0, 2, 3}
    if code:
        assert data["error"]["message"]
        assert data["error"]["remedy"]
        return
    scores = [abs(one["score"]) for one in data["readings"] if one["score"] is not None]
    assert sum(one["probability"] for one in data["candidates"]) == pytest.approx(1)
    if not data["agree"] or max(scores, default=0.0) > 3:
        assert data["verdict"] != "identified"


def test_a_look_at_the_seat_counts_as_a_reading() -> None:
    _, plain = asked("--major=22mm")
    _, seen = asked("--major=22mm", "--seen=cone on the nose: 37° to the axis")
    first, then = (
        {one["designation"]: one["probability"] for one in data["candidates"]}
        for data in (plain, seen)
    )
    assert then["7/8-14 UNF"] > first["7/8-14 UNF"]
    assert seen["candidates"][0]["designation"] == "7/8-14 UNF"


def test_an_inch_machine_makes_inch_threads_likelier() -> None:
    def chance(machine: str, designation: str) -> float:
        code, data = asked("--major=15.85mm", f"--machine={machine}")
        assert code == 0
        found = (one for one in data["candidates"] if one["designation"] == designation)
        return sum(float(one["probability"]) for one in found)

    assert chance("inch", "5/8-18 UNF") > 2 * chance("any", "5/8-18 UNF")
    assert chance("metric", "5/8-18 UNF") < chance("any", "5/8-18 UNF")
    assert chance("metric", "M16x1.5") > chance("inch", "M16x1.5")


def test_flats_and_mouth_are_taken_in_any_unit() -> None:
    code, data = asked("--bore=14.5mm", "--across-flats=1in", "--mouth=0.7in")
    assert code == 0
    assert data["candidates"][0]["designation"] == "M16x1.5"
