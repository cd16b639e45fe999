"""Every lack that a plan can have is asked for somewhere in the app, and every entry exists."""

from typing import Any, get_args, get_origin

import pytest
from pydantic import BaseModel

from photomeasure.job import Job, plan_cut
from photomeasure.job.model import JobFile
from photomeasure.pages._form import entries
from photomeasure.pages._frame import TITLES
from photomeasure.pages._places import lacks, place_of

PARTS = {(row.page, row.part) for row in entries()}
# known from answers, or not for people to fill in
COMPUTED = {
    "job", "id", "route", "photos", "answers", "rendered", "invented", "ends.thread",
    "ends.print_verified", "route.hose_length", "route.turning", "route.clocking",
    "route.points", "route.laid", "route.components", "route.sources", "route.warnings",
    "end_styles.style",
}  # fmt: skip


def model_in(annotation: Any) -> type[BaseModel] | None:
    """Find the model in an annotation like `list[EndEntry]` or `Torque | None`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) is None:
        return None
    found = (model_in(part) for part in get_args(annotation))
    return next((one for one in found if one is not None), None)


def paths(model: type[BaseModel], before: str = "") -> set[str]:
    """List every entry of a model, as the table of entries names it, without ends and styles."""
    found = set()
    for name, field in model.model_fields.items():
        path = f"{before}{name}"
        inner = model_in(field.annotation)
        if path in COMPUTED:
            continue
        if inner is None or {"value", "u"} <= set(inner.model_fields):
            found.add(path)
        else:
            found |= paths(inner, f"{path}.")
    return found


def asked() -> set[str]:
    plain = (row.path.replace("ends.*.", "ends.") for row in entries() if row.page != "bars")
    return {
        ".".join(p for p in path.split(".") if p not in ("straight", "45", "90")) for path in plain
    }


def test_the_app_asks_for_every_entry_and_for_no_other() -> None:
    wanted = paths(JobFile) | {
        f"route.{name}" for name in ("length", "near_straight", "tightest_radius", "bends")
    }
    assert wanted - asked() == set()
    assert asked() - wanted == set()


def test_each_entry_is_asked_once_and_says_why() -> None:
    named = [row.path for row in entries()]
    assert len(named) == len(set(named))
    assert all(row.why.endswith((".", "?")) for row in entries())
    assert all(row.label for row in entries())


@pytest.mark.parametrize(
    "document",
    [
        {"job": 1},
        {"job": 1, "ends": [{"end": "90", "made": "screw-together"}, {"end": "45"}]},
        {"job": 1, "line": {"kind": "return"}, "hose": {"second_hand": True}},
        {"job": 1, "line": {"kind": "feed"}, "route": {"length": {"value": 500, "u": 1}}},
        {"job": 1, "line": {"kind": "cylinder", "relief_pressure_mpa": 10, "relief_by": "x"}},
        {"job": 1, "ends": [{"sex": "female", "designation": "M18x1.5", "thread_by": "x",
                             "seat": "O-ring port", "seat_by": "x"}] * 2},
        {"job": 1, "ends": [{"datum": "port face"}, {"datum": "band edge"}]},
        {"job": 1, "space": {"seat_b_mm": [1, 0, 0], "axis_a": [1, 0, 0], "axis_b": [1, 0, 0]}},
    ],
)  # fmt: skip
def test_every_lack_has_a_place(document: dict[str, Any]) -> None:
    plan = plan_cut(Job.from_document(document))
    found = lacks(plan)
    assert found
    for lack in found:
        assert lack.page in TITLES, lack
        assert not lack.part or lack.page == "thread" or (lack.page, lack.part) in PARTS, lack


def test_every_check_of_a_plan_has_a_place() -> None:
    document = {"job": 1, "ends": [{"sex": "female", "designation": "M18x1.5", "thread_by": "x",
                                    "seat": "O-ring port", "seat_by": "x"}] * 2}  # fmt: skip
    for check in plan_cut(Job.from_document(document)).checks:
        assert place_of(check.name, "")[0] in {*TITLES, "="} or check.name == "adapters", check
