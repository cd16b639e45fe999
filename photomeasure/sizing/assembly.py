"""The steps at the bench, in order and with figures, and the cautions that go before them."""

from dataclasses import dataclass
from math import ceil
from typing import Literal

from photomeasure.sizing.clips import dressing
from photomeasure.sizing.clocking import setting_words
from photomeasure.sizing.connection import Chain, Connection, Joint
from photomeasure.sizing.cut import CutLengths
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.sizing.hose import is_ptfe
from photomeasure.sizing.metals import is_soft
from photomeasure.sizing.torque import torque_words
from photomeasure.sizing.tube import weld_words
from photomeasure.sizing.ways import Way, awkward_end, ways

__all__ = [
    "CAUTIONS",
    "CONDEMNED",
    "Step",
    "clock_deg",
    "saw_mark_mm",
    "steps",
]

Stage = Literal["before", "weld", "cut", "assemble", "prove", "fit", "test"]

CAUTIONS = (
    "Mineral-oil steering and hydraulics only. Not brakes, fuel, gas, refrigerant, air or steam.",
    "Oil through the skin looks like a pinprick: hospital at once, say “high-pressure oil "
    "injection”. Never feel for a leak with a hand.",
    "First start: wheels off the ground, nobody near wheels, linkage, belts or fan, hands clear "
    "of the spokes, a second person at the switch. If the wheel moves by itself, stop at once: "
    "lines are swapped.",
    "A failed hose takes the steering with it; hydrostatic steering has no mechanical link at all. "
    "First drive off the road at walking pace.",
    "Hot oil burns, and lights when sprayed on an exhaust. No welding near fuel or oil. Vehicle on "
    "stands; grinding sparks, loose braid wires: eyes and hands covered.",
    "Look-alike threads hold for a while and then let go. Never use a second-hand pressure hose.",
    "Local rules and licensed people come first: have it checked where your rules ask for it.",
)

CONDEMNED = (
    "Later, a hose is condemned by visible wire, blister, crack, soft patch, kink, flat, twisted "
    "lay line, weep, rust or slip at a socket; or by age: 6 years in all (a German guideline; "
    "others allow more)."
)

_AIMED = (
    "Elbow: lock nut fully back, in by hand until the washer touches, back less than one turn to "
    "aim, hold it, torque the lock nut. "
)
_LYING = {
    "return": "Return line: it enters the tank below the oil's level. Clamps and barbs never on "
    "the pressure side.",
    "feed": "Feed line: short, no high loop, below the oil's level.",
}


_BEFORE = (
    "Engine off and cold, key out. Turn the steering lock to lock several times; let an "
    "accumulator down by its manual.",
    "Drip tray under. Clean round each joint, open, cap at once. Tag both lines and ports.",
    "Hook out the old O-ring or washer: two in one port leak. Look into the old union; cut the old "
    "hose open: it may hide a tuner tube or restrictor. Thread pulled, stretched, cracked or half "
    "worn, seat scored: replace the part; dirty: chase by hand, then flush.",
)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, and the stage of the work it belongs to."""

    stage: Stage
    text: str

    def as_json(self) -> dict[str, str]:
        """Give the contract's form."""
        return {"stage": self.stage, "text": self.text}


def saw_mark_mm(lengths: CutLengths) -> int | None:
    """Give the mark in whole millimetres, rounded up: one can cut again, never add.

    Parameters
    ----------
    lengths : CutLengths

    Returns
    -------
    int [mm] or None
    """
    return None if lengths.cut_at is None else ceil(lengths.cut_at.value - 1e-9)


def clock_deg(signed_deg: float) -> float:
    """Turn a signed clocking into the trade's 0 to 360 degrees, counter-clockwise.

    Parameters
    ----------
    signed_deg : float [deg]

    Returns
    -------
    float [deg]
    """
    return signed_deg % 360.0


def steps(job: JobEntries, lengths: CutLengths, connection: Connection | None) -> tuple[Step, ...]:
    """All steps from the closed system to the second look for leaks.

    Parameters
    ----------
    job : JobEntries
    lengths : CutLengths
    connection : Connection or None
        Without it the adapters are still to be settled.

    Returns
    -------
    tuple of Step
    """
    return (
        *(Step("before", text) for text in _BEFORE),
        *(Step("weld", text) for text in weld_words(job)),
        *(Step("cut", text) for text in _cut(job, lengths, connection)),
        *(Step("assemble", text) for text in _assemble(job)),
        Step("prove", _prove(job)),
        *(Step("fit", text) for text in _fit(job, lengths, connection)),
        *(Step("test", text) for text in _test(job)),
    )


def _dry_fit(connection: Connection | None) -> str:
    if connection is None:
        return "Settle the adapters first; screw them home dry, then measure the route."
    names = [
        ", then ".join(part.name for part in chain.adapters) or "no adapter"
        for chain in connection.chains
    ]
    return (
        "Screw the adapters home dry; no stud may reach a valve or cover a drilling. Then measure "
        f"the route. A: {names[0]}. B: {names[1]}."
    )


def _cut(job: JobEntries, lengths: CutLengths, connection: Connection | None) -> tuple[str, ...]:
    mark, dry = saw_mark_mm(lengths), _dry_fit(connection)
    if mark is None:
        return (
            dry,
            f"No cut yet: {'; '.join(lengths.missing)}.",
        )
    measured, in_place = ways(job, lengths)
    first = awkward_end(job)
    depth = job.ends[1 - first].socket_depth
    insertion = "the socket's hose depth" if depth is None else f"{depth.value:.1f} mm"
    return (
        dry,
        f"Mark the hose at {mark} mm from a square end{_band(measured)}. Shear it square within "
        f"{_square_mm(job):g} mm, no hacksaw; a cut-off wheel needs clean-up. Cut on the waste "
        "side, the kerf comes off the waste. Blow it out.",
        f"Or mark in place{_band(in_place)}: make up end {'AB'[first]}, hold end {'BA'[first]} on "
        f"its seat; mark at its socket's rear edge, add {insertion}, cut on the waste side.",
    )


def _square_mm(job: JobEntries) -> float:
    """How far off square a cut end may be: RMA IP-2:2003, squareness of ends [mm]."""
    bore = job.hose.inside_diameter_mm
    return 1.6 if bore is None or bore <= 19.1 else 3.2


def _band(way: Way) -> str:
    return "" if way.half_band_mm is None else f" (± {way.half_band_mm:.0f} mm)"


def _assemble(job: JobEntries) -> tuple[str, ...]:
    made = {end.made for end in job.ends}
    if made == {"crimped"}:
        return (
            "Crimped ends: only by a shop with die and crimp diameter for this pair. A crimped "
            "ferrule is never used again. Give the shop the order slip.",
        )
    if made != {"screw-together"}:
        return ("Make up both ends by the end maker's own sheet for this hose.",)
    return _lined_with_ptfe(job) if is_ptfe(job.hose) else _rubber(job)


def _lined_with_ptfe(job: JobEntries) -> tuple[str, ...]:
    return (
        "Socket onto the hose first, both ways round looked at. Tape the braid over the mark and "
        "cut through the tape: loose wires prick, eyes and hands covered.",
        "Tape off, open the braid from the liner, push the new ferrule on between liner and braid "
        "until the liner's end meets its shoulder. No braid wire under the ferrule.",
        f"Oil nipple and ferrule, push the nipple in, draw the socket up, hold it in soft jaws and "
        f"turn the nipple home to a gap of {_gap(job.ends)}. A ferrule is never used again.",
        "Look down the bore for a cut or a curl of liner, blow through.",
        *([setting] if (setting := setting_words(job)) else []),
    )


def _rubber(job: JobEntries) -> tuple[str, ...]:
    # No creep up to -10, 1/32 in above: TM 1-1500-204-23-2, 4-5 (the trade's habit: about 1 mm)
    return (
        f"Mark the hose at the socket's rear edge. Socket (left-hand) anticlockwise until the hose "
        f"bottoms, then {_back_off(job.ends)} back. Open the liner with a smooth spike.",
        f"Oil nipple and liner with the system's fluid. Hold the socket in soft jaws, turn the "
        f"nipple home to a gap of {_gap(job.ends)}.",
        "Hose crept out of the socket (sizes to -10: at all; above: over 0.8 mm): undo, cut fresh, "
        "redo. Look down the bore for a curl of liner, blow through.",
        *([setting] if (setting := setting_words(job)) else []),
    )


def _back_off(ends: list[EndEntry]) -> str:
    turns = sorted({end.back_off_turns for end in ends if end.back_off_turns is not None})
    words = ["half a turn" if turn == 0.5 else f"{turn:g} turns" for turn in turns]
    return " / ".join(words) or "as the end maker says"


def _gap(ends: list[EndEntry]) -> str:
    gaps = sorted({end.gap.value for end in ends if end.gap is not None})
    return " / ".join(f"{gap:g} mm" for gap in gaps) or "what the end maker says"


def _fit(job: JobEntries, lengths: CutLengths, connection: Connection | None) -> tuple[str, ...]:
    hold = (
        "Caps stay on until the joint is made. Each joint by fingers first, to the seal. A second "
        "spanner holds the adapter. Torque or flats, never both."
    )
    if _is_soft(job, connection):
        hold += " Oil the aluminium thread or it galls."
    return (hold, *_joints(job, connection), *_run(job, lengths))


def _joints(job: JobEntries, connection: Connection | None) -> list[str]:
    """Say each joint, those in the ports first; what both ends have alike is said once."""
    chains = () if connection is None else connection.chains
    said: dict[tuple[int, str], list[str]] = {}
    for letter, end, chain in zip("AB", job.ends, chains, strict=False):
        for depth, joint in enumerate(chain.joints):
            said.setdefault((depth, _joint(joint, end, chain)), []).append(letter)
    ordered = sorted(said.items(), key=lambda item: item[0][0])
    return [f"{' and '.join(letters)}, {words}" for (_, words), letters in ordered]


def _joint(joint: Joint, end: EndEntry, chain: Chain) -> str:
    """Say how a joint seals, how it is aimed, and how tight it is made."""
    tight = torque_words(joint, end) or "NO TORQUE KNOWN: see the part's own table"
    lower = joint.lower if joint.lower.startswith("hose end") else "adapter"
    upper = joint.upper if joint.upper == "port" else "adapter"
    aimed = _AIMED if upper == "port" and _is_adjustable(chain) else ""
    return f"{upper} to {lower}, {joint.thread}: {joint.seat.sealing}. {aimed}{tight}."


def _is_adjustable(chain: Chain) -> bool:
    """Whether the part in the port is an O-ring elbow, which is aimed and held by a lock nut."""
    return bool(chain.adapters) and (
        chain.adapters[0].form != "straight" and chain.adapters[0].a.seat == "O-ring port"
    )


def _run(job: JobEntries, lengths: CutLengths) -> list[str]:
    """Say how the hose lies between its ends."""
    dressed = dressing(job, lengths)
    guard = "Clip it, sleeve it where it can rub." if dressed is None else dressed.words
    # 5° cost 70 % and 7° 90 % of a hose's life: a trade article, which names no test
    said = [f"No twist: the lay line runs straight; 7° cost most of a hose's life. {guard}"]
    if job.line.kind in _LYING:
        said.append(_LYING[job.line.kind])
    return said


def _is_soft(job: JobEntries, connection: Connection | None) -> bool:
    metals = {end.port_material for end in job.ends} | {end.adapter_material for end in job.ends}
    chains = () if connection is None else connection.chains
    metals |= {part.material for chain in chains for part in chain.adapters}
    return any(is_soft(metal) for metal in metals if metal)


def _prove(job: JobEntries) -> str:
    parts = (job.hose.working_pressure_mpa, *(_stated_mpa(end) for end in job.ends))
    known = [value for value in parts if value is not None]
    twice = "twice the working pressure of its weakest part"
    if len(known) == len(parts) > 1:
        twice = f"{2 * min(known):g} MPa (twice the weakest of hose and ends)"
    return (
        "The hose assembly alone, sockets marked: liquid, never air; all air out, plugged, hand "
        f"pump, behind a guard, nobody in line with the ends, {twice} or a part's own lower proof "
        "figure, 30 to 60 s. Any weep or creep condemns it. No pump and guard: a hose shop. On "
        "the machine never above the relief."
    )


def _stated_mpa(end: EndEntry) -> float | None:
    """Pressure for which the maker says that the end fits the hose."""
    return None if end.fits_hose is None else end.fits_hose.pressure_mpa


def _test(job: JobEntries) -> tuple[str, ...]:
    oil = "" if job.line.fluid is None else f" with {job.line.fluid} only, never mixed"
    return (
        f"Tick every caution first. Fill{oil}; wheels off the ground: lock to lock about 20 times, "
        "engine off, top up, then idle until no bubbles come; milky oil stands first. Never hold "
        "at a lock. From lock to lock watch the hose: no touch, stretch or kink.",
        "Look for leaks with card. Tighten only without pressure. Look again after the first heat "
        "and after the first drive.",
    )
