"""Steps with figures, clocking, and how far an end can still be turned."""

import pytest

from photomeasure.sizing.assembly import CAUTIONS, clock_deg, saw_mark_mm, steps
from photomeasure.sizing.clocking import setting_check, setting_words, turn_available_deg
from photomeasure.sizing.connection import connect
from photomeasure.sizing.cut import cut_lengths
from photomeasure.sizing.parts import clocking_words, thread_warnings
from photomeasure.sizing.shelf import Face
from tests.sizing.jobs import Entries, entries, plain, q


@pytest.mark.parametrize(
    ("signed", "clock"), [(0.0, 0.0), (90.0, 90.0), (-90.0, 270.0), (-1.0, 359.0), (180.0, 180.0)]
)
def test_clocking_runs_from_0_to_360(signed: float, clock: float) -> None:
    assert clock_deg(signed) == clock


def test_turn_available() -> None:
    # By hand: gap 4 mm, least 1 mm, nipple pitch 1.5 mm: two whole turns.
    assert turn_available_deg(4, 1, 1.5) == pytest.approx(720)
    # A gap of two pitches with nothing left to keep is two turns in hand.
    assert turn_available_deg(3, 0, 1.5) == pytest.approx(720)
    # Closed already: it can only be turned by tightening, so not at all.
    assert turn_available_deg(1, 1, 1.5) == 0
    assert turn_available_deg(0.5, 1, 1.5) == 0


def test_the_mark_is_rounded_up() -> None:
    lengths = cut_lengths(entries(plain()))
    assert lengths.cut_at is not None
    assert saw_mark_mm(lengths) == 965  # 964.07


def _text(document: Entries) -> str:
    whole = entries(document)
    return " ".join(step.text for step in steps(whole, cut_lengths(whole), None))


def test_steps_carry_the_jobs_figures() -> None:
    document = plain(hose={"working_pressure_mpa": 14})
    for one in document["ends"]:
        one |= {"made": "screw-together", "back_off_turns": 0.5, "back_off_in_cut_off": 0.5}
        one |= {"gap": q(1, 0.1), "gap_in_cut_off": q(1, 0.1)}
    words = _text(document)
    for figure in ("965 mm", "half a turn back", "gap of 1 mm", "add 25.0 mm"):
        assert figure in words


def test_a_ptfe_liner_is_made_up_in_its_own_order() -> None:
    document = plain(hose={"liner": "PTFE"})
    for one in document["ends"]:
        one |= {"made": "screw-together", "back_off_turns": 0.5, "back_off_in_cut_off": 0.5}
        one |= {"gap": q(1, 0.1), "gap_in_cut_off": q(1, 0.1)}
    words = _text(document)
    order = ["Socket onto the hose first", "Tape the braid", "open the braid", "new ferrule"]
    places = [words.index(part) for part in [*order, "push the nipple in", "gap of 1 mm"]]
    assert places == sorted(places)
    assert "half a turn back" not in words


def test_the_assembly_is_proved_before_it_is_fitted() -> None:
    whole = entries(plain())
    found = steps(whole, cut_lengths(whole), None)
    stages = list(dict.fromkeys(step.stage for step in found))
    assert stages == ["before", "cut", "assemble", "prove", "fit", "test"]
    (proof,) = (step.text for step in found if step.stage == "prove")
    assert "never air" in proof
    assert "behind a guard" in proof


def test_a_tube_is_measured_drained_and_welded_before_anything_is_cut() -> None:
    document = plain()
    tube = {"outside_diameter": q(12, 0.1), "wall": q(1.5, 0.05), "allowable_mpa": 80, "by": "F."}
    document["ends"][1] |= {"tube": tube}
    whole = entries(document)
    found = [step for step in steps(whole, cut_lengths(whole), None) if step.stage == "weld"]
    words = " ".join(step.text for step in found)
    order = ["Cut the old tube", "B: 12 mm outside, wall 1.5 mm (F.)", "competent person"]
    order += ["drained", "poison gas", "counterbore", "tack", "braze", "Proof-test"]
    places = [words.index(part) for part in order]
    assert places == sorted(places)
    stages = list(dict.fromkeys(step.stage for step in steps(whole, cut_lengths(whole), None)))
    assert stages[:3] == ["before", "weld", "cut"]


@pytest.mark.parametrize(
    ("kind", "word"), [("return", "below the oil's level"), ("feed", "no high loop")]
)
def test_return_and_feed_lines_lie_by_their_own_rules(kind: str, word: str) -> None:
    assert word in _text(plain(line={"kind": kind}))
    assert word not in _text(plain(line={"kind": "pressure"}))


def test_an_aluminium_thread_is_oiled_and_no_other() -> None:
    document = plain()
    assert "aluminium" not in _text(document)
    document["ends"][0]["port_material"] = "aluminium"
    assert "Oil the aluminium thread" in _text(document)


def test_the_hose_is_watched_from_lock_to_lock() -> None:
    words = _text(plain())
    for needed in ("no touch, stretch or kink", "until no bubbles come", "Caps stay on"):
        assert needed in words


def test_a_crimped_ferrule_is_the_shops_and_never_used_again() -> None:
    words = _text(plain())
    assert "never used again" in words
    assert "soft jaws" not in words


def test_without_a_mark_no_step_says_to_cut() -> None:
    words = _text(plain(slack=None))
    assert "No cut yet: slack" in words
    assert "Shear it" not in words


def test_cautions_say_what_must_be_said() -> None:
    words = " ".join(CAUTIONS)
    for needed in (
        "high-pressure oil injection",
        "hospital at once",
        "wheels off the ground",
        "lines are swapped",
        "no mechanical link",
        "licensed people",
        "Not brakes",
    ):
        assert needed in words


def test_only_two_angled_ends_need_clocking() -> None:
    route = {"length": q(500, 1), "near_straight": False, "clocking": q(-90, 1, "deg")}
    document = plain(route=route)
    lengths = cut_lengths(entries(document))
    assert clocking_words(entries(document), lengths) is None
    for one in document["ends"]:
        one |= {"end": "90", "datum": "axes cross", "cut_off_to": "axes cross"}
    words = clocking_words(entries(document), cut_lengths(entries(document)))
    assert words is not None
    assert words.startswith("270° counter-clockwise")
    assert "± 3°" in words  # 524 mm long
    document["route"] = {**route, "clocking": None}
    assert "still" in (clocking_words(entries(document), lengths) or "")


def test_a_thread_that_brakes_use_carries_a_warning() -> None:
    document = plain()
    document["ends"][0] |= {"designation": "M10x1"}
    document["ends"][1] |= {"designation": "M18x1.5", "measured_on": "removed fitting"}
    brakes, removed = thread_warnings(entries(document))
    assert "brakes" in brakes
    assert "may be the wrong one" in removed


def _elbows(**last: object) -> Entries:
    document = plain()
    elbow = {"end": "90", "made": "screw-together"}
    document["ends"] = [{**end, **elbow} for end in document["ends"]]
    document["ends"][1] |= last
    return document


SETTING: Entries = {
    "gap_when_setting": q(4, 0.1),
    "least_gap": q(1, 0),
    "nipple_thread_pitch_mm": 1.5,
}


@pytest.mark.parametrize(
    ("last", "ok", "word"),
    [
        (SETTING, True, "720°"),  # by hand: 3 mm at 1.5 mm a turn
        ({**SETTING, "gap_when_setting": q(2, 0.1)}, False, "240°"),  # 1 mm: two thirds of a turn
        ({**SETTING, "least_gap": None}, None, "least gap"),
        ({**SETTING, "nipple_thread_pitch_mm": None}, None, "nipple's thread"),
        ({**SETTING, "gap_when_setting": None}, None, "gap before"),
    ],
)
def test_whether_the_angle_can_be_set(last: Entries, ok: bool | None, word: str) -> None:
    (found,) = setting_check(entries(_elbows(**last)))
    assert found.ok is ok
    assert word in found.detail


def test_one_straight_end_needs_no_setting() -> None:
    document = _elbows()
    document["ends"][0]["end"] = "straight"
    assert setting_check(entries(document)) == ()
    assert setting_words(entries(document)) is None
    assert "1.5 mm" in (setting_words(entries(_elbows(**SETTING))) or "")


def test_an_adjustable_elbow_is_aimed_and_locked() -> None:
    port = Face("O-ring port", "M18x1.5", "female")
    whole = entries(plain())
    words = {}
    for form in (None, "90"):
        connection = connect((port, port), dash=8, forms=(form, None))
        found = steps(whole, cut_lengths(whole), connection)
        words[form] = " ".join(step.text for step in found)
    assert words["90"].count("torque the lock nut") == 1
    assert "lock nut" not in words[None]


def test_the_joints_in_the_ports_come_first_and_like_ones_are_said_once() -> None:
    ports = (
        Face("O-ring port", "M18x1.5", "female"),
        Face("O-ring port", "M22x1.5", "female"),
    )
    whole = entries(plain())
    found = steps(whole, cut_lengths(whole), connect(ports, dash=8))
    heads = [step.text.split(":")[0] for step in found if step.stage == "fit"]
    joints = [head for head in heads if "adapter" in head and head.startswith(("A", "B"))]
    assert joints == [
        "A, port to adapter, M18x1.5",
        "B, port to adapter, M22x1.5",
        "A and B, adapter to hose end -8, 3/4-16 UNF",
    ]
