"""The one family of refusals: unique codes, all in the README, each met by some test."""

import pickle
from pathlib import Path

import pytest

from photomeasure import errors
from photomeasure.errors import MeasuringError, PhotomeasureError, UsageError

ROOT = Path(__file__).parent.parent


def _family(base: type[PhotomeasureError]) -> list[type[PhotomeasureError]]:
    return [
        member
        for child in base.__subclasses__()
        for member in [child, *_family(child)]
        if "code" in vars(child) or member is not child
    ]


FAMILY = sorted(_family(PhotomeasureError), key=lambda member: member.__name__)


def test_codes_are_unique_and_plain() -> None:
    codes = [member.code for member in FAMILY]
    assert len(set(codes)) == len(codes) > 15
    assert all(code == code.lower() and " " not in code for code in codes)


def test_every_member_is_exported_and_drawn_in_the_tree() -> None:
    for member in FAMILY:
        assert member.__name__ in errors.__all__
        assert f"{member.__name__} " in (errors.__doc__ or "")


@pytest.mark.parametrize("member", FAMILY, ids=lambda member: member.code)
def test_a_refusal_survives_a_process_border(member: type[PhotomeasureError]) -> None:
    error = member("The sheet shows 1 of 4 marks.", "Step back.")
    again = pickle.loads(pickle.dumps(error))
    assert (again.code, again.message, again.remedy) == (member.code, error.message, error.remedy)
    assert str(error) == "The sheet shows 1 of 4 marks. Step back."


@pytest.mark.parametrize("member", FAMILY, ids=lambda member: member.code)
def test_every_code_is_in_the_readme(member: type[PhotomeasureError]) -> None:
    assert f"`{member.code}`" in (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("member", FAMILY, ids=lambda member: member.code)
def test_every_refusal_is_raised_somewhere_and_met_by_a_test(
    member: type[PhotomeasureError],
) -> None:
    raised = f"raise {member.__name__}("
    sources = [path.read_text(encoding="utf-8") for path in ROOT.glob("photomeasure/**/*.py")]
    tests = [
        path.read_text(encoding="utf-8")
        for path in ROOT.glob("tests/**/*.py")
        if path != Path(__file__)
    ]
    assert any(raised in text or f"return {member.__name__}(" in text for text in sources)
    met = (f'"{member.code}"', member.__name__)
    assert any(word in text for text in tests for word in met)


def test_the_command_line_is_told_apart_from_the_photo() -> None:
    assert not issubclass(UsageError, MeasuringError)
    assert all(issubclass(member, MeasuringError) for member in FAMILY if member is not UsageError)
