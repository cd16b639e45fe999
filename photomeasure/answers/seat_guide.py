"""Where does it seal? A few questions with drawings; each answer is a look for the judge.

The guide never names a seat that nobody looked at: without a look it says so.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from photomeasure.answers.sections import section_of
from photomeasure.errors import UsageError
from photomeasure.sizing.seating import SeatLook, forms_at, places_of, seats_left
from photomeasure.sizing.zones import Member
from photomeasure.standards import thread

__all__ = [
    "CANNOT_TELL",
    "Option",
    "Question",
    "SeatFound",
    "look_of",
    "next_question",
    "seat_found",
]

CANNOT_TELL = "cannot tell"
PLACE, FORM = "place", "form"
WORDS = {
    PLACE: "Clean it and look into it with a lamp. Where does it seal?",
    FORM: "Which of these is it? Hold a template or a protractor against it where angles differ.",
}


@dataclass(frozen=True, slots=True)
class Option:
    """One answer: `svg` is its drawing, empty for "cannot tell"."""

    key: str
    words: str
    svg: str


@dataclass(frozen=True, slots=True)
class Question:
    """What to look at next; `key` is where the answer goes."""

    key: str
    words: str
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class SeatFound:
    """What the looks say of one thread's seat.

    `seat` is its name where just one is left, else None; `left` are the names that are left.
    """

    seat: str | None
    left: tuple[str, ...]
    words: str


def next_question(member: Member, answers: Mapping[str, str]) -> Question | None:
    """Ask what is still open.

    Parameters
    ----------
    member : "external" or "internal"
        The thread in hand.
    answers : mapping of question key to option key

    Returns
    -------
    Question or None
        None when there is nothing more to see.

    Raises
    ------
    UsageError
        At an answer that is none of its question's.
    """
    if PLACE not in answers:
        options = [_option(place, "", member) for place in places_of(member)]
        return Question(PLACE, WORDS[PLACE], (*options, _cannot_tell()))
    place = _checked(answers, PLACE, places_of(member))
    forms = () if place == CANNOT_TELL else forms_at(member, place)
    if len(forms) < 2 or FORM in answers:
        return None
    options = [_option(place, form, member) for form in forms]
    return Question(FORM, WORDS[FORM], (*options, _cannot_tell()))


def look_of(member: Member, answers: Mapping[str, str]) -> SeatLook | None:
    """Turn the answers into an observation for the judge; None if nothing was seen.

    Parameters
    ----------
    member : "external" or "internal"
    answers : mapping of question key to option key

    Returns
    -------
    SeatLook or None

    Raises
    ------
    UsageError
        At an answer that is none of its question's.
    """
    if PLACE not in answers:
        return None
    place = _checked(answers, PLACE, places_of(member))
    if place == CANNOT_TELL:
        return None
    if FORM not in answers:
        return SeatLook(place)
    form = _checked(answers, FORM, forms_at(member, place))
    return SeatLook(place, None if form == CANNOT_TELL else form)


def seat_found(member: Member, answers: Mapping[str, str], designation: str) -> SeatFound:
    """Say which of a thread's seats look so.

    Parameters
    ----------
    member : "external" or "internal"
    answers : mapping of question key to option key
    designation : str

    Returns
    -------
    SeatFound

    Raises
    ------
    UsageError
        At an unknown thread, or an answer that is none of its question's.
    """
    one = thread(designation)
    seen = look_of(member, answers)
    if seen is None:
        return SeatFound(None, (), "Nobody has looked at the seat yet: it stays open.")
    left = tuple(seat.name for seat in seats_left(seen, member, one))
    if not left:
        return SeatFound(
            None, (), f"No seat listed for {one.designation} looks so: look again, thread and seat."
        )
    if len(left) > 1:
        return SeatFound(None, left, f"It may be {' or '.join(left)}: ask one who knows the part.")
    return SeatFound(left[0], left, f"By what was seen: {left[0]}.")


def _option(place: str, form: str, member: Member) -> Option:
    section = section_of(place, form, member=member)
    return Option(form or place, form or place, section.svg())


def _cannot_tell() -> Option:
    return Option(CANNOT_TELL, "I cannot see it, or none of these", "")


def _checked(answers: Mapping[str, str], key: str, known: tuple[str, ...]) -> str:
    answer = answers[key]
    if answer not in {*known, CANNOT_TELL}:
        raise UsageError(
            f"'{answer[:40]}' is no answer here.", f"Choose of: {', '.join((*known, CANNOT_TELL))}."
        )
    return answer
