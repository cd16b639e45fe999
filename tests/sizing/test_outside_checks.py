"""How many figures of connection, hose, cut and joints are held against a source from outside.

Counted from the very tables that the tests run over; none is from memory alone.
"""

from tests.sizing.test_connection import FACE_SEALS, FLARES
from tests.sizing.test_flow import DROPS, FRICTION
from tests.sizing.test_hose_class import BRAIDED, CLASSES, FIVES, OUTSIDE, PTFE, PUBLIC, STEERING
from tests.sizing.test_sense import BORES
from tests.sizing.test_torque import TIGHTENING
from tests.sizing.test_ways import LENGTH_TOLERANCES

COUNTED = {
    "reference library of fluid mechanics: friction factor": len(FRICTION),
    "reference library of fluid mechanics: Reynolds number and drop": 2 * len(DROPS),
    "technical manuals: torque": sum(torque is not None for _, torque, _ in TIGHTENING),
    "technical manual: flats from finger-tight": len(TIGHTENING),
    "hose handbook: tolerance of cut lengths": len(LENGTH_TOLERANCES),
    "aircraft standard and thread chart: threads of hose ends": len(FLARES) + len(FACE_SEALS),
    "public table of EN 853 hose: pressure and radius": 2 * sum(map(len, PUBLIC.values())),
    "trade article on SAE J517 hose: outside diameter": len(OUTSIDE),
    "scopes of the steering hose standards: pressure and heat": 2 * len(STEERING),
    "single-pressure classes": len(CLASSES),
    "technical manual: proof pressure of PTFE hose": len(PTFE),
    "advisory circular: braided hose": 4 * len(BRAIDED),
    "advisory circular: bore by dash": len(BORES),
    "public table of SAE 100R5 hose: pressure and radius": 2 * len(FIVES),
}


def test_at_least_forty_figures_are_held_against_a_source_from_outside() -> None:
    assert all(count > 0 for count in COUNTED.values())
    assert sum(COUNTED.values()) >= 40
    without_hose = [count for source, count in COUNTED.items() if "hose:" not in source]
    assert sum(without_hose) >= 40  # no one table carries the count
