"""What the command line's options accept: lengths with units, pitches, bars, points, sides."""

import re
from dataclasses import dataclass
from typing import Any

import click

from photomeasure.errors import UsageError
from photomeasure.quantities import parse_length_mm, parse_pitch_mm
from photomeasure.route.space.reading import Mark
from photomeasure.sizing.zones import MACHINES

__all__ = [
    "BANDS",
    "BAR",
    "LENGTH",
    "MARK",
    "MOVE",
    "PITCH",
    "POINT",
    "SIDE",
    "BarOption",
    "Length",
    "json_option",
    "machine_option",
]


@dataclass(frozen=True, slots=True)
class Length:
    """A length as the user wrote it, and in millimetres."""

    text: str
    mm: float


@dataclass(frozen=True, slots=True)
class BarOption:
    """A check bar's reading; it holds for every print where no kind is named."""

    kind: str | None
    mm: float


class _LengthType(click.ParamType[Length]):
    name = "LENGTH"

    def convert(self, value: Any, param: Any, ctx: Any) -> Length:
        return value if isinstance(value, Length) else Length(value, parse_length_mm(value))


class _PitchType(click.ParamType[Length]):
    name = "PITCH"

    def convert(self, value: Any, param: Any, ctx: Any) -> Length:
        return value if isinstance(value, Length) else Length(value, parse_pitch_mm(value))


class _BarType(click.ParamType[BarOption]):
    name = "[KIND=]LENGTH"

    def convert(self, value: Any, param: Any, ctx: Any) -> BarOption:
        if isinstance(value, BarOption):
            return value
        kind, equals, length = value.rpartition("=")
        if equals and not kind:
            raise UsageError(f"'{value}' names no print.", "Write it like sheet=99.8mm or 99.8mm.")
        return BarOption(kind or None, LENGTH.convert(length, param, ctx).mm)


class _PointType(click.ParamType[tuple[float, float]]):
    name = "X,Y"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, float]:
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*,\s*(\d+(?:\.\d*)?)\s*", value)
        if match is None:
            raise UsageError(f"'{value}' is not a point.", "Write it like 1520,877 (pixels).")
        return float(match[1]), float(match[2])


class _MarkType(click.ParamType[Mark]):
    name = "NAME@PHOTO:X,Y"

    def convert(self, value: Any, param: Any, ctx: Any) -> Mark:
        if isinstance(value, Mark):
            return value
        match = re.fullmatch(r"\s*([^@]+?)\s*@\s*(.+?)\s*:\s*([\d.]+\s*,\s*[\d.]+)\s*", value)
        if match is None:
            raise UsageError(
                f"'{value}' is not a mark.", "Write it like exhaust@2:1520,877 (photo 2, pixels)."
            )
        return Mark(match[1], match[2], POINT.convert(match[3], param, ctx))


class _MoveType(click.ParamType[tuple[str, float]]):
    name = "NAME=LENGTH"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[str, float]:
        if isinstance(value, tuple):
            return value
        name, _, length = value.rpartition("=")
        if not name.strip():
            raise UsageError(f"'{value}' is not a movement.", "Write it like ends=12mm.")
        return name.strip(), abs(LENGTH.convert(length, param, ctx).mm)


class _SideType(click.ParamType[tuple[int, str]]):
    name = "BEND:SIDE"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[int, str]:
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"\s*([1-9]\d*)\s*:\s*(inner|outer|in-plane)\s*", value)
        if match is None:
            raise UsageError(
                f"'{value}' is not a side of a bend.", "Write it like 2:outer (inner, in-plane)."
            )
        return int(match[1]), match[2]


class _BandsType(click.ParamType[tuple[int | None, int]]):
    name = "[FIRST-]LAST"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[int | None, int]:
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"\s*(?:([1-9]\d*)\s*[-–]\s*)?([1-9]\d*)\s*", value)
        if match is None or int(match[2]) <= int(match[1] or 1):
            raise UsageError(
                f"'{value}' does not say which bands are on the hose.",
                "Write the last one's number, or first and last as in 2-19.",
            )
        return int(match[1]) if match[1] else None, int(match[2])


LENGTH = _LengthType()
PITCH = _PitchType()
BANDS = _BandsType()
BAR = _BarType()
POINT = _PointType()
SIDE = _SideType()
MARK = _MarkType()
MOVE = _MoveType()
json_option = click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")

machine_option = click.option(
    "--machine",
    type=click.Choice(tuple(MACHINES)),
    default="any",
    show_default=True,
    help="What the machine mostly has; the other kind counts as rarer.",
)
