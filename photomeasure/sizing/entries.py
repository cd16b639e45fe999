"""What a person enters for one hose: the words of a job file, checked and typed.

Everything may be left out: what is missing turns into an open check or a missing term, never
into a guess. Keys that are not known here are kept as they are.
"""

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from photomeasure.errors import UsageError
from photomeasure.quantities import parse_length_mm

__all__ = [
    "Bend",
    "Clearance",
    "EndEntry",
    "FitsHose",
    "HoseEntry",
    "JobEntries",
    "LineEntry",
    "Measured",
    "Movement",
    "OldUnion",
    "RouteEntry",
    "Shortening",
    "SourceEntry",
    "ThreadAnswer",
]

Shape = Literal["normal", "rectangular"]
EndStyle = Literal["straight", "45", "90"]
Datum = Literal["seat", "port face", "band edge", "axes cross"]
LineKind = Literal["pressure", "return", "feed", "cylinder"]
Mounts = Literal["soft", "solid", "linkage", "one part"]

_PLUS_MINUS = re.compile(r"^(?P<value>.+?)\s*(?:±|\+/-|\+-)\s*(?P<half>.+)$")
_UNIT = re.compile(r"[a-zA-Z\"″']+\s*$")
_NOUGHT = re.compile(r"0+(?:[.,]0*)?(?=\s*[a-zA-Z\"″'])")


class _Entry(BaseModel):
    model_config = ConfigDict(extra="allow", frozen=True, allow_inf_nan=False)


class Measured(_Entry):
    """A value with its standard uncertainty; `rectangular` when only its limits are known."""

    value: float
    u: float = Field(ge=0)
    low: float | None = None
    high: float | None = None
    unit: str = "mm"
    shape: Shape = "normal"

    @model_validator(mode="before")
    @classmethod
    def _from_words(cls, given: object) -> object:
        return _from_limits(given) if isinstance(given, str) else given

    @model_validator(mode="after")
    def _in_order(self) -> "Measured":
        if (
            self.low is not None
            and self.high is not None
            and not self.low <= self.value <= self.high
        ):
            raise ValueError("low, value and high are not in order")
        return self


def _length_mm(text: str) -> float:
    """Read a length that may be nought: its unit is looked at all the same."""
    nought = _NOUGHT.match(text.strip())
    if nought is None:
        return parse_length_mm(text)
    parse_length_mm(f"1{text.strip()[nought.end() :]}")
    return 0.0


def _from_limits(text: str) -> dict[str, float | str]:
    """Read `31.8 ± 0.5 mm`: the figure after the sign is the most it can be off."""
    match = _PLUS_MINUS.match(text.strip())
    if match is None:
        raise ValueError(f"'{text}' does not say how sure it is: write it like 31.8mm ± 0.5mm")
    value_text, half_text = match["value"], match["half"]
    if not _UNIT.search(value_text) and (unit := _UNIT.search(half_text)):
        value_text += unit[0]
    sign = -1.0 if value_text.lstrip().startswith(("-", "−")) else 1.0
    try:
        value = sign * _length_mm(value_text.lstrip().lstrip("-−"))
        half = _length_mm(half_text)
    except UsageError as error:
        raise ValueError(str(error)) from error
    return {"value": value, "u": half / 3**0.5, "shape": "rectangular"}  # JCGM 100, 4.3.7


def _length(given: object) -> object:
    unit = given.get("unit", "mm") if isinstance(given, dict) else getattr(given, "unit", "mm")
    if unit != "mm":
        raise ValueError(f"unit is '{unit}': give the length in mm")
    return given


Length = Annotated[Measured, BeforeValidator(_length)]


def _not_below_nought(given: Measured) -> Measured:
    if given.value < 0:
        raise ValueError(f"{given.value:g} {given.unit} is below nought")
    return given


Size = Annotated[Length, AfterValidator(_not_below_nought)]


def _decision(given: object) -> object:
    """Read a length that somebody chose: `20mm` is exactly that."""
    if isinstance(given, str) and _PLUS_MINUS.match(given.strip()) is None:
        try:
            return {"value": _length_mm(given), "u": 0.0}
        except UsageError as error:
            raise ValueError(str(error)) from error
    return _length(given)


ChosenLength = Annotated[Measured, BeforeValidator(_decision), AfterValidator(_not_below_nought)]


class SourceEntry(_Entry):
    """Where a stored value's uncertainty comes from."""

    label: str = ""
    scope: Literal["print", "camera", "photo", "answer"] = "answer"
    key: str = ""


class Bend(_Entry):
    """One bend of the route: the middle of its turning, its axis radius, its angle."""

    at: Measured
    radius: Measured
    angle: Measured


class Near(_Entry):
    """What the photos of a route show beside it, and its least distance from the hose."""

    name: str
    distance: Length | None = None


class RouteEntry(_Entry):
    """A route answer, or a length that was measured by hand (`{"length": Q}`)."""

    length: Length
    hose_length: Length | None = None
    turning: Measured | None = None
    tightest_radius: Length | None = None
    clocking: Measured | None = None
    bends: list[Bend] | None = None
    points: list[list[float]] | None = None
    near_straight: bool | None = None
    clearances: list[Near] = Field(default_factory=list)
    laid: str | None = None
    components: dict[str, dict[str, float]] = Field(default_factory=dict)
    sources: dict[str, SourceEntry] = Field(default_factory=dict)
    warnings: list[Any] = Field(default_factory=list)


class Candidate(_Entry):
    """One thread that the reading may be."""

    designation: str
    probability: float = Field(ge=0, le=1 + 1e-9)


class ThreadAnswer(_Entry):
    """The part of a `fitting` or `port` answer that this room needs."""

    verdict: Literal["identified", "ambiguous", "no match"]
    candidates: list[Candidate] = Field(default_factory=list)
    settle_by: str | None = None
    hand: str = "unknown"
    major_diameter: Length | None = None
    bore_diameter: Length | None = None
    pitch: Length | None = None


class FitsHose(_Entry):
    """The end maker's statement that this end fits this hose type and dash."""

    statement: str
    by: str
    pressure_mpa: float | None = Field(default=None, gt=0)


class OldUnion(_Entry):
    """What was found inside the union or banjo bolt that came out of the port."""

    holds: str
    by: str
    kept: bool = False


class TorqueEntry(_Entry):
    """The torque of the stud in the port, from its own table, and where it was read."""

    newton_metres: float = Field(gt=0)
    by: str


class TubeEntry(_Entry):
    """A steel tube that an end is welded or brazed to, and the stress its steel may carry."""

    outside_diameter: Size
    wall: Size
    allowable_mpa: float = Field(gt=0)
    by: str


class EndEntry(_Entry):
    """One end of the hose: its port, its hose end, and where the route was measured from."""

    name: str = ""
    designation: str | None = None
    thread: ThreadAnswer | None = None
    thread_by: str | None = None
    print_verified: bool | None = None
    measured_on: str | None = None
    sex: Literal["female", "male"] | None = None
    seat: str | None = None
    seat_by: str | None = None
    port_depth: Size | None = None
    old_union: OldUnion | None = None
    port_material: str | None = None
    adapter_material: str | None = None
    adapter_form: EndStyle | None = None
    adapter_pressure_mpa: float | None = Field(default=None, gt=0)
    adapter_by: str | None = None
    stud_length_mm: float | None = Field(default=None, gt=0)
    torque: TorqueEntry | None = None
    torque_hose_end: TorqueEntry | None = None
    tube: TubeEntry | None = None
    price: float | None = Field(default=None, ge=0)

    end: EndStyle = "straight"
    made: Literal["screw-together", "crimped"] | None = None
    cut_off: Size | None = None
    cut_off_to: Literal["seat", "nut end", "axes cross"] | None = None
    nut_past_seat: Length | None = None
    seat_to_socket: Size | None = None
    socket_depth: Size | None = None
    hose_thread_pitch: Size | None = None
    back_off_turns: float | None = Field(default=None, ge=0)
    back_off_in_cut_off: float | None = Field(default=None, ge=0)
    gap: Size | None = None
    gap_in_cut_off: Size | None = None
    gap_when_setting: Size | None = None
    least_gap: Size | None = None
    nipple_thread_pitch_mm: float | None = Field(default=None, gt=0)
    fits_hose: FitsHose | None = None
    seal_material: str | None = None
    seal_max_c: float | None = None

    datum: Datum | None = None
    datum_offset: Length | None = None
    stand_off: Size | None = None
    notes: str = ""


class Shortening(_Entry):
    """How far the hose shortens (+) or grows (−) at its full working pressure, as fractions."""

    least: float
    most: float
    source: str


class HoseEntry(_Entry):
    """The hose, from its data sheet: what is not on the sheet stays empty.

    `standard`, where it is one that the program knows, fills what was left empty.
    """

    kind: str | None = None
    standard: str | None = None
    dash: int | None = Field(default=None, gt=0)
    inside_diameter_mm: float | None = Field(default=None, gt=0)
    outside_diameter_mm: float | None = Field(default=None, gt=0)
    bend_radius_mm: float | None = Field(default=None, gt=0)
    bend_radius_to: Literal["inside", "axis"] | None = None
    working_pressure_mpa: float | None = Field(default=None, gt=0)
    working_pressure_to_c: float | None = None
    working_pressure_hot_mpa: float | None = Field(default=None, gt=0)
    burst_pressure_mpa: float | None = Field(default=None, gt=0)
    temperature_max_c: float | None = None
    fluids: list[str] | None = None
    liner: str | None = None
    suction_rated: bool | None = None
    shortening: Shortening | None = None
    made_on: str | None = None
    second_hand: bool | None = None
    data_sheet: str | None = None
    price: float | None = Field(default=None, ge=0)
    bought_price: float | None = Field(default=None, ge=0)


class LineEntry(_Entry):
    """The line's duty: what flows, how hot, at what pressure, and who says so."""

    kind: LineKind | None = None
    system: str | None = None
    fluid: str | None = None
    fluid_by: str | None = None
    relief_pressure_mpa: float | None = Field(default=None, gt=0)
    relief_by: str | None = None
    peak_pressure_mpa: float | None = Field(default=None, gt=0)
    shock_pressure_mpa: float | None = Field(default=None, gt=0)
    flow_l_per_min: float | None = Field(default=None, gt=0)
    viscosity_mm2_per_s: float | None = Field(default=None, gt=0)
    density_kg_per_m3: float | None = Field(default=None, gt=0)
    hottest_c: float | None = None
    hottest_by: str | None = None
    pressure_line_bore_mm: float | None = Field(default=None, gt=0)


class Movement(_Entry):
    """Port to port over the full travel, against the position in which the route was measured.

    `tightest_radius` is the tightest bend, to the hose's axis, where the path is shortest.
    """

    longer: Size
    shorter: Size
    by: str
    tightest_radius: Size | None = None


class Clearance(_Entry):
    """What was seen when the hose's path was followed through the full movement."""

    full_travel: bool
    by: str
    moving_mm: float | None = Field(default=None, ge=0)
    exhaust_mm: float | None = Field(default=None, ge=0)
    exhaust_shielded: bool = False
    length_change_tried: bool = False


class SpaceEntry(_Entry):
    """Where seat B lies from seat A, and which way both ports point, in one frame of any choice."""

    seat_b_mm: tuple[float, float, float]
    axis_a: tuple[float, float, float]
    axis_b: tuple[float, float, float]
    by: str = ""


class StyleEntry(_Entry):
    """One style of hose end that can be had, from its maker's sheet."""

    style: EndStyle
    cut_off: Size
    socket_depth: Size
    drop: Length | None = None


class JobEntries(_Entry):
    """All that is known of one hose."""

    job: Literal[1]
    id: str = "job"
    name: str = ""
    route: RouteEntry | None = None
    ends: list[EndEntry] = Field(default_factory=list, max_length=2)
    hose: HoseEntry = Field(default_factory=HoseEntry)
    line: LineEntry = Field(default_factory=LineEntry)
    slack: ChosenLength | None = None
    mock_up: Length | None = None
    mounts: Mounts | None = None
    rubs_over: ChosenLength | None = None
    movement: Movement | None = None
    surplus: Size | None = None
    clearance: Clearance | None = None
    space: SpaceEntry | None = None
    end_styles: list[StyleEntry] = Field(default_factory=list)
    build_date: str | None = None
    rendered: bool = False
    invented: str | None = None
