"""What to have on the bench: parts, the order slip for a hose shop, and words of warning."""

import csv
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from photomeasure.sizing.assembly import clock_deg, saw_mark_mm
from photomeasure.sizing.clips import dressing
from photomeasure.sizing.connection import Chain, Connection
from photomeasure.sizing.cut import CutLengths, measured_from
from photomeasure.sizing.entries import JobEntries
from photomeasure.sizing.hose import peak_pressure_mpa
from photomeasure.sizing.ports import designation_of

__all__ = ["Costs", "Part", "clocking_words", "costs", "order_slip", "parts", "thread_warnings"]

_SHORT_ASSEMBLY_MM = 610.0  # ±3° up to here, ±5° above: MIL-DTL-83796-5, figure 3


@dataclass(frozen=True, slots=True)
class Part:
    """One line of the parts list."""

    name: str
    quantity: int
    where: str
    standard: str = ""
    price: float | None = None
    on_shelf: bool = False
    note: str = ""

    def as_json(self) -> dict[str, str | int | float | bool | None]:
        """Give the contract's form."""
        return {
            "name": self.name,
            "quantity": self.quantity,
            "for": self.where,
            "standard": self.standard,
            "price": self.price,
            "on_shelf": self.on_shelf,
            "note": self.note,
        }


@dataclass(frozen=True, slots=True)
class Costs:
    """What the parts cost at the user's own prices, beside a hose bought made up."""

    sum: float
    unpriced: tuple[str, ...]
    bought: float | None

    @property
    def words(self) -> str:
        """Say it in one line, with what has no price yet."""
        said = f"Parts with a price: {self.sum:.2f}"
        if self.unpriced:
            said += f" ({len(self.unpriced)} more have none yet)"
        if self.bought is None:
            return f"{said}. Enter the price of a bought hose to compare."
        if self.unpriced:
            return f"{said}; a bought hose: {self.bought:.2f}. Not yet comparable."
        less = self.bought - self.sum
        return f"{said}; a bought hose: {self.bought:.2f}, {abs(less):.2f} " + (
            "more." if less >= 0 else "less."
        )

    def as_json(self) -> dict[str, float | list[str] | str | None]:
        """Give the form that goes into the cut's JSON."""
        return {
            "sum": self.sum,
            "unpriced": list(self.unpriced),
            "bought": self.bought,
            "words": self.words,
        }


def costs(job: JobEntries, listed: tuple[Part, ...]) -> Costs:
    """Add up the parts.

    Parameters
    ----------
    job : JobEntries
    listed : tuple of Part

    Returns
    -------
    Costs
    """
    priced = [part.price * part.quantity for part in listed if part.price is not None]
    unpriced = tuple(part.name for part in listed if part.price is None)
    return Costs(sum(priced), unpriced, job.hose.bought_price)


def parts(job: JobEntries, lengths: CutLengths, connection: Connection | None) -> tuple[Part, ...]:
    """List the parts; nothing while the ports are not settled.

    Parameters
    ----------
    job : JobEntries
    lengths : CutLengths
    connection : Connection or None

    Returns
    -------
    tuple of Part
    """
    if connection is None:
        return ()
    found: list[Part] = []
    for letter, chain in zip("AB", connection.chains, strict=True):
        found += _adapters(letter, chain)
    found += _weld_ons(job, connection)
    ends = zip("AB", job.ends, connection.chains, strict=True)
    found += [
        replace(_hose_end(letter, end.end, chain), price=end.price) for letter, end, chain in ends
    ]
    mark = saw_mark_mm(lengths)
    length = "length still open" if mark is None else f"{mark} mm"
    kind = job.hose.kind or job.hose.standard or "hose of a kind still to be entered"
    found.append(Part(f"{kind}, -{connection.dash}, {length}", 1, "hose", price=job.hose.price))
    return (*found, *_dressing(job, lengths))


def _dressing(job: JobEntries, lengths: CutLengths) -> list[Part]:
    """List clips and sleeve, which have no price of their own here."""
    dressed = dressing(job, lengths)
    od = job.hose.outside_diameter_mm
    size = "" if od is None else f" for {od:g} mm outside"
    found = []
    if dressed is not None and dressed.clips:
        found.append(Part(f"lined clip{size}", dressed.clips, "hose"))
    if dressed is not None and dressed.sleeve_mm is not None:
        found.append(Part(f"abrasion sleeve{size}, {dressed.sleeve_mm:.0f} mm", 1, "hose"))
    return found


def _adapters(letter: str, chain: Chain) -> list[Part]:
    rows = [
        Part(
            part.name,
            1,
            letter,
            part.standard,
            part.price,
            part.on_shelf,
            "from memory: hold the part in hand first" if part.checked == "memory" else "",
        )
        for part in chain.adapters
    ]
    seals = [
        Part(f"new {joint.seat.seal} for {joint.thread}", 1, letter)
        for joint in chain.joints
        if joint.seat.seal
    ]
    return rows + seals


def _weld_ons(job: JobEntries, connection: Connection) -> list[Part]:
    """List the ends that are welded to a tube, with the tube that they must fit."""
    return [
        Part(
            f"weld-on end, {chain.port}, for tube {end.tube.outside_diameter.value:g} x "
            f"{end.tube.wall.value:g} mm",
            1,
            letter,
            note="weldable low-carbon steel, unplated",
        )
        for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        if end.tube is not None
    ]


def _hose_end(letter: str, style: str, chain: Chain) -> Part:
    end = chain.hose_end
    form = "straight" if style == "straight" else f"{style}°"
    name = f"-{end.dash} hose end, {form}, {end.face.sex} {end.face.thread}, {end.face.seat}"
    return Part(name, 1, letter, end.standard)


def clocking_words(job: JobEntries, lengths: CutLengths) -> str | None:
    """Say the clocking, or None where at least one end is straight and needs none.

    Parameters
    ----------
    job : JobEntries
    lengths : CutLengths

    Returns
    -------
    str or None
    """
    if len(job.ends) < 2 or any(end.end == "straight" for end in job.ends):
        return None
    clocking = job.route.clocking if job.route is not None else None
    if clocking is None:
        return "two angled ends: clocking still to be measured"
    length = lengths.assembly_length
    tolerance = 3 if length is not None and length.value <= _SHORT_ASSEMBLY_MM else 5
    return (
        f"{clock_deg(clocking.value):.0f}° counter-clockwise from the near elbow at 6 o'clock "
        f"({clocking.value:+.0f}°), ± {tolerance}°"
    )


def order_slip(
    job: JobEntries, lengths: CutLengths, connection: Connection | None
) -> tuple[tuple[str, str], ...]:
    """Give what a hose shop must be told.

    Parameters
    ----------
    job : JobEntries
    lengths : CutLengths
    connection : Connection or None

    Returns
    -------
    tuple of (str, str)
        Label and text; what is not known says so.
    """
    hose, line = job.hose, job.line
    overall = lengths.assembly_length
    datums = "; ".join(
        measured_from(letter, end) for letter, end in zip("AB", job.ends, strict=False)
    )
    rows = [
        ("Overall length", _known(None if overall is None else f"{overall.value:.1f} mm")),
        ("Measured from", _known(datums)),
        ("Length tolerance", _tolerance(lengths)),
        ("Hose", _known(", ".join(word for word in (hose.kind, hose.standard) if word))),
        ("Size", _known(None if connection is None else f"-{connection.dash}")),
        ("Highest pressure", _known(_figure(peak_pressure_mpa(line), "MPa"))),
        ("Relief pressure", _known(_figure(line.relief_pressure_mpa, "MPa"))),
        ("Hottest", _known(_figure(line.hottest_c, "°C"))),
        ("Fluid", _known(line.fluid)),
    ]
    if connection is not None:
        rows += [
            (f"End {letter}", _hose_end(letter, end.end, chain).name)
            for letter, end, chain in zip("AB", job.ends, connection.chains, strict=True)
        ]
    rows.append(("Clocking", clocking_words(job, lengths) or "none needed"))
    rows.append(("Ask for", "proof-test certificate; this tolerance in writing"))
    return tuple(rows)


def _tolerance(lengths: CutLengths) -> str:
    """Say how much longer or shorter the finished hose may be than the overall length."""
    at, longest = lengths.cut_at, lengths.longest_usable
    more = "NOT KNOWN YET"
    if at is not None and longest is not None:
        more = f"{max(0.0, longest.low - at.value):.0f} mm"
    return f"not shorter; longer by at most {more}"


def _known(text: str | None) -> str:
    return text or "NOT KNOWN YET"


def _figure(value: float | None, unit: str) -> str | None:
    return None if value is None else f"{value:g} {unit}"


@cache
def _cautions() -> dict[str, str]:
    text = files(__package__).joinpath("data", "cautions.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines(), strict=True)
    return {row["thread"]: row["caution"] for row in rows}


def thread_warnings(job: JobEntries) -> tuple[str, ...]:
    """Warn of what a thread is also used for, and of threads read off a removed part.

    Parameters
    ----------
    job : JobEntries

    Returns
    -------
    tuple of str
    """
    found = []
    for letter, end in zip("AB", job.ends, strict=False):
        thread = designation_of(end)
        if thread in _cautions():
            found.append(f"End {letter}, {thread}: {_cautions()[thread]}.")
        if end.measured_on is not None and "removed" in end.measured_on.casefold():
            found.append(
                f"End {letter} was measured on the part that came out; it may be the wrong one. "
                "Try the new part by fingers only, to full depth."
            )
    return tuple(found)
