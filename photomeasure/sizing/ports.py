"""What is known of the two ports, and the adapters that follow from it."""

from dataclasses import dataclass

from photomeasure.errors import NoPlanError, PhotomeasureError
from photomeasure.sizing.checks import Check, missing
from photomeasure.sizing.connection import Chain, Connection, connect
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.sizing.shelf import Adapter, Face, Sex, seat_named
from photomeasure.standards import thread

__all__ = ["Joined", "designation_of", "join", "port_checks", "refuse_other_systems"]

_OUT_OF_SCOPE = frozenset(
    {
        "brake",
        "clutch",
        "fuel",
        "petrol",
        "diesel",
        "ga",
        "gas",
        "lpg",
        "refrigerant",
        "air",
        "steam",
    }
)
_NOTHING = ("nothing", "none", "empty", "no")
_HEIGHT_OFF_MM = 3.0  # an O-ring pressed home, a washer's thickness: own choice
_STUD = "length of the adapter's stud"
_LEAST_HOLD = 0.4  # diameters: below the shortest studs of the port standards, from memory 0.46
_STUD_IN_HAND_MM = 1.0  # and one pitch, before the stud bottoms: common practice, no source


@dataclass(frozen=True, slots=True)
class Joined:
    """The connection, or why there is none yet."""

    connection: Connection | None
    check: Check


def refuse_other_systems(job: JobEntries) -> None:
    """Stop where the line is none for mineral-oil steering or hydraulics.

    Raises
    ------
    NoPlanError
        For brakes, clutch, fuel, gas, refrigerant, air and steam.
    """
    words = {word.removesuffix("s") for word in (job.line.system or "").casefold().split()}
    if words & _OUT_OF_SCOPE:
        raise NoPlanError(
            f"This plans power steering and mineral-oil hydraulics only, not '{job.line.system}'.",
            "Stop and see a specialist.",
        )


def designation_of(end: EndEntry) -> str | None:
    """Give the port's thread, spelled as in the tables: as entered, else as identified."""
    if end.designation is not None:
        return _spelled(end.designation)
    if end.thread is not None and end.thread.verdict == "identified" and end.thread.candidates:
        return end.thread.candidates[0].designation
    return None


def _spelled(designation: str) -> str:
    """Spell a designation as the tables do; one that they do not hold stays as it was typed."""
    try:
        return thread(designation).designation
    except PhotomeasureError:
        return designation


def port_checks(job: JobEntries) -> tuple[Check, ...]:
    """Check thread, seat and old union of each port.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of Check
    """
    found: list[Check] = []
    for index, letter in enumerate("AB"):
        end = job.ends[index] if index < len(job.ends) else EndEntry()
        found += [_thread(letter, end), _seat(letter, end), _old_union(letter, end)]
    return tuple(found)


def _thread(letter: str, end: EndEntry) -> Check:
    name = f"thread {letter} identified"
    if end.thread is not None:
        return _measured_thread(name, end)
    if end.designation is None:
        return missing(name, f"the thread of port {letter}")
    if not end.thread_by:
        return missing(name, f"who identified {end.designation}, and how")
    return Check(name, True, f"{end.designation}, as entered ({end.thread_by}).")


def _measured_thread(name: str, end: EndEntry) -> Check:
    answer = end.thread
    if answer is None or answer.verdict == "no match" or not answer.candidates:
        return missing(name, "a thread that fits the reading; measure again")
    first = answer.candidates[0]
    if answer.hand == "left":
        words = f"{first.designation} with a left-hand thread: usually fuel gas. Find out first."
        return Check(name, False, words)
    if answer.verdict == "ambiguous":
        return missing(name, answer.settle_by or "one more measurement to tell the threads apart")
    if designation_of(end) != first.designation:
        words = f"Entered {end.designation}, measured {first.designation}."
        return Check(name, False, words)
    if end.print_verified is False:
        return missing(name, f"both check bars of the print: {first.designation} rests on them")
    sure = f"{100 * first.probability:.1f} % sure"
    return Check(name, True, f"{first.designation}, measured, {sure}.")


def _seat(letter: str, end: EndEntry) -> Check:
    name = f"seat {letter} looked at"
    if end.seat is None:
        return missing(name, f"a look at the seat of port {letter}: no photo of a thread shows it")
    if not end.seat_by:
        return missing(name, f"who looked at the seat of port {letter} ({end.seat})")
    try:
        seat = seat_named(end.seat)
    except NoPlanError as error:
        return Check(name, False, str(error))
    return Check(name, True, f"{seat.name} ({end.seat_by}): seals by {seat.seals_on}.")


def _old_union(letter: str, end: EndEntry) -> Check:
    name = f"old union {letter} looked into"
    if end.old_union is None:
        return missing(name, "whether the old union holds a spring, valve, orifice or screen")
    if end.old_union.holds.strip().casefold() in _NOTHING:
        return Check(name, True, f"Holds nothing ({end.old_union.by}).")
    if end.old_union.kept:
        return Check(name, True, f"Holds {end.old_union.holds}; kept, adapted at its outer end.")
    words = f"Holds {end.old_union.holds}: keep that part and adapt at its outer end."
    return Check(name, False, words)


def join(job: JobEntries, shelf: tuple[Adapter, ...] = ()) -> tuple[Joined, tuple[Check, ...]]:
    """Look for the adapters, and check them against the ports.

    Parameters
    ----------
    job : JobEntries
    shelf : tuple of Adapter

    Returns
    -------
    Joined, tuple of Check
        The connection with its own check, and the checks that need it.
    """
    name = "adapters"
    lacks = [need for index in range(2) if (need := _face_lacks(job, index)) is not None]
    if lacks:
        return Joined(None, missing(name, *lacks)), ()
    faces = tuple(_face(end) for end in job.ends)
    try:
        forms = (job.ends[0].adapter_form, job.ends[1].adapter_form)
        connection = connect((faces[0], faces[1]), dash=job.hose.dash, shelf=shelf, forms=forms)
    except NoPlanError as error:
        return Joined(None, Check(name, False, str(error))), ()
    joined = Joined(connection, _adapters(connection, job))
    depths = zip("AB", job.ends, connection.chains, strict=True)
    return joined, tuple(_reach(letter, end, chain) for letter, end, chain in depths)


def _face_lacks(job: JobEntries, index: int) -> str | None:
    letter = "AB"[index]
    if index >= len(job.ends):
        return f"end {letter}"
    end = job.ends[index]
    if end.thread is not None and _measured_thread("", end).ok is not True:
        return f"one thread for port {letter}"
    if designation_of(end) is None:
        return f"the thread of port {letter}"
    if end.sex is None:
        return f"whether port {letter} is female or male"
    if _seat(letter, end).ok is not True:
        return f"the seat of port {letter}"
    return None


def _face(end: EndEntry) -> Face:
    name, seat, sex = designation_of(end), end.seat, end.sex
    if name is None or seat is None or sex is None:
        raise ValueError("a port without thread, seat or sex has no face")
    return Face(seat_named(seat).name, _of_sex(name, sex), sex)


def _of_sex(designation: str, sex: Sex) -> str:
    """Name an ISO 7-1 thread as the port has it: R is external, Rc internal."""
    size = designation.removeprefix("Rc").removeprefix("R")
    if size == designation or designation.startswith("Rp"):
        return designation
    return f"R{size}" if sex == "male" else f"Rc{size}"


def _adapters(connection: Connection, job: JobEntries) -> Check:
    name = "adapters"
    elbows = [
        letter
        for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        if end.datum == "port face" and any(part.form != "straight" for part in chain.adapters)
    ]
    if elbows:
        words = f"Elbow at {' and '.join(elbows)}: measure the route again to the elbow's seat."
        return Check(name, False, words)
    guesses = {
        part.name
        for end, chain in zip(job.ends, connection.chains, strict=True)
        for part in chain.adapters
        if part.checked == "memory" and not end.adapter_by
    }
    if guesses:
        return missing(name, f"the part in hand: {'; '.join(sorted(guesses))} is from memory")
    heights = [
        f"which is true: adapter {letter} stands {end.stand_off.value:g} mm off, or "
        f"{chain.height_mm:g} mm as its row says"
        for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        if end.stand_off is not None
        and chain.height_mm is not None
        and abs(end.stand_off.value - chain.height_mm) > _HEIGHT_OFF_MM
    ]
    if heights:
        return missing(name, *heights)
    counts = " and ".join(str(len(chain.adapters)) for chain in connection.chains)
    return Check(name, True, f"{counts} adapters to a -{connection.dash} hose, seat to seat.")


def _reach(letter: str, end: EndEntry, chain: Chain) -> Check:
    """Check that the stud seals before it bottoms in the port."""
    name = f"stud {letter} seals before it bottoms"
    if end.sex == "male" or not chain.adapters:
        return Check(name, True, "No stud is screwed into this port.")
    stud = chain.adapters[0]
    if _is_taper(stud):
        return Check(name, True, "A taper thread seals on its flanks; count the turns it takes.")
    stud_mm = stud.stud_length_mm if stud.stud_length_mm is not None else end.stud_length_mm
    if end.port_depth is None or stud_mm is None:
        known = (("depth of the port's thread", end.port_depth), (_STUD, stud_mm))
        return missing(name, *(words for words, value in known if value is None))
    depth_mm = end.port_depth.value
    need_mm = _STUD_IN_HAND_MM + thread(stud.a.thread).pitch_mm
    left_mm = depth_mm - 2 * end.port_depth.u - stud_mm
    found = f"Stud {stud_mm:g} mm, port {depth_mm:g} mm deep: {left_mm:.1f} mm in hand"
    need = f"{need_mm:.1f} mm needed (1 mm and one pitch)"
    holds_mm = _LEAST_HOLD * thread(stud.a.thread).major_diameter_mm
    if min(stud_mm, depth_mm) < holds_mm:
        words = f"{min(stud_mm, depth_mm):g} mm of thread hold, {holds_mm:.0f} mm are the least"
        return Check(name, False, f"{words} that any port standard has: the wrong part.")
    return Check(name, left_mm >= need_mm, f"{found}, {need}.")


def _is_taper(part: Adapter) -> bool:
    return part.a.seat == "taper thread"
