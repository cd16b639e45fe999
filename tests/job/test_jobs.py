"""A dozen whole jobs, each worked by hand from the entries to the cut and the open checks."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from photomeasure.job import Job, create_job, plan_cut
from photomeasure.sizing.parts import Costs
from tests.job.test_plan import HEADER, OWN, whole, with_end
from tests.sizing.jobs import Entries, q
from tests.sizing.test_hose import FITS, HOSE, LINE
from tests.sizing.test_path import ROUTE, SEEN

FULL_HOSE = {**HOSE, "bend_radius_mm": 90, "dash": 8}
SCREWED = {
    "made": "screw-together",
    "hose_thread_pitch": q(4, 0),
    "back_off_turns": 0.5,
    "back_off_in_cut_off": 0,
    "gap": q(1, 0),
    "gap_in_cut_off": q(0, 0),
}
LEVERED = {
    "longer": q(12, 1),
    "shorter": q(8, 1),
    "tightest_radius": q(110, 2),
    "by": "levered each way",
}
NIPPLE: Entries = {
    "designation": "3/4-16 UNF",
    "sex": "male",
    "seat": "37° flare",
    "torque": None,
    "torque_hose_end": {"newton_metres": 45.0, "by": "end maker"},
    **dict.fromkeys(("port_depth", "port_material", "adapter_material")),
    **dict.fromkeys(("adapter_pressure_mpa", "seal_material", "seal_max_c")),
}
TUBE: Entries = {
    "outside_diameter": q(12, 0.05),
    "wall": q(1.5, 0.05),
    "allowable_mpa": 100,
    "by": "tube's standard",
}
ALUMINIUM: Entries = {
    "designation": "G1/2",
    "seat": "flat face",
    "port_depth": q(40, 0.3),
    "stud_length_mm": 33.0,
    "adapter_material": "aluminium",
    "seal_material": "copper",
    "seal_max_c": 200,
    "torque": {"newton_metres": 60.0, "by": "adapter's own sheet"},
}
ELBOW = {"end": "90", "datum": "axes cross", "cut_off_to": "axes cross"}


@dataclass(frozen=True)
class Case:
    """One job: what changes against the whole one, and what must come out."""

    name: str
    document: Entries
    cut_mm: float | None
    not_true: tuple[str, ...] = ()
    mark_mm: float | None = None
    says: str = ""


def both(document: Entries, **changes: Any) -> Entries:
    return with_end(with_end(document, 0, **changes), 1, **changes)


def straight_run(length: Entries) -> Entries:
    return {"length": length, "turning": q(2, 1, "deg"), "bends": []}


CASES = (
    # 1. Route 1000 ± u 2, slack 20, cut-offs 30 each (u 0.4): 1000 + 20 - 60 = 960.
    #    u = sqrt(4 + 0.16 + 0.16) = 2.078; mark 960 + 1.96 x 2.078 = 964.07.
    Case("crimped, bent", whole(), 960, (), 964.07),
    # 2. Screwed ends, half a turn of a 4 mm hose thread and 1 mm gap each:
    #    960 - 2 x (0.5 x 4 + 1) = 954.
    Case("screw-together, backed off", both(whole(), **SCREWED), 954),
    # 3. The same with three quarters of a turn at end A: a quarter turn more is 1 mm shorter: 953.
    Case("a quarter turn more", with_end(both(whole(), **SCREWED), 0, back_off_turns=0.75), 953),
    # 4. Both ends measured made up: seat to socket 58, of which 25 holds hose: 33 each.
    #    1000 + 20 - 66 = 954. Where the cut-off runs to need not be asked.
    Case(
        "made-up ends measured",
        both(whole(), cut_off=None, cut_off_to=None, seat_to_socket=q(58, 0.3)),
        954,
    ),
    # 5. From port face to port face 1046, adapters standing 23 off each: 1000 seat to seat: 960.
    Case(
        "from the ports' faces",
        both(whole(route={**ROUTE, "length": q(1046, 2)}), datum="port face", stand_off=q(23, 0.2)),
        960,
    ),
    # 6. The engine rocks: 12 mm longer, 8 mm shorter. Longest sets the cut: 960 + 12 = 972.
    #    Room: shortest 1000 - 8 + 60 - 60 = 992 holds it.
    Case(
        "movement",
        whole(mounts="soft", movement=LEVERED),
        972,
    ),
    # 7. The same with room for 15 mm only: longest usable 1000 - 8 + 15 - 60 = 947 < 972: refused.
    Case(
        "movement without room",
        whole(mounts="soft", movement=LEVERED, surplus=q(15, 1)),
        972,
        ("not too long",),
        says="too short and too long cannot both be avoided",
    ),
    # 8. Straight run, hose at half its rating (10 of 20 MPa): length change -2 to +4 % at full,
    #    -1 to +2 % at half, middle 0.5 %. Free: 1000 + 20 - 60 - 50 = 910; 910 / 0.995 + 50 =
    #    964.573.
    Case("straight run under pressure", whole(route=straight_run(q(1000, 2))), 910 / 0.995 + 50),
    # 9. Two elbows, axes crossing 520 apart, cut-offs 44 and 47, clocking 30°: 520 + 20 - 91 = 449.
    #    No bend is known from the tape: its radius and the straights behind the ends stay open.
    Case(
        "two elbows",
        with_end(
            with_end(
                whole(
                    route={
                        "length": q(520, 1),
                        "near_straight": False,
                        "clocking": q(30, 1, "deg"),
                    }
                ),
                0,
                **ELBOW,
                cut_off=q(44, 0.4),
            ),
            1,
            **ELBOW,
            cut_off=q(47, 0.4),
        ),
        449,
        ("bend radius", "straight behind end A", "straight behind end B"),
    ),
    # 10. A return line of 12.7 mm bore beside a pressure line of 9.5 mm: 960; 12 L/min through
    #     126.7 mm² is 1.58 m/s, below 3.
    Case(
        "return line",
        whole(
            line={**LINE, "kind": "return", "pressure_line_bore_mm": 9.5},
            hose={**FULL_HOSE, "inside_diameter_mm": 12.7},
        ),
        960,
        says="1.6 m/s",
    ),
    # 11. A cylinder line: shock valves 22 MPa stand above the relief of 9; ends are rated 21 and
    #     the hose 20: too weak, though 4 x 20 = 80 MPa of burst would not show it.
    Case(
        "cylinder line, weak hose",
        whole(line={**LINE, "kind": "cylinder", "shock_pressure_mpa": 22}),
        960,
        ("line rating",),
        says="hose carries 20 MPa",
    ),
    # 12. Cut-off not known at end B: no cut, and the sheet names it. Nor can "too long", the hose
    #     between the sockets or the straight behind that end be told.
    Case(
        "a term missing",
        with_end(whole(), 1, cut_off=None),
        None,
        ("straight behind end B", "cut complete", "hose between the sockets", "not too long"),
        says="cut-off allowance of end B",
    ),
    # 13. Entered thread against measured thread: a contradiction is a failed check, and there are
    #     no adapters while it stands.
    Case(
        "contradiction",
        with_end(
            whole(),
            0,
            thread={
                "verdict": "identified",
                "candidates": [{"designation": "M16x1.5", "probability": 0.98}],
            },
        ),
        960,
        ("thread A identified", "adapters"),
        says="Entered M18x1.5, measured M16x1.5",
    ),
    # 14. Inches: 39 3/8 in = 1000.125; slack 3/4 in = 19.05; cut-offs 1 3/16 in = 30.1625 each:
    #     1000.125 + 19.05 - 60.325 = 958.85.
    Case(
        "inches",
        both(
            whole(route={**ROUTE, "length": "39 3/8in ± 1/16in"}, slack="3/4in"),
            cut_off="1 3/16in ± 20thou",
        ),
        958.85,
    ),
    # 15. The pump gives 30 L/min: 30 / 60 000 m³/s through 70.88 mm² is 7.05 m/s, above 6.
    Case("too much flow", whole(line={**LINE, "flow_l_per_min": 30}), 960, ("flow",), says="7.1 m"),
    # 16. No adapter at the old pipe: a nipple with a 37° flare is welded to it, tube 12 x 1.5 mm.
    #     960, as in 1. Barlow with 100 MPa and the thinnest wall 1.4: 2 x 100 x 1.4 / 12 = 23.3.
    #     Neither adapter nor O-ring nor stud depth is asked for at that end.
    Case(
        "weld-on nipple",
        with_end(whole(), 1, **NIPPLE, tube=TUBE),
        960,
        says="carries 23.3 MPa at its thinnest",
    ),
    # 17. The same with a wall of 0.6: thinnest 0.5: 8.3 MPa under a peak of 10.
    Case(
        "a tube too thin",
        with_end(whole(), 1, **NIPPLE, tube={**TUBE, "wall": q(0.6, 0.05)}),
        960,
        ("tube wall B",),
        says="carries 8.3 MPa",
    ),
    # 18. Past the exhaust: 80 mm without a shield is under 100; 110 °C is over the rating's 100
    #     and the O-rings' 100, so the pressure at that heat is missing and the seals are too hot.
    Case(
        "hot exhaust",
        whole(line={**LINE, "hottest_c": 110}, clearance={**SEEN, "exhaust_mm": 80}),
        960,
        ("line rating", "temperature", "clearance through full movement"),
        says="O-rings at A: 100 °C allowed, 110 °C here",
    ),
    # 19. An aluminium adapter, washer-sealed in G1/2: one and a half of 20.955 mm are 31.4; a
    #     stud of 33 in a port 40 deep leaves 40 - 0.6 - 33 = 6.4, 2.8 needed. Copper has no limit.
    Case(
        "aluminium adapter",
        with_end(whole(), 1, **ALUMINIUM),
        960,
        says="aluminium into cast iron: oil the thread",
    ),
    # 20. The same with a stud of 20: 20 of 31.4 mm engage.
    Case(
        "aluminium adapter, short",
        with_end(whole(), 1, **{**ALUMINIUM, "stud_length_mm": 20.0}),
        960,
        ("metals at end B",),
        says="20 mm of thread engage, 31 mm are needed",
    ),
    # 21. A return line sees 0.6 MPa of its own; its hose, good for 1.72, would be too weak for the
    #     relief of 9, which it never sees. 1.72 x 4 = 6.88 <= 6.9.
    Case(
        "return hose",
        whole(
            line={
                **LINE,
                "kind": "return",
                "peak_pressure_mpa": 0.6,
                "pressure_line_bore_mm": 9.5,
            },
            hose={
                **FULL_HOSE,
                "inside_diameter_mm": 12.7,
                "working_pressure_mpa": 1.72,
                "burst_pressure_mpa": 6.9,
            },
        ),
        960,
        says="Weakest: hose, 1.72 MPa; line 0.6 MPa",
    ),
    # 22. The end maker says 21 MPa for end A and nothing for end B: one check open, the rating too.
    Case(
        "an end without a pressure",
        with_end(whole(), 1, fits_hose={**FITS, "pressure_mpa": None}),
        960,
        ("end B made for this hose", "line rating"),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_a_job_worked_by_hand(case: Case, tmp_path: Path) -> None:
    create_job(tmp_path, "x")
    (tmp_path / "shelf.csv").write_text(HEADER + OWN, "utf-8")
    found = plan_cut(Job.from_document(case.document, tmp_path))
    length = found.lengths.cut_length
    if case.cut_mm is None:
        assert length is None
        assert found.lengths.cut_at is None
    else:
        assert length is not None
        assert length.value == pytest.approx(case.cut_mm, abs=1e-6)
    if case.mark_mm is not None:
        assert found.lengths.cut_at is not None
        assert found.lengths.cut_at.value == pytest.approx(case.mark_mm, abs=0.005)
    assert {check.name for check in found.checks if check.ok is not True} == set(case.not_true)
    told = " ".join(check.detail for check in found.checks)
    assert case.says in told


def test_costs_are_added_and_compared() -> None:
    # By hand: 62 - 40 = 22; 40 - 38 = 2.
    open_ones = Costs(40.0, ("new O-ring", "new O-ring"), 62.0)
    assert "Not yet comparable" in open_ones.words
    assert "22.00 more" in Costs(40.0, (), 62.0).words
    assert "2.00 less" in Costs(40.0, (), 38.0).words
    assert "Enter the price" in Costs(40.0, (), None).words


def test_the_plan_adds_up_the_users_prices(tmp_path: Path) -> None:
    # Adapters 3.50 each from the shelf's file, hose ends 9.50 each, hose 14: 7 + 19 + 14 = 40;
    # the two O-rings and the clips have no price.
    create_job(tmp_path, "x")
    (tmp_path / "shelf.csv").write_text(HEADER + OWN, "utf-8")
    document = both(whole(hose={**FULL_HOSE, "price": 14.0, "bought_price": 62.0}), price=9.5)
    costs = plan_cut(Job.from_document(document, tmp_path)).costs
    assert costs.sum == pytest.approx(40.0)
    assert len(costs.unpriced) == 3


def test_the_weld_on_end_is_on_the_parts_list(tmp_path: Path) -> None:
    create_job(tmp_path, "x")
    (tmp_path / "shelf.csv").write_text(HEADER + OWN, "utf-8")
    document = with_end(whole(), 1, **NIPPLE, tube=TUBE)
    names = [part.name for part in plan_cut(Job.from_document(document, tmp_path)).parts]
    assert "weld-on end, male 3/4-16 UNF, 37° flare, for tube 12 x 1.5 mm" in names
