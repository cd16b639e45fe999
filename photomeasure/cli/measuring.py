"""`photomeasure fitting`, `port`, `route` and `camera`: questions asked of photos."""

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import cast, get_args

import click

from photomeasure.answers.camera import learn_camera
from photomeasure.answers.fitting import FittingAnswer, fitting
from photomeasure.answers.options import Laid, Lies
from photomeasure.answers.part_drawing import part_drawing
from photomeasure.answers.pictures import fitting_picture, route_picture, write_picture
from photomeasure.answers.port import PortAnswer, port
from photomeasure.answers.port_picture import port_picture
from photomeasure.answers.route import RouteAnswer, route
from photomeasure.answers.route_space import route_in_space
from photomeasure.answers.space_pictures import write_space_pictures
from photomeasure.cli.params import (
    BANDS,
    LENGTH,
    MARK,
    MOVE,
    POINT,
    SIDE,
    Length,
    json_option,
    machine_option,
)
from photomeasure.cli.report import say
from photomeasure.cli.shared import PhotoArguments, photo_command
from photomeasure.photo import LensProfile, Photo, load_photo
from photomeasure.route.reading import FlatOptions, LineKind, Side
from photomeasure.route.space.reading import Mark, SpaceSaid

__all__ = ["camera_command", "fitting_command", "port_command", "route_command"]


@click.command("fitting")
@photo_command
@click.option("--spanner", type=LENGTH, help="The spanner that fits the hexagon.")
@click.option(
    "--lies",
    type=click.Choice(get_args(Lies)),
    default="unknown",
    show_default=True,
    help="What touches the paper, as you see it: thread, hexagon or both.",
)
@machine_option
def fitting_command(
    *, given: PhotoArguments, spanner: Length | None, lies: Lies, machine: str
) -> None:
    """Measure a male thread lying on the sheet, and name it.

    One photo, or several of the same fitting left untouched.
    """
    photos = _photos(given)
    options = replace(given.options, machine=machine)
    answer = fitting(photos, options, lies=lies, spanner_mm=spanner.mm if spanner else None)
    pictures = _draw_fitting(photos, answer, given.out)
    say(answer.as_json(), [*answer.lines(), *pictures], as_json=given.as_json)


def _draw_fitting(photos: list[Photo], answer: FittingAnswer, out: Path | None) -> list[str]:
    if out is None:
        return []
    seen = {trace.photo_key for trace in answer.traces}
    return [
        f"Wrote {write_picture(draw(photo, answer), out, photo.name, number, what=what)}."
        for number, photo in enumerate(photos, start=1)
        if photo.key in seen
        for what, draw in (("measured", fitting_picture), ("drawing", part_drawing))
    ]


@click.command("port")
@photo_command
@click.option("--piece", help="The name of the collar to use, if several are seen.")
@machine_option
def port_command(*, given: PhotoArguments, piece: str | None, machine: str) -> None:
    """Measure a female port through the collar stuck round it, and name it."""
    photos = _photos(given)
    answer = port(photos, replace(given.options, machine=machine), piece=piece)
    pictures = _draw_port(photos, answer, given.out)
    say(answer.as_json(), [*answer.lines(), *pictures], as_json=given.as_json)


def _draw_port(photos: list[Photo], answer: PortAnswer, out: Path | None) -> list[str]:
    if out is None:
        return []
    seen = {trace.photo_key for trace in answer.traces}
    return [
        f"Wrote {write_picture(port_picture(photo, answer), out, photo.name, number)}."
        for number, photo in enumerate(photos, start=1)
        if photo.key in seen
    ]


@click.command("route")
@photo_command
@click.option("--laid", type=click.Choice(get_args(Laid)), help="Told by the number of photos.")
@click.option("--hose-od", type=LENGTH, help="Outside diameter of the hose to be made.")
@click.option("--line-od", type=LENGTH, help="Outside diameter of what is photographed.")
@click.option("--line", type=click.Choice(get_args(LineKind)), default="tape", show_default=True)
@click.option("--side", "sides", type=SIDE, multiple=True, help="Where the hose lies at a bend.")
@click.option("--points", type=POINT, multiple=True, help="Pixels on the line, in order.")
@click.option("--bands", type=BANDS, help="In space: the last band's number, or first-last.")
@click.option("--mark", "marks", type=MARK, multiple=True, help="In space: keep clear of this.")
@click.option("--moves", type=MOVE, multiple=True, help="How far that moves, or ends=12mm.")
def route_command(  # noqa: PLR0913  # click hands over one argument for every option
    *,
    given: PhotoArguments,
    laid: Laid | None,
    hose_od: Length | None,
    line_od: Length | None,
    line: LineKind,
    sides: tuple[tuple[int, str], ...],
    points: tuple[tuple[float, float], ...],
    bands: tuple[int | None, int] | None,
    marks: tuple[Mark, ...],
    moves: tuple[tuple[str, float], ...],
) -> None:
    """Measure a route: one photo of it laid flat, or several of bands round a hose in space."""
    said = FlatOptions(
        hose_od_mm=hose_od.mm if hose_od else None,
        line_od_mm=line_od.mm if line_od else None,
        line=line,
        sides=tuple((bend, cast("Side", side)) for bend, side in sides),
        points_px=points,
    )
    if laid == "space" or (laid is None and len(given.photos) > 1):
        first, last = bands or (None, None)
        _route_in_space(given, said, SpaceSaid(last, marks, moves, first))
        return
    photos = _photos(given)
    answer = route(photos, given.options, said)
    drawn = [photo for photo in photos if answer.trace and photo.key == answer.trace.photo_key]
    pictures = _draw_route(drawn[0], answer, given.out) if drawn else []
    say(answer.as_json(), [*answer.lines(), *pictures], as_json=given.as_json)


def _route_in_space(given: PhotoArguments, said: FlatOptions, seen: SpaceSaid) -> None:
    """Decode the photos two at a time, as often as they are looked at."""
    profile = _profile(given)
    loads = [partial(_photo, path, profile) for path in given.photos]
    tell = None if given.as_json else partial(click.echo, err=True)
    answer = route_in_space(loads, given.options, said, tell, seen)
    pictures = [] if given.out is None else write_space_pictures(loads, answer, given.out)
    notes = [f"Wrote {path}." for path in pictures]
    say(answer.as_json(), [*answer.lines(), *notes], as_json=given.as_json)


def _draw_route(photo: Photo, answer: RouteAnswer, out: Path | None) -> list[str]:
    if out is None:
        return []
    return [f"Wrote {write_picture(route_picture(photo, answer), out, photo.name)}."]


@click.command("camera")
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The lens profile.")
@json_option
def camera_command(*, photos: tuple[Path, ...], out: Path, as_json: bool) -> None:
    """Learn a phone's lens from photos of the sheet.

    Lay the sheet flat, leave it as it lies, and take five or more photos of it with one lens: one
    from straight above, the others leaning 20 to 40 degrees from different sides, the phone once
    upright and once across. Then give PROFILE to the other commands as --camera.
    """
    answer = learn_camera([partial(load_photo, path) for path in photos])
    answer.profile.write(out)
    say(answer.as_json(), [*answer.lines(), f"Wrote {out}."], as_json=as_json)


def _photos(given: PhotoArguments) -> list[Photo]:
    profile = _profile(given)
    return [_photo(path, profile) for path in given.photos]


def _profile(given: PhotoArguments) -> LensProfile | None:
    return None if given.camera is None else LensProfile.read(given.camera)


def _photo(path: Path, profile: LensProfile | None) -> Photo:
    photo = load_photo(path)
    return photo if profile is None else photo.with_profile(profile)
