"""The threads that a reading may be: to JSON, back, and in words."""

from collections.abc import Mapping, Sequence
from typing import Any, cast, get_args

from photomeasure.answers.wire import Json, read_number
from photomeasure.errors import BadJobError
from photomeasure.sizing.match import Candidate, Verdict
from photomeasure.standards.alike import neighbours
from photomeasure.thread.reading import Hand

__all__ = [
    "answer_line",
    "candidate_lines",
    "candidates_from_json",
    "candidates_json",
    "hand_from_json",
    "if_print_is_true",
    "names_near",
    "verdict_from_json",
]

IF_TRUE = ", if the print is true"
MOST_TAKEN_FOR = 3
LEAST_NAMED = 0.02  # candidates below two per cent are not listed for people


def candidates_json(candidates: Sequence[Candidate]) -> list[Json]:
    """Give the contract's list, most likely first.

    Parameters
    ----------
    candidates : sequence of Candidate

    Returns
    -------
    list of dict
    """
    return [
        {
            "designation": one.designation,
            "family": one.family,
            "probability": one.probability,
            "seats": list(one.seats),
        }
        for one in candidates
    ]


def candidates_from_json(data: Mapping[str, Any]) -> tuple[Candidate, ...]:
    """Read a stored list back.

    Parameters
    ----------
    data : mapping
        The answer's JSON.

    Returns
    -------
    tuple of Candidate

    Raises
    ------
    BadJobError
        If an entry is not what the contract says.
    """
    return tuple(_candidate(entry) for entry in data.get("candidates") or ())


def _candidate(entry: Mapping[str, Any]) -> Candidate:
    try:
        probability = read_number(entry, "probability", "a candidate")
        seats = tuple(str(seat) for seat in entry.get("seats", ()))
        return Candidate(str(entry["designation"]), entry.get("family"), probability, seats)
    except (KeyError, AttributeError, TypeError) as error:
        raise _bad("a candidate") from error


def verdict_from_json(data: Mapping[str, Any]) -> Verdict:
    """Read the stored verdict, or raise `BadJobError`."""
    if data.get("verdict") not in get_args(Verdict):
        raise _bad("the verdict")
    return cast("Verdict", data["verdict"])


def hand_from_json(data: Mapping[str, Any]) -> Hand:
    """Read the stored hand, or raise `BadJobError`."""
    if data.get("hand") not in get_args(Hand):
        raise _bad("the hand")
    return cast("Hand", data["hand"])


def _bad(what: str) -> BadJobError:
    return BadJobError(
        f"The stored answer cannot be read: {what} is missing or wrong.",
        "Measure the photo again and save the new answer.",
    )


def answer_line(verdict: Verdict, candidates: Sequence[Candidate], settle_by: str | None) -> str:
    """Say the answer in words first: `M18x1.5, sure`.

    Parameters
    ----------
    verdict : Verdict
    candidates : sequence of Candidate
        Most likely first.
    settle_by : str or None

    Returns
    -------
    str
    """
    if verdict == "identified":
        return f"{candidates[0].designation}, sure"
    names = [one.designation for one in candidates if one.family is not None][:2]
    either = " or ".join(names)
    check = f"; one check left: {settle_by}" if settle_by else ""
    if verdict == "no match":
        return f"No thread of the tables fits{check}"
    return f"{either}{check}" if check or not either else f"{either}: not told apart"


def if_print_is_true(line: str) -> str:
    """Say an answer of a print whose bars nobody measured: `M18x1.5, if the print is true`.

    Parameters
    ----------
    line : str

    Returns
    -------
    str
    """
    name, mark, check = line.partition("; ")
    return f"{name.removesuffix(IF_TRUE).removesuffix(', sure')}{IF_TRUE}{mark}{check}"


def candidate_lines(candidates: Sequence[Candidate]) -> list[str]:
    """List what the thread may be, with probabilities and seats, for people.

    Parameters
    ----------
    candidates : sequence of Candidate

    Returns
    -------
    list of str
    """
    lines = [
        f"{100 * one.probability:5.1f} %  {one.designation}"
        for one in candidates
        if one.probability >= LEAST_NAMED
    ]
    if candidates and candidates[0].seats:
        lines.append(f"{candidates[0].designation} is used with: {'; '.join(candidates[0].seats)}")
    if candidates and candidates[0].family is not None:
        lines += _taken_for(candidates[0].designation)
    return lines


def names_near(candidates: Sequence[Candidate]) -> list[str]:
    """List the threads that it may be, and what the first of them is taken for.

    Parameters
    ----------
    candidates : sequence of Candidate
        Most likely first.

    Returns
    -------
    list of str
    """
    names = [one.designation for one in candidates if one.family is not None]
    alike = [one.designation for one in neighbours(names[0])] if names else []
    return list(dict.fromkeys([*names, *alike]))


def _taken_for(designation: str) -> list[str]:
    """Name what starts on its parts and does not hold."""
    near = [one for one in neighbours(designation) if one.danger][:MOST_TAKEN_FOR]
    named = "; ".join(f"{one.designation} ({one.danger})" for one in near)
    return [f"Dangerously like it, with what tells them apart: {named}"] if near else []
