"""`photomeasure caliper`: readings against each other, the tables and a photo."""

from pathlib import Path

import click

from photomeasure.answers.caliper import CaliperReadings, Span, caliper, caliper_lines
from photomeasure.answers.seat_guide import look_of
from photomeasure.cli.params import LENGTH, PITCH, Length, json_option, machine_option
from photomeasure.cli.report import say
from photomeasure.errors import UsageError
from photomeasure.sizing.seating import SeatLook
from photomeasure.sizing.zones import Member

__all__ = ["caliper_command"]


@click.command("caliper")
@click.option("--major", type=LENGTH, multiple=True, help="Over the crests of a male thread.")
@click.option("--minor", type=LENGTH, multiple=True, help="Over the roots of a male thread.")
@click.option("--bore", type=LENGTH, multiple=True, help="Over the crests inside a port.")
@click.option("--pitch", type=PITCH, multiple=True, help="Pitch gauge: 1.5mm or 18tpi.")
@click.option("--span", type=LENGTH, multiple=True, help="Length over N pitches.")
@click.option("--threads", type=click.IntRange(1), multiple=True, help="N of that --span.")
@click.option("--across-flats", type=LENGTH, help="Of the hexagon that turns the thread.")
@click.option("--mouth", type=LENGTH, help="Outer edge of a port's chamfer.")
@click.option("--depth", type=LENGTH, help="Length of full thread, in a port or on a male part.")
@click.option("--jaw-flat", type=LENGTH, help="Width of the inside jaws' flats.")
@click.option("--resolution", type=LENGTH, help="The caliper's step (0.01mm unless told).")
@click.option("--photo", type=click.Path(path_type=Path), help="A saved answer.")
@click.option("--seen", help="Where it seals, as PLACE or PLACE: FORM (see the seat guide).")
@machine_option
@json_option
def caliper_command(  # noqa: PLR0913  # click hands over one argument for every option
    *,
    major: tuple[Length, ...],
    minor: tuple[Length, ...],
    bore: tuple[Length, ...],
    pitch: tuple[Length, ...],
    span: tuple[Length, ...],
    threads: tuple[int, ...],
    across_flats: Length | None,
    mouth: Length | None,
    depth: Length | None,
    jaw_flat: Length | None,
    resolution: Length | None,
    photo: Path | None,
    seen: str | None,
    machine: str,
    as_json: bool,
) -> None:
    """Check readings against each other, the published threads and a saved photo answer.

    Give each reading as often as it was taken; every --span needs its --threads.
    """
    member: Member = "internal" if bore and not (major or minor) else "external"
    readings = CaliperReadings(
        major_mm=_mm(major),
        minor_mm=_mm(minor),
        bore_mm=_mm(bore),
        pitch_mm=_mm(pitch),
        spans=_spans(span, threads),
        jaw_flat_mm=_said(jaw_flat),
        resolution_mm=_said(resolution),
        across_flats_mm=_said(across_flats),
        mouth_mm=_said(mouth),
        depth_mm=_said(depth),
        seen=None if seen is None else _look(member, seen),
    )
    answer = caliper(readings, photo, machine)
    say(answer.as_json(), caliper_lines(answer), as_json=as_json)


def _mm(lengths: tuple[Length, ...]) -> tuple[float, ...]:
    return tuple(length.mm for length in lengths)


def _said(length: Length | None) -> float | None:
    return None if length is None else length.mm


def _look(member: Member, seen: str) -> SeatLook | None:
    place, _, form = (part.strip() for part in seen.partition(":"))
    return look_of(member, {"place": place, **({"form": form} if form else {})})


def _spans(lengths: tuple[Length, ...], counts: tuple[int, ...]) -> tuple[Span, ...]:
    if len(lengths) != len(counts):
        raise UsageError(
            f"{len(lengths)} --span and {len(counts)} --threads do not go together.",
            "Give one --threads after every --span.",
        )
    return tuple(Span(length.mm, count) for length, count in zip(lengths, counts, strict=True))
