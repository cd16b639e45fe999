"""Chains of adapters: seat to seat, thread to thread, on a graph checked by another library."""

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from photomeasure.errors import NoPlanError, TableError
from photomeasure.sizing.connection import chain_to, connect, why_not
from photomeasure.sizing.shelf import (
    Face,
    adapters,
    hose_ends,
    read_shelf,
    seat_named,
    seats,
)
from photomeasure.standards import catalogue

M18 = Face("O-ring port", "M18x1.5", "female")
UNF = Face("O-ring port", "3/4-16 UNF", "female")
DASHES = sorted({end.dash for end in hose_ends()})

# Dash size and thread of the 37° flare: AN924 table (a public aircraft standard), read; of the
# O-ring face seal: public fitting thread chart, read.
FLARES = {
    4: "7/16-20 UNF",
    5: "1/2-20 UNF",
    6: "9/16-18 UNF",
    8: "3/4-16 UNF",
    10: "7/8-14 UNF",
    12: "1 1/16-12 UN",
    16: "1 5/16-12 UN",
}
FACE_SEALS = {
    4: "9/16-18 UNF",
    6: "11/16-16 UN",
    8: "13/16-16 UN",
    10: "1-14 UNS",
    12: "1 3/16-12 UN",
    16: "1 7/16-12 UN",
}


@pytest.mark.parametrize(
    ("seat", "sizes"), [("37° flare", FLARES), ("O-ring face seal", FACE_SEALS)]
)
def test_hose_ends_have_the_published_threads(seat: str, sizes: dict[int, str]) -> None:
    found = {end.dash: end.face.thread for end in hose_ends() if end.face.seat == seat}
    assert found == sizes


def test_one_adapter_joins_a_port_to_its_hose_end() -> None:
    chain = chain_to(M18, 6)
    assert chain is not None
    assert [part.name for part in chain.adapters] == ["M18x1.5 O-ring stud to 37° flare -6"]
    assert [joint.seat.name for joint in chain.joints] == ["O-ring port", "37° flare"]
    assert [joint.thread for joint in chain.joints] == ["M18x1.5", "9/16-18 UNF"]


def test_a_stud_that_fits_the_hose_end_needs_no_adapter() -> None:
    chain = chain_to(Face("37° flare", "9/16-18 UNF", "male"), 6)
    assert chain is not None
    assert chain.adapters == ()


def test_a_reducing_swivel_bridges_what_one_adapter_cannot() -> None:
    chain = chain_to(Face("O-ring port", "M22x1.5", "female"), 6)
    assert chain is not None
    assert len(chain.adapters) == 2
    assert chain.adapters[1].name == "37° flare swivel -8 to 37° flare -6"


def test_both_ports_come_to_one_hose_size() -> None:
    plan = connect((M18, UNF))
    assert {chain.hose_end.dash for chain in plan.chains} == {plan.dash}
    assert sum(len(chain.adapters) for chain in plan.chains) == 2
    # -6, -8 and -10 all take two adapters; two thirds of 18 and 19 mm are nearest to 12.7 mm.
    assert plan.dash == 8


@pytest.mark.parametrize(
    ("one", "other", "word"),
    [
        (M18, Face("O-ring port", "M18x1.5", "female"), "both"),
        (M18, Face("O-ring port", "3/4-16 UNF", "male"), "threads differ"),
        (M18, Face("flat face", "M18x1.5", "male"), "seats differ"),
        (
            Face("37° flare", "3/4-16 UNF", "male"),
            Face("45° flare", "3/4-16 UNF", "female"),
            "seats differ",
        ),
        (
            Face("taper thread", "R1/4", "male"),
            Face("flat face", "G1/4", "female"),
            "taper never goes into parallel",
        ),
        (
            Face("taper thread", "1/4-18 NPT", "male"),
            Face("taper thread", "Rc1/4", "female"),
            "threads differ",
        ),
        (
            Face("taper thread", "R1/4", "male"),
            Face("taper thread", "R1/4", "female"),
            "threads differ",
        ),
    ],
)
def test_what_does_not_belong_together_is_told_why(one: Face, other: Face, word: str) -> None:
    assert word in (why_not(one, other) or "")
    assert why_not(one, other) == why_not(other, one)


@pytest.mark.parametrize("female", ["Rc1/4", "Rp1/4"])
def test_the_standard_pairs_a_taper_stud_with_both_its_ports(female: str) -> None:
    # ISO 7-1: external R mates with internal Rc (taper) and Rp (parallel).
    stud, port = Face("taper thread", "R1/4", "male"), Face("taper thread", female, "female")
    assert why_not(stud, port) is None


def test_no_chain_is_refused_with_a_way_out() -> None:
    lost = Face("45° flare", "11/16-16 UN", "female")
    with pytest.raises(NoPlanError, match="11/16-16 UN") as caught:
        connect((M18, lost))
    assert caught.value.code == "no-plan"
    assert "shelf" in caught.value.remedy
    with pytest.raises(NoPlanError, match="first reaches"):
        connect((M18, UNF), dash=7)


def test_an_unknown_seat_names_the_known_ones() -> None:
    with pytest.raises(NoPlanError, match="no seat that is known") as caught:
        seat_named("magic")
    assert "37° flare" in caught.value.remedy


HEADER = (
    "name,a_seat,a_thread,a_sex,b_seat,b_thread,b_sex,form,stud_length_mm,stand_off_mm,"
    "pressure_mpa,material,price,standard,source,checked\n"
)
OWN = "my own,O-ring port,M18x1.5,male,37° flare,9/16-18 UNF,male,straight,11,22,,,3,,drawer,read\n"


def test_the_users_own_part_is_taken_first() -> None:
    shelf = read_shelf(HEADER + OWN)
    chain = chain_to(M18, 6, shelf)
    assert chain is not None
    assert chain.adapters == shelf
    assert chain.adapters[0].stud_length_mm == 11


@pytest.mark.parametrize(
    ("row", "word"),
    [
        (OWN.replace("O-ring port", "magic"), "magic"),
        (OWN.replace(",male,37", ",both,37"), "both"),
        (OWN.replace(",11,22", ",minus,22"), "minus"),
        (OWN.replace(",11,22", ",-1,22"), "-1"),
        (OWN.replace("drawer", ""), "source"),
        (OWN.replace("straight", "bent"), "bent"),
    ],
)
def test_a_bad_row_of_the_shelf_is_named(row: str, word: str) -> None:
    with pytest.raises(TableError, match=r"shelf\.csv, line 3") as caught:
        read_shelf(HEADER + OWN + row)
    assert word in caught.value.message


def test_every_thread_of_the_tables_is_a_published_one() -> None:
    known = {thread.designation for thread in catalogue.threads()}
    named = {face.thread for part in adapters() for face in (part.a, part.b)}
    named |= {end.face.thread for end in hose_ends()}
    assert named <= known


def test_every_seat_of_the_threads_table_is_known_here() -> None:
    for thread in catalogue.threads():
        for seat in thread.seats:
            assert seat_named(seat.seat).sealing


def test_no_two_seats_share_a_name() -> None:
    names = [name for seat in seats() for name in (seat.name.casefold(), *seat.aliases)]
    assert len(names) == len(set(names))


def test_rows_from_memory_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    memory = [part.name for part in adapters() if part.checked == "memory"]
    print("from memory:", *memory, sep="\n  ")
    assert all(part.source and part.checked for part in adapters())
    assert {part.checked for part in adapters()} <= {"read", "formula", "second source", "memory"}
    assert all("inverted" in name for name in memory)


def _graph(dash: int) -> nx.DiGraph:
    """Build the same graph for an independent shortest-path search."""
    graph: nx.DiGraph = nx.DiGraph()
    goal = "hose"
    faces = {part.b for part in adapters()} | {
        mate for part in adapters() for mate in _mates(part.a)
    }
    for face in faces:
        for end in hose_ends():
            if end.dash == dash and why_not(face, end.face) is None:
                graph.add_edge(face, goal, weight=0)
        for part in adapters():
            if why_not(face, part.a) is None:
                weight = 101 + 10 * (part.checked == "memory") + 0.5 * (part.form != "straight")
                known = graph.get_edge_data(face, part.b, {"weight": weight})["weight"]
                graph.add_edge(face, part.b, weight=min(weight, known))
    return graph


def _mates(face: Face) -> set[Face]:
    sex = "female" if face.sex == "male" else "male"
    thread = face.thread.replace("R", "Rc") if face.sex == "male" else face.thread
    return {Face(face.seat, thread, sex)}


@pytest.mark.parametrize("dash", DASHES)
def test_the_search_agrees_with_another_librarys(dash: int) -> None:
    # networkx's Dijkstra on the same edges: an outside search, not outside data.
    graph = _graph(dash)
    ports = {mate for part in adapters() for mate in _mates(part.a)}
    costs = nx.single_source_dijkstra_path_length(graph.reverse(), "hose")
    for port in ports:
        chain = chain_to(port, dash)
        assert (None if chain is None else chain.cost) == costs.get(port)


@given(port=st.sampled_from([part.a for part in adapters()]), dash=st.sampled_from(DASHES))
@settings(deadline=None)
def test_every_joint_of_a_chain_mates(port: Face, dash: int) -> None:
    for start in _mates(port):
        chain = chain_to(start, dash)
        if chain is None:
            continue
        shown = [start, *(part.b for part in chain.adapters)]
        taken = [*(part.a for part in chain.adapters), chain.hose_end.face]
        for face, mate in zip(shown, taken, strict=True):
            assert why_not(face, mate) is None
